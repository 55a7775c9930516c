/* SPDX-License-Identifier: MIT */
/*
 * Which series is the electronic demand to a unit: frames of the demand role
 * on the unit's bus. A frame with a destination counts for the unit at that
 * destination, whoever in front sends it, and for no other one on that bus; a
 * frame without one, or to all, counts for the unit whose link it is on. That
 * one bus runs through several units, so that the demand to the first stands
 * for all, is an assumption: it is made where the trial says so, or where no
 * destination on the bus names any other unit and the unit itself answers
 * nobody else than the sender. An identifier that carries no address (11 bits,
 * or single in its table) is from the address that its table states, else from
 * whoever is in front.
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

/* Whom its frames name; -1: nobody, or all. */
static int receiver_of(const struct bl_bus_series *s)
{
    return s->signal->message->single_id || s->destination >= BL_ADDRESS_NULL
               ? -1
               : s->destination;
}

bool bl_demand_own_bus(const struct bl_trial *trial, size_t unit)
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

static bool same_link(const struct bl_bus_series *a,
                      const struct bl_bus_series *b)
{
    return a->recording == b->recording && strcmp(a->bus, b->bus) == 0;
}

/* The unit that an address belongs to on the series' bus; -1: none. A towing
   unit speaks on the link behind it, whatever its own bus. */
static long unit_at(const struct bl_trial *trial, const struct bl_bus_series *s,
                    size_t of_train, int address)
{
    const char combination = trial->unit[of_train].combination;
    for (size_t i = 0; address >= 0 && i < trial->units; i++) {
        const struct bl_trial_unit *u = &trial->unit[i];
        if (u->combination == combination && u->address == address &&
            (u->number == 0 || bl_demand_on_bus(s->bus, u->bus))) {
            return (long)i;
        }
    }
    return -1;
}

bool bl_demand_from_front(const struct bl_trial *trial, size_t unit,
                          const struct bl_bus_series *s)
{
    const int sender = sender_of(s);
    bool unknown = sender < 0;
    for (size_t i = unit; i-- > 0;) {
        if (trial->unit[i].combination != trial->unit[unit].combination) {
            break;
        }
        if (trial->unit[i].address == sender) {
            return true;
        }
        unknown = unknown || trial->unit[i].address < 0;
    }
    return unknown && (sender < 0 || unit_at(trial, s, unit, sender) < 0);
}

/* Does no frame on this bus name any other receiver? */
static bool only_receiver(const struct bl_run_data *data,
                          const struct bl_bus_series *s)
{
    for (size_t i = 0; i < data->series_count; i++) {
        const struct bl_bus_series *other = &data->series[i];
        if (is_demand(other) && same_link(other, s) &&
            receiver_of(other) >= 0 && receiver_of(other) != receiver_of(s)) {
            return false;
        }
    }
    return true;
}

/* One sender for all. Where a towed unit sends a demand that names nobody on
   that bus too, it is passed on hop by hop. */
static bool one_sender(const struct bl_run_data *data,
                       const struct bl_bus_series *s)
{
    for (size_t i = 0; i < data->series_count; i++) {
        const struct bl_bus_series *other = &data->series[i];
        if (is_demand(other) && same_link(other, s) &&
            sender_of(other) != sender_of(s)) {
            return false;
        }
    }
    return true;
}

/* Does the unit itself say that its word is for another unit in front than the
   one that sends this? Then each asks the one behind it, and the bus is not
   split: whoever is asked answers the one that asks. */
static bool answers_another(const struct bl_trial *trial,
                            const struct bl_run_data *data, size_t unit,
                            const struct bl_bus_series *s)
{
    const struct bl_trial_unit *self = &trial->unit[unit];
    const struct bl_loaded_recording *loaded = &data->recording[s->recording];
    for (size_t i = 0; self->address >= 0 && i < data->links.ids; i++) {
        const struct bl_link_id *l = &data->links.id[i];
        const struct bl_id id = bl_id_split(l->id);
        if (!l->extended || l->recording != s->recording ||
            strcmp(loaded->bus[l->bus], s->bus) != 0 ||
            id.source != self->address || id.destination >= BL_ADDRESS_NULL ||
            id.destination == sender_of(s)) {
            continue;
        }
        const long to = unit_at(trial, s, unit, id.destination);
        if (to >= 0 && to < (long)unit) {
            return true;
        }
    }
    return false;
}

static bool first_on_bus(const struct bl_trial *trial, size_t unit,
                         const struct bl_bus_series *s)
{
    for (size_t i = unit; i-- > 1;) {
        if (trial->unit[i].combination != trial->unit[unit].combination ||
            trial->unit[i].number == 0) {
            break;
        }
        if (bl_demand_on_bus(s->bus, trial->unit[i].bus)) {
            return false;
        }
    }
    return true;
}

