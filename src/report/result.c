/* SPDX-License-Identifier: MIT */
/* A result's life, and the writer of JSON: the tree as it is. */
#include "report/result.h"

#include "base/alloc.h"

#include <string.h>

static enum bl_status begin(struct bl_result *result,
                            const struct bl_trial *trial,
                            struct bl_error *error)
{
    struct bl_tree *tree = &result->tree;
    tree->codes = &result->codes;
    result->root = bl_tree_object(tree);
    bl_tree_text(tree, result->root, "schema", "brakelag-result/2");
    json_t *tool = bl_tree_object(tree);
    bl_tree_text(tree, tool, "name", "brakelag");
    bl_tree_text(tree, tool, "version", bl_version());
    bl_tree_put(tree, result->root, "tool", tool);
    bl_tree_put(tree, result->root, "trial", bl_model_trial(tree, trial));
    bl_identity_collect(result);
    bl_tree_put(tree, result->root, "tables", bl_model_tables(tree, trial));
    result->recordings = bl_tree_array(tree);
    bl_tree_put(tree, result->root, "recordings", result->recordings);
    result->runs = bl_tree_array(tree);
    bl_tree_put(tree, result->root, "runs", result->runs);
    result->traces = bl_tree_array(tree);
    return tree->failed ? bl_fail_memory(error) : BL_OK;
}

enum bl_status bl_result_create(struct bl_result **out,
                                const struct bl_trial *trial,
                                struct bl_error *error)
{
    *out = NULL;
    struct bl_result *result = bl_alloc(1, sizeof(*result));
    if (result == NULL) {
        return bl_fail_memory(error);
    }
    const enum bl_status status = begin(result, trial, error);
    if (status != BL_OK) {
        bl_result_destroy(result);
        return status;
    }
    *out = result;
    return BL_OK;
}

void bl_result_keep_whole(struct bl_result *result)
{
    result->whole = true;
}

void bl_result_tell_each(struct bl_result *result)
{
    result->each = true;
}

void bl_result_destroy(struct bl_result *result)
{
    if (result != NULL) {
        json_decref(result->root);
        json_decref(result->traces);
        json_decref(result->labels);
        json_decref(result->by_unit);
        bl_codes_finish(&result->codes);
        bl_u_parts_finish(&result->parts);
        bl_free(result);
    }
}

static const char *switch_text(enum bl_switch_state state)
{
    switch (state) {
    case BL_STATED_ON:
        return "on";
    case BL_STATED_OFF:
        return "off";
    case BL_STATED_STOP_LAMP_ONLY:
        return "stop-lamp-only";
    case BL_STATED_UNKNOWN:
        break;
    }
    return NULL;
}

static const char *air_text(enum bl_air_state state)
{
    switch (state) {
    case BL_AIR_OPEN:
        return "open";
    case BL_AIR_BLOCKED:
        return "blocked";
    case BL_AIR_UNKNOWN:
        break;
    }
    return NULL;
}

static json_t *failure(struct bl_tree *tree, const struct bl_error *why)
{
    char text[BL_SOURCE_MAX + BL_MESSAGE_MAX + 64];
    json_t *object = bl_tree_object(tree);
    bl_tree_text(tree, object, "status", bl_status_name(why->status));
    bl_tree_text(tree, object, "text", bl_error_line(why, text, sizeof(text)));
    return object;
}

static enum bl_status add_order(struct bl_tree *tree, json_t *object,
                                const struct bl_trial *trial,
                                const struct bl_run_lag *lag,
                                struct bl_error *error)
{
    struct bl_order *order = NULL;
    size_t count = 0;
    if (lag != NULL) {
        const enum bl_status status =
            bl_orders_find(&order, &count, trial, &lag, 1, error);
        if (status != BL_OK) {
            return status;
        }
    }
    json_t *array = bl_tree_array(tree);
    bl_model_orders(tree, array, trial, NULL, order, count);
    bl_tree_put(tree, object, "order", array);
    bl_orders_destroy(order, count);
    return BL_OK;
}

