/* SPDX-License-Identifier: MIT */
#include "lag/impossible.h"

#include "base/sure.h"

#include <math.h>

/* As docs/methods/physics.md: warmest air of 50 degC, 360 m/s, times 1.3. */
static const double fastest_m_s = 1.3 * 360;
/* What passes response_at first need not have begun first: an inshot may give
   an output that level while control or demand is still on the way to it. Own
   choice, for full and service applications: those rise by 200 kPa/s and more
   everywhere; light ones are not judged. */
static const double slack_air_s = 0.03, slack_demand_s = 0.05;
/* A pedal asks electronically before its valve gives pressure: by its travel,
   common practice. */
static const double pedal_ahead_s = 0.3;
/* Longer than any sender, gateway and interval on the way from a pedal: own
   choice. */
static const double demand_behind_s = 0.5;

static const struct bl_impossible unknown = {NAN, NAN, false};

static bool air_only(const struct bl_trial_run *run)
{
    return run->power == BL_STATED_OFF || run->data == BL_STATED_OFF;
}

/* Does the command stand for what the driver himself does? Of an electronic
   demand nobody knows how long it was under way. */
static bool by_the_driver(const struct bl_trial *trial, char combination)
{
    const long front = bl_trial_unit_index(trial, combination, 0);
    return front >= 0 &&
           (trial->unit[front].command_kind == BL_COMMAND_CONTROL_MOVEMENT ||
            trial->unit[front].command_kind == BL_COMMAND_TREADLE_PRESSURE);
}

/* Seconds that air takes at least from the command to this unit. A length that
   is not stated counts as none, and an electronic command may itself be late.
 */
static double least_travel(const struct bl_trial *trial, size_t unit)
{
    const struct bl_trial_unit *vehicle = &trial->unit[unit];
    double length = 0;
    for (size_t u = 0; u <= unit; u++) {
        const struct bl_trial_unit *in_front = &trial->unit[u];
        if (in_front->combination == vehicle->combination &&
            in_front->number > 0 && isfinite(in_front->pipe_m)) {
            length += in_front->pipe_m;
        }
    }
    return length / fastest_m_s -
           (by_the_driver(trial, vehicle->combination) ? 0 : pedal_ahead_s);
}

struct bl_impossible bl_impossible_output(const struct bl_trial *trial,
                                          size_t run,
                                          const struct bl_application *a,
                                          const struct bl_unit_lag *unit,
                                          bool as_one)
{
    const struct bl_figure *response = &unit->figure[BL_FIGURE_RESPONSE];
    const bool alone = air_only(&trial->run[run]);
    const bool measured = isfinite(unit->follow.lead_s);
    /* On a ramp the levels passed decide, not the order of events. */
    if (trial->unit[unit->unit].number <= 0 || a->shape == BL_SHAPE_RAMP ||
        a->kind == BL_KIND_LIGHT || (unit->flags & BL_FLAG_NOT_VENTED) != 0) {
        return unknown;
    }
    struct bl_impossible out = unknown;
    if (measured) {
        out.excess_s = unit->follow.lead_s;
        out.u_s = unit->follow.u_lead_s;
    } else if (response->known && !as_one) {
        out.excess_s = least_travel(trial, unit->unit) - response->s;
        out.u_s = response->u_s;
    }
    if (!alone) {
        const struct bl_figure *demand =
            &unit->figure[BL_FIGURE_DEMAND_ARRIVAL];
        if (!demand->known || !response->known) {
            return unknown; /* a demand that nobody saw may have been why */
        }
        const double before = demand->s - response->s;
        const double u = hypot(demand->u_s, response->u_s);
        out.by_demand = true;
        /* Where the air is not known, a demand alone proves nothing. */
        if (before - BL_SURE_U * u < out.excess_s - BL_SURE_U * out.u_s) {
            out.excess_s = before;
            out.u_s = u;
        }
    }
    out.excess_s -= alone ? slack_air_s : slack_demand_s;
    return out;
}

struct bl_impossible bl_impossible_demand(const struct bl_trial *trial,
                                          const struct bl_application *a)
{
    struct bl_impossible out = unknown;
    if (!by_the_driver(trial, a->combination)) {
        return out;
    }
    for (size_t i = 0; i < a->units; i++) {
        const struct bl_figure *demand =
            &a->unit[i].figure[BL_FIGURE_DEMAND_ARRIVAL];
        if (!demand->known) {
            continue;
        }
        const double excess = -pedal_ahead_s - demand->s;
        if (isnan(out.excess_s) || excess < out.excess_s) {
            out.excess_s = excess;
            out.u_s = demand->u_s;
        }
    }
    return out;
}

struct bl_impossible bl_doubtful_demand(const struct bl_trial *trial,
                                        const struct bl_application *a)
{
    struct bl_impossible out = unknown;
    bool before = false;
    for (size_t i = 0; i < a->units; i++) {
        const struct bl_unit_lag *measured = &a->unit[i];
        const struct bl_figure *demand =
            &measured->figure[BL_FIGURE_DEMAND_ARRIVAL];
        if (trial->unit[measured->unit].number <= 0 || !demand->known) {
            continue;
        }
        const double excess = demand->s - demand_behind_s;
        if (isnan(out.excess_s) || excess < out.excess_s) {
            out.excess_s = excess;
            out.u_s = demand->u_s;
        }
        before =
            before || (measured->figure[BL_FIGURE_RESPONSE].known &&
                       measured->figure[BL_FIGURE_RESPONSE].s +
                               4 * measured->figure[BL_FIGURE_RESPONSE].u_s <
                           demand->s - 4 * demand->u_s);
    }
    return before ? out : unknown;
}
