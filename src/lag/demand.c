/* SPDX-License-Identifier: MIT */
/*
 * Which series is the electronic demand to a unit: frames of the demand role
 * on the unit's bus, sent by the unit in front; on a bus that is split through
 * all units, the one meant for a unit further in front. An identifier that
 * carries no address (11 bits, or single in its table) is from the address that
 * its table states, else from whoever is in front.
 */
#include "lag/demand.h"

#include <math.h>
#include <string.h>

bool bl_demand_on_bus(const char *name, const char *bus)
{
    return bus == NULL || name[0] == '\0' || strcmp(name, bus) == 0;
}

static bool is_demand(const struct bl_bus_series *s)
{
    return s->signal->role == BL_ROLE_SERVICE_DEMAND && s->steps.count > 0;
}

/* Sender's address; -1: its frames do not tell. */
static int sender_of(const struct bl_bus_series *s)
{
    const struct bl_message *message = s->signal->message;
    if (!message->single_id) {
        return s->source;
    }
    return message->sender == BL_SENDER_ADDRESS ? message->sender_address : -1;
}

static bool sent_by(const struct bl_bus_series *s, int address)
{
    const int sender = sender_of(s);
    return address < 0 || sender < 0 || sender == address;
}

static bool meant_for(const struct bl_bus_series *s, int address)
{
    return address < 0 || s->signal->message->single_id ||
           s->destination == BL_ADDRESS_GLOBAL || s->destination == address;
}

/* Is the unit's link a bus of its own? */
static bool own_bus(const struct bl_trial *trial, size_t unit)
{
    for (size_t i = 0; i < trial->units; i++) {
        if (i != unit && trial->unit[i].number > 0 &&
            (trial->unit[i].bus == NULL || trial->unit[unit].bus == NULL ||
             strcmp(trial->unit[i].bus, trial->unit[unit].bus) == 0)) {
            return false;
        }
    }
    return true;
}

/* One sender for all: a bus that is split through the train. Where a towed
   unit sends a demand on that bus too, it is passed on hop by hop. */
static bool one_sender(const struct bl_run_data *data,
                       const struct bl_bus_series *s)
{
    for (size_t i = 0; i < data->series_count; i++) {
        const struct bl_bus_series *other = &data->series[i];
        if (is_demand(other) && strcmp(other->bus, s->bus) == 0 &&
            other->recording == s->recording &&
            sender_of(other) != sender_of(s)) {
            return false;
        }
    }
    return true;
}

/* From a unit further in front to the one behind that: its own hop, or to all
   behind it. */
static bool hop_further_in_front(const struct bl_trial *trial, size_t unit,
                                 const struct bl_bus_series *s)
{
    for (size_t i = unit; i-- > 1;) {
        if (trial->unit[i].combination != trial->unit[unit].combination ||
            trial->unit[i].number == 0) {
            break;
        }
        if (sent_by(s, trial->unit[i - 1].address) &&
            meant_for(s, trial->unit[i].address)) {
            return true;
        }
    }
    return false;
}

enum bl_demand_fit bl_demand_fits(const struct bl_trial *trial,
                                  const struct bl_run_data *data, size_t unit,
                                  const struct bl_bus_series *s)
{
    const struct bl_trial_unit *self = &trial->unit[unit];
    if (self->number == 0 || !is_demand(s) ||
        !bl_demand_on_bus(s->bus, self->bus)) {
        return BL_DEMAND_NOT;
    }
    const int front = trial->unit[unit - 1].address;
    const bool further =
        hop_further_in_front(trial, unit, s) && one_sender(data, s);
    /* On a common bus, frames that name nobody are as much another unit's. */
    const bool nameless = front < 0 || sender_of(s) < 0;
    if (sent_by(s, front) && meant_for(s, self->address) &&
        !(nameless && further && !own_bus(trial, unit))) {
        return BL_DEMAND_EXACT;
    }
    if (further) {
        return BL_DEMAND_SPLIT;
    }
    return own_bus(trial, unit) || sent_by(s, front) ? BL_DEMAND_STRANGE
                                                     : BL_DEMAND_NOT;
}

enum bl_status bl_demand_find(const struct bl_bus_series **out,
                              enum bl_demand_fit *fit,
                              const struct bl_trial *trial,
                              const struct bl_run_data *data, size_t unit,
                              struct bl_error *error)
{
    const struct bl_trial_unit *self = &trial->unit[unit];
    const struct bl_bus_series *other = NULL;
    *out = NULL;
    *fit = BL_DEMAND_NOT;
    for (size_t i = 0; i < data->series_count; i++) {
        const struct bl_bus_series *s = &data->series[i];
        const enum bl_demand_fit is = bl_demand_fits(trial, data, unit, s);
        if (is == BL_DEMAND_NOT || is < *fit) {
            continue;
        }
        if (is > *fit) {
            *out = s;
            *fit = is;
            other = NULL;
        } else if (strcmp(s->bus, (*out)->bus) != 0) {
            other = s;
        } else if (s->steps.frames > (*out)->steps.frames) {
            *out = s;
        }
    }
    if (other != NULL && *fit == BL_DEMAND_EXACT) {
        return bl_fail_line(
            error, BL_TRIAL, trial->path, self->line,
            "unit %d: expected the demand to it on one bus, found it on '%s' "
            "and on '%s'; add 'bus' to the unit",
            self->number, (*out)->bus, other->bus);
    }
    return BL_OK;
}

enum bl_status bl_demand_series(const struct bl_bus_series **out,
                                const struct bl_trial *trial,
                                const struct bl_run_data *data, size_t unit,
                                struct bl_error *error)
{
    enum bl_demand_fit fit;
    return bl_demand_find(out, &fit, trial, data, unit, error);
}

bool bl_demand_own(const struct bl_trial *trial, size_t unit,
                   const struct bl_bus_series *s)
{
    const struct bl_trial_unit *self = &trial->unit[unit];
    const bool nameless = self->address < 0 || sender_of(s) < 0;
    if (!bl_demand_on_bus(s->bus, self->bus)) {
        return false;
    }
    return nameless ? s->signal->message->direction == BL_DIRECTION_UP &&
                          own_bus(trial, unit)
                    : sender_of(s) == self->address;
}

const struct bl_bus_series *bl_demand_report(const struct bl_trial *trial,
                                             const struct bl_run_data *data,
                                             size_t unit)
{
    const struct bl_bus_series *found = NULL;
    for (size_t i = 0; i < data->series_count; i++) {
        const struct bl_bus_series *s = &data->series[i];
        if (s->signal->role == BL_ROLE_BRAKE_ACTIVE &&
            s->steps.frames > s->steps.not_valid &&
            bl_demand_own(trial, unit, s) &&
            (found == NULL ||
             s->steps.interval_ns < found->steps.interval_ns)) {
            found = s;
        }
    }
    return found;
}

double bl_demand_level(const struct bl_trial *trial,
                       const struct bl_trial_unit *command)
{
    return command->command_at_kind == BL_COMMAND_AT_PRESSURE &&
                   !isnan(command->command_at)
               ? command->command_at
               : trial->response_at_kpa;
}
