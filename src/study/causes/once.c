/* SPDX-License-Identifier: MIT */
/*
 * A unit that is late or slow in one hard application and not in its others of
 * the same run and kind: medians do not show it. Each application is compared
 * with the middle of the unit's own, less what all units share in it, which is
 * the foot's. One such time proves no fault, and must not pass for none.
 */
#include "study/causes/traits/traits.h"

#include "base/alloc.h"
#include "base/number.h"
#include "base/sure.h"
#include "study/findings/fill.h"

#include <math.h>
#include <stdio.h>

enum { LEAST_UNITS = 3 }; /* to part the foot from the unit */

static const struct stretch {
    enum bl_figure_name from, to; /* from BL_FIGURES: the command */
    enum bl_finding_code code;
    const char *what; /* with the seconds */
} stretches[] = {{BL_FIGURES, BL_FIGURE_RESPONSE, BL_FINDING_LATE_APPLY,
                  "gets its first air %.2f s later"},
                 {BL_FIGURE_RESPONSE, BL_FIGURE_FILLED, BL_FINDING_SLOW_FILL,
                  "takes %.2f s longer from first air to 75 %%"},
                 {BL_FIGURES, BL_FIGURE_RELEASE_START, BL_FINDING_LATE_RELEASE,
                  "begins to release %.2f s later"},
                 {BL_FIGURE_RELEASE_START, BL_FIGURE_RELEASE_10,
                  BL_FINDING_SLOW_RELEASE,
                  "takes %.2f s longer from 90 to 10 %%"}};

/* One run, group and stretch: by unit and application. */
struct grid {
    size_t applications, units;
    double *off, *u; /* from the unit's middle; NaN */
    double *common;  /* by application */
    double *room;    /* the longer of both */
    size_t *n;       /* by unit */
};

static double time_of(const struct bl_unit_lag *unit,
                      const struct stretch *part, double *u)
{
    const struct bl_figure *to = &unit->figure[part->to];
    const struct bl_figure *from =
        part->from == BL_FIGURES ? NULL : &unit->figure[part->from];
    if (!to->known || (from != NULL && !from->known)) {
        return NAN;
    }
    *u = hypot(to->u_s, from == NULL ? 0 : from->u_s);
    return to->s - (from == NULL ? 0 : from->s);
}

static bool counts(const struct bl_application *a, size_t group)
{
    return bl_application_usable(a) && a->shape == BL_SHAPE_STEP &&
           bl_trait_group(a->kind, a->shape) == group;
}

static void fill_unit(const struct grid *grid, const struct bl_run_lag *lag,
                      size_t unit, size_t group, const struct stretch *part)
{
    double *off = grid->off + unit * grid->applications;
    double *u = grid->u + unit * grid->applications;
    size_t n = 0;
    for (size_t a = 0; a < grid->applications; a++) {
        const struct bl_application *one = &lag->application[a];
        const struct bl_unit_lag *here =
            counts(one, group) ? bl_application_unit(one, unit) : NULL;
        u[a] = NAN;
        off[a] = here == NULL ? NAN : time_of(here, part, &u[a]);
        if (isfinite(off[a])) {
            grid->room[n++] = off[a];
        }
    }
    grid->n[unit] = n;
    /* Of two the quicker one: the other may be the odd one. */
    const double middle = n < 2    ? NAN
                          : n == 2 ? fmin(grid->room[0], grid->room[1])
                                   : bl_median(grid->room, n);
    for (size_t a = 0; a < grid->applications; a++) {
        off[a] -= middle;
    }
}

static void fill_common(const struct grid *grid)
{
    for (size_t a = 0; a < grid->applications; a++) {
        size_t n = 0;
        for (size_t u = 0; u < grid->units; u++) {
            const double off = grid->off[u * grid->applications + a];
            if (isfinite(off)) {
                grid->room[n++] = off;
            }
        }
        grid->common[a] = n < LEAST_UNITS ? NAN : bl_median(grid->room, n);
    }
}

/* By how much the command itself was later than in the quickest of its kind: a
   chain answers no later than its command is at each of its levels. */
static double foot_off(const struct bl_run_lag *lag, size_t at, size_t group,
                       bool release)
{
    const enum bl_figure_name figure =
        release ? BL_FIGURE_RELEASE_10 : BL_FIGURE_APPLY_75;
    const struct bl_figure *here = &lag->application[at].own[figure];
    double least = INFINITY;
    for (size_t a = 0; a < lag->applications; a++) {
        const struct bl_figure *one = &lag->application[a].own[figure];
        if (counts(&lag->application[a], group) && one->known) {
            least = fmin(least, one->s);
        }
    }
    return here->known && isfinite(least) ? here->s - least : 0;
}

