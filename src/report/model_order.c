/* SPDX-License-Identifier: MIT */
/* In which order the units answer, as a tree. */
#include "report/result.h"

static json_t *labels(struct bl_tree *tree, const struct bl_trial *trial,
                      const struct bl_order *order)
{
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; i < order->units; i++) {
        char label[32];
        if (order->unit[i] < trial->units) {
            bl_tree_append_text(
                tree, array,
                bl_trial_unit_label(&trial->unit[order->unit[i]], label,
                                    sizeof(label)));
        }
    }
    return array;
}

void bl_model_orders(struct bl_tree *tree, json_t *array,
                     const struct bl_trial *trial, const char *condition,
                     const struct bl_order *order, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        const char combination[2] = {order[i].combination, '\0'};
        json_t *object = bl_tree_object(tree);
        if (condition != NULL) {
            bl_tree_text(tree, object, "condition", condition);
        }
        bl_tree_text(tree, object, "combination", combination);
        bl_tree_text(tree, object, "kind", bl_model_kind(order[i].kind));
        bl_tree_text(tree, object, "shape", bl_model_shape(order[i].shape));
        bl_tree_word(tree, object, "figure",
                     bl_figure_name_text(order[i].figure),
                     (int)order[i].figure);
        bl_tree_count(tree, object, "n", order[i].n);
        bl_tree_count(tree, object, "without", order[i].without);
        bl_tree_count(tree, object, "repeats", order[i].repeats);
        bl_tree_count(tree, object, "close", order[i].close);
        bl_tree_put(tree, object, "units", labels(tree, trial, &order[i]));
        bl_tree_append(tree, array, object);
    }
}
