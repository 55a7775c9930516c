/* SPDX-License-Identifier: MIT */
/* What the trial says, and which mapping tables were used, as a tree. */
#include "report/result.h"

#include "base/number.h"
#include "study/predict/inputs.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const char *line_text(enum bl_control_line line)
{
    switch (line) {
    case BL_CONTROL_LINE_THROUGH:
        return "through";
    case BL_CONTROL_LINE_RELAYED:
        return "relayed";
    case BL_CONTROL_LINE_UNKNOWN:
        break;
    }
    return "unknown";
}

static const char *load_text(enum bl_load_kind load)
{
    switch (load) {
    case BL_LOAD_LADEN:
        return "laden";
    case BL_LOAD_EMPTY:
        return "empty";
    case BL_LOAD_MASS:
        return "mass";
    case BL_LOAD_UNKNOWN:
        break;
    }
    return NULL;
}

enum { CALLED = 512 };

/* [{"key", "value"}], the key under the name `called`. */
static json_t *pairs(struct bl_tree *tree, const char *called,
                     const struct bl_trial_pair *pair, size_t count)
{
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; i < count; i++) {
        json_t *object = bl_tree_object(tree);
        bl_tree_text(tree, object, called, pair[i].key);
        bl_tree_text(tree, object, "value", pair[i].value);
        bl_tree_append(tree, array, object);
    }
    return array;
}

static const char *command_kind_text(enum bl_command_kind kind)
{
    switch (kind) {
    case BL_COMMAND_CONTROL_MOVEMENT:
        return "control-movement";
    case BL_COMMAND_TREADLE_PRESSURE:
        return "treadle-pressure";
    case BL_COMMAND_ELECTRONIC_DEMAND:
        return "electronic-demand";
    case BL_COMMAND_NONE:
        break;
    }
    return NULL;
}

/* Where the command comes from, and from which rise on it counts: "20 kPa",
   "5 %", "edge". */
static void command_members(struct bl_tree *tree, json_t *object,
                            const struct bl_trial_unit *unit)
{
    char number[40];
    char at[48];
    const bool pressure = unit->command_at_kind == BL_COMMAND_AT_PRESSURE;
    const bool edge = unit->command_at_kind == BL_COMMAND_AT_EDGE;
    (void)snprintf(at, sizeof(at), "%s %s",
                   bl_number_format(unit->command_at, BL_TREE_DIGITS, number,
                                    sizeof(number)),
                   pressure ? "kPa" : "%");
    bl_tree_text(tree, object, "command", unit->command.text);
    bl_tree_text(tree, object, "command_kind",
                 command_kind_text(unit->command_kind));
    bl_tree_text(tree, object, "command_at",
                 unit->command_kind == BL_COMMAND_NONE ? NULL
                 : edge                                ? "edge"
                                                       : at);
}

static json_t *unit_object(struct bl_tree *tree, const struct bl_trial *trial,
                           size_t index, enum bl_control_line line)
{
    const struct bl_trial_unit *unit = &trial->unit[index];
    char label[32];
    char called[CALLED];
    json_t *object = bl_tree_object(tree);
    bl_tree_text(tree, object, "unit",
                 bl_trial_unit_label(unit, label, sizeof(label)));
    bl_tree_text(tree, object, "name", unit->name);
    bl_tree_text(tree, object, "called",
                 bl_trial_unit_called(trial, index, called, CALLED));
    bl_tree_text(tree, object, "id", unit->id);
    bl_tree_put(tree, object, "labels",
                pairs(tree, "label", unit->label, unit->labels));
    bl_tree_text(tree, object, "kind",
                 unit->kind == BL_UNIT_DOLLY     ? "dolly"
                 : unit->kind == BL_UNIT_TRAILER ? "trailer"
                                                 : NULL);
    bl_tree_text(tree, object, "control_line", line_text(line));
    bl_tree_put(tree, object, "address",
                unit->address < 0 ? json_null() : json_integer(unit->address));
    bl_tree_text(tree, object, "bus", unit->bus);
    command_members(tree, object, unit);
    bl_tree_text(tree, object, "control", unit->control.text);
    json_t *outputs = bl_tree_array(tree);
    for (size_t i = 0; i < unit->outputs; i++) {
        json_t *output = bl_tree_object(tree);
        bl_tree_text(tree, output, "label", unit->output[i].label);
        bl_tree_text(tree, output, "from", unit->output[i].text);
        bl_tree_append(tree, outputs, output);
    }
    bl_tree_put(tree, object, "outputs", outputs);
    bl_tree_text(tree, object, "control_b", unit->control_b.text);
    bl_tree_text(tree, object, "control_out", unit->control_out.text);
    bl_tree_text(tree, object, "reservoir", unit->reservoir.text);
    bl_tree_text(tree, object, "voltage", unit->voltage.text);
    bl_tree_number(tree, object, "mass_kg", unit->mass_kg);
    bl_tree_number(tree, object, "force_kn_per_kpa", unit->force_kn_per_kpa);
    bl_tree_text(tree, object, "load", load_text(unit->load));
    bl_tree_number(tree, object, "load_kg", unit->load_kg);
    bl_tree_number(tree, object, "line_m", unit->pipe_m);
    bl_tree_number(tree, object, "length_m",
                   unit->length_m > 0 ? unit->length_m : NAN);
    bl_tree_number(tree, object, "bore_mm", unit->bore_mm);
    bl_tree_number(tree, object, "threshold_kpa", unit->threshold_kpa);
    return object;
}

