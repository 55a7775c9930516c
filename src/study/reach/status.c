/* SPDX-License-Identifier: MIT */
/* What the unit says of itself on its link, its NAME, and its voltage while
   valves work. */
#include "study/reach/reach.h"

#include "base/alloc.h"

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
    const struct bl_trial_unit *self = &r->trial->unit[unit->unit];
    return self->address >= 0 && s->source == self->address &&
           is_shown(s->signal->role) &&
           (unit->bus[0] == '\0' || s->bus[0] == '\0' ||
            strcmp(s->bus, unit->bus) == 0);
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
        if (r->data->links.name[i].source == address) {
            unit->has_name = true;
            unit->name = r->data->links.name[i].name;
        }
    }
    for (size_t i = 0; i < r->data->links.ids; i++) {
        const struct bl_link_id *l = &r->data->links.id[i];
        if (l->extended && bl_id_split(l->id).source == address) {
            unit->status_frames += l->frames;
        }
    }
}

/* Least voltage while any application is on (standing valves draw little). */
static void volts(const struct bl_reaching *r, struct bl_reach_unit *unit)
{
    const struct bl_trial_unit *self = &r->trial->unit[unit->unit];
    if (self->voltage.kind != BL_INPUT_CHANNEL) {
        return;
    }
    const struct bl_channel_series *channel =
        bl_run_channel(r->data, self->voltage.channel);
    for (size_t i = 0; channel != NULL && i < channel->samples.count; i++) {
        const double value = (double)channel->samples.value[i];
        if (isnan(value) ||
            value >=
                (isnan(unit->volts_least) ? INFINITY : unit->volts_least)) {
            continue;
        }
        const double at =
            bl_reach_time(r, channel->recording, channel->samples.time_ns[i]);
        if (bl_reach_application(r, self->combination, at - 0.5, at + 0.001) !=
            0) {
            unit->volts_least = value;
            unit->volts_least_s = at;
        }
    }
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
