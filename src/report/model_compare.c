/* SPDX-License-Identifier: MIT */
/* A comparison as a tree: "comparison" has a row per unit, kind, shape and
   figure; "compared" says how the trial was made. */
#include "report/result.h"

#include <math.h>

static void put_trend(struct bl_tree *tree, json_t *row, const char *key,
                      const struct bl_trend *trend, bool drifts)
{
    if (trend->n == 0) {
        bl_tree_text(tree, row, key, NULL);
        return;
    }
    json_t *object = bl_tree_object(tree);
    bl_tree_count(tree, object, "n", trend->n);
    bl_tree_number(tree, object, "tau", trend->tau);
    bl_tree_number(tree, object, "p", trend->p);
    bl_tree_number(tree, object, "p_smallest", trend->p_smallest);
    bl_tree_bool(tree, object, "drifts", drifts);
    bl_tree_put(tree, row, key, object);
}

static void put_travel(struct bl_tree *tree, json_t *row,
                       const struct bl_comparison *comparison,
                       const struct bl_comparison_row *is)
{
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; i < comparison->speeds; i++) {
        json_t *object = bl_tree_object(tree);
        bl_tree_number(tree, object, "kmh", is->travel[i].kmh);
        bl_tree_number(tree, object, "m", is->travel[i].m);
        bl_tree_number(tree, object, "u_m", is->travel[i].u_m);
        bl_tree_append(tree, array, object);
    }
    bl_tree_put(tree, row, "travel_in_lag", array);
}

static void put_flags(struct bl_tree *tree, json_t *row, unsigned flags)
{
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; bl_flag_at(i) != 0; i++) {
        if ((flags & (unsigned)bl_flag_at(i)) != 0) {
            bl_tree_append_text(tree, array, bl_flag_name(bl_flag_at(i)));
        }
    }
    bl_tree_put(tree, row, "flags", array);
}

static void put_result(struct bl_tree *tree, json_t *row,
                       const struct bl_comparison_row *is)
{
    const bool any = is->verdict != BL_VERDICT_NO_VALUES;
    bl_tree_number(tree, row, "base_median_s", is->base_median_s);
    bl_tree_number(tree, row, "against_median_s", is->against_median_s);
    bl_tree_number(tree, row, "difference_s", is->difference_s);
    bl_tree_number(tree, row, "u_s", is->u_s);
    bl_tree_number(tree, row, "low_s", is->low_s);
    bl_tree_number(tree, row, "high_s", is->high_s);
    bl_tree_number(tree, row, "confidence", is->confidence);
    bl_tree_number(tree, row, "p", is->p);
    bl_tree_number(tree, row, "p_holm", is->p_holm);
    bl_tree_number(tree, row, "p_exact", any ? is->p_exact : NAN);
    bl_tree_number(tree, row, "p_smallest", any ? is->shift.p_smallest : NAN);
    bl_tree_bool(tree, row, "exact", any && is->shift.exact);
    bl_tree_number(tree, row, "same_within_s", any ? is->same_within_s : NAN);
    bl_tree_number(tree, row, "p_same", is->p_same);
    bl_tree_number(tree, row, "u_random_s", any ? is->u_random_s : NAN);
    bl_tree_number(tree, row, "u_systematic_s", any ? is->u_systematic_s : NAN);
    bl_tree_number(tree, row, "reference_s", is->reference_s);
    bl_tree_number(tree, row, "u_reference_s", is->u_reference_s);
    bl_tree_count(tree, row, "n_reference", is->n_reference);
    bl_tree_bool(tree, row, "reference_cancels", is->reference_cancels);
}