/* Is there a demand on this bus to the very address of the unit? */
static bool asked_by_address(const struct bl_trial *trial,
                             const struct bl_run_data *data, size_t unit,
                             const struct bl_bus_series *s)
{
    for (size_t i = 0; i < data->series_count; i++) {
        const struct bl_bus_series *other = &data->series[i];
        if (is_demand(other) && same_link(other, s) &&
            receiver_of(other) == trial->unit[unit].address) {
            return true;
        }
    }
    return false;
}

/* The one unit of a common bus to whose address no demand goes: a demand to an
   address of no unit may be meant for it. */
static bool left_over(const struct bl_trial *trial,
                      const struct bl_run_data *data, size_t unit,
                      const struct bl_bus_series *s)
{
    for (size_t i = 0; i < trial->units; i++) {
        const bool without =
            trial->unit[i].number > 0 &&
            trial->unit[i].combination == trial->unit[unit].combination &&
            bl_demand_on_bus(s->bus, trial->unit[i].bus) &&
            !asked_by_address(trial, data, i, s);
        if (without != (i == unit)) {
            return false;
        }
    }
    return true;
}

/* The frames name a receiver. */
static enum bl_demand_fit fit_by_address(const struct bl_trial *trial,
                                         const struct bl_run_data *data,
                                         size_t unit,
                                         const struct bl_bus_series *s)
{
    const struct bl_trial_unit *self = &trial->unit[unit];
    const int to = receiver_of(s);
    if (to == self->address) {
        return bl_demand_from_front(trial, unit, s) ? BL_DEMAND_EXACT
                                                    : BL_DEMAND_STRANGE;
    }
    const long meant = unit_at(trial, s, unit, to);
    const bool split =
        trial->bus_split ||
        (only_receiver(data, s) && !answers_another(trial, data, unit, s));
    if (meant >= 0) {
        return split && meant < (long)unit && trial->unit[meant].number > 0 &&
                       !asked_by_address(trial, data, unit, s)
                   ? BL_DEMAND_SPLIT
                   : BL_DEMAND_NOT;
    }
    if (bl_demand_own_bus(trial, unit)) {
        return self->address < 0 ? BL_DEMAND_EXACT : BL_DEMAND_STRANGE;
    }
    if (self->address < 0) {
        return split ? BL_DEMAND_SPLIT : BL_DEMAND_NOT;
    }
    return left_over(trial, data, unit, s) ? BL_DEMAND_STRANGE : BL_DEMAND_NOT;
}

/* They name nobody, or all. */
static enum bl_demand_fit fit_by_link(const struct bl_trial *trial,
                                      const struct bl_run_data *data,
                                      size_t unit,
                                      const struct bl_bus_series *s)
{
    const int sender = sender_of(s);
    const int front = trial->unit[unit - 1].address;
    if (!bl_demand_from_front(trial, unit, s)) {
        return bl_demand_own_bus(trial, unit) ? BL_DEMAND_STRANGE
                                              : BL_DEMAND_NOT;
    }
    if (bl_demand_own_bus(trial, unit) || (sender >= 0 && sender == front) ||
        first_on_bus(trial, unit, s)) {
        return BL_DEMAND_EXACT;
    }
    return trial->bus_split || (one_sender(data, s) &&
                                !answers_another(trial, data, unit, s))
               ? BL_DEMAND_SPLIT
               : BL_DEMAND_NOT;
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
    return receiver_of(s) >= 0 ? fit_by_address(trial, data, unit, s)
                               : fit_by_link(trial, data, unit, s);
}

/* Of two that fit alike: the one from the unit just in front, then the one with
   more frames. */
static bool better(const struct bl_trial *trial, size_t unit,
                   const struct bl_bus_series *a, const struct bl_bus_series *b)
{
    const int front = trial->unit[unit - 1].address;
    const bool near_a = front >= 0 && sender_of(a) == front;
    const bool near_b = front >= 0 && sender_of(b) == front;
    return near_a != near_b ? near_a : a->steps.frames > b->steps.frames;
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
        const enum bl_demand_fit found_fit =
            bl_demand_fits(trial, data, unit, s);
        if (found_fit == BL_DEMAND_NOT || found_fit < *fit) {
            continue;
        }
        if (found_fit > *fit) {
            *out = s;
            *fit = found_fit;
            other = NULL;
        } else if (strcmp(s->bus, (*out)->bus) != 0) {
            other = s;
        } else if (better(trial, unit, s, *out)) {
            *out = s;
        }
    }
    if (other != NULL && *fit == BL_DEMAND_SPLIT && self->address >= 0) {
        *out = NULL; /* its link may be either, or neither */
        *fit = BL_DEMAND_NOT;
        return BL_OK;
    }
    if (other != NULL && (*fit == BL_DEMAND_EXACT || *fit == BL_DEMAND_SPLIT)) {
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
                          bl_demand_own_bus(trial, unit)
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