enum bl_status bl_result_add_run(struct bl_result *result,
                                 const struct bl_trial *trial,
                                 const struct bl_result_run *found,
                                 struct bl_error *error)
{
    const size_t run = found->run;
    const struct bl_run_data *data = found->data;
    const struct bl_run_clocks *clocks = found->clocks;
    const struct bl_run_lag *lag = found->lag;
    const struct bl_error *why = found->why;
    if (run >= trial->runs || (lag == NULL && why == NULL)) {
        return bl_fail(error, BL_ARG, NULL,
                       "expected a run of the trial, and what was measured or "
                       "why nothing was");
    }
    struct bl_tree *tree = &result->tree;
    const struct bl_trial_run *trial_run = &trial->run[run];
    if (data != NULL) {
        bl_model_recordings(tree, result->recordings, trial, data, clocks, lag);
    }
    json_t *object = bl_tree_object(tree);
    bl_tree_text(tree, object, "name", trial_run->name);
    bl_tree_text(tree, object, "condition",
                 trial_run->condition == NULL ? trial_run->name
                                              : trial_run->condition);
    bl_tree_text(tree, object, "block", trial_run->block);
    bl_tree_text(tree, object, "power", switch_text(trial_run->power));
    bl_tree_text(tree, object, "data", switch_text(trial_run->data));
    bl_tree_text(tree, object, "control_air", air_text(trial_run->control_air));
    if (lag != NULL) {
        bl_tree_time(tree, object, "t0_ns", lag->t0_ns);
        bl_model_zero(tree, object, trial, data, clocks);
    } else {
        bl_tree_text(tree, object, "t0_ns", NULL);
        bl_tree_put(tree, object, "failure", failure(tree, why));
    }
    json_t *warnings = bl_tree_object(tree);
    bl_tree_notes(tree, warnings, "loading", data ? &data->notes : NULL);
    bl_tree_notes(tree, warnings, "clocks", clocks ? &clocks->notes : NULL);
    bl_tree_notes(tree, warnings, "measuring", lag ? &lag->notes : NULL);
    bl_tree_put(tree, object, "warnings", warnings);
    bl_tree_put(tree, object, "applications",
                bl_model_applications(tree, trial, lag));
    bl_tree_put(tree, object, "summary", bl_model_summary(tree, trial, lag));
    bl_tree_append(tree, result->runs, object);
    if (lag != NULL && !bl_u_parts_add(&result->parts, lag)) {
        return bl_fail_memory(error);
    }
    const enum bl_status status = add_order(tree, object, trial, lag, error);
    if (status != BL_OK) {
        return status;
    }
    return tree->failed ? bl_fail_memory(error) : BL_OK;
}

enum bl_status bl_result_add_traces(struct bl_result *result,
                                    const struct bl_trial *trial,
                                    const struct bl_run_data *data,
                                    const struct bl_run_clocks *clocks,
                                    const struct bl_run_lag *lag,
                                    struct bl_error *error)
{
    struct bl_tree *tree = &result->tree;
    bl_tree_append(tree, result->traces,
                   bl_model_traces(tree, trial, data, clocks, lag));
    return tree->failed ? bl_fail_memory(error) : BL_OK;
}

struct bl_result_options bl_result_options_default(void)
{
    return (struct bl_result_options){.form = BL_RESULT_TEXT};
}

enum bl_status bl_result_write(const struct bl_result *result,
                               struct bl_output *output,
                               const struct bl_result_options *options,
                               struct bl_error *error)
{
    struct bl_result_options known =
        options == NULL ? bl_result_options_default() : *options;
    if (known.pressure == NULL) {
        known.pressure = bl_measurement_unit_find("kPa");
    }
    if (known.pressure == NULL ||
        known.pressure->quantity != BL_QUANTITY_PRESSURE) {
        return bl_fail(error, BL_ARG, NULL, "expected a unit of pressure");
    }
    switch (known.form) {
    case BL_RESULT_JSON:
        return bl_tree_write(&result->tree, result->root, output, error);
    case BL_RESULT_LONG:
        bl_csv_long(result, output);
        return BL_OK;
    case BL_RESULT_FIGURES:
        bl_csv_figures(result, output);
        return BL_OK;
    case BL_RESULT_DIFFERENCES:
        bl_csv_comparison(result, output);
        return BL_OK;
    case BL_RESULT_FINDINGS:
        bl_result_csv_findings(result, output);
        return BL_OK;
    case BL_RESULT_REACH:
        bl_reach_csv(result, output);
        return BL_OK;
    case BL_RESULT_LIMITS:
        bl_csv_limits(result, output);
        return BL_OK;
    case BL_RESULT_DYNAMICS:
        bl_csv_dynamics(result, output);
        return BL_OK;
    case BL_RESULT_PREDICTION:
        bl_csv_predict(result, output);
        return BL_OK;
    case BL_RESULT_CSV:
        return bl_result_csv(result, output, error);
    case BL_RESULT_PAGE:
        return bl_result_html(result, output, known.pressure, error);
    case BL_RESULT_TEXT:
        break;
    }
    return bl_result_text(result, output, &known, error);
}
