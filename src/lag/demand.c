/* SPDX-License-Identifier: MIT */
/*
 * Which series is the electronic demand to a unit: frames of the demand role
 * on the unit's bus, sent by the unit in front; on a bus that is split through
 * all units, by the nearest one in front.
 */
#include "lag/demand.h"

#include <math.h>
#include <string.h>

static bool on_bus(const struct bl_bus_series *series, const char *bus)
{
    return bus == NULL || series->bus[0] == '\0' ||
           strcmp(series->bus, bus) == 0;
}

/* A demand meant for somebody else: a destination that is another address. */
static bool for_unit(const struct bl_bus_series *series, int address)
{
    return address < 0 || series->destination == BL_ADDRESS_GLOBAL ||
           series->destination == address;
}

static const struct bl_bus_series *
from_address(const struct bl_run_data *data, const struct bl_trial_unit *unit,
             int sender, bool any_destination,
             const struct bl_bus_series **other)
{
    const struct bl_bus_series *found = NULL;
    for (size_t i = 0; i < data->series_count; i++) {
        const struct bl_bus_series *s = &data->series[i];
        if (s->signal->role != BL_ROLE_SERVICE_DEMAND ||
            !on_bus(s, unit->bus) || s->steps.count == 0 ||
            (sender >= 0 && s->source != sender) ||
            (!any_destination && !for_unit(s, unit->address))) {
            continue;
        }
        if (found != NULL && (strcmp(found->bus, s->bus) != 0 ||
                              found->recording != s->recording)) {
            *other = s;
            return found;
        }
        found = found == NULL ? s : found;
    }
    return found;
}

enum bl_status bl_demand_series(const struct bl_bus_series **out,
                                const struct bl_trial *trial,
                                const struct bl_run_data *data, size_t unit,
                                struct bl_error *error)
{
    *out = NULL;
    const struct bl_trial_unit *self = &trial->unit[unit];
    if (self->number == 0) {
        return BL_OK;
    }
    const struct bl_bus_series *other = NULL;
    for (size_t k = unit; k-- > 0 && *out == NULL;) {
        if (trial->unit[k].combination != self->combination) {
            break;
        }
        const int sender = trial->unit[k].address;
        const bool nearest = k + 1 == unit;
        *out = from_address(data, self, sender, false, &other);
        if (*out == NULL && !nearest) {
            *out = from_address(data, self, sender, true, &other);
        }
        if (sender < 0) {
            break; /* any sender was taken already */
        }
    }
    if (other != NULL) {
        return bl_fail_line(
            error, BL_TRIAL, trial->path, self->line,
            "unit %d: expected the demand to it on one bus, found it on '%s' "
            "and on '%s'; add 'bus' to the unit",
            self->number, (*out)->bus, other->bus);
    }
    return BL_OK;
}

double bl_demand_level(const struct bl_trial *trial,
                       const struct bl_trial_unit *command)
{
    return command->command_at_kind == BL_COMMAND_AT_PRESSURE &&
                   !isnan(command->command_at)
               ? command->command_at
               : trial->response_at_kpa;
}
