/* SPDX-License-Identifier: MIT */
/*
 * Does the unit follow the demand or its air line? By lead: an output that
 * rises before the air at its own front coupling does cannot follow that air;
 * one that trails the air by a valve's time (up to 0.1 s, common practice) and
 * the demand by more than that follows the air. By level: an output while the
 * control line stays below the level at which braking begins follows data.
 */
#include "study/reach/reach.h"

#include "base/alloc.h"

#include <math.h>

static const double VALVE_S = 0.1;

/* When the air at the front coupling passes response_at above its rest. */
static bool air_arrival(const struct bl_reaching *r,
                        const struct bl_trial_unit *unit, double from_s,
                        double until_s, double *at_s, double *u_s)
{
    const struct bl_channel_series *channel =
        bl_run_channel(r->data, unit->control.channel);
    if (unit->control.kind != BL_INPUT_CHANNEL || channel == NULL) {
        return false;
    }
    const struct bl_samples *s = &channel->samples;
    double rest = 0;
    size_t n = 0;
    for (size_t i = 0; i < s->count; i++) {
        const double t = bl_reach_time(r, channel->recording, s->time_ns[i]);
        const double value = (double)s->value[i];
        if (t < from_s - 0.5 || isnan(value)) {
            continue;
        }
        if (t < from_s - 0.05) {
            rest += value;
            n++;
            continue;
        }
        if (n == 0 || t > until_s) {
            return false;
        }
        if (value - rest / (double)n >= r->trial->response_at_kpa) {
            const struct bl_trial_channel *is =
                &r->trial->channel[channel->channel];
            *at_s = t - (isnan(is->delay_s) ? 0 : is->delay_s);
            *u_s = hypot((double)s->interval_ns * 1e-9,
                         isnan(is->u_delay_s) ? 0.002 : is->u_delay_s);
            return true;
        }
    }
    *at_s = INFINITY; /* it did not come at all */
    *u_s = 0;
    return n > 0;
}

static void by_lead(struct bl_reach_follow *into, const struct bl_unit_lag *lag,
                    double apply_s, double air_s, double u_air_s)
{
    if (!lag->response.known || isinf(air_s)) {
        return;
    }
    const double out_s = apply_s + lag->response.s;
    const double u = hypot(
        u_air_s, hypot(lag->response.part.crossing, lag->response.part.delay));
    into->lead_s = air_s - out_s;
    into->u_lead_s = u;
    if (into->lead_s > fmax(4 * u, 0.01)) {
        into->by_lead = BL_FOLLOWS_DATA;
        return;
    }
    const bool behind_demand =
        !lag->demand_arrival.known ||
        lag->response.s - lag->demand_arrival.s > VALVE_S + 4 * u;
    if (-into->lead_s > 4 * u && -into->lead_s < VALVE_S && behind_demand) {
        into->by_lead = BL_FOLLOWS_AIR;
    }
}

static void one(struct bl_reaching *r, struct bl_reach_unit *unit,
                const struct bl_application *a, const struct bl_unit_lag *lag)
{
    struct bl_reach_follow *into = &unit->follow[unit->follows_count++];
    const double shift = (double)(r->lag->t0_ns - r->clocks->t0_ns) * 1e-9;
    const double apply_s = a->command_apply.s + shift;
    const double release_s =
        a->command_release.known ? a->command_release.s + shift : apply_s + 5;
    double air_s;
    double u_s;
    *into = (struct bl_reach_follow){
        .application = a->number, .lead_s = NAN, .u_lead_s = NAN};
    if (!air_arrival(r, &r->trial->unit[unit->unit], apply_s, release_s, &air_s,
                     &u_s)) {
        return;
    }
    by_lead(into, lag, apply_s, air_s, u_s);
    if (isinf(air_s) && lag->responded == BL_YES) {
        into->by_level = BL_FOLLOWS_DATA;
    }
}

static void conclude(struct bl_reach_unit *unit)
{
    size_t data = 0;
    size_t air = 0;
    for (size_t i = 0; i < unit->follows_count; i++) {
        const struct bl_reach_follow *f = &unit->follow[i];
        data += f->by_lead == BL_FOLLOWS_DATA || f->by_level == BL_FOLLOWS_DATA;
        air += f->by_lead == BL_FOLLOWS_AIR;
    }
    const size_t enough = unit->follows_count < 3 ? unit->follows_count : 3;
    if (data >= enough && data > 0 && air == 0) {
        unit->follows = BL_FOLLOWS_DATA;
    } else if (air >= enough && air > 0 && data == 0) {
        unit->follows = BL_FOLLOWS_AIR;
    }
}

enum bl_status bl_reach_follow(struct bl_reaching *r, size_t k,
                               struct bl_error *error)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    if (r->lag == NULL) {
        return BL_OK;
    }
    unit->follow = bl_alloc(r->lag->applications, sizeof(*unit->follow));
    if (unit->follow == NULL) {
        return bl_fail_memory(error);
    }
    for (size_t i = 0; i < r->lag->applications; i++) {
        const struct bl_application *a = &r->lag->application[i];
        for (size_t u = 0; u < a->units; u++) {
            if (a->unit[u].unit == unit->unit && a->command_apply.known &&
                !a->excluded && a->unit[u].responded == BL_YES) {
                one(r, unit, a, &a->unit[u]);
            }
        }
    }
    conclude(unit);
    return BL_OK;
}
