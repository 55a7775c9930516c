/* SPDX-License-Identifier: MIT */
/* What the unit says of itself on its link, its NAME, and its voltage while
   valves work. */
#include "study/reach/reach.h"

#include "base/alloc.h"
#include "lag/demand.h"
#include "lag/track.h"

#include <math.h>
#include <string.h>

static const enum bl_role shown[] = {
    BL_ROLE_BRAKE_ACTIVE,       BL_ROLE_AUTOMATIC_BRAKING,
    BL_ROLE_SUPPLY_SUFFICIENT,  BL_ROLE_ELECTRIC_SUPPLY_SUFFICIENT,
    BL_ROLE_WARNING_RED,        BL_ROLE_WARNING_AMBER,
    BL_ROLE_STOP_LAMP_REQUEST,  BL_ROLE_LINE_BRAKING_SUPPORTED,
    BL_ROLE_SUPPLY_LINE_REQUEST};

static bool is_shown(enum bl_role role)
{
    for (size_t i = 0; i < sizeof(shown) / sizeof(shown[0]); i++) {
        if (shown[i] == role) {
            return true;
        }
    }
    return false;
}

static bool of_unit(const struct bl_reaching *r,
                    const struct bl_reach_unit *unit,
                    const struct bl_bus_series *s)
{
    return is_shown(s->signal->role) && bl_demand_own(r->trial, unit->unit, s);
}

static void fill(const struct bl_reaching *r, const struct bl_reach_unit *unit,
                 struct bl_reach_status *into, const struct bl_bus_series *s)
{
    const char combination = r->trial->unit[unit->unit].combination;
    into->signal = s->signal;
    into->frames = s->steps.frames;
    into->not_valid = s->steps.not_valid;
    for (size_t i = 0; i < s->steps.count; i++) {
        const struct bl_segment *g = &s->steps.segment[i];
        if (g->state != BL_VALUE_VALID || g->raw != 1) {
            continue;
        }
        into->on += g->count;
        into->on_in_application =
            into->on_in_application ||
            bl_reach_application(
                r, combination, bl_reach_time(r, s->recording, g->first_ns),
                bl_reach_time(r, s->recording, g->last_ns)) != 0;
    }
}

static void name_of(const struct bl_reaching *r, struct bl_reach_unit *unit)
{
    const int address = r->trial->unit[unit->unit].address;
    for (size_t i = 0; i < r->data->links.names; i++) {
        const struct bl_link_name *claim = &r->data->links.name[i];
        /* The lowest keeps a contested address (J1939-81). */
        if (claim->source == address && !bl_claim_failed(claim->source) &&
            (!unit->has_name || claim->name.raw < unit->name.raw)) {
            unit->has_name = true;
            unit->name = claim->name;
        }
    }
    for (size_t i = 0; i < r->data->links.ids; i++) {
        const struct bl_link_id *l = &r->data->links.id[i];
        if (bl_reach_of_unit(r, l, unit->unit) &&
            bl_reach_on_link(r, l, unit->unit)) {
            unit->status_frames += l->frames;
        }
    }
}

/* What the instrument states of itself at such a value; what it does not state
   is not included. */
static double u_of(const struct bl_trial_channel *c, double value)
{
    double u = isnan(c->u_zero) ? 0 : c->u_zero;
    u = hypot(u, isnan(c->u_gain_fraction) ? 0 : c->u_gain_fraction * value);
    u = hypot(u, isnan(c->resolution) ? 0 : c->resolution / sqrt(12));
    u = hypot(u, isnan(c->accuracy_value) ? 0 : c->accuracy_value / sqrt(3));
    return hypot(u, isnan(c->accuracy_fraction)
                        ? 0
                        : c->accuracy_fraction * value / sqrt(3));
}

/* Least voltage while any application is on: valves that stand draw little.
   Middle values of a tenth of a second, as a spike is no low supply. */
static void volts(const struct bl_reaching *r, struct bl_reach_unit *unit)
{
    const int64_t step_ns = 100000000;
    const struct bl_trial_unit *self = &r->trial->unit[unit->unit];
    struct bl_track track;
    bl_track_find(&track, r->trial, r->data, r->clocks, &self->voltage);
    for (size_t i = 0;
         track.present && r->lag != NULL && !track.is_state &&
         track.quantity == BL_QUANTITY_VOLTAGE && i < r->lag->applications;
         i++) {
        const struct bl_application *a = &r->lag->application[i];
        if (a->combination != self->combination || !a->command_apply.known ||
            !a->command_release.known) {
            continue;
        }
        for (int64_t t = a->apply_ns; t < a->release_ns; t += step_ns) {
            const struct bl_extent e = bl_track_extent(&track, t, t + step_ns);
            if (e.known && !(e.median >= unit->volts_least)) {
                unit->volts_least = e.median;
                unit->volts_least_s = (double)(t - r->clocks->t0_ns) * 1e-9;
            }
        }
    }
    unit->u_volts = isnan(unit->volts_least) ? NAN
                    : track.channel == NULL
                        ? 0
                        : u_of(track.channel, unit->volts_least);
}

enum bl_status bl_reach_statuses(struct bl_reaching *r, size_t k,
                                 struct bl_error *error)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    size_t count = 0;
    for (size_t i = 0; i < r->data->series_count; i++) {
        count += of_unit(r, unit, &r->data->series[i]);
    }
    unit->status = bl_alloc(count, sizeof(*unit->status));
    if (unit->status == NULL) {
        return bl_fail_memory(error);
    }
    for (size_t i = 0; i < r->data->series_count; i++) {
        if (of_unit(r, unit, &r->data->series[i])) {
            fill(r, unit, &unit->status[unit->statuses++], &r->data->series[i]);
        }
    }
    name_of(r, unit);
    volts(r, unit);
    return BL_OK;
}
