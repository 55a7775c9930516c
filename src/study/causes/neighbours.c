/* SPDX-License-Identifier: MIT */
/*
 * A unit against the others of the same application. Air needs time to get to
 * it, so that being later proves nothing; but filling starts only once the
 * unit has responded, and does not depend on where it stands. Units may be
 * built differently all the same: next to few others it is a note.
 */
#include "study/causes/causes.h"

#include <math.h>

enum { VALUES_MOST = 512, OTHERS_FOR_WARNING = 3 };

/* Half as long again as the slowest of the others: common practice for units
   that are built alike within a class. */
static const double fill_share = 0.5, fill_more_s = 0.05;

void bl_causes_later_than_neighbours(struct bl_causing *c, size_t run,
                                     size_t unit)
{
    const struct bl_run_lag *lag = c->run[run].lag;
    double stagger[VALUES_MOST];
    size_t n = 0;
    double u = 0;
    double scatter;
    for (size_t a = 0; a < lag->applications && n < VALUES_MOST; a++) {
        const struct bl_unit_lag *is =
            bl_causes_unit_of(&lag->application[a], unit);
        if (is != NULL && bl_causes_usable(&lag->application[a]) &&
            is->stagger.known) {
            u = fmax(u, is->stagger.u_s);
            stagger[n++] = is->stagger.s;
        }
    }
    const double middle = bl_causes_middle(stagger, n, &scatter);
    if (n < 3 || !(middle > 4 * u + 0.05)) {
        return;
    }
    char text[128];
    struct bl_finding *f = bl_findings_add(
        c->into, BL_FINDING_LATE_APPLY, BL_SHOWN_FOUND, (long)unit, (long)run);
    bl_finding_note(f,
                    "To decide, state a limit, the lengths and volumes for a "
                    "prediction, or an earlier run of the same condition.");
    bl_finding_evidence(f, "stagger, middle", middle, u, "s");
    bl_finding_say(f,
                   "%s responds %.3f s after the first unit; there is nothing "
                   "but neighbours to compare with, and air needs its time",
                   bl_causes_unit(c, unit, text, sizeof(text)), middle);
}

/* The slowest fill of the other units in one application; how many have one. */
static size_t slowest_other(const struct bl_causing *c, size_t run, size_t a,
                            size_t unit, double *s, double *u)
{
    const char combination = c->trial->unit[unit].combination;
    const struct bl_stretches *self = bl_causes_cell(c, run, a, unit);
    size_t others = 0;
    *s = NAN;
    for (size_t k = 0; k < c->trial->units; k++) {
        const struct bl_stretches *cell = bl_causes_cell(c, run, a, k);
        if (k == unit || c->trial->unit[k].combination != combination ||
            !isfinite(cell->s[BL_OWN_FILL]) ||
            cell->fill_parted != self->fill_parted) {
            continue;
        }
        others++;
        if (!(cell->s[BL_OWN_FILL] <= *s)) {
            *s = cell->s[BL_OWN_FILL];
            *u = cell->u[BL_OWN_FILL];
        }
    }
    return others;
}

void bl_causes_slower_than_neighbours(struct bl_causing *c, size_t run,
                                      size_t unit)
{
    const struct bl_run_lag *lag = c->run[run].lag;
    double now[VALUES_MOST];
    double next[VALUES_MOST];
    double scatter;
    double u = NAN;
    size_t n = 0;
    size_t least = VALUES_MOST;
    bl_excess_clear(c);
    for (size_t a = 0; a < lag->applications && n < VALUES_MOST; a++) {
        const struct bl_stretches *cell = bl_causes_cell(c, run, a, unit);
        double slowest;
        double u_slowest = 0;
        const size_t others =
            slowest_other(c, run, a, unit, &slowest, &u_slowest);
        if (!isfinite(cell->s[BL_OWN_FILL]) || others < 2) {
            continue;
        }
        least = others < least ? others : least;
        u = hypot(cell->u[BL_OWN_FILL], u_slowest);
        const double excess = cell->s[BL_OWN_FILL] - fill_more_s -
                              (1 + fill_share) * fmax(slowest, 0);
        bl_excess_put(c, excess, u);
        if (excess > 0) {
            now[n] = cell->s[BL_OWN_FILL];
            next[n++] = slowest;
        }
    }
    if (bl_causes_found(c, BL_FINDING_CHANNELS_SWAPPED, (long)unit,
                        (long)run) != NULL) {
        return;
    }
    struct bl_finding *f =
        bl_excess_judge(c, BL_FINDING_SLOW_FILL, (long)unit, (long)run);
    if (f == NULL) {
        return;
    }
    f->severity =
        least >= OTHERS_FOR_WARNING ? BL_SEVERITY_WARNING : BL_SEVERITY_NOTE;
    char text[128];
    const double middle = bl_causes_middle(now, n, &scatter);
    const double other = bl_causes_middle(next, n, &scatter);
    bl_finding_say(f,
                   "%s takes %.3f s longer from response to 75 %% than its "
                   "own control pressure or demand, the next slowest unit %.3f "
                   "s; if they are built "
                   "alike, it fills slowly",
                   bl_causes_unit(c, unit, text, sizeof(text)), middle, other);
    bl_finding_evidence(f, "fill where it shows, middle", middle, u, "s");
    bl_finding_evidence(f, "next slowest unit, middle", other, u, "s");
}
