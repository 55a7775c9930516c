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
                       const struct bl_comparison_row *compared)
{
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; i < comparison->speeds; i++) {
        json_t *object = bl_tree_object(tree);
        bl_tree_number(tree, object, "kmh", compared->travel[i].kmh);
        bl_tree_number(tree, object, "m", compared->travel[i].m);
        bl_tree_number(tree, object, "u_m", compared->travel[i].u_m);
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
                       const struct bl_comparison_row *compared)
{
    const bool any = compared->verdict != BL_VERDICT_NO_VALUES;
    bl_tree_number(tree, row, "base_median_s", compared->base_median_s);
    bl_tree_number(tree, row, "against_median_s", compared->against_median_s);
    bl_tree_number(tree, row, "difference_s", compared->difference_s);
    bl_tree_number(tree, row, "u_s", compared->u_s);
    bl_tree_number(tree, row, "low_s", compared->low_s);
    bl_tree_number(tree, row, "high_s", compared->high_s);
    bl_tree_number(tree, row, "confidence", compared->confidence);
    bl_tree_number(tree, row, "p", compared->p);
    bl_tree_number(tree, row, "p_holm", compared->p_holm);
    bl_tree_number(tree, row, "p_exact", any ? compared->p_exact : NAN);
    bl_tree_number(tree, row, "p_smallest",
                   any ? compared->shift.p_smallest : NAN);
    bl_tree_bool(tree, row, "exact", any && compared->shift.exact);
    bl_tree_number(tree, row, "same_within_s",
                   any ? compared->same_within_s : NAN);
    bl_tree_number(tree, row, "p_same", compared->p_same);
    bl_tree_number(tree, row, "u_random_s", any ? compared->u_random_s : NAN);
    bl_tree_number(tree, row, "u_systematic_s",
                   any ? compared->u_systematic_s : NAN);
    bl_tree_number(tree, row, "reference_s", compared->reference_s);
    bl_tree_number(tree, row, "u_reference_s", compared->u_reference_s);
    bl_tree_count(tree, row, "n_reference", compared->n_reference);
    bl_tree_bool(tree, row, "reference_cancels", compared->reference_cancels);
}

/* What the row rests on: runs, their scatter, how many more. */
static void put_runs(struct bl_tree *tree, json_t *row,
                     const struct bl_comparison_row *line)
{
    const struct bl_compared_runs *from = &line->of_runs;
    const bool any = line->verdict != BL_VERDICT_NO_VALUES;
    bl_tree_word(tree, row, "scope",
                 any ? bl_compare_scope_name(line->scope) : NULL,
                 (int)line->scope);
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
    bl_tree_word(tree, without, "verdict",
                 bl_verdict_name(line->without.verdict),
                 (int)line->without.verdict);
    bl_tree_put(tree, row, "without", without);
}

static json_t *row_object(struct bl_tree *tree, const struct bl_trial *trial,
                          const struct bl_comparison *comparison,
                          const struct bl_comparison_row *compared)
{
    char label[32];
    json_t *row = bl_tree_object(tree);
    bl_tree_text(tree, row, "base", comparison->base);
    bl_tree_text(tree, row, "against", comparison->against);
    bl_tree_text(tree, row, "reference", comparison->reference);
    bl_model_unit(tree, row, trial, compared->unit);
    bl_tree_text(tree, row, "unit_base",
                 comparison->two_units
                     ? bl_trial_unit_label(&trial->unit[compared->unit_base],
                                           label, sizeof(label))
                     : NULL);
    bl_tree_word(tree, row, "kind", bl_model_kind(compared->kind),
                 (int)compared->kind);
    bl_tree_text(tree, row, "shape", bl_model_shape(compared->shape));
    bl_tree_word(tree, row, "figure", bl_figure_name_text(compared->figure),
                 (int)compared->figure);
    if (compared->figure == BL_FIGURE_LEVEL) {
        bl_tree_number(tree, row, "kpa", compared->level_kpa);
    }
    put_flags(tree, row, compared->flags);
    bl_tree_bool(tree, row, "paired", compared->paired);
    bl_tree_count(tree, row, "n_base", compared->n_base);
    bl_tree_count(tree, row, "n_against", compared->n_against);
    bl_tree_count(tree, row, "without_base", compared->null_base);
    bl_tree_count(tree, row, "without_against", compared->null_against);
    bl_tree_count(tree, row, "unpaired_left", compared->unpaired_left);
    bl_tree_word(tree, row, "verdict", bl_verdict_name(compared->verdict),
                 (int)compared->verdict);
    put_result(tree, row, compared);
    put_runs(tree, row, compared);
    bl_tree_number(tree, row, "command_s", compared->command_s);
    bl_tree_number(tree, row, "u_command_s", compared->u_command_s);
    bl_tree_bool(tree, row, "command_taken_off", compared->command_taken_off);
    bl_tree_bool(tree, row, "metres_refused", compared->metres_refused);
    put_outliers(tree, row, trial, compared);
    put_trend(tree, row, "trend_base", &compared->trend_base,
              compared->drifts_base);
    put_trend(tree, row, "trend_against", &compared->trend_against,
              compared->drifts_against);
    put_travel(tree, row, comparison, compared);
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
                          const struct bl_comparison *comparison)
{
    json_t *object = bl_tree_object(tree);
    bl_tree_text(tree, object, "base", comparison->base);
    bl_tree_text(tree, object, "against", comparison->against);
    bl_tree_text(tree, object, "reference", comparison->reference);
    bl_tree_bool(tree, object, "two_units", comparison->two_units);
    bl_tree_number(tree, object, "confidence", comparison->confidence);
    bl_tree_count(tree, object, "runs_base", comparison->runs_base);
    bl_tree_count(tree, object, "runs_against", comparison->runs_against);
    bl_tree_count(tree, object, "runs_reference", comparison->runs_reference);
    bl_tree_bool(tree, object, "order_balanced", comparison->order_balanced);
    bl_tree_count(tree, object, "excluded", comparison->excluded);
    bl_tree_put(tree, object, "command", commands_array(tree, comparison));
    bl_tree_notes(tree, object, "notes", &comparison->notes);
    json_t *order = bl_tree_array(tree);
    const char *base = comparison->base == NULL ? "all runs" : comparison->base;
    bl_model_orders(tree, order, trial, base, comparison->order_base,
                    comparison->orders_base);
    bl_model_orders(tree, order, trial, comparison->against,
                    comparison->order_against, comparison->orders_against);
    for (size_t i = 0; i < json_array_size(order); i++) {
        bl_tree_mark(
            tree, json_object_get(json_array_get(order, i), "condition"),
            i < comparison->orders_base ? BL_ORDER_BASE : BL_ORDER_AGAINST);
    }
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
    result->in_front = true;
    return tree->failed ? bl_fail_memory(error) : BL_OK;
}
