/* SPDX-License-Identifier: MIT */
/* What lag costs, as a tree. Computed, not measured on the road. */
#include "report/result.h"

static void put_label(struct bl_tree *tree, json_t *object, const char *key,
                      const struct bl_trial_unit *unit)
{
    char label[32];
    bl_tree_text(tree, object, key,
                 bl_trial_unit_label(unit, label, sizeof(label)));
}

static json_t *unit_object(struct bl_tree *tree,
                           const struct bl_trial_unit *unit,
                           const struct bl_dynamics_row *row,
                           const struct bl_dynamics_speed *at, size_t k)
{
    json_t *object = bl_tree_object(tree);
    put_label(tree, object, "unit", unit);
    bl_tree_text(tree, object, "name", unit->name);
    bl_tree_number(tree, object, "mass_share", row->mass_share[k]);
    bl_tree_number(tree, object, "force_kn", row->unit[k].force_n * 1e-3);
    bl_tree_number(tree, object, "force_share", row->force_share[k]);
    bl_tree_number(tree, object, "work_share", at->stop.work_share[k]);
    json_t *travel = bl_tree_object(tree);
    bl_tree_number(tree, travel, "kmh", at->kmh);
    bl_tree_number(tree, travel, "m", at->travel_m[k]);
    bl_tree_number(tree, travel, "u_m", at->u_travel_m[k]);
    bl_tree_put(tree, object, "travel_in_lag", travel);
    return object;
}

/* Null: no unit did any. */
static json_t *most_work(struct bl_tree *tree, const struct bl_trial *trial,
                         const struct bl_dynamics_row *row,
                         const struct bl_dynamics_speed *at)
{
    if (at->hardest >= row->units) {
        return json_null();
    }
    json_t *object = bl_tree_object(tree);
    bl_model_unit(tree, object, trial, row->first_unit + at->hardest);
    bl_tree_number(tree, object, "times_its_mass", at->hardest_times);
    return object;
}

static json_t *speed_object(struct bl_tree *tree, const struct bl_trial *trial,
                            const struct bl_dynamics_row *row,
                            const struct bl_dynamics_speed *at)
{
    json_t *object = bl_tree_object(tree);
    bl_tree_number(tree, object, "kmh", at->kmh);
    bl_tree_number(tree, object, "stopping_m", at->stop_m);
    bl_tree_number(tree, object, "extra_stopping_m", at->extra_m);
    bl_tree_number(tree, object, "u_extra_stopping_m", at->u_extra_m);
    bl_tree_number(tree, object, "extra_against_first_m", at->extra_first_m);
    bl_tree_number(tree, object, "first_only_m", at->first_only_m);
    bl_tree_put(tree, object, "most_work", most_work(tree, trial, row, at));
    json_t *units = bl_tree_array(tree);
    json_t *couplings = bl_tree_array(tree);
    for (size_t k = 0; k < row->units; k++) {
        const struct bl_trial_unit *unit = &trial->unit[row->first_unit + k];
        bl_tree_append(tree, units, unit_object(tree, unit, row, at, k));
        if (k + 1 == row->units) {
            continue;
        }
        json_t *coupling = bl_tree_object(tree);
        put_label(tree, coupling, "front", unit);
        put_label(tree, coupling, "rear", unit + 1);
        bl_tree_number(tree, coupling, "push_most_kn",
                       at->stop.push_most_kn[k]);
        bl_tree_number(tree, coupling, "push_least_kn",
                       at->stop.push_least_kn[k]);
        bl_tree_number(tree, coupling, "push_steady_kn",
                       at->stop.push_steady_kn[k]);
        bl_tree_append(tree, couplings, coupling);
    }
    bl_tree_put(tree, object, "units", units);
    bl_tree_put(tree, object, "couplings", couplings);
    return object;
}

enum bl_status bl_result_add_dynamics(struct bl_result *result,
                                      const struct bl_trial *trial,
                                      const struct bl_dynamics *dynamics,
                                      struct bl_error *error)
{
    struct bl_tree *tree = &result->tree;
    json_t *object = bl_tree_object(tree);
    json_t *rows = bl_tree_array(tree);
    for (size_t i = 0; i < dynamics->rows; i++) {
        const struct bl_dynamics_row *row = &dynamics->row[i];
        const char combination[2] = {trial->unit[row->first_unit].combination,
                                     '\0'};
        json_t *dynamics_row = bl_tree_object(tree);
        bl_tree_text(tree, dynamics_row, "run", trial->run[row->run].name);
        bl_tree_text(tree, dynamics_row, "combination", combination);
        bl_tree_text(tree, dynamics_row, "kind", bl_model_kind(row->kind));
        bl_tree_count(tree, dynamics_row, "n", row->n);
        json_t *speeds = bl_tree_array(tree);
        for (size_t k = 0; k < row->speeds; k++) {
            bl_tree_append(tree, speeds,
                           speed_object(tree, trial, row, &row->speed[k]));
        }
        bl_tree_put(tree, dynamics_row, "speeds", speeds);
        bl_tree_append(tree, rows, dynamics_row);
    }
    bl_tree_put(tree, object, "rows", rows);
    bl_tree_notes(tree, object, "missing", &dynamics->missing);
    bl_tree_put(tree, result->root, "dynamics", object);
    return tree->failed ? bl_fail_memory(error) : BL_OK;
}
