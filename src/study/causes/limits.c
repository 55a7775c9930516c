/* SPDX-License-Identifier: MIT */
/*
 * Late and slow against the limits of the trial file. A limit on 75 % or on
 * the end of the release does not say which part of the time is too long; the
 * unit's other part against that of its neighbours does.
 */
#include "study/causes/causes.h"
#include "study/findings/fill.h"

#include <math.h>

static const struct bl_figure *figure_of(const struct bl_unit_lag *unit,
                                         const struct bl_trial *trial,
                                         const struct bl_trial_limit *limit)
{
    if (bl_figure_of_output(limit->figure)) {
        return &unit->figure[limit->figure];
    }
    for (size_t i = 0; limit->figure == BL_FIGURE_LEVEL && i < trial->levels;
         i++) {
        if (trial->level_kpa[i] == limit->level_kpa) {
            return &unit->level[i];
        }
    }
    return NULL;
}

static double middle_of(const struct bl_causing *c, size_t run, size_t unit,
                        enum bl_trait stretch)
{
    double *value = c->room[0];
    double scatter;
    size_t n = 0;
    const struct bl_run_lag *lag = c->run[run].lag;
    for (size_t a = 0; a < lag->applications; a++) {
        const double s = bl_causes_cell(c, run, a, unit)->value[stretch];
        if (isfinite(s)) {
            value[n++] = s;
        }
    }
    return bl_causes_middle(value, n, &scatter);
}

/* How much longer this unit's stretch is than its neighbours' middle. */
static double beyond_neighbours(const struct bl_causing *c, size_t run,
                                size_t unit, enum bl_trait stretch)
{
    double *value = c->room[1];
    double scatter;
    size_t n = 0;
    for (size_t u = 0; u < c->trial->units; u++) {
        if (u != unit) {
            const double s = middle_of(c, run, u, stretch);
            if (isfinite(s)) {
                value[n++] = s;
            }
        }
    }
    return middle_of(c, run, unit, stretch) -
           bl_causes_middle(value, n, &scatter);
}

static enum bl_finding_code code_of(const struct bl_causing *c, size_t run,
                                    size_t unit, enum bl_figure_name figure)
{
    const struct bl_figure_entry *entry = bl_figure_entry(figure);
    /* Near to where it begins a figure tells nothing of how fast it goes on. */
    if (entry->side == BL_SIDE_RELEASE) {
        return entry->share < 0.5 &&
                       beyond_neighbours(c, run, unit, BL_TRAIT_FALL) >
                           beyond_neighbours(c, run, unit,
                                             BL_TRAIT_RELEASE_DELAY)
                   ? BL_FINDING_SLOW_RELEASE
                   : BL_FINDING_LATE_RELEASE;
    }
    return (entry->at == BL_AT_LEVEL || entry->share > 0.5) &&
                   beyond_neighbours(c, run, unit, BL_TRAIT_FILL) >
                       beyond_neighbours(c, run, unit, BL_TRAIT_DELAY)
               ? BL_FINDING_SLOW_FILL
               : BL_FINDING_LATE_APPLY;
}

static void look(struct bl_causing *c, const struct bl_trial_limit *limit,
                 size_t run, size_t unit)
{
    const struct bl_run_lag *lag = c->run[run].lag;
    /* The greatest, not the middle: light and full applications are judged
       alike, and one kind may keep a limit that the other breaks. */
    double most = -INFINITY;
    double u = NAN;
    size_t n = 0;
    size_t beyond = 0;
    const char *is_at = "up to";
    bl_excess_clear(c);
    for (size_t a = 0; a < lag->applications; a++) {
        const struct bl_application *application = &lag->application[a];
        const struct bl_unit_lag *measured =
            bl_application_unit(application, unit);
        const struct bl_figure *f =
            measured == NULL || !bl_application_usable(application)
                ? NULL
                : figure_of(measured, c->trial, limit);
        if (f != NULL && f->bounded) {
            n++;
            if (!bl_excess_put_bound(c, f->later_than_s - limit->max_s,
                                     f->u_later_s)) {
                continue;
            }
            beyond++;
            if (f->later_than_s > most) {
                most = f->later_than_s;
                u = f->u_later_s;
                is_at = "later than";
            }
        } else if (f != NULL && f->known) {
            bl_excess_put(c, f->s - limit->max_s, f->u_s);
            u = f->s > most ? f->u_s : u;
            is_at = f->s > most ? "up to" : is_at;
            most = fmax(most, f->s);
            beyond += f->s > limit->max_s;
            n++;
        }
    }
    const enum bl_finding_code code = code_of(c, run, unit, limit->figure);
    if (n == 0) {
        bl_findings_missing(c->into, code, (long)unit, (long)run, NULL);
        return;
    }
    const struct bl_finding *had =
        bl_causes_found(c, code, (long)unit, (long)run);
    if (had != NULL && had->severity == BL_SEVERITY_FAULT) {
        return; /* earlier runs have shown it already */
    }
    struct bl_finding *f = bl_excess_judge(c, code, (long)unit, (long)run);
    char text[128];
    bl_finding_say(f,
                   "%s: %s is %s %.3f s, the limit '%s' is %.3f s; beyond "
                   "it in %zu of %zu applications",
                   bl_causes_unit(c, unit, text, sizeof(text)),
                   bl_figure_name_text(limit->figure), is_at, most, limit->name,
                   limit->max_s, beyond, n);
    bl_finding_evidence(f, "figure, greatest", most, u, "s");
    bl_finding_evidence(f, "limit", limit->max_s, NAN, "s");
}

void bl_causes_limits(struct bl_causing *c)
{
    for (size_t r = 0; r < c->trial->runs; r++) {
        for (size_t i = 0; c->run[r].lag != NULL && i < c->trial->limits; i++) {
            const struct bl_trial_limit *limit = &c->trial->limit[i];
            for (size_t u = 0; u < c->trial->units; u++) {
                if ((limit->unit < 0 || limit->unit == (long)u) &&
                    c->trial->unit[u].outputs > 0) {
                    look(c, limit, r, u);
                }
            }
        }
    }
}
