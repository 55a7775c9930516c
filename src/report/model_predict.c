/* SPDX-License-Identifier: MIT */
/* What air alone would take, as a tree: an entry per unit and run. */
#include "report/result.h"

#include <math.h>

static const char *line_text(enum bl_control_line line)
{
    return line == BL_CONTROL_LINE_THROUGH   ? "through"
           : line == BL_CONTROL_LINE_RELAYED ? "relayed"
                                             : "unknown";
}

static void put_reason(struct bl_tree *tree, json_t *object,
                       enum bl_predict_reason reason)
{
    bl_tree_text(
        tree, object, "reason",
        reason == BL_PREDICT_WHY_NONE ? NULL : bl_predict_reason_name(reason));
}

static json_t *inputs(struct bl_tree *tree, const struct bl_predict_unit *unit)
{
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; i < unit->inputs; i++) {
        const struct bl_predict_input *input = &unit->input[i];
        json_t *object = bl_tree_object(tree);
        bl_tree_text(tree, object, "what", input->what);
        bl_tree_number(tree, object, "low", input->low);
        bl_tree_number(tree, object, "usual", input->usual);
        bl_tree_number(tree, object, "high", input->high);
        bl_tree_text(tree, object, "unit", input->unit);
        bl_tree_word(tree, object, "from", bl_predict_from_name(input->from),
                     (int)input->from);
        bl_tree_append(tree, array, object);
    }
    return array;
}

static json_t *row_object(struct bl_tree *tree,
                          const struct bl_predict_row *row)
{
    json_t *object = bl_tree_object(tree);
    bl_tree_text(tree, object, "kind", bl_model_kind(row->kind));
    bl_tree_text(tree, object, "shape", bl_model_shape(row->shape));
    bl_tree_word(tree, object, "figure", bl_predict_figure_name(row->figure),
                 (int)row->figure);
    bl_tree_count(tree, object, "n", row->n);
    bl_tree_count(tree, object, "without", row->points - row->n);
    bl_tree_number(tree, object, "low_s", row->low_s);
    bl_tree_number(tree, object, "middle_s", row->middle_s);
    bl_tree_number(tree, object, "high_s", row->high_s);
    bl_tree_number(tree, object, "earliest_s", row->earliest_s);
    bl_tree_number(tree, object, "latest_s", row->latest_s);
    bl_tree_number(tree, object, "pace", row->pace);
    bl_tree_number(tree, object, "measured_s", row->measured_s);
    bl_tree_number(tree, object, "u_s", row->u_s);
    bl_tree_count(tree, object, "bounds", row->bounds);
    bl_tree_count(tree, object, "inside", row->inside);
    bl_tree_count(tree, object, "later", row->later);
    bl_tree_count(tree, object, "earlier", row->earlier);
    bl_tree_count(tree, object, "implausible", row->implausible);
    bl_tree_word(tree, object, "verdict", bl_predict_verdict_name(row->verdict),
                 (int)row->verdict);
    put_reason(tree, object, row->reason);
    return object;
}

static json_t *fit_object(struct bl_tree *tree, const struct bl_stage *stage)
{
    const struct bl_stage_fit *fit = &stage->fit;
    if (!fit->known) {
        return json_null();
    }
    json_t *object = bl_tree_object(tree);
    bl_tree_count(tree, object, "n", fit->n);
    bl_tree_number(tree, object, "delay_s", fit->delay_s);
    bl_tree_number(tree, object, "u_delay_s", fit->u_delay_s);
    bl_tree_number(tree, object, "friction", fit->friction);
    bl_tree_number(tree, object, "u_friction",
                   fit->friction * fit->u_ln_friction);
    bl_tree_number(tree, object, "keeps_kpa", fit->keeps_kpa);
    bl_tree_number(tree, object, "u_keeps_kpa",
                   isnan(fit->keeps_kpa) ? NAN : fit->u_keeps_kpa);
    bl_tree_number(tree, object, "misfit_kpa", fit->misfit_kpa);
    bl_tree_number(tree, object, "others_delay_s", fit->others_delay_s);
    bl_tree_number(tree, object, "others_friction", fit->others_friction);
    bl_tree_number(tree, object, "others_keeps_kpa", fit->others_keeps_kpa);
    bl_tree_text(tree, object, "slow_by",
                 stage->late ? bl_stage_cause_name(fit->cause) : NULL);
    return object;
}

