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
    bl_tree_number(tree, row, "confidence", any ? is->shift.confidence : NAN);
    bl_tree_number(tree, row, "p", any ? is->shift.p : NAN);
    bl_tree_number(tree, row, "p_smallest", any ? is->shift.p_smallest : NAN);
    bl_tree_bool(tree, row, "exact", any && is->shift.exact);
    bl_tree_number(tree, row, "u_random_s", any ? is->u_random_s : NAN);
    bl_tree_number(tree, row, "u_systematic_s", any ? is->u_systematic_s : NAN);
    bl_tree_number(tree, row, "reference_s", is->reference_s);
    bl_tree_number(tree, row, "u_reference_s", is->u_reference_s);
    bl_tree_count(tree, row, "n_reference", is->n_reference);
    bl_tree_bool(tree, row, "reference_cancels", is->reference_cancels);
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
    bl_tree_count(tree, row, "more", is->more);
    put_result(tree, row, is);
    put_trend(tree, row, "trend_base", &is->trend_base, is->drifts_base);
    put_trend(tree, row, "trend_against", &is->trend_against,
              is->drifts_against);
    put_travel(tree, row, comparison, is);
    return row;
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
