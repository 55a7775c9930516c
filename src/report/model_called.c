/* SPDX-License-Identifier: MIT */
/* Which characteristic the messages that a unit saw call for, beside the curve
   that it followed: put into the entries of `characteristics`. */
#include "report/result.h"

#include <string.h>

/* Does the curve of that unit follow what was called for? */
static const char *followed(const struct bl_characteristics *all, size_t unit,
                            const char *called)
{
    static const char *const answers[] = {
        [BL_UNKNOWN] = "cannot-tell", [BL_NO] = "no", [BL_YES] = "yes"};
    for (size_t i = 0; called != NULL && i < all->count; i++) {
        if (all->item[i].unit == unit) {
            return answers[bl_characteristic_follows(&all->item[i], called,
                                                     NULL)];
        }
    }
    return answers[BL_UNKNOWN];
}

static void put_called(struct bl_tree *tree, json_t *entry,
                       const struct bl_characteristics *curves,
                       const struct bl_reach_unit *unit)
{
    json_t *made = bl_tree_object(tree);
    bl_tree_text(tree, made, "name", unit->called);
    bl_tree_text(tree, made, "saw", unit->towing_kind);
    bl_tree_text(tree, made, "followed",
                 followed(curves, unit->unit, unit->called));
    bl_tree_put(tree, entry, "called_for", made);
}

enum bl_status bl_result_add_called(struct bl_result *result,
                                    const struct bl_trial *trial,
                                    const struct bl_characteristics *curves,
                                    const struct bl_reach *reach,
                                    struct bl_error *error)
{
    json_t *all = json_object_get(result->root, "characteristics");
    const char *run = trial->run[reach->run].name;
    /* Nothing can be called for where the trial names nothing to choose. */
    for (size_t i = 0; trial->characteristics > 0 && i < json_array_size(all);
         i++) {
        json_t *entry = json_array_get(all, i);
        for (size_t k = 0; strcmp(bl_tree_get_text(entry, "run"), run) == 0 &&
                           k < reach->units;
             k++) {
            const struct bl_reach_unit *unit = &reach->unit[k];
            char label[32];
            if (unit->called_known &&
                strcmp(bl_tree_get_text(entry, "unit"),
                       bl_trial_unit_label(&trial->unit[unit->unit], label,
                                           sizeof(label))) == 0) {
                put_called(&result->tree, entry, curves, unit);
            }
        }
    }
    return result->tree.failed ? bl_fail_memory(error) : BL_OK;
}
