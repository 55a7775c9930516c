/* SPDX-License-Identifier: MIT */
/*
 * A unit against the others of the same application. Air needs time to get to
 * it, so that being later proves nothing; but filling starts only once the
 * unit has responded, and does not depend on where it stands. Units may be
 * built differently all the same: next to few others it is a note.
 */
#include "study/causes/causes.h"
#include "study/findings/fill.h"

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
            bl_application_unit(&lag->application[a], unit);
        if (is != NULL && bl_application_usable(&lag->application[a]) &&
            is->figure[BL_FIGURE_STAGGER].known) {
            u = fmax(u, is->figure[BL_FIGURE_STAGGER].u_s);
            stagger[n++] = is->figure[BL_FIGURE_STAGGER].s;
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

struct slowest {
    double s, u;
    bool unsettled; /* of another unit only a bound is known */
};

/* The slowest fill of the other units in one application that is known; how
   many have one. */
static size_t slowest_other(const struct bl_causing *c, size_t run, size_t a,
                            size_t unit, struct slowest *is)
{
    const char combination = c->trial->unit[unit].combination;
    const struct bl_stretches *self = bl_causes_cell(c, run, a, unit);
    size_t others = 0;
    *is = (struct slowest){NAN, 0, false};
    for (size_t k = 0; k < c->trial->units; k++) {
        const struct bl_stretches *cell = bl_causes_cell(c, run, a, k);
        if (k == unit || c->trial->unit[k].combination != combination ||
            !isfinite(cell->s[BL_OWN_FILL]) ||
            cell->fill_parted != self->fill_parted) {
            continue;
        }
        if (cell->fill_at_least) {
            is->unsettled = true;
            continue;
        }
        others++;
        if (!(cell->s[BL_OWN_FILL] <= is->s)) {
            is->s = cell->s[BL_OWN_FILL];
            is->u = cell->u[BL_OWN_FILL];
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
    const char *at_least = "";
    bl_excess_clear(c);
    for (size_t a = 0; a < lag->applications && n < VALUES_MOST; a++) {
        const struct bl_stretches *cell = bl_causes_cell(c, run, a, unit);
        struct slowest slowest;
        const size_t others = slowest_other(c, run, a, unit, &slowest);
        if (!isfinite(cell->s[BL_OWN_FILL]) || others < 2) {
            continue;
        }
        least = others < least ? others : least;
        u = hypot(cell->u[BL_OWN_FILL], slowest.u);
        const double excess = cell->s[BL_OWN_FILL] - fill_more_s -
                              (1 + fill_share) * fmax(slowest.s, 0);
        if (slowest.unsettled && excess > 0) {
            c->excess.open++; /* the other may be slower still */
            continue;
        }
        if (!cell->fill_at_least) {
            bl_excess_put(c, excess, u);
        } else if (bl_excess_put_bound(c, excess, u)) {
            at_least = "at least ";
        }
        if (excess > 0) {
            now[n] = cell->s[BL_OWN_FILL];
            next[n++] = slowest.s;
        }
    }
    /* Earlier runs may show it without neighbours. */
    if (c->excess.count + c->excess.open == 0 ||
        bl_causes_found(c, BL_FINDING_CHANNELS_SWAPPED, (long)unit,
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
                   "%s takes %s%.3f s longer from response to 75 %% than its "
                   "own control pressure or demand, the next slowest unit %.3f "
                   "s; if they are built "
                   "alike, it fills slowly",
                   bl_causes_unit(c, unit, text, sizeof(text)), at_least,
                   middle, other);
    bl_finding_evidence(f, "fill where it shows, middle", middle, u, "s");
    bl_finding_evidence(f, "next slowest unit, middle", other, u, "s");
}

/* Own choice: load sensing makes less of an empty unit, seldom over a quarter
   less of one that is loaded like its neighbours. */
static const double held_share = 0.75, held_less_kpa = 28;
/* Below this, opening pressures make up much of the difference. */
static const double asked_least_kpa = 200;

/* Held output over what was asked for, with its uncertainty. */
static bool held_part(const struct bl_causing *c, size_t run, size_t a,
                      size_t unit, double *part, double *u)
{
    const struct bl_application *is = &c->run[run].lag->application[a];
    const struct bl_unit_lag *of = bl_application_unit(is, unit);
    double kpa;
    double u_kpa;
    if (of == NULL || !bl_application_usable(is) || !of->hold.known ||
        of->hold_from != BL_HOLD_SETTLED || !of->rest.known ||
        of->hold.quantity != BL_QUANTITY_PRESSURE ||
        isnan(bl_causes_cell(c, run, a, unit)->asked_hold) ||
        !bl_causes_asked(c, run, a, unit, &kpa, &u_kpa) ||
        !(kpa >= asked_least_kpa)) {
        return false;
    }
    *part = (of->hold.value - of->rest.value) / kpa;
    *u = hypot(hypot(of->hold.u, of->rest.u), *part * u_kpa) / kpa;
    return true;
}

/* The least part that the other units hold; how many of them there are. */
static size_t least_other(const struct bl_causing *c, size_t run, size_t a,
                          size_t unit, double *part, double *u)
{
    size_t others = 0;
    *part = NAN;
    for (size_t k = 0; k < c->trial->units; k++) {
        double other;
        double u_other;
        if (k == unit ||
            c->trial->unit[k].combination != c->trial->unit[unit].combination ||
            !held_part(c, run, a, k, &other, &u_other)) {
            continue;
        }
        others++;
        if (!(other >= *part)) {
            *part = other;
            *u = u_other;
        }
    }
    return others;
}

/* Where nothing says what the unit is to make of its control pressure. */
void bl_causes_lower_than_neighbours(struct bl_causing *c, size_t run,
                                     size_t unit)
{
    const struct bl_run_lag *lag = c->run[run].lag;
    double own[VALUES_MOST];
    double next[VALUES_MOST];
    double u_own = NAN;
    double u_next = NAN;
    size_t n = 0;
    bl_excess_clear(c);
    for (size_t a = 0; a < lag->applications && n < VALUES_MOST; a++) {
        double part;
        double least;
        if (!held_part(c, run, a, unit, &part, &u_own) ||
            least_other(c, run, a, unit, &least, &u_next) < 2) {
            continue;
        }
        double kpa;
        double u_kpa;
        (void)bl_causes_asked(c, run, a, unit, &kpa, &u_kpa);
        bl_excess_put(c, (held_share * least - part) * kpa - held_less_kpa,
                      hypot(held_share * u_next, u_own) * kpa);
        own[n] = part;
        next[n++] = least;
    }
    if (c->excess.count == 0) {
        return;
    }
    struct bl_finding *f =
        bl_excess_judge(c, BL_FINDING_LOW_HOLD, (long)unit, (long)run);
    bl_finding_note(f, "To decide, state the unit's load and gain; look at its "
                       "load signal and its load-sensing valve.");
    char text[128];
    double scatter;
    const double part = bl_causes_middle(own, n, &scatter);
    const double least = bl_causes_middle(next, n, &scatter);
    bl_finding_say(f,
                   "%s holds %.0f %% of its control pressure, every other unit "
                   "at least %.0f %%; load sensing or a ratio valve does so "
                   "too",
                   bl_causes_unit(c, unit, text, sizeof(text)), 100 * part,
                   100 * least);
    bl_finding_evidence(f, "held of what was asked", 100 * part, 100 * u_own,
                        "%");
    bl_finding_evidence(f, "least of the others", 100 * least, 100 * u_next,
                        "%");
}
