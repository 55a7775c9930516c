/* SPDX-License-Identifier: MIT */
/*
 * Output alone as evidence. Where a unit's powered figures equal those by air
 * alone, and the air is late there, the demand was not used: what acts on a
 * demand reaches 75 % long before. No capture is needed for that. Where a unit
 * is early by both, nobody can tell: air and demand come together. That a unit
 * is sooner with power shows nothing either: a unit in front may have passed
 * the air on sooner.
 */
#include "study/reach/reach.h"

#include "base/number.h"
#include "lag/application.h"
#include "study/findings/fill.h"

#include <math.h>

enum { KEPT = 512, LEAST = 3 };

/* Sound equipment differs by so much from run to run (own choice, as for
   demand-ignored). */
static const double SAME_RESPONSE_S = 0.005, SAME_75_S = 0.01;
/* A towing vehicle's demand passes 10 % within 0.2 s, and a trailer's brake 75
   % within 0.4 s of that (UN R13 Annex 6, 2.6 and 3.5): who hears it is not
   later. Response: common practice, 0.2 s, and as much again. */
static const double DEMAND_75_S = 0.6, DEMAND_RESPONSE_S = 0.4;

struct pace {
    double response_s, at_75_s, u_s;
    size_t n;
};

/* Of full steps, which both runs are sure to have alike. */
static struct pace pace_of(const struct bl_run_lag *lag, size_t unit)
{
    double response[KEPT];
    double at_75[KEPT];
    struct pace pace = {.response_s = NAN, .at_75_s = NAN};
    for (size_t i = 0; i < lag->applications && pace.n < KEPT; i++) {
        const struct bl_application *a = &lag->application[i];
        const struct bl_unit_lag *one = bl_application_unit(a, unit);
        if (one == NULL || !bl_application_usable(a) ||
            a->kind != BL_KIND_FULL || a->shape != BL_SHAPE_STEP ||
            !one->figure[BL_FIGURE_RESPONSE].known ||
            !one->figure[BL_FIGURE_FILLED].known) {
            continue;
        }
        pace.u_s = fmax(pace.u_s, one->figure[BL_FIGURE_FILLED].u_s);
        pace.u_s = fmax(pace.u_s, one->figure[BL_FIGURE_RESPONSE].u_s);
        response[pace.n] = one->figure[BL_FIGURE_RESPONSE].s;
        at_75[pace.n++] = one->figure[BL_FIGURE_FILLED].s;
    }
    if (pace.n >= LEAST) {
        const size_t n = pace.n;
        pace.response_s = bl_median(response, n);
        pace.at_75_s = bl_median(at_75, n);
    }
    return pace;
}

static bool late_by_air(const struct pace *air)
{
    return air->response_s > DEMAND_RESPONSE_S + 4 * air->u_s &&
           air->at_75_s > DEMAND_75_S + 4 * air->u_s;
}

static bool same(const struct pace *with, const struct pace *air)
{
    const double u = 2 * hypot(with->u_s, air->u_s);
    return fabs(with->response_s - air->response_s) <= SAME_RESPONSE_S + u &&
           fabs(with->at_75_s - air->at_75_s) <= SAME_75_S + u;
}

static bool named(const struct bl_reach *reach, size_t unit)
{
    for (size_t i = 0; i < reach->findings.count; i++) {
        if (reach->findings.item[i].code == BL_FINDING_DEMAND_IGNORED &&
            reach->findings.item[i].unit == (long)unit) {
            return true;
        }
    }
    return false;
}

static void not_used(const struct bl_trial *trial, struct bl_reach *reach,
                     struct bl_reach_unit *unit, const char *air_run,
                     const struct pace pace[2])
{
    char label[BL_REACH_LABEL];
    bl_reach_claim(
        unit, BL_REACH_ACTED_ON, BL_NO,
        "it brakes as by air alone (run %.60s), %.2f s to 75 %%: the "
        "demand was not used",
        air_run, pace[0].at_75_s);
    bl_reach_conclude(unit);
    if (unit->claim[BL_REACH_ARRIVES].answer == BL_NO ||
        named(reach, unit->unit)) {
        return; /* it had none, or is named already */
    }
    struct bl_finding *f =
        bl_findings_add(&reach->findings, BL_FINDING_DEMAND_IGNORED,
                        BL_SHOWN_FOUND, (long)unit->unit, (long)reach->run);
    bl_finding_say(
        f,
        "Unit %s brakes with power as by air alone (run %s), and the "
        "air is late there: the demand was not used.",
        bl_trial_unit_label(&trial->unit[unit->unit], label, sizeof(label)),
        air_run);
    bl_finding_evidence(f, "75 % with power, middle", pace[0].at_75_s,
                        pace[0].u_s, "s");
    bl_finding_evidence(f, "75 % by air alone, middle", pace[1].at_75_s,
                        pace[1].u_s, "s");
}

/* Run `with` against a run by air alone. */
static void against(const struct bl_trial *trial, struct bl_reach *reach,
                    const struct bl_run_lag *with, const struct bl_run_lag *air)
{
    for (size_t k = 0; k < reach->units; k++) {
        struct bl_reach_unit *unit = &reach->unit[k];
        const struct pace pace[2] = {pace_of(with, unit->unit),
                                     pace_of(air, unit->unit)};
        if (unit->claim[BL_REACH_ACTED_ON].answer == BL_UNKNOWN &&
            late_by_air(&pace[1]) && same(&pace[0], &pace[1])) {
            not_used(trial, reach, unit, trial->run[air->run].name, pace);
        }
    }
}

enum bl_status bl_reach_across(const struct bl_trial *trial,
                               struct bl_reach *const *reach,
                               const struct bl_run_lag *const *lag,
                               struct bl_error *error)
{
    for (size_t r = 0; r < trial->runs; r++) {
        const struct bl_trial_run *run = &trial->run[r];
        const bool asks = run->power == BL_STATED_ON &&
                          run->data != BL_STATED_OFF && reach[r] != NULL;
        for (size_t a = 0; a < trial->runs; a++) {
            if (asks && lag[r] != NULL && lag[a] != NULL && reach[a] != NULL &&
                reach[a]->declared_off &&
                trial->run[a].control_air != BL_AIR_BLOCKED) {
                against(trial, reach[r], lag[r], lag[a]);
            }
        }
        if (reach[r] != NULL && reach[r]->findings.failed) {
            return bl_fail_memory(error);
        }
    }
    return BL_OK;
}
