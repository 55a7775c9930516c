/* SPDX-License-Identifier: MIT */
/* A figure's uncertainty taken apart, as a tree. */
#include "report/result.h"

#include <math.h>

static void put_components(struct bl_tree *tree, json_t *entry,
                           const struct bl_uncertainty *part)
{
    json_t *array = bl_tree_array(tree);
    json_t *missing = bl_tree_array(tree);
    for (size_t i = 0; i < BL_COMPONENTS; i++) {
        const double u = bl_component_value(part, i);
        if (isnan(u)) {
            bl_tree_append_text(tree, missing, bl_component_name(i));
            continue;
        }
        json_t *object = bl_tree_object(tree);
        bl_tree_text(tree, object, "name", bl_component_name(i));
        bl_tree_number(tree, object, "u_s", u);
        bl_tree_bool(tree, object, "common", bl_component_is_common(i));
        bl_tree_append(tree, array, object);
    }
    bl_tree_put(tree, entry, "components", array);
    bl_tree_put(tree, entry, "not_included", missing);
}

static void put_mean(struct bl_tree *tree, json_t *entry,
                     const struct bl_budget_entry *budgeted)
{
    if (budgeted->n < 2) {
        bl_tree_text(tree, entry, "mean", NULL);
        return;
    }
    json_t *object = bl_tree_object(tree);
    bl_tree_count(tree, object, "n", budgeted->n);
    bl_tree_number(tree, object, "s", budgeted->mean_s);
    bl_tree_number(tree, object, "scatter_s", budgeted->scatter_s);
    bl_tree_number(tree, object, "u_scatter_s", budgeted->u_scatter_s);
    bl_tree_number(tree, object, "u_common_s", budgeted->common_s);
    bl_tree_number(tree, object, "u_s", budgeted->u_mean_s);
    bl_tree_number(tree, object, "effective_dof", budgeted->effective_dof);
    bl_tree_number(tree, object, "k", budgeted->mean_k);
    bl_tree_number(tree, object, "expanded_s", budgeted->mean_expanded_s);
    bl_tree_put(tree, entry, "mean", object);
}

static json_t *entry_object(struct bl_tree *tree, const struct bl_trial *trial,
                            const struct bl_budget_entry *budgeted)
{
    json_t *entry = bl_tree_object(tree);
    bl_tree_text(tree, entry, "run", trial->run[budgeted->run].name);
    bl_tree_count(tree, entry, "application", (uint64_t)budgeted->application);
    bl_tree_text(tree, entry, "kind", bl_model_kind(budgeted->kind));
    bl_model_unit(tree, entry, trial, budgeted->unit);
    bl_tree_word(tree, entry, "figure", bl_figure_name_text(budgeted->figure),
                 (int)budgeted->figure);
    bl_tree_number(tree, entry, "s", budgeted->value.s);
    bl_tree_number(tree, entry, "u_s", budgeted->value.u_s);
    bl_tree_number(tree, entry, "k", budgeted->k);
    bl_tree_number(tree, entry, "expanded_s", budgeted->expanded_s);
    put_components(tree, entry, &budgeted->value.part);
    bl_tree_number(tree, entry, "u_random_s", budgeted->random_s);
    bl_tree_number(tree, entry, "u_common_s", budgeted->common_s);
    put_mean(tree, entry, budgeted);
    return entry;
}

enum bl_status bl_result_add_budget(struct bl_result *result,
                                    const struct bl_trial *trial,
                                    const struct bl_budget *budget,
                                    struct bl_error *error)
{
    struct bl_tree *tree = &result->tree;
    json_t *all = bl_tree_array(tree);
    for (size_t i = 0; i < budget->count; i++) {
        bl_tree_append(tree, all, entry_object(tree, trial, &budget->item[i]));
    }
    bl_tree_put(tree, result->root, "budget", all);
    result->in_front = true;
    return tree->failed ? bl_fail_memory(error) : BL_OK;
}
