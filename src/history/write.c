/* SPDX-License-Identifier: MIT */
/* Lives, units and visits as text, JSON and CSV. */
#include "history/tell.h"

#include "report/plain_tree.h"
#include "report/text.h"

#include <math.h>

typedef void writer(struct bl_text *to);

static void units_text(struct bl_text *to)
{
    const json_t *all = json_object_get(to->root, "units");
    struct bl_table table = {.right = {false, false, true}};
    static const char *const heads[] = {"unit", "called", "visits", "first",
                                        "last"};
    for (size_t i = 0; i < sizeof(heads) / sizeof(heads[0]); i++) {
        bl_table_cell(&table, "%s", heads[i]);
    }
    bl_table_row(&table);
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *unit = json_array_get(all, i);
        bl_table_cell(&table, "%s", bl_tree_get_text(unit, "unit_id"));
        bl_table_cell(&table, "%s", bl_tree_get_text(unit, "name"));
        bl_table_cell(&table, "%llu",
                      (unsigned long long)bl_tree_get_count(unit, "visits"));
        bl_table_cell(&table, "%s", bl_tree_get_text(unit, "first"));
        bl_table_cell(&table, "%s", bl_tree_get_text(unit, "last"));
        bl_table_row(&table);
    }
    bl_text_table(to, &table, 0);
}

static void visits_text(struct bl_text *to)
{
    const json_t *all = json_object_get(to->root, "visits");
    struct bl_table table = {.right = {true, false, true, true}};
    static const char *const heads[] = {"visit",   "date",  "units",
                                        "figures", "place", "trial"};
    for (size_t i = 0; i < sizeof(heads) / sizeof(heads[0]); i++) {
        bl_table_cell(&table, "%s", heads[i]);
    }
    bl_table_row(&table);
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *visit = json_array_get(all, i);
        static const char *const numbers[] = {"units", "figures"};
        bl_table_cell(&table, "%llu",
                      (unsigned long long)bl_tree_get_count(visit, "visit"));
        bl_table_cell(&table, "%s", bl_tree_get_text(visit, "date"));
        for (size_t k = 0; k < 2; k++) {
            bl_table_cell(
                &table, "%llu",
                (unsigned long long)bl_tree_get_count(visit, numbers[k]));
        }
        bl_table_cell(&table, "%s", bl_tree_get_text(visit, "place"));
        bl_table_span(&table, "%s", bl_tree_get_text(visit, "trial"));
        bl_table_row(&table);
    }
    bl_text_table(to, &table, 0);
}

static void lives_text(struct bl_text *to)
{
    bl_text_life(to, json_array_get(json_object_get(to->root, "units"), 0));
}

static void list_csv(struct bl_output *output, const json_t *all,
                     const char *const *keys, size_t count)
{
    for (size_t k = 0; k < count; k++) {
        bl_output_format(output, "%s%s", k > 0 ? "," : "", keys[k]);
    }
    bl_output_text(output, "\n");
    for (size_t i = 0; i < json_array_size(all); i++) {
        for (size_t k = 0; k < count; k++) {
            const json_t *value =
                json_object_get(json_array_get(all, i), keys[k]);
            bl_output_text(output, k > 0 ? "," : "");
            if (json_is_number(value)) {
                bl_csv_bare(output, json_number_value(value));
            } else if (json_is_string(value)) {
                bl_csv_cell(output, json_string_value(value));
            }
        }
        bl_output_text(output, "\n");
    }
}

/* A row per figure and visit. */
static void life_csv(struct bl_output *output, const json_t *unit)
{
    static const char *const texts[] = {"condition", "kind", "shape",
                                        "verdict"};
    const json_t *all = json_object_get(unit, "series");
    bl_output_text(output, "unit_id,figure,level_kpa,condition,kind,shape,"
                           "verdict,drift_per_year_s,drift_low_s,drift_high_s,"
                           "visit,value_s,adjusted_s,u_s\n");
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *series = json_array_get(all, i);
        const json_t *points = json_object_get(series, "points");
        const json_t *drift = json_object_get(series, "drift_per_year");
        for (size_t k = 0; k < json_array_size(points); k++) {
            const json_t *point = json_array_get(points, k);
            bl_csv_text(output, unit, "unit_id");
            bl_csv_text(output, series, "figure");
            bl_csv_number(output, bl_tree_get_number(series, "kpa"));
            for (size_t n = 0; n < sizeof(texts) / sizeof(texts[0]); n++) {
                bl_csv_text(output, series, texts[n]);
            }
            bl_csv_number(output, bl_tree_get_number(drift, "s"));
            bl_csv_number(output, bl_tree_get_number(drift, "low_s"));
            bl_csv_number(output, bl_tree_get_number(drift, "high_s"));
            bl_csv_number(output, bl_tree_get_number(point, "visit"));
            bl_csv_number(output, bl_tree_get_number(point, "s"));
            bl_csv_number(output, bl_tree_get_number(point, "adjusted_s"));
            bl_csv_bare(output, bl_tree_get_number(point, "u_s"));
            bl_output_text(output, "\n");
        }
    }
}

