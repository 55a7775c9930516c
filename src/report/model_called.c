/* SPDX-License-Identifier: MIT */
/* Which characteristic the messages that a unit saw call for, beside the curve
   that it followed: put into the entries of `characteristics`. */
#include "report/result.h"

static void put_called(struct bl_tree *tree, json_t *entry,
                       const struct bl_called *called)
{
    static const char *const answers[] = {
        [BL_UNKNOWN] = "cannot-tell", [BL_NO] = "no", [BL_YES] = "yes"};
    json_t *made = bl_tree_object(tree);
    bl_tree_text(tree, made, "name", called->name);
    bl_tree_text(tree, made, "saw", called->saw);
    bl_tree_text(tree, made, "followed", answers[called->followed]);
    bl_tree_put(tree, entry, "called_for", made);
}

enum bl_status bl_result_add_called(struct bl_result *result,
                                    const struct bl_trial *trial,
                                    const struct bl_characteristics *curves,
                                    const struct bl_reach *reach,
                                    struct bl_error *error)
{
    const json_t *all = json_object_get(result->root, "characteristics");
    for (size_t i = 0; i < curves->count; i++) {
        struct bl_called called;
        if (bl_called_for(&called, trial, curves, i, reach)) {
            put_called(&result->tree,
                       json_array_get(all, result->first_curve + i), &called);
        }
    }
    return result->tree.failed ? bl_fail_memory(error) : BL_OK;
}
