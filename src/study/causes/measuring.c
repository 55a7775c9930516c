/* SPDX-License-Identifier: MIT */
/*
 * Contradictions: channels exchanged between runs, lags that no air can have,
 * clocks that fit in several ways, pedals too slow, conditions without common
 * applications.
 */
#include "study/causes/causes.h"

#include <math.h>
#include <string.h>

enum { VALUES_MOST = 512 };

struct lag_of {
    double middle, u;
    size_t n;
};

static struct lag_of response_of(const struct bl_causing *c, size_t run,
                                 size_t unit)
{
    const struct bl_run_lag *lag = c->run[run].lag;
    double value[VALUES_MOST];
    struct lag_of out = {NAN, NAN, 0};
    double u = 0;
    for (size_t a = 0;
         lag != NULL && a < lag->applications && out.n < VALUES_MOST; a++) {
        const struct bl_unit_lag *of =
            bl_causes_unit_of(&lag->application[a], unit);
        if (of != NULL && bl_causes_usable(&lag->application[a]) &&
            of->response.known) {
            u = fmax(u, of->response.u_s);
            value[out.n++] = of->response.s;
        }
    }
    double scatter;
    out.middle = bl_causes_middle(value, out.n, &scatter);
    out.u = hypot(u, isnan(scatter) ? 0 : scatter);
    return out;
}

static const char *condition(const struct bl_causing *c, size_t run)
{
    const struct bl_trial_run *is = &c->trial->run[run];
    return is->condition == NULL ? is->name : is->condition;
}

/* Two units whose lags stood the other way round in an earlier run. */
static void swapped(struct bl_causing *c, size_t before, size_t run, size_t i,
                    size_t j)
{
    const struct lag_of ib = response_of(c, before, i);
    const struct lag_of jb = response_of(c, before, j);
    const struct lag_of in = response_of(c, run, i);
    const struct lag_of jn = response_of(c, run, j);
    if (ib.n < 3 || jb.n < 3 || in.n < 3 || jn.n < 3) {
        return;
    }
    bl_findings_looked(c->into, BL_FINDING_CHANNELS_SWAPPED);
    const double u = hypot(hypot(ib.u, jb.u), hypot(in.u, jn.u));
    const double apart = fabs(jb.middle - ib.middle);
    if (apart < 4 * u + 0.02 || fabs(in.middle - jb.middle) > 2 * u + 0.01 ||
        fabs(jn.middle - ib.middle) > 2 * u + 0.01) {
        return;
    }
    const size_t pair[] = {i, j};
    for (size_t k = 0; k < 2; k++) {
        if (bl_causes_found(c, BL_FINDING_CHANNELS_SWAPPED, (long)pair[k],
                            (long)run) != NULL) {
            continue;
        }
        char a[128];
        char b[128];
        struct bl_finding *f =
            bl_findings_add(c->into, BL_FINDING_CHANNELS_SWAPPED,
                            BL_SHOWN_FOUND, (long)pair[k], (long)run);
        if (f != NULL) {
            f->ratio = apart / u;
        }
        bl_finding_say(f, "%s and %s have exchanged their lags since run %s",
                       bl_causes_unit(c, pair[k], a, sizeof(a)),
                       bl_causes_unit(c, pair[1 - k], b, sizeof(b)),
                       c->trial->run[before].name);
        bl_finding_evidence(f, "lag now", k == 0 ? in.middle : jn.middle, u,
                            "s");
        bl_finding_evidence(f, "lag in the earlier run",
                            k == 0 ? ib.middle : jb.middle, u, "s");
    }
}

void bl_causes_swapped(struct bl_causing *c)
{
    for (size_t r = 1; r < c->trial->runs; r++) {
        for (size_t b = 0; b < r; b++) {
            if (strcmp(condition(c, b), condition(c, r)) != 0) {
                continue;
            }
            for (size_t i = 0; i < c->trial->units; i++) {
                for (size_t j = i + 1; j < c->trial->units; j++) {
                    swapped(c, b, r, i, j);
                }
            }
        }
    }
}

/* Warmest air that brakes are tested in, 50 degC: 360 m/s; 1.3 times that is
   out of reach for any wave of brake pressure (methods.md 2.3). */
static const double fastest_m_s = 1.3 * 360;

/* Do all outputs of the run respond as one, whatever the distance? Then the
   transducers were at one tee, to learn their own delays. */
static bool at_one_tee(const struct bl_causing *c, size_t run)
{
    double least = INFINITY;
    double most = -INFINITY;
    for (size_t u = 0; u < c->trial->units; u++) {
        const double s = response_of(c, run, u).middle;
        if (isfinite(s)) {
            least = fmin(least, s);
            most = fmax(most, s);
        }
    }
    return most - least < 0.01;
}

