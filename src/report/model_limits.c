/* SPDX-License-Identifier: MIT */
/* Limits as a tree: every row carries the whole limit, so that it can be read
   alone. */
#include "report/result.h"

#include <math.h>

static void published_members(struct bl_tree *tree, json_t *object,
                              const struct bl_published_limit *limit)
{
    bl_tree_text(tree, object, "regulation", limit->regulation);
    bl_tree_text(tree, object, "clause", limit->clause);
    bl_tree_text(tree, object, "class", bl_limit_class_name(limit->vehicle));
    bl_tree_text(tree, object, "from", limit->from);
    bl_tree_text(tree, object, "to", limit->to);
    bl_tree_number(tree, object, "limit", limit->limit);
    bl_tree_text(tree, object, "limit_unit", limit->unit);
    bl_tree_text(tree, object, "rounding",
                 limit->to_tenth ? "hundredths cut, then to the nearest tenth"
                                 : NULL);
    bl_tree_text(tree, object, "conditions_not_met", limit->conditions);
    bl_tree_text(tree, object, "source", limit->source);
    bl_tree_text(tree, object, "confidence",
                 bl_confidence_name(limit->confidence));
}

static void own_members(struct bl_tree *tree, json_t *object,
                        const struct bl_trial_limit *limit)
{
    bl_tree_text(tree, object, "limit_name", limit->name);
    bl_tree_word(tree, object, "figure", bl_figure_name_text(limit->figure),
                 (int)limit->figure);
    if (limit->figure == BL_FIGURE_LEVEL) {
        bl_tree_number(tree, object, "kpa", limit->level_kpa);
    }
    bl_tree_number(tree, object, "limit", limit->max_s);
    bl_tree_text(tree, object, "limit_unit", "s");
}

static json_t *row_object(struct bl_tree *tree, const struct bl_trial *trial,
                          const struct bl_limit_row *row)
{
    json_t *object = bl_tree_object(tree);
    const bool own = row->own != NULL;
    bl_tree_word(tree, object, "kind", own ? "own" : "published", own);
    bl_tree_bool(tree, object, "indicative", !own);
    if (own) {
        own_members(tree, object, row->own);
    } else {
        published_members(tree, object, row->published);
    }
    bl_tree_text(tree, object, "run",
                 row->run < 0 ? NULL : trial->run[row->run].name);
    bl_model_unit(tree, object, trial, (size_t)row->unit);
    bl_tree_count(tree, object, "n", row->n);
    bl_tree_count(tree, object, "bounds", row->bounds);
    bl_tree_count(tree, object, "without", row->without);
    bl_tree_number(tree, object, "low", row->low);
    bl_tree_number(tree, object, "high", row->high);
    bl_tree_number(tree, object, "u", row->n == 0 ? NAN : row->u);
    bl_tree_word(tree, object, "verdict", bl_limit_verdict_name(row->verdict),
                 (int)row->verdict);
    bl_tree_text(tree, object, "reason",
                 row->reason == BL_LIMIT_NONE
                     ? NULL
                     : bl_limit_reason_name(row->reason));
    return object;
}

enum bl_status bl_result_add_limits(struct bl_result *result,
                                    const struct bl_trial *trial,
                                    const struct bl_limits *limits,
                                    struct bl_error *error)
{
    struct bl_tree *tree = &result->tree;
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; i < limits->rows; i++) {
        bl_tree_append(tree, array, row_object(tree, trial, &limits->row[i]));
    }
    bl_tree_put(tree, result->root, "limits", array);
    return tree->failed ? bl_fail_memory(error) : BL_OK;
}
