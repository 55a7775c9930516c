/* SPDX-License-Identifier: MIT */
/*
 * Which series of a run may tie two recorders: found by their part in the
 * trial (command, control) and by their role on the bus, never by name.
 */
#include "clock/sources.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"

#include <math.h>
#include <stdio.h>

/* Pedal travel that counts as touched, percent: some bits of a usual signal
   and little of a stab. Common practice. */
static const double TOUCHED_PERCENT = 2;
/* As the usual command_at of a pressure: common practice. */
static const double TOUCHED_KPA = 20;

static enum bl_status add(struct sources *sources, struct source source)
{
    if (!bl_grow(&sources->item, &sources->capacity, sources->count + 1,
                 sizeof(*sources->item), BL_LIMIT_TRIAL_ITEMS)) {
        return BL_NOMEM;
    }
    sources->item[sources->count++] = source;
    return BL_OK;
}

void bl_sources_finish(struct sources *sources)
{
    bl_free(sources->item);
    *sources = (struct sources){0};
}

/* The command level in kPa where a unit states one. */
static double command_level(const struct bl_trial *trial)
{
    for (size_t i = 0; i < trial->units; i++) {
        const struct bl_trial_unit *unit = &trial->unit[i];
        if (unit->command.kind != BL_INPUT_NONE &&
            unit->command_at_kind == BL_COMMAND_AT_PRESSURE &&
            unit->command_at > 0) {
            return unit->command_at;
        }
    }
    return TOUCHED_KPA;
}

struct source bl_source_channel(const struct bl_trial *trial,
                                const struct bl_channel_series *series)
{
    const struct bl_trial_channel *channel = &trial->channel[series->channel];
    struct source s = {.recording = series->recording,
                       .samples = &series->samples,
                       .kind = SOURCE_TRAVEL};
    (void)snprintf(s.name, sizeof(s.name), "%s", channel->name);
    if (series->samples.is_switch) {
        s.kind = SOURCE_SWITCH;
    } else if (channel->quantity == BL_QUANTITY_PRESSURE) {
        s.kind = SOURCE_PRESSURE;
        s.level = command_level(trial);
    } else if (channel->quantity == BL_QUANTITY_RATIO) {
        s.level = TOUCHED_PERCENT;
    } else if (series->samples.count > 0) {
        /* Travel in other units: a fiftieth of what it moves through. */
        const struct bl_seen seen = bl_channel_seen(series);
        const double range = seen.largest - seen.smallest;
        s.level = fmax(0, range * TOUCHED_PERCENT / 100);
    }
    return s;
}

struct source bl_source_series(const struct bl_trial *trial,
                               const struct bl_bus_series *series)
{
    struct source s = {.recording = series->recording, .steps = &series->steps};
    const struct bl_signal *signal = series->signal;
    const struct bl_measurement_unit *unit =
        bl_measurement_unit_find(signal->unit);
    (void)snprintf(s.name, sizeof(s.name), "%s.%s", signal->message->name,
                   signal->name);
    if (signal->kind == BL_SIGNAL_STATE) {
        s.kind = SOURCE_BUS_SWITCH;
        s.level = 0.5;
    } else if (unit != NULL && unit->quantity == BL_QUANTITY_PRESSURE) {
        s.kind = SOURCE_BUS_DEMAND;
        s.level = command_level(trial) / unit->factor;
    } else {
        s.kind = SOURCE_BUS_PEDAL;
        s.level = TOUCHED_PERCENT;
    }
    return s;
}

static bool is_input(const struct bl_trial_input *input, size_t channel)
{
    return input->kind == BL_INPUT_CHANNEL && input->channel == (long)channel;
}

/* A switch at an output or a control line says nothing about the pedal. */
static bool watches_air(const struct bl_trial *trial, size_t channel)
{
    for (size_t i = 0; i < trial->units; i++) {
        const struct bl_trial_unit *unit = &trial->unit[i];
        if (is_input(&unit->control, channel) ||
            is_input(&unit->control_b, channel) ||
            is_input(&unit->control_out, channel) ||
            is_input(&unit->reservoir, channel)) {
            return true;
        }
        for (size_t k = 0; k < unit->outputs; k++) {
            if (is_input(&unit->output[k], channel)) {
                return true;
            }
        }
    }
    return false;
}

/* 1: a command, 2: a control line, front to rear; 0: neither. */
static size_t part_of(const struct bl_trial *trial, size_t channel)
{
    for (size_t i = 0; i < trial->units; i++) {
        if (is_input(&trial->unit[i].command, channel)) {
            return 1;
        }
    }
    for (size_t i = 0; i < trial->units; i++) {
        if (is_input(&trial->unit[i].control, channel)) {
            return 2 + i;
        }
    }
    return 0;
}

static enum bl_status add_channels(struct sources *sources,
                                   const struct bl_trial *trial,
                                   const struct bl_run_data *data)
{
    /* Commands first, then control lines from the front: the nearer to the
       pedal, the less the air has smoothed. */
    for (size_t rank = 1; rank < trial->units + 2; rank++) {
        for (size_t i = 0; i < data->channels; i++) {
            const struct bl_channel_series *c = &data->channel[i];
            const bool lone_switch = rank == 1 && c->samples.is_switch &&
                                     !watches_air(trial, c->channel);
            if (part_of(trial, c->channel) != rank && !lone_switch) {
                continue;
            }
            const struct source s = bl_source_channel(trial, c);
            if (s.kind == SOURCE_SWITCH && rank > 1) {
                continue;
            }
            if (add(sources, s) != BL_OK) {
                return BL_NOMEM;
            }
        }
    }
    return BL_OK;
}

enum bl_status bl_sources_find(struct sources *sources,
                               const struct bl_trial *trial,
                               const struct bl_run_data *data)
{
    enum bl_status status = add_channels(sources, trial, data);
    for (size_t i = 0; i < data->series_count && status == BL_OK; i++) {
        const struct bl_bus_series *b = &data->series[i];
        const enum bl_role role = b->signal->role;
        if (role == BL_ROLE_BRAKE_SWITCH || role == BL_ROLE_PEDAL_POSITION ||
            role == BL_ROLE_SERVICE_DEMAND) {
            status = add(sources, bl_source_series(trial, b));
        }
    }
    return status;
}
