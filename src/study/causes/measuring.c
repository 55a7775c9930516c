/* SPDX-License-Identifier: MIT */
/*
 * Contradictions: lags that no air can have, clocks that fit in several ways,
 * pedals too slow, conditions without common applications.
 */
#include "study/causes/causes.h"

#include "lag/as_one.h"
#include "study/findings/fill.h"

#include <math.h>
#include <string.h>

/* Warmest air that brakes are tested in, 50 degC: 360 m/s; 1.3 times that is
   out of reach for any wave of brake pressure (methods.md 2.3). */
static const double fastest_m_s = 1.3 * 360;

static void implausible(struct bl_causing *c, size_t run, size_t unit)
{
    const struct bl_run_lag *lag = c->run[run].lag;
    double length = 0;
    for (size_t u = 0; u <= unit; u++) {
        const struct bl_trial_unit *vehicle = &c->trial->unit[u];
        if (vehicle->combination == c->trial->unit[unit].combination &&
            vehicle->number > 0) {
            length += vehicle->pipe_m;
        }
    }
    if (c->trial->unit[unit].number == 0 || isnan(length) || length <= 0 ||
        !bl_causes_air_only(c, run)) {
        bl_findings_missing(c->into, BL_FINDING_IMPLAUSIBLE_LAG, (long)unit,
                            (long)run, NULL);
        return;
    }
    if (bl_causes_found(c, BL_FINDING_IMPLAUSIBLE_LAG, (long)unit, (long)run) !=
        NULL) {
        return; /* told already, by more */
    }
    const double least = length / fastest_m_s;
    bl_excess_clear(c);
    for (size_t a = 0; a < lag->applications; a++) {
        const struct bl_unit_lag *measured =
            bl_application_unit(&lag->application[a], unit);
        if (measured != NULL && bl_application_usable(&lag->application[a]) &&
            measured->figure[BL_FIGURE_RESPONSE].known) {
            /* 2 u below the bound is the definition; half the usual 4. */
            bl_excess_put(c, least - measured->figure[BL_FIGURE_RESPONSE].s,
                          measured->figure[BL_FIGURE_RESPONSE].u_s / 2);
        }
    }
    const struct bl_lag_of lag_of_unit = bl_causes_response(c, run, unit);
    struct bl_finding *f =
        bl_excess_judge(c, BL_FINDING_IMPLAUSIBLE_LAG, (long)unit, (long)run);
    char text[128];
    bl_finding_say(
        f,
        "%s gets its first air %.3f s after the command; over %.0f m air "
        "takes at least %.3f s",
        bl_causes_unit(c, unit, text, sizeof(text)), lag_of_unit.middle, length,
        least);
    bl_finding_evidence(f, "first air, middle", lag_of_unit.middle,
                        lag_of_unit.u, "s");
    bl_finding_evidence(f, "least for this length", least, NAN, "s");
}

/* Transducers at one tee answer together, whatever the distance: told once. */
static bool tee(struct bl_causing *c, size_t run)
{
    if (c->trial->units < 3 ||
        !bl_lag_as_one(c->run[run].lag, c->trial->unit[0].combination)) {
        return false;
    }
    struct bl_finding *f = bl_findings_add(c->into, BL_FINDING_IMPLAUSIBLE_LAG,
                                           BL_SHOWN_CANNOT_TELL, -1, (long)run);
    bl_finding_note(f, "Say whether the transducers were at one tee; if not, "
                       "check the clocks and the order of the channels.");
    bl_finding_say(f,
                   "all outputs of run %s get air within 0.01 s, whatever the "
                   "distance: with the transducers at one tee that is right",
                   c->trial->run[run].name);
    return true;
}

static void clocks(struct bl_causing *c, size_t run)
{
    const struct bl_run_clocks *ties = c->run[run].clocks;
    bl_findings_looked(c->into, BL_FINDING_CLOCK_AMBIGUOUS, -1, (long)run);
    for (size_t i = 0; i < ties->ties; i++) {
        if (ties->tie[i].contradicted) {
            struct bl_finding *f =
                bl_findings_add(c->into, BL_FINDING_CLOCK_AMBIGUOUS,
                                BL_SHOWN_FOUND, -1, (long)run);
            bl_finding_say(f,
                           "the stated clock of run %s lies %.3f s off what "
                           "the events on both recorders say",
                           c->trial->run[run].name, ties->tie[i].against_s);
            bl_finding_evidence(f, "stated less found", ties->tie[i].against_s,
                                NAN, "s");
            c->impossible[run] = true;
            return;
        }
        if (ties->tie[i].claim == BL_CLAIM_AMBIGUOUS) {
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
        const struct bl_application *application = &lag->application[a];
        const long front =
            bl_trial_unit_index(c->trial, application->combination, 0);
        if (!bl_application_usable(application) ||
            application->kind != BL_KIND_FULL || front < 0 ||
            !bl_causes_pressure(c, run, &c->trial->unit[front].command,
                                &track)) {
            continue;
        }
        const double rest = application->command_rest.value;
        const double rise = application->command_hold.value - rest;
        const int64_t from = application->apply_ns - 2000000000;
        const struct bl_passage low = bl_track_passage(
            &track, BL_UPWARDS, from, application->release_ns,
            &(const struct bl_level_passed){rest + 0.1 * rise, 1, 3},
            BL_HELD_OUTPUT);
        const struct bl_passage high = bl_track_passage(
            &track, BL_UPWARDS, from, application->release_ns,
            &(const struct bl_level_passed){rest + 0.9 * rise, 1, 3},
            BL_HELD_OUTPUT);
        if (low.found && high.found) {
            const double s = (double)(high.time_ns - low.time_ns) * 1e-9;
            bl_excess_put(c, s - 0.2, 0.003);
            slowest = fmax(slowest, s);
        }
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
                strcmp(bl_causes_condition_of(c, x),
                       bl_causes_condition_of(c, y)) == 0) {
                continue;
            }
            bl_findings_looked(c->into, BL_FINDING_NOT_COMPARABLE, -1, -1);
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
        const bool together = bl_causes_air_only(c, r) && tee(c, r);
        for (size_t u = 0; !together && u < c->trial->units; u++) {
            if (c->trial->unit[u].outputs > 0) {
                implausible(c, r, u);
            }
        }
    }
    comparable(c);
}
