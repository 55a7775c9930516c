/* SPDX-License-Identifier: MIT */
/*
 * Does the unit act on the demand? By its output, which rises before the air at
 * its front coupling or trails it (follow.c); else by the braking state that it
 * reports, against the same air; else by any response while the control air is
 * blocked.
 */
#include "study/reach/reach.h"

#include "base/sure.h"
#include "lag/condition.h"
#include "lag/demand.h"
#include "lag/rules.h"
#include "study/findings/fill.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const double STATE_AFTER_S = 3; /* own choice */

static void ignored(struct bl_reaching *r, size_t k, const char *by)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    char self[BL_REACH_LABEL];
    bl_reach_claim(unit, BL_REACH_ACTED_ON, BL_NO, "its %s follows the air",
                   by);
    if (!unit->found || unit->claim[BL_REACH_ARRIVES].answer == BL_NO) {
        return; /* it had nothing else to follow */
    }
    const bool arrives = unit->claim[BL_REACH_ARRIVES].answer == BL_YES;
    bl_reach_label(r, unit->unit, self);
    bl_finding_say(
        bl_findings_add(&r->into->findings, BL_FINDING_DEMAND_IGNORED,
                        arrives ? BL_SHOWN_FOUND : BL_SHOWN_CANNOT_TELL,
                        (long)unit->unit, (long)r->into->run),
        !arrives ? "Whether the demand reaches %s cannot be told; its %s "
                   "follows the air in its control line."
        : unit->split
            ? "%s does not act on the demand to the unit in front: its %s "
              "follows the air in its control line. That one bus runs through "
              "both is an assumption."
            : "The demand reaches %s, but its %s follows the air in its "
              "control line.",
        self, by);
}

struct states {
    size_t seen, data, air; /* applications */
    size_t mute; /* as data, but its recorded output stayed at rest, in service
                    and full ones: a light one may lie below what shows */
};

/* When the state turns on after `from_s`: by the stamps of the last frame
   before and the first frame with it. */
static bool turns_on(const struct bl_reaching *r, const struct bl_bus_series *s,
                     double from_s, double at[2])
{
    bool off = false;
    for (size_t i = 0; i < s->steps.count; i++) {
        const struct bl_segment *g = &s->steps.segment[i];
        const double first = bl_reach_time(r, s->recording, g->first_ns);
        if (first > from_s + STATE_AFTER_S) {
            return false;
        }
        if (g->state != BL_VALUE_VALID) {
            off = false;
        } else if (g->raw != 1) {
            off = true;
        } else if (first > from_s && off && g->before_ns != INT64_MIN) {
            at[0] = bl_reach_time(r, s->recording, g->before_ns);
            at[1] = first;
            return true;
        } else {
            off = false;
        }
    }
    return false;
}

/* The demand's rise in an application; NaN. */
static double rise_in(const struct bl_reach_unit *unit, int application)
{
    for (size_t i = 0; i < unit->counts; i++) {
        if (unit->count[i].application == application &&
            unit->count[i].moved == BL_YES) {
            return unit->count[i].rise_s;
        }
    }
    return NAN;
}

/* Uncertainty of the capture's times against the log's; NaN: not tied. */
static double u_of_tie(const struct bl_reaching *r,
                       const struct bl_bus_series *s)
{
    const struct bl_clock_tie *tie = &r->clocks->tie[s->recording];
    return tie->claim == BL_CLAIM_ABSOLUTE || tie->claim == BL_CLAIM_BOUNDED
               ? bl_clock_u(tie, r->data->recording[s->recording].first_ns)
               : NAN;
}

static void by_state(const struct bl_reaching *r, size_t k,
                     const struct bl_bus_series *s, struct states *out)
{
    const struct bl_reach_unit *unit = &r->into->unit[k];
    for (size_t i = 0; i < r->lag->applications; i++) {
        const struct bl_application *a = &r->lag->application[i];
        const double rise_s = rise_in(unit, a->number);
        double at[2];
        if (a->combination != r->trial->unit[unit->unit].combination ||
            !a->command_apply.known || isnan(rise_s)) {
            continue;
        }
        const double apply_s = (double)(a->apply_ns - r->clocks->t0_ns) * 1e-9;
        for (size_t u = 0; u < a->units; u++) {
            const struct bl_follow *seen = &a->unit[u].follow;
            if (a->unit[u].unit != unit->unit || isnan(seen->air_s) ||
                !turns_on(r, s, fmin(apply_s, rise_s) - BL_LEAST_LEAD_S, at)) {
                continue;
            }
            const double u_s = hypot(seen->u_air_s, u_of_tie(r, s));
            const double air_s = apply_s + seen->air_s;
            if (isnan(u_s)) {
                continue; /* not tied to the air's clock: no before or after */
            }
            out->seen++;
            const bool leads =
                at[1] < air_s - fmax(BL_SURE_U * u_s, BL_LEAST_LEAD_S);
            const bool silent =
                a->unit[u].output >= 0 && a->unit[u].responded == BL_NO;
            out->data += leads && !silent;
            out->mute +=
                leads && silent &&
                (a->kind == BL_KIND_SERVICE || a->kind == BL_KIND_FULL);
            out->air +=
                at[0] > rise_s + BL_LATEST_BY_DEMAND_S + BL_SURE_U * u_s &&
                at[1] > air_s - BL_SURE_U * u_s && at[0] < air_s + BL_VALVE_S;
        }
    }
}

