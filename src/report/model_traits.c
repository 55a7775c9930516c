/* SPDX-License-Identifier: MIT */
/* The table of traits as a tree: what every unit does, and what that was
   compared with. */
#include "report/result.h"

static json_t *references(struct bl_tree *tree,
                          const struct bl_trait_cell *cell)
{
    json_t *array = bl_tree_array(tree);
    for (int i = 0; i < BL_REFERENCES; i++) {
        const struct bl_trait_reference *to = &cell->reference[i];
        if (!to->known) {
            continue;
        }
        json_t *object = bl_tree_object(tree);
        bl_tree_text(tree, object, "reference",
                     bl_reference_name((enum bl_reference_kind)i));
        bl_tree_number(tree, object, "value", to->value);
        bl_tree_number(tree, object, "u", to->u);
        bl_tree_number(tree, object, "off", to->off);
        bl_tree_number(tree, object, "off_over_u", to->ratio);
        bl_tree_number(tree, object, "stands_out_from", to->high_off);
        bl_tree_count(tree, object, "n", to->n);
        bl_tree_append(tree, array, object);
    }
    return array;
}

static json_t *one(struct bl_tree *tree, const struct bl_trial *trial,
                   const struct bl_traits *all, const size_t at[4])
{
    const enum bl_trait trait = (enum bl_trait)at[3];
    const struct bl_trait_cell *cell =
        bl_trait_at(all, at[0], at[1], at[2], trait);
    const struct bl_trait_entry *entry = bl_trait_entry(trait);
    json_t *object = bl_tree_object(tree);
    bl_model_unit(tree, object, trial, at[1]);
    if (cell->output > 0) {
        bl_tree_text(tree, object, "output",
                     bl_model_output(trial, at[1], cell->output - 1));
    }
    bl_model_run(tree, object, trial, (long)at[0]);
    bl_tree_text(tree, object, "asked_by", bl_trait_class_name(all->by[at[0]]));
    bl_tree_text(tree, object, "kind",
                 bl_model_kind((enum bl_application_kind)(at[2] / 3)));
    bl_tree_text(tree, object, "shape",
                 bl_model_shape((enum bl_application_shape)(at[2] % 3)));
    bl_tree_text(tree, object, "trait", entry->name);
    bl_tree_text(tree, object, "measured_in", entry->unit);
    bl_tree_number(tree, object, "value", cell->value);
    bl_tree_number(tree, object, "u", cell->u);
    bl_tree_number(tree, object, "scatter", cell->scatter);
    bl_tree_count(tree, object, "n", cell->n);
    bl_tree_bool(tree, object, "at_least", cell->at_least);
    bl_tree_put(tree, object, "references", references(tree, cell));
    return object;
}

enum bl_status bl_result_add_traits(struct bl_result *result,
                                    const struct bl_trial *trial,
                                    const struct bl_traits *all,
                                    struct bl_error *error)
{
    struct bl_tree *tree = &result->tree;
    json_t *array = bl_tree_array(tree);
    size_t at[4];
    for (at[1] = 0; at[1] < all->units; at[1]++) {
        for (at[3] = 0; at[3] < BL_TRAITS; at[3]++) {
            for (at[0] = 0; at[0] < all->runs; at[0]++) {
                for (at[2] = 0; at[2] < BL_TRAIT_GROUPS; at[2]++) {
                    const struct bl_trait_cell *cell = bl_trait_at(
                        all, at[0], at[1], at[2], (enum bl_trait)at[3]);
                    if (cell->n > 0) {
                        bl_tree_append(tree, array, one(tree, trial, all, at));
                    }
                }
            }
        }
    }
    bl_tree_put(tree, result->root, "traits", array);
    return tree->failed ? bl_fail_memory(error) : BL_OK;
}