static void implausible(struct bl_causing *c, size_t run, size_t unit)
{
    const struct bl_run_lag *lag = c->run[run].lag;
    double length = 0;
    for (size_t u = 0; u <= unit; u++) {
        const struct bl_trial_unit *is = &c->trial->unit[u];
        if (is->combination == c->trial->unit[unit].combination &&
            is->number > 0) {
            length += is->line_m;
        }
    }
    if (c->trial->unit[unit].number == 0 || isnan(length) || length <= 0 ||
        c->trial->run[run].power != BL_STATED_OFF) {
        bl_findings_missing(c->into, BL_FINDING_IMPLAUSIBLE_LAG, (long)unit,
                            (long)run, NULL);
        return;
    }
    const double least = length / fastest_m_s;
    bl_excess_clear(c);
    for (size_t a = 0; a < lag->applications; a++) {
        const struct bl_unit_lag *of =
            bl_causes_unit_of(&lag->application[a], unit);
        if (of != NULL && bl_causes_usable(&lag->application[a]) &&
            of->response.known) {
            /* 2 u below the bound is the definition; half the usual 4. */
            bl_excess_put(c, least - of->response.s, of->response.u_s / 2);
        }
    }
    const struct lag_of is = response_of(c, run, unit);
    struct bl_finding *f =
        bl_excess_judge(c, BL_FINDING_IMPLAUSIBLE_LAG, (long)unit, (long)run);
    char text[128];
    bl_finding_say(f,
                   "%s responds %.3f s after the command; over %.0f m air "
                   "takes at least %.3f s",
                   bl_causes_unit(c, unit, text, sizeof(text)), is.middle,
                   length, least);
    bl_finding_evidence(f, "response, middle", is.middle, is.u, "s");
    bl_finding_evidence(f, "least for this length", least, NAN, "s");
    if (f != NULL && c->trial->units > 2 && at_one_tee(c, run)) {
        f->shown = BL_SHOWN_CANNOT_TELL;
        bl_finding_say(f,
                       "all outputs respond as one in this run, %s too: "
                       "were the transducers at one tee?",
                       text);
    }
}

static void clocks(struct bl_causing *c, size_t run)
{
    const struct bl_run_clocks *is = c->run[run].clocks;
    bl_findings_looked(c->into, BL_FINDING_CLOCK_AMBIGUOUS);
    for (size_t i = 0; i < is->ties; i++) {
        if (is->tie[i].claim == BL_CLAIM_AMBIGUOUS) {
            struct bl_finding *f =
                bl_findings_add(c->into, BL_FINDING_CLOCK_AMBIGUOUS,
                                BL_SHOWN_FOUND, -1, (long)run);
            bl_finding_say(f, "the clocks of run %s fit in more than one way",
                           c->trial->run[run].name);
            return;
        }
    }
}

static void pedal(struct bl_causing *c, size_t run)
{
    const struct bl_run_lag *lag = c->run[run].lag;
    struct bl_track track;
    bl_excess_clear(c);
    double slowest = 0;
    for (size_t a = 0; a < lag->applications; a++) {
        const struct bl_application *is = &lag->application[a];
        const long front = bl_trial_unit_index(c->trial, is->combination, 0);
        if (!bl_causes_usable(is) || is->kind != BL_KIND_FULL || front < 0 ||
            !bl_causes_pressure(c, run, &c->trial->unit[front].command,
                                &track)) {
            continue;
        }
        const double rest = is->command_rest.value;
        const double rise = is->command_hold.value - rest;
        const int64_t from = is->apply_ns - 2000000000;
        const struct bl_passage low =
            bl_track_passage(&track, BL_UPWARDS, from, is->release_ns,
                             rest + 0.1 * rise, 1, 3, BL_HELD_OUTPUT);
        const struct bl_passage high =
            bl_track_passage(&track, BL_UPWARDS, from, is->release_ns,
                             rest + 0.9 * rise, 1, 3, BL_HELD_OUTPUT);
        if (low.found && high.found) {
            const double s = (double)(high.time_ns - low.time_ns) * 1e-9;
            bl_excess_put(c, s - 0.2, 0.003);
            slowest = fmax(slowest, s);
        }
    }
    if (c->excess.count == 0) {
        bl_findings_missing(c->into, BL_FINDING_PEDAL_SLOW, -1, (long)run,
                            NULL);
        return;
    }
    struct bl_finding *f =
        bl_excess_judge(c, BL_FINDING_PEDAL_SLOW, -1, (long)run);
    bl_finding_say(f, "run %s: the command took up to %.2f s from 10 to 90 %%",
                   c->trial->run[run].name, slowest);
    bl_finding_evidence(f, "slowest rise", slowest, 0.003, "s");
}

static bool share_a_kind(const struct bl_run_lag *x, const struct bl_run_lag *y)
{
    for (size_t i = 0; i < x->applications; i++) {
        for (size_t j = 0; j < y->applications; j++) {
            if (x->application[i].kind == y->application[j].kind &&
                x->application[i].shape == y->application[j].shape) {
                return true;
            }
        }
    }
    return false;
}

static void comparable(struct bl_causing *c)
{
    for (size_t x = 0; x < c->trial->runs; x++) {
        for (size_t y = x + 1; y < c->trial->runs; y++) {
            const struct bl_run_lag *a = c->run[x].lag;
            const struct bl_run_lag *b = c->run[y].lag;
            if (a == NULL || b == NULL || a->applications == 0 ||
                b->applications == 0 ||
                strcmp(condition(c, x), condition(c, y)) == 0) {
                continue;
            }
            bl_findings_looked(c->into, BL_FINDING_NOT_COMPARABLE);
            if (!share_a_kind(a, b)) {
                struct bl_finding *f =
                    bl_findings_add(c->into, BL_FINDING_NOT_COMPARABLE,
                                    BL_SHOWN_FOUND, -1, (long)y);
                bl_finding_say(f,
                               "runs %s and %s share no kind and shape of "
                               "application",
                               c->trial->run[x].name, c->trial->run[y].name);
            }
        }
    }
}

void bl_causes_measuring(struct bl_causing *c)
{
    for (size_t r = 0; r < c->trial->runs; r++) {
        if (c->run[r].clocks != NULL) {
            clocks(c, r);
        }
        if (c->run[r].lag == NULL) {
            continue;
        }
        pedal(c, r);
        for (size_t u = 0; u < c->trial->units; u++) {
            if (c->trial->unit[u].outputs > 0) {
                implausible(c, r, u);
            }
        }
    }
    comparable(c);
}
