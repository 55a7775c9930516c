/* SPDX-License-Identifier: MIT */
/* What the trial says, and which mapping tables were used, as a tree. */
#include "report/result.h"

static const char *line_text(enum bl_control_line line)
{
    switch (line) {
    case BL_LINE_THROUGH:
        return "through";
    case BL_LINE_RELAYED:
        return "relayed";
    case BL_LINE_UNKNOWN:
        break;
    }
    return "unknown";
}

static json_t *unit_object(struct bl_tree *tree,
                           const struct bl_trial_unit *unit)
{
    char label[32];
    json_t *object = bl_tree_object(tree);
    bl_tree_text(tree, object, "unit",
                 bl_trial_unit_label(unit, label, sizeof(label)));
    bl_tree_text(tree, object, "name", unit->name);
    bl_tree_put(tree, object, "address",
                unit->address < 0 ? json_null() : json_integer(unit->address));
    bl_tree_text(tree, object, "bus", unit->bus);
    bl_tree_text(tree, object, "command", unit->command.text);
    bl_tree_text(tree, object, "control", unit->control.text);
    json_t *outputs = bl_tree_array(tree);
    for (size_t i = 0; i < unit->outputs; i++) {
        json_t *output = bl_tree_object(tree);
        bl_tree_text(tree, output, "label", unit->output[i].label);
        bl_tree_text(tree, output, "from", unit->output[i].text);
        bl_tree_append(tree, outputs, output);
    }
    bl_tree_put(tree, object, "outputs", outputs);
    return object;
}

json_t *bl_model_trial(struct bl_tree *tree, const struct bl_trial *trial)
{
    json_t *object = bl_tree_object(tree);
    bl_tree_text(tree, object, "name", trial->name);
    bl_tree_text(tree, object, "file", trial->path);
    bl_tree_text(tree, object, "sha256", trial->sha256);
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
        bl_tree_append(tree, units, unit_object(tree, &trial->unit[i]));
    }
    bl_tree_put(tree, object, "units", units);
    json_t *record = bl_tree_array(tree);
    for (size_t i = 0; i < trial->records; i++) {
        json_t *pair = bl_tree_object(tree);
        bl_tree_text(tree, pair, "key", trial->record[i].key);
        bl_tree_text(tree, pair, "value", trial->record[i].value);
        bl_tree_append(tree, record, pair);
    }
    bl_tree_put(tree, object, "record", record);
    bl_tree_notes(tree, object, "warnings", &trial->notes);
    return object;
}

json_t *bl_model_tables(struct bl_tree *tree, const struct bl_trial *trial)
{
    json_t *array = bl_tree_array(tree);
    const size_t count =
        trial->tables == NULL ? 0 : bl_tables_count(trial->tables);
    for (size_t i = 0; i < count; i++) {
        const struct bl_table_info *info = bl_tables_info(trial->tables, i);
        json_t *object = bl_tree_object(tree);
        bl_tree_text(tree, object, "name", info->name);
        bl_tree_text(tree, object, "sha256", info->sha256);
        bl_tree_count(tree, object, "messages", info->messages);
        bl_tree_count(tree, object, "signals", info->signals);
        bl_tree_count(tree, object, "confirmed",
                      info->by_confidence[BL_CONFIRMED]);
        bl_tree_count(tree, object, "single_source",
                      info->by_confidence[BL_SINGLE_SOURCE]);
        bl_tree_count(tree, object, "from_memory",
                      info->by_confidence[BL_FROM_MEMORY]);
        bl_tree_append(tree, array, object);
    }
    return array;
}