/* The control air is declared blocked, nothing contradicts it, and the unit
   responded all the same. */
static bool by_block(const struct bl_reaching *r, size_t k)
{
    const struct bl_reach_unit *unit = &r->into->unit[k];
    struct bl_contradiction found[BL_CONTRADICTIONS];
    size_t asked = 0;
    if (r->trial->run[r->data->run].control_air != BL_AIR_BLOCKED ||
        bl_lag_contradictions(found, r->trial, r->data, r->clocks, r->lag) >
            0) {
        return false;
    }
    for (size_t i = 0; i < r->lag->applications; i++) {
        const struct bl_application *a = &r->lag->application[i];
        for (size_t u = 0; u < a->units; u++) {
            if (a->unit[u].unit != unit->unit || a->begun_before) {
                continue;
            }
            if (a->unit[u].responded != BL_YES) {
                return false;
            }
            asked++;
        }
    }
    return asked > 0;
}

/* True: answered. */
static bool by_report(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    const struct bl_bus_series *s =
        bl_demand_report(r->trial, r->data, unit->unit);
    struct states seen = {0};
    if (s == NULL || r->lag == NULL) {
        return false;
    }
    by_state(r, k, s, &seen);
    const size_t enough = seen.seen < 3 ? seen.seen : 3;
    if (seen.mute > 0) {
        bl_reach_claim(unit, BL_REACH_ACTED_ON,
                       seen.mute >= enough ? BL_NO : BL_UNKNOWN,
                       "it reports braking, but its output does not rise, in "
                       "%zu of %zu applications",
                       seen.mute, seen.mute + seen.data);
        return true;
    }
    if (seen.data >= enough && seen.data > 0 && seen.air == 0) {
        bl_reach_claim(unit, BL_REACH_ACTED_ON, BL_YES,
                       "it reports braking before the air is at its coupling, "
                       "in %zu applications",
                       seen.data);
        unit->by_word = true;
        return true;
    }
    if (seen.air >= enough && seen.air > 0 && seen.data == 0) {
        ignored(r, k, "braking state");
        return true;
    }
    return false;
}

/* Who says nothing on its link may not be there at all; what was measured of
   its output stands all the same. */
static void is_quiet(struct bl_reach_unit *unit, const char *why)
{
    unit->quiet = true;
    if (unit->claim[BL_REACH_ACTED_ON].answer == BL_YES) {
        bl_reach_why(unit, "%s", why);
    } else {
        bl_reach_claim(unit, BL_REACH_ACTED_ON, BL_NO, "%s", why);
    }
}

static void own_word(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    double length_s;
    if (unit->address < 0 || unit->other_address) {
        return; /* who it is on the bus is not known */
    }
    if (unit->status_frames == 0) {
        if (bl_reach_any_tells(r) && !unit->split) {
            is_quiet(unit, "the unit itself sends nothing on its link");
        } else {
            bl_reach_why(unit, "the unit itself sends nothing on its link");
        }
    } else if (!isnan(bl_reach_silent_from(r, unit->unit, &length_s))) {
        char why[BL_REACH_TEXT];
        (void)snprintf(why, sizeof(why),
                       "the unit falls silent %.2f s before its link does",
                       length_s);
        is_quiet(unit, why);
    }
}

void bl_reach_judge_acted(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    const struct bl_trial_unit *self = &r->trial->unit[unit->unit];
    if (unit->follows == BL_FOLLOWS_DATA) {
        bl_reach_claim(unit, BL_REACH_ACTED_ON, BL_YES,
                       "its output rises before the air at its coupling");
    } else if (unit->follows == BL_FOLLOWS_AIR) {
        ignored(r, k, "output");
    } else if (unit->found && by_report(r, k)) {
        /* said there */
    } else if (r->lag != NULL && self->outputs > 0 && by_block(r, k)) {
        bl_reach_claim(unit, BL_REACH_ACTED_ON, BL_YES,
                       "it responds while the control air is blocked");
    } else {
        bl_reach_claim(unit, BL_REACH_ACTED_ON, BL_UNKNOWN, "%s",
                       self->outputs == 0 ? "its output was not recorded"
                       : self->control.kind == BL_INPUT_NONE
                           ? "the air at its front coupling was not recorded: "
                             "its output may follow either"
                           : "air and demand come too close together, or their "
                             "clocks are not tied");
    }
    if (unit->found) {
        own_word(r, k);
    }
}