/* What the row rests on: runs, their scatter, how many more. */
static void put_runs(struct bl_tree *tree, json_t *row,
                     const struct bl_comparison_row *line)
{
    const struct bl_compared_runs *from = &line->of_runs;
    const bool any = line->verdict != BL_VERDICT_NO_VALUES;
    bl_tree_text(tree, row, "scope",
                 any ? bl_compare_scope_name(line->scope) : NULL);
    bl_tree_count(tree, row, "runs_base", from->runs_base);
    bl_tree_count(tree, row, "runs_against", from->runs_against);
    bl_tree_count(tree, row, "pairs", from->pairs);
    bl_tree_count(tree, row, "more_runs_base", from->more_base);
    bl_tree_count(tree, row, "more_runs_against", from->more_against);
    bl_tree_number(tree, row, "base_mean_s", from->mean_base_s);
    bl_tree_number(tree, row, "against_mean_s", from->mean_against_s);
    bl_tree_number(tree, row, "within_base_s", from->base.within_sd);
    bl_tree_number(tree, row, "between_base_s", from->base.between_sd);
    bl_tree_number(tree, row, "within_against_s", from->against.within_sd);
    bl_tree_number(tree, row, "between_against_s", from->against.between_sd);
    bl_tree_number(tree, row, "least_s", from->least_s);
    bl_tree_number(tree, row, "most_s", from->most_s);
    if (line->aim.runs == 0) {
        bl_tree_text(tree, row, "aim", NULL);
        return;
    }
    json_t *aim = bl_tree_object(tree);
    bl_tree_number(tree, aim, "half_width_s", line->aim.half_width_s);
    bl_tree_count(tree, aim, "runs", line->aim.runs);
    bl_tree_count(tree, aim, "applications", line->aim.applications);
    bl_tree_put(tree, row, "aim", aim);
}

static void put_outliers(struct bl_tree *tree, json_t *row,
                         const struct bl_trial *trial,
                         const struct bl_comparison_row *line)
{
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; i < line->outliers; i++) {
        const struct bl_outlier *out = &line->outlier[i];
        json_t *object = bl_tree_object(tree);
        bl_tree_text(tree, object, "run", trial->run[out->run].name);
        bl_tree_number(tree, object, "application",
                       out->number > 0 ? out->number : NAN);
        bl_tree_number(tree, object, "value_s", out->value_s);
        bl_tree_number(tree, object, "off_s", out->off_s);
        bl_tree_append(tree, array, object);
    }
    bl_tree_put(tree, row, "outliers", array);
    if (line->outliers == 0) {
        bl_tree_text(tree, row, "without", NULL);
        return;
    }
    json_t *without = bl_tree_object(tree);
    bl_tree_number(tree, without, "difference_s", line->without.difference_s);
    bl_tree_number(tree, without, "low_s", line->without.low_s);
    bl_tree_number(tree, without, "high_s", line->without.high_s);
    bl_tree_text(tree, without, "verdict",
                 bl_verdict_name(line->without.verdict));
    bl_tree_put(tree, row, "without", without);
}

static json_t *row_object(struct bl_tree *tree, const struct bl_trial *trial,
                          const struct bl_comparison *comparison,
                          const struct bl_comparison_row *is)
{
    char label[32];
    json_t *row = bl_tree_object(tree);
    bl_tree_text(tree, row, "base", comparison->base);
    bl_tree_text(tree, row, "against", comparison->against);
    bl_tree_text(tree, row, "reference", comparison->reference);
    bl_model_unit(tree, row, trial, is->unit);
    bl_tree_text(tree, row, "unit_base",
                 comparison->two_units
                     ? bl_trial_unit_label(&trial->unit[is->unit_base], label,
                                           sizeof(label))
                     : NULL);
    bl_tree_text(tree, row, "kind", bl_model_kind(is->kind));
    bl_tree_text(tree, row, "shape", bl_model_shape(is->shape));
    bl_tree_text(tree, row, "figure", bl_figure_name_text(is->figure));
    if (is->figure == BL_FIGURE_LEVEL) {
        bl_tree_number(tree, row, "kpa", is->level_kpa);
    }
    put_flags(tree, row, is->flags);
    bl_tree_bool(tree, row, "paired", is->paired);
    bl_tree_count(tree, row, "n_base", is->n_base);
    bl_tree_count(tree, row, "n_against", is->n_against);
    bl_tree_count(tree, row, "without_base", is->null_base);
    bl_tree_count(tree, row, "without_against", is->null_against);
    bl_tree_count(tree, row, "unpaired_left", is->unpaired_left);
    bl_tree_text(tree, row, "verdict", bl_verdict_name(is->verdict));
    put_result(tree, row, is);
    put_runs(tree, row, is);
    bl_tree_number(tree, row, "command_s", is->command_s);
    bl_tree_number(tree, row, "u_command_s", is->u_command_s);
    bl_tree_bool(tree, row, "command_taken_off", is->command_taken_off);
    bl_tree_bool(tree, row, "metres_refused", is->metres_refused);
    put_outliers(tree, row, trial, is);
    put_trend(tree, row, "trend_base", &is->trend_base, is->drifts_base);
    put_trend(tree, row, "trend_against", &is->trend_against,
              is->drifts_against);
    put_travel(tree, row, comparison, is);
    return row;
}

