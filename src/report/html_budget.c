/* SPDX-License-Identifier: MIT */
#include "report/html_budget.h"

#include <string.h>

static json_t *row(struct bl_tree *tree, const char *unit,
                   enum bl_figure_name figure,
                   const double u[BL_COMPONENTS + 1])
{
    json_t *object = bl_tree_object(tree);
    json_t *parts = bl_tree_array(tree);
    bl_tree_text(tree, object, "unit", unit);
    bl_tree_text(tree, object, "figure", bl_figure_name_text(figure));
    for (size_t i = 0; i < BL_COMPONENTS; i++) {
        bl_tree_append_number(tree, parts, u[i]);
    }
    bl_tree_put(tree, object, "parts", parts);
    bl_tree_number(tree, object, "u", u[BL_COMPONENTS]);
    return object;
}

json_t *bl_html_budget(struct bl_tree *tree, const struct bl_result *result)
{
    json_t *rows = bl_tree_array(tree);
    size_t index;
    const json_t *unit;
    json_array_foreach(
        json_object_get(json_object_get(result->root, "trial"), "units"), index,
        unit)
    {
        for (size_t i = 0; i < BL_MEDIAN_FIGURES; i++) {
            const enum bl_figure_name figure = bl_median_figure(i);
            double u[BL_COMPONENTS + 1];
            bool any = false;
            if (!bl_u_parts_median(u, &any, &result->parts, index, figure)) {
                tree->failed = true;
            } else if (any) {
                bl_tree_append(
                    tree, rows,
                    row(tree, bl_tree_get_text(unit, "unit"), figure, u));
            }
        }
    }
    return rows;
}

/* A copy without any "u_parts"; what cannot change is shared. Not
   json_deep_copy: that leaves members out when memory ends, and does not say
   so. */
static json_t *without_parts(struct bl_tree *tree, const json_t *value)
{
    const char *key;
    json_t *member;
    size_t index;
    if (!json_is_object(value) && !json_is_array(value)) {
        return json_incref((json_t *)value);
    }
    json_t *copy =
        json_is_object(value) ? bl_tree_object(tree) : bl_tree_array(tree);
    json_object_foreach((json_t *)value, key, member)
    {
        if (strcmp(key, "u_parts") != 0) {
            bl_tree_put(tree, copy, key, without_parts(tree, member));
        }
    }
    json_array_foreach(value, index, member)
    {
        bl_tree_append(tree, copy, without_parts(tree, member));
    }
    return copy;
}

json_t *bl_html_without_parts(struct bl_tree *tree, const json_t *root)
{
    const char *key;
    json_t *member;
    json_t *copy = bl_tree_object(tree);
    json_object_foreach((json_t *)root, key, member)
    {
        bl_tree_put(tree, copy, key,
                    strcmp(key, "runs") == 0 ? without_parts(tree, member)
                                             : json_incref(member));
    }
    return copy;
}