static enum bl_status as_text(json_t *root, struct bl_output *output,
                              size_t columns, writer *write,
                              struct bl_error *error)
{
    struct bl_output *memory = NULL;
    enum bl_status status = bl_output_open(&memory, NULL, error);
    if (status != BL_OK) {
        return status;
    }
    json_t *plain = bl_plain_tree(root);
    struct bl_text to = {.root = plain,
                         .output = memory,
                         .lines = output,
                         .columns = columns == 0 ? 80 : columns,
                         .pressure = bl_measurement_unit_find("kPa"),
                         .failed = plain == NULL};
    if (plain != NULL) {
        write(&to);
        bl_text_flush(&to);
    }
    json_decref(plain);
    bl_output_discard(memory);
    return to.failed ? bl_fail_memory(error) : BL_OK;
}

/* {"schema", "tool", key: what}, whose reference is taken. */
static json_t *root_of(struct bl_tree *tree, const char *key, json_t *what)
{
    json_t *root = bl_tree_object(tree);
    json_t *tool = bl_tree_object(tree);
    bl_tree_text(tree, root, "schema", "brakelag-history/1");
    bl_tree_text(tree, tool, "name", "brakelag");
    bl_tree_text(tree, tool, "version", bl_version());
    bl_tree_put(tree, root, "tool", tool);
    bl_tree_put(tree, root, key, what);
    return root;
}

enum bl_status bl_history_life_write(const struct bl_history_life *life,
                                     struct bl_output *output,
                                     enum bl_result_form form, size_t columns,
                                     struct bl_error *error)
{
    struct bl_tree tree = {.failed = false};
    json_t *units = bl_tree_array(&tree);
    bl_tree_append(&tree, units, bl_history_model_life(&tree, life));
    json_t *root = root_of(&tree, "units", units);
    enum bl_status status = BL_OK;
    if (tree.failed) {
        status = bl_fail_memory(error);
    } else if (form == BL_RESULT_TEXT) {
        status = as_text(root, output, columns, lives_text, error);
    } else if (form == BL_RESULT_CSV) {
        life_csv(output, json_array_get(units, 0));
    } else if (form == BL_RESULT_JSON) {
        status = bl_tree_write(&tree, root, output, error);
    } else {
        status = bl_fail(error, BL_ARG, NULL, "expected text, JSON or CSV");
    }
    json_decref(root);
    return status;
}

struct bl_history_list_options bl_history_list_options_default(void)
{
    return (struct bl_history_list_options){.form = BL_RESULT_TEXT};
}

enum bl_status bl_history_list_write(
    const struct bl_history_list *list, struct bl_output *output,
    const struct bl_history_list_options *options, struct bl_error *error)
{
    static const char *const unit_keys[] = {"unit_id", "name", "visits",
                                            "first", "last"};
    static const char *const visit_keys[] = {"visit", "date",  "place",
                                             "trial", "units", "figures"};
    struct bl_tree tree = {.failed = false};
    json_t *all = options->visits ? bl_history_model_visits(&tree, list)
                                  : bl_history_model_units(&tree, list);
    json_t *root = root_of(&tree, options->visits ? "visits" : "units", all);
    enum bl_status status = BL_OK;
    if (tree.failed) {
        status = bl_fail_memory(error);
    } else if (options->form == BL_RESULT_TEXT) {
        status = as_text(root, output, options->columns,
                         options->visits ? visits_text : units_text, error);
    } else if (options->form == BL_RESULT_CSV) {
        list_csv(output, all, options->visits ? visit_keys : unit_keys,
                 options->visits ? 6 : 5);
    } else if (options->form == BL_RESULT_JSON) {
        status = bl_tree_write(&tree, root, output, error);
    } else {
        status = bl_fail(error, BL_ARG, NULL, "expected text, JSON or CSV");
    }
    json_decref(root);
    return status;
}