static void put_part(struct bl_tree *tree, json_t *object, const char *key,
                     const struct bl_command_part *part)
{
    json_t *made = bl_tree_object(tree);
    bl_tree_number(tree, made, "base", part->base);
    bl_tree_number(tree, made, "against", part->against);
    bl_tree_number(tree, made, "difference", part->difference);
    bl_tree_number(tree, made, "u", part->u);
    bl_tree_bool(tree, made, "differs", part->differs);
    bl_tree_put(tree, object, key, made);
}

static json_t *commands_array(struct bl_tree *tree,
                              const struct bl_comparison *comparison)
{
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; i < comparison->commands; i++) {
        const struct bl_compared_command *command = &comparison->command[i];
        json_t *object = bl_tree_object(tree);
        const char combination[] = {command->combination, '\0'};
        bl_tree_text(tree, object, "combination", combination);
        bl_tree_text(tree, object, "kind", bl_model_kind(command->kind));
        bl_tree_text(tree, object, "shape", bl_model_shape(command->shape));
        bl_tree_count(tree, object, "n_base", command->n_base);
        bl_tree_count(tree, object, "n_against", command->n_against);
        bl_tree_bool(tree, object, "unseen", command->unseen);
        put_part(tree, object, "rise_s", &command->rise);
        put_part(tree, object, "fall_s", &command->fall);
        put_part(tree, object, "hold", &command->hold);
        bl_tree_text(tree, object, "hold_unit",
                     bl_quantity_unit(command->quantity));
        bl_tree_bool(tree, object, "hold_far", command->hold_far);
        bl_tree_append(tree, array, object);
    }
    return array;
}

static json_t *how_object(struct bl_tree *tree, const struct bl_trial *trial,
                          const struct bl_comparison *is)
{
    json_t *object = bl_tree_object(tree);
    bl_tree_text(tree, object, "base", is->base);
    bl_tree_text(tree, object, "against", is->against);
    bl_tree_text(tree, object, "reference", is->reference);
    bl_tree_bool(tree, object, "two_units", is->two_units);
    bl_tree_number(tree, object, "confidence", is->confidence);
    bl_tree_count(tree, object, "runs_base", is->runs_base);
    bl_tree_count(tree, object, "runs_against", is->runs_against);
    bl_tree_count(tree, object, "runs_reference", is->runs_reference);
    bl_tree_bool(tree, object, "order_balanced", is->order_balanced);
    bl_tree_count(tree, object, "excluded", is->excluded);
    bl_tree_put(tree, object, "command", commands_array(tree, is));
    bl_tree_notes(tree, object, "notes", &is->notes);
    json_t *order = bl_tree_array(tree);
    const char *base = is->base == NULL ? "all runs" : is->base;
    bl_model_orders(tree, order, trial, base, is->order_base, is->orders_base);
    bl_model_orders(tree, order, trial, is->against, is->order_against,
                    is->orders_against);
    bl_tree_put(tree, object, "order", order);
    return object;
}

enum bl_status bl_result_add_comparison(struct bl_result *result,
                                        const struct bl_trial *trial,
                                        const struct bl_comparison *comparison,
                                        struct bl_error *error)
{
    struct bl_tree *tree = &result->tree;
    json_t *rows = bl_tree_array(tree);
    for (size_t i = 0; i < comparison->rows; i++) {
        bl_tree_append(
            tree, rows,
            row_object(tree, trial, comparison, &comparison->row[i]));
    }
    bl_tree_put(tree, result->root, "comparison", rows);
    bl_tree_put(tree, result->root, "compared",
                how_object(tree, trial, comparison));
    result->brief = true;
    return tree->failed ? bl_fail_memory(error) : BL_OK;
}