static json_t *stage_object(struct bl_tree *tree, const struct bl_trial *trial,
                            const struct bl_stage *stage)
{
    if (!stage->known) {
        return json_null();
    }
    json_t *object = bl_tree_object(tree);
    json_t *front = bl_tree_object(tree);
    bl_model_unit(tree, front, trial, stage->from);
    bl_tree_put(tree, object, "front", front);
    bl_tree_count(tree, object, "n", stage->n);
    bl_tree_number(tree, object, "s", stage->s);
    bl_tree_number(tree, object, "u_s", stage->u_s);
    bl_tree_number(tree, object, "length_m", stage->length_m);
    bl_tree_count(tree, object, "others", stage->others);
    bl_tree_number(tree, object, "expected_s", stage->expected_s);
    bl_tree_number(tree, object, "limit_s", stage->limit_s);
    bl_tree_put(tree, object, "late",
                isnan(stage->limit_s) ? json_null()
                                      : json_boolean(stage->late));
    bl_tree_put(tree, object, "fit", fit_object(tree, stage));
    return object;
}

static json_t *ladder_object(struct bl_tree *tree,
                             const struct bl_ladder *ladder)
{
    if (!ladder->known) {
        return json_null();
    }
    json_t *object = bl_tree_object(tree);
    bl_tree_number(tree, object, "low_kpa", ladder->low_kpa);
    bl_tree_number(tree, object, "middle_kpa", ladder->middle_kpa);
    bl_tree_number(tree, object, "high_kpa", ladder->high_kpa);
    json_t *rows = bl_tree_array(tree);
    for (size_t i = 0; i < ladder->rows; i++) {
        const struct bl_ladder_row *row = &ladder->row[i];
        json_t *held = bl_tree_object(tree);
        bl_tree_text(tree, held, "kind", bl_model_kind(row->kind));
        bl_tree_count(tree, held, "n", row->n);
        bl_tree_number(tree, held, "front_kpa", row->front_kpa);
        bl_tree_number(tree, held, "u_kpa", row->u_kpa);
        for (size_t v = 0; v < BL_LADDER_VERDICTS; v++) {
            bl_tree_count(tree, held,
                          bl_ladder_verdict_name((enum bl_ladder_verdict)v),
                          row->count[v]);
        }
        bl_tree_text(tree, held, "verdict",
                     bl_ladder_verdict_name(row->verdict));
        bl_tree_append(tree, rows, held);
    }
    bl_tree_put(tree, object, "holds", rows);
    return object;
}

static json_t *unit_object(struct bl_tree *tree, const struct bl_trial *trial,
                           const struct bl_predict_unit *unit)
{
    json_t *object = bl_tree_object(tree);
    bl_tree_text(tree, object, "run", trial->run[unit->run].name);
    bl_model_unit(tree, object, trial, unit->unit);
    put_reason(tree, object, unit->reason);
    bl_tree_text(tree, object, "control_line", line_text(unit->control_line));
    bl_tree_number(tree, object, "path_m", unit->path_m);
    bl_tree_number(tree, object, "least_s", unit->least_s);
    bl_tree_put(tree, object, "inputs", inputs(tree, unit));
    json_t *rows = bl_tree_array(tree);
    for (size_t i = 0; i < unit->rows; i++) {
        bl_tree_append(tree, rows, row_object(tree, &unit->row[i]));
    }
    bl_tree_put(tree, object, "figures", rows);
    json_t *stages = bl_tree_object(tree);
    bl_tree_put(tree, stages, "apply",
                stage_object(tree, trial, &unit->stage[BL_STAGE_APPLY]));
    bl_tree_put(tree, stages, "release",
                stage_object(tree, trial, &unit->stage[BL_STAGE_RELEASE]));
    bl_tree_put(tree, object, "stage", stages);
    bl_tree_put(tree, object, "ladder", ladder_object(tree, &unit->ladder));
    return object;
}

enum bl_status bl_result_add_predict(struct bl_result *result,
                                     const struct bl_trial *trial,
                                     const struct bl_predict *predict,
                                     struct bl_error *error)
{
    struct bl_tree *tree = &result->tree;
    json_t *array = json_object_get(result->root, "predict");
    if (array == NULL) {
        array = bl_tree_array(tree);
        bl_tree_put(tree, result->root, "predict", array);
    }
    for (size_t i = 0; i < predict->units; i++) {
        bl_tree_append(tree, array,
                       unit_object(tree, trial, &predict->unit[i]));
    }
    result->in_front = true;
    return tree->failed ? bl_fail_memory(error) : BL_OK;
}
