/* SPDX-License-Identifier: MIT */
/* What is drawn beside the answer as a tree. */
#include "report/result.h"

#include <math.h>

static json_t *time_of(struct bl_tree *tree, const struct bl_picture_time *time)
{
    json_t *object = bl_tree_object(tree);
    bl_tree_count(tree, object, "n", time->n);
    bl_tree_number(tree, object, "median_s", time->median_s);
    bl_tree_number(tree, object, "low_s", time->low_s);
    bl_tree_number(tree, object, "high_s", time->high_s);
    return object;
}

/* Tenths of a kPa: finer than any gauge, and a tenth of the bytes. */
static void put_course(struct bl_tree *tree, json_t *object,
                       const struct bl_picture_side *side,
                       const struct bl_picture_unit *unit)
{
    json_t *array = unit->kpa == NULL ? json_null() : bl_tree_array(tree);
    for (size_t i = 0; unit->kpa != NULL && i < side->points; i++) {
        bl_tree_append_number(tree, array, round(10 * unit->kpa[i]) / 10 + 0.0);
    }
    bl_tree_put(tree, object, "kpa", array);
}

static json_t *side_of(struct bl_tree *tree, const struct bl_trial *trial,
                       const struct bl_picture_side *side)
{
    json_t *object = bl_tree_object(tree);
    json_t *units = bl_tree_array(tree);
    json_t *others = bl_tree_object(tree);
    bl_tree_text(tree, object, "first", bl_figure_name_text(side->first));
    bl_tree_text(tree, object, "second", bl_figure_name_text(side->second));
    bl_tree_count(tree, others, "units", side->others);
    bl_tree_number(tree, others, "low_s", side->others_low_s);
    bl_tree_number(tree, others, "high_s", side->others_high_s);
    bl_tree_put(tree, object, "others", others);
    bl_tree_number(tree, object, "from_s", side->from_s);
    bl_tree_number(tree, object, "step_s", side->step_s);
    for (size_t i = 0; i < side->units; i++) {
        json_t *unit = bl_tree_object(tree);
        bl_model_unit(tree, unit, trial, side->unit[i].unit);
        bl_tree_bool(tree, unit, "odd", side->unit[i].odd);
        bl_tree_bool(tree, unit, "found", side->unit[i].found);
        bl_tree_put(tree, unit, "first", time_of(tree, &side->unit[i].first));
        bl_tree_put(tree, unit, "second", time_of(tree, &side->unit[i].second));
        put_course(tree, unit, side, &side->unit[i]);
        bl_tree_append(tree, units, unit);
    }
    bl_tree_put(tree, object, "units", units);
    return object;
}

enum bl_status bl_result_add_picture(struct bl_result *result,
                                     const struct bl_trial *trial,
                                     const struct bl_picture *picture,
                                     struct bl_error *error)
{
    struct bl_tree *tree = &result->tree;
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; i < picture->groups; i++) {
        const struct bl_picture_group *group = &picture->group[i];
        const char combination[2] = {group->combination, '\0'};
        json_t *object = bl_tree_object(tree);
        json_t *replay = bl_tree_object(tree);
        bl_tree_text(tree, object, "combination", combination);
        bl_tree_text(tree, object, "condition", group->condition);
        bl_tree_text(tree, object, "kind", bl_model_kind(group->kind));
        bl_tree_text(tree, object, "shape", bl_model_shape(group->shape));
        bl_tree_count(tree, object, "applications", group->applications);
        bl_tree_put(tree, object, "apply",
                    side_of(tree, trial, &group->side[BL_PICTURE_APPLY]));
        bl_tree_put(tree, object, "release",
                    side_of(tree, trial, &group->side[BL_PICTURE_RELEASE]));
        bl_model_run(tree, replay, trial, group->replay_run);
        bl_tree_count(tree, replay, "number", (uint64_t)group->replay_number);
        bl_tree_put(tree, object, "replay", replay);
        bl_tree_append(tree, array, object);
    }
    bl_tree_put(tree, result->root, "picture", array);
    return tree->failed ? bl_fail_memory(error) : BL_OK;
}