/* A channel and what its instrument is stated to do; null: not stated. The
   numbers are in `unit`, fractions without one. */
static json_t *channel_object(struct bl_tree *tree,
                              const struct bl_trial_channel *channel)
{
    json_t *object = bl_tree_object(tree);
    bl_tree_text(tree, object, "channel", channel->name);
    bl_tree_text(tree, object, "log", channel->log);
    bl_tree_text(tree, object, "column",
                 channel->column == NULL ? channel->name : channel->column);
    bl_tree_text(tree, object, "quantity", bl_quantity_name(channel->quantity));
    bl_tree_text(tree, object, "unit", bl_quantity_unit(channel->quantity));
    bl_tree_text(tree, object, "measured_in", channel->measured_in);
    bl_tree_number(tree, object, "accuracy_fraction",
                   channel->accuracy_fraction);
    bl_tree_number(tree, object, "accuracy", channel->accuracy_value);
    bl_tree_number(tree, object, "u_zero", channel->u_zero);
    bl_tree_number(tree, object, "u_gain_fraction", channel->u_gain_fraction);
    bl_tree_number(tree, object, "resolution", channel->resolution);
    bl_tree_number(tree, object, "delay_s", channel->delay_s);
    bl_tree_number(tree, object, "u_delay_s", channel->u_delay_s);
    bl_tree_number(tree, object, "range_low", channel->range_low);
    bl_tree_number(tree, object, "range_high", channel->range_high);
    bl_tree_number(tree, object, "trips_at_kpa", channel->trips_at_kpa);
    bl_tree_number(tree, object, "resets_at_kpa", channel->resets_at_kpa);
    bl_tree_text(tree, object, "instrument", channel->instrument);
    bl_tree_text(tree, object, "calibrated", channel->calibrated);
    return object;
}

json_t *bl_model_trial(struct bl_tree *tree, const struct bl_trial *trial)
{
    json_t *object = bl_tree_object(tree);
    bl_tree_text(tree, object, "name", trial->name);
    bl_tree_text(tree, object, "file", trial->path);
    bl_tree_text(tree, object, "sha256", trial->sha256);
    bl_tree_text(tree, object, "date", trial->date);
    bl_tree_text(tree, object, "place", trial->place);
    bl_tree_number(tree, object, "supply_kpa", trial->supply_kpa);
    bl_tree_number(tree, object, "temperature_c",
                   bl_stated_temperature_c(trial));
    bl_tree_number(tree, object, "response_at_kpa", trial->response_at_kpa);
    bl_tree_number(tree, object, "brakes_at_kpa", trial->brakes_at_kpa);
    json_t *levels = bl_tree_array(tree);
    for (size_t i = 0; i < trial->levels; i++) {
        bl_tree_append_number(tree, levels, trial->level_kpa[i]);
    }
    bl_tree_put(tree, object, "levels_kpa", levels);
    json_t *speeds = bl_tree_array(tree);
    for (size_t i = 0; i < trial->speeds; i++) {
        bl_tree_append_number(tree, speeds, trial->speed_kmh[i]);
    }
    bl_tree_put(tree, object, "speeds_kmh", speeds);
    bl_tree_text(tree, object, "control_line", line_text(trial->control_line));
    json_t *units = bl_tree_array(tree);
    for (size_t i = 0; i < trial->units; i++) {
        bl_tree_append(
            tree, units,
            unit_object(tree, trial, i, bl_trial_unit_control_line(trial, i)));
    }
    bl_tree_put(tree, object, "units", units);
    json_t *channels = bl_tree_array(tree);
    for (size_t i = 0; i < trial->channels; i++) {
        bl_tree_append(tree, channels,
                       channel_object(tree, &trial->channel[i]));
    }
    bl_tree_put(tree, object, "channels", channels);
    bl_tree_put(tree, object, "record",
                pairs(tree, "key", trial->record, trial->records));
    bl_tree_notes(tree, object, "warnings", &trial->notes);
    return object;
}

json_t *bl_model_table(struct bl_tree *tree, const struct bl_table_info *info)
{
    json_t *object = bl_tree_object(tree);
    bl_tree_text(tree, object, "name", info->name);
    bl_tree_text(tree, object, "sha256", info->sha256);
    bl_tree_count(tree, object, "messages", info->messages);
    bl_tree_count(tree, object, "signals", info->signals);
    bl_tree_count(tree, object, "confirmed", info->by_confidence[BL_CONFIRMED]);
    bl_tree_count(tree, object, "single_source",
                  info->by_confidence[BL_SINGLE_SOURCE]);
    bl_tree_count(tree, object, "from_memory",
                  info->by_confidence[BL_FROM_MEMORY]);
    return object;
}

json_t *bl_model_tables(struct bl_tree *tree, const struct bl_trial *trial)
{
    json_t *array = bl_tree_array(tree);
    const size_t count =
        trial->tables == NULL ? 0 : bl_tables_count(trial->tables);
    for (size_t i = 0; i < count; i++) {
        bl_tree_append(tree, array,
                       bl_model_table(tree, bl_tables_info(trial->tables, i)));
    }
    return array;
}
