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

#include "base/alloc.h"
#include "base/number.h"
#include "base/sure.h"
#include "lag/application.h"
#include "lag/rules.h"
#include "study/findings/fill.h"

#include <math.h>

enum { LEAST = 3 };

/* A foot is no machine: what its presses scatter by is added, and where that is
   more than this the two runs show nothing (own choice: a tenth of what the
   demand saves). */
static const double SAME_MOST_S = 0.05;
/* A towing vehicle's demand passes 10 % within 0.2 s, and a trailer's brake 75
   % within 0.4 s of that (UN R13 Annex 6, 2.6 and 3.5): who hears it is not
   later. Response: common practice, 0.2 s, and as much again. */
static const double DEMAND_75_S = 0.6, DEMAND_RESPONSE_S = 0.4;

struct middle {
    double s, u_s; /* with the scatter of its applications; NaN: too few */
};

struct pace {
    struct middle response, at_75;
};

/* The median, and its standard uncertainty: what each application has, and the
   scatter over the root of how many (1.25 for a median of normal values). */
static struct middle middle_of(double *value, size_t n, double u_s)
{
    struct middle out = {NAN, NAN};
    if (n < LEAST) {
        return out;
    }
    out.s = bl_median(value, n);
    for (size_t i = 0; i < n; i++) {
        value[i] = fabs(value[i] - out.s);
    }
    out.u_s = hypot(u_s, 1.25 * 1.4826 * bl_median(value, n) / sqrt((double)n));
    return out;
}

/* Of full steps, which both runs are sure to have alike. `room`: two values an
   application. */
static struct pace pace_of(const struct bl_run_lag *lag, size_t unit,
                           double *room)
{
    double *response = room;
    double *at_75 = room + lag->applications;
    double u_response_s = 0;
    double u_75_s = 0;
    size_t n = 0;
    for (size_t i = 0; i < lag->applications; i++) {
        const struct bl_application *a = &lag->application[i];
        const struct bl_unit_lag *one = bl_application_unit(a, unit);
        if (one == NULL || !bl_application_usable(a) ||
            a->kind != BL_KIND_FULL || a->shape != BL_SHAPE_STEP ||
            !one->figure[BL_FIGURE_RESPONSE].known ||
            !one->figure[BL_FIGURE_FILLED].known) {
            continue;
        }
        u_response_s = fmax(u_response_s, one->figure[BL_FIGURE_RESPONSE].u_s);
        u_75_s = fmax(u_75_s, one->figure[BL_FIGURE_FILLED].u_s);
        response[n] = one->figure[BL_FIGURE_RESPONSE].s;
        at_75[n++] = one->figure[BL_FIGURE_FILLED].s;
    }
    return (struct pace){middle_of(response, n, u_response_s),
                         middle_of(at_75, n, u_75_s)};
}

static bool late(const struct pace *pace)
{
    return pace->response.s >
               DEMAND_RESPONSE_S + BL_SURE_U * pace->response.u_s &&
           pace->at_75.s > DEMAND_75_S + BL_SURE_U * pace->at_75.u_s;
}

static bool alike(struct middle a, struct middle b, double same_s)
{
    const double within_s = same_s + 2 * hypot(a.u_s, b.u_s);
    return within_s <= SAME_MOST_S && fabs(a.s - b.s) <= within_s;
}

static bool same(const struct pace *with, const struct pace *air)
{
    return alike(with->response, air->response, BL_SAME_RESPONSE_S) &&
           alike(with->at_75, air->at_75, BL_SAME_75_S);
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
        air_run, pace[0].at_75.s);
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
        "%s brakes with power as by air alone (run %s), and the "
        "air is late there: %s.",
        bl_trial_unit_begins(trial, unit->unit, label, sizeof(label)), air_run,
        unit->found ? "the demand was not used"
                    : "it used no demand (whether one came to it was not "
                      "recorded)");
    bl_finding_evidence(f, "75 % with power, middle", pace[0].at_75.s,
                        pace[0].at_75.u_s, "s");
    bl_finding_evidence(f, "75 % by air alone, middle", pace[1].at_75.s,
                        pace[1].at_75.u_s, "s");
}

/* What a unit reports of itself does not outweigh what its output shows. */
static bool is_open(const struct bl_reach_unit *unit)
{
    return unit->claim[BL_REACH_ACTED_ON].answer == BL_UNKNOWN ||
           (unit->claim[BL_REACH_ACTED_ON].answer == BL_YES && unit->by_word);
}

/* Run `with` against a run by air alone. */
static void against(const struct bl_trial *trial, struct bl_reach *reach,
                    const struct bl_run_lag *with, const struct bl_run_lag *air,
                    double *room)
{
    for (size_t k = 0; k < reach->units; k++) {
        struct bl_reach_unit *unit = &reach->unit[k];
        const struct pace pace[2] = {pace_of(with, unit->unit, room),
                                     pace_of(air, unit->unit, room)};
        if (is_open(unit) && late(&pace[0]) && late(&pace[1]) &&
            same(&pace[0], &pace[1])) {
            not_used(trial, reach, unit, trial->run[air->run].name, pace);
        }
    }
}

void bl_reach_ignores(struct bl_reach *reach, size_t unit)
{
    for (size_t k = 0; reach != NULL && k < reach->units; k++) {
        struct bl_reach_unit *one = &reach->unit[k];
        if (one->unit == unit && is_open(one)) {
            bl_reach_claim(one, BL_REACH_ACTED_ON, BL_NO,
                           "beside the other units it brakes by its air "
                           "(demand-ignored)");
            bl_reach_conclude(one);
        }
    }
}

/* Room for the figures of any run. */
static double *room_for(const struct bl_trial *trial,
                        const struct bl_run_lag *const *lag)
{
    size_t most = 1;
    for (size_t r = 0; r < trial->runs; r++) {
        most = lag[r] != NULL && lag[r]->applications > most
                   ? lag[r]->applications
                   : most;
    }
    return bl_alloc(2 * most, sizeof(double));
}

enum bl_status bl_reach_across(const struct bl_trial *trial,
                               struct bl_reach *const *reach,
                               const struct bl_run_lag *const *lag,
                               struct bl_error *error)
{
    double *room = room_for(trial, lag);
    bool failed = room == NULL;
    for (size_t r = 0; !failed && r < trial->runs; r++) {
        const struct bl_trial_run *run = &trial->run[r];
        const bool asks = run->power == BL_STATED_ON &&
                          run->data != BL_STATED_OFF && reach[r] != NULL;
        for (size_t a = 0; a < trial->runs; a++) {
            if (asks && lag[r] != NULL && lag[a] != NULL && reach[a] != NULL &&
                reach[a]->declared_off &&
                trial->run[a].control_air != BL_AIR_BLOCKED) {
                against(trial, reach[r], lag[r], lag[a], room);
            }
        }
        failed = reach[r] != NULL && reach[r]->findings.failed;
    }
    bl_free(room);
    return failed ? bl_fail_memory(error) : BL_OK;
}
