/* SPDX-License-Identifier: MIT */
/* What joins rows of many trials: day, place, unit's id and labels. */
#include "report/result.h"

/* A unit's id and, by their names, its labels. */
static json_t *identity_of(struct bl_tree *tree, const json_t *unit)
{
    const json_t *labels = json_object_get(unit, "labels");
    json_t *identity = bl_tree_object(tree);
    json_t *by_name = bl_tree_object(tree);
    bl_tree_text(tree, identity, "id", bl_tree_get_text(unit, "id"));
    for (size_t i = 0; i < json_array_size(labels); i++) {
        const json_t *label = json_array_get(labels, i);
        bl_tree_text(tree, by_name, bl_tree_get_text(label, "label"),
                     bl_tree_get_text(label, "value"));
    }
    bl_tree_put(tree, identity, "labels", by_name);
    return identity;
}

/* The names of labels in the order in which the trial file has them, and the
   units by their numbers ("2", "B.1"). */
void bl_identity_collect(struct bl_result *result)
{
    struct bl_tree *tree = &result->tree;
    const json_t *units =
        json_object_get(json_object_get(result->root, "trial"), "units");
    json_t *seen = bl_tree_object(tree);
    result->labels = bl_tree_array(tree);
    result->by_unit = bl_tree_object(tree);
    for (size_t u = 0; u < json_array_size(units); u++) {
        const json_t *unit = json_array_get(units, u);
        const json_t *labels = json_object_get(unit, "labels");
        for (size_t i = 0; i < json_array_size(labels); i++) {
            const char *name =
                bl_tree_get_text(json_array_get(labels, i), "label");
            if (json_object_get(seen, name) == NULL) {
                bl_tree_append_text(tree, result->labels, name);
                bl_tree_bool(tree, seen, name, true);
            }
        }
        bl_tree_put(tree, result->by_unit, bl_tree_get_text(unit, "unit"),
                    identity_of(tree, unit));
    }
    json_decref(seen);
}

void bl_csv_identity_head(const struct bl_result *result,
                          struct bl_output *output, bool dated)
{
    bl_output_text(output, dated ? ",place,unit_id" : ",date,place,unit_id");
    for (size_t i = 0; i < json_array_size(result->labels); i++) {
        bl_output_format(output, ",label.%s",
                         json_string_value(json_array_get(result->labels, i)));
    }
    bl_output_text(output, "\n");
}

static void cell(struct bl_output *output, const char *text)
{
    bl_output_text(output, ",");
    bl_csv_cell(output, text);
}

void bl_csv_identity(const struct bl_result *result, struct bl_output *output,
                     const char *unit, bool dated)
{
    const json_t *trial = json_object_get(result->root, "trial");
    const json_t *known = json_object_get(result->by_unit, unit);
    const json_t *labels = json_object_get(known, "labels");
    if (!dated) {
        cell(output, bl_tree_get_text(trial, "date"));
    }
    cell(output, bl_tree_get_text(trial, "place"));
    cell(output, bl_tree_get_text(known, "id"));
    for (size_t i = 0; i < json_array_size(result->labels); i++) {
        const char *name = json_string_value(json_array_get(result->labels, i));
        cell(output, bl_tree_get_text(labels, name));
    }
    bl_output_text(output, "\n");
}