static bool is_odd(const struct grid *grid, const struct bl_run_lag *lag,
                   size_t unit, size_t a, size_t group,
                   const struct stretch *part)
{
    const size_t at = unit * grid->applications + a;
    const double more = grid->off[at] - grid->common[a];
    const double matters_s = bl_trait_matters(BL_TRAIT_DELAY, 0);
    const bool release =
        part->to == BL_FIGURE_RELEASE_START || part->to == BL_FIGURE_RELEASE_10;
    /* Later than in its own others, too: where the others are late in most, the
       middle is late, and one of its quicker ones is no fault of this unit. */
    return fmin(more, grid->off[at]) > BL_SURE_U * grid->u[at] + matters_s &&
           more > matters_s + foot_off(lag, a, group, release);
}

static void say(struct bl_causing *c, size_t run, size_t unit, size_t a,
                const struct grid *grid, const struct stretch *part)
{
    const struct bl_application *one = &c->run[run].lag->application[a];
    const size_t at = unit * grid->applications + a;
    const double more = grid->off[at] - grid->common[a];
    char name[128];
    char what[80];
    struct bl_finding *f = bl_findings_add(
        c->into, part->code, BL_SHOWN_CANNOT_TELL, (long)unit, (long)run);
    snprintf(what, sizeof(what), part->what, more);
    bl_finding_say(f,
                   "%s %s in application %d of run %s than in the other%s "
                   "of its kind",
                   bl_causes_unit(c, unit, name, sizeof(name)), what,
                   one->number, c->trial->run[run].name,
                   grid->n[unit] == 2 ? "" : "s");
    bl_finding_evidence(f, "later than in its others", more, grid->u[at], "s");
    if (f != NULL) {
        snprintf(f->next_check, sizeof(f->next_check),
                 "Press again, six times at least, the first one after the "
                 "train has stood: a part that sticks does so now and then.");
    }
}

/* By air what stands behind a late unit is late with it: the frontmost. With
   the demand each is late by itself. */
static void look(struct bl_causing *c, size_t run, const struct grid *grid,
                 size_t group, const struct stretch *part)
{
    const struct bl_run_lag *lag = c->run[run].lag;
    for (size_t a = 0; a < grid->applications; a++) {
        for (size_t u = 0; u < grid->units; u++) {
            if (!is_odd(grid, lag, u, a, group, part)) {
                continue;
            }
            if (bl_causes_found(c, part->code, (long)u, (long)run) == NULL) {
                say(c, run, u, a, grid, part);
            }
            if (c->traits->by[run] != BL_BY_DEMAND) {
                break;
            }
        }
    }
}

static bool make(struct grid *grid, const struct bl_causing *c, size_t run)
{
    grid->applications = c->run[run].lag->applications;
    grid->units = c->trial->units;
    const size_t all = grid->applications * grid->units + 1;
    grid->off = bl_alloc(all, sizeof(double));
    grid->u = bl_alloc(all, sizeof(double));
    grid->common = bl_alloc(grid->applications + 1, sizeof(double));
    grid->room = bl_alloc(grid->applications + grid->units + 1, sizeof(double));
    grid->n = bl_alloc(grid->units + 1, sizeof(*grid->n));
    return grid->off != NULL && grid->u != NULL && grid->common != NULL &&
           grid->room != NULL && grid->n != NULL;
}

static void look_in_run(struct bl_causing *c, size_t run)
{
    struct grid grid;
    if (make(&grid, c, run)) {
        for (size_t i = 0; i < sizeof(stretches) / sizeof(stretches[0]); i++) {
            for (int kind = BL_KIND_SERVICE; kind <= BL_KIND_FULL; kind++) {
                const size_t group = bl_trait_group(
                    (enum bl_application_kind)kind, BL_SHAPE_STEP);
                for (size_t u = 0; u < grid.units; u++) {
                    fill_unit(&grid, c->run[run].lag, u, group, &stretches[i]);
                }
                fill_common(&grid);
                look(c, run, &grid, group, &stretches[i]);
            }
        }
    } else {
        c->failed = true;
    }
    bl_free(grid.off);
    bl_free(grid.u);
    bl_free(grid.common);
    bl_free(grid.room);
    bl_free(grid.n);
}

void bl_causes_once(struct bl_causing *c)
{
    for (size_t r = 0; r < c->trial->runs && !c->failed; r++) {
        if (c->run[r].lag != NULL && c->run[r].lag->applications > 1 &&
            !c->impossible[r]) {
            look_in_run(c, r);
        }
    }
}
