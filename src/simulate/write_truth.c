/* SPDX-License-Identifier: MIT */
/* truth.json: schema "brakelag-truth/1", docs/scenario-file.md. */
#include <math.h>

#include "report/tree.h"
#include "simulate/files.h"
#include "simulate/result.h"

/* To a tenth of a microsecond, or of a pascal: what lies beyond hangs on the
   mathematics library. */
static double rounded(double value, double per_one)
{
    return floor(value * per_one + 0.5) / per_one;
}

static double seconds(const struct bl_true_figure *figure)
{
    return figure->known ? rounded(figure->s, 1e7) : NAN;
}

static json_t *levels(struct bl_tree *tree, const struct bl_scenario *s,
                      const struct bl_true_unit *unit)
{
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; i < s->levels; i++) {
        json_t *level = bl_tree_object(tree);
        bl_tree_number(tree, level, "kpa", rounded(s->level_kpa[i], 1e4));
        bl_tree_number(tree, level, "s", seconds(&unit->level[i]));
        bl_tree_append(tree, array, level);
    }
    return array;
}

static json_t *unit_truth(struct bl_tree *tree, const struct bl_scenario *s,
                          const struct bl_true_unit *unit)
{
    json_t *o = bl_tree_object(tree);
    bl_tree_integer(tree, o, "unit", (int64_t)unit->unit);
    bl_tree_bool(tree, o, "responded", unit->responded);
    bl_tree_bool(tree, o, "settled", unit->settled);
    bl_tree_number(tree, o, "rest_kpa", rounded(unit->rest_kpa, 1e4));
    bl_tree_number(tree, o, "hold_kpa", rounded(unit->hold_kpa, 1e4));
    bl_tree_number(tree, o, "peak_kpa", rounded(unit->peak_kpa, 1e4));
    for (enum bl_figure_name i = 0; i < BL_FIGURES; i++) {
        const struct bl_figure_entry *entry = bl_figure_entry(i);
        if (i == BL_FIGURE_LEVEL) {
            bl_tree_put(tree, o, "levels", levels(tree, s, unit));
        } else if (entry->side != BL_SIDE_NEITHER) {
            bl_tree_number(tree, o, entry->name, seconds(&unit->figure[i]));
        }
    }
    return o;
}

static json_t *application_truth(struct bl_tree *tree,
                                 const struct bl_scenario *s,
                                 const struct bl_simulated_run *run,
                                 const struct bl_true_application *a)
{
    static const char *const kinds[] = {"unknown", "light", "service", "full"};
    static const char *const shapes[] = {"unknown", "step", "ramp"};
    json_t *o = bl_tree_object(tree);
    bl_tree_integer(tree, o, "number", (int64_t)a->number);
    bl_tree_text(tree, o, "kind", kinds[a->kind]);
    bl_tree_text(tree, o, "shape", shapes[a->shape]);
    bl_tree_number(tree, o, "apply_s",
                   rounded((double)(a->apply_ns - run->t0_ns) * 1e-9, 1e7));
    bl_tree_number(tree, o, "release_s",
                   rounded((double)(a->release_ns - run->t0_ns) * 1e-9, 1e7));
    bl_tree_number(tree, o, "command_hold_kpa",
                   rounded(a->command_hold_kpa, 1e4));
    json_t *units = bl_tree_array(tree);
    for (size_t u = 0; u < a->units; u++) {
        bl_tree_append(tree, units, unit_truth(tree, s, &a->unit[u]));
    }
    bl_tree_put(tree, o, "units", units);
    return o;
}

static json_t *sensor_truth(struct bl_tree *tree,
                            const struct bl_simulated_column *column)
{
    json_t *o = bl_tree_object(tree);
    bl_tree_text(tree, o, "column", column->name);
    bl_tree_number(tree, o, "zero_kpa", rounded(column->zero_kpa, 1e4));
    bl_tree_number(tree, o, "gain", rounded(column->gain, 1e7));
    bl_tree_number(tree, o, "delay_s", rounded(column->delay_s, 1e7));
    return o;
}

static json_t *fault_truth(struct bl_tree *tree, const struct sim_fault *fault)
{
    json_t *o = bl_tree_object(tree);
    bl_tree_text(tree, o, "code", fault->code_name);
    bl_tree_integer(tree, o, "unit", (int64_t)fault->unit);
    bl_tree_number(tree, o, "amount", rounded(fault->amount, 1e7));
    return o;
}

static json_t *run_truth(struct bl_tree *tree, const struct bl_scenario *s,
                         size_t index, const struct bl_simulated_run *run)
{
    json_t *o = bl_tree_object(tree);
    bl_tree_text(tree, o, "name", run->name);
    bl_tree_text(tree, o, "condition", run->condition);
    bl_tree_time(tree, o, "t0_ns", run->t0_ns);
    bl_tree_number(tree, o, "offset_s", rounded(run->offset_s, 1e7));
    bl_tree_number(tree, o, "drift_ppm", rounded(run->drift_ppm, 1e4));
    json_t *faults = bl_tree_array(tree);
    for (size_t i = 0; i < s->faults; i++) {
        if (bl_sim_list_holds(s->fault[i].runs, s->run[index].name)) {
            bl_tree_append(tree, faults, fault_truth(tree, &s->fault[i]));
        }
    }
    bl_tree_put(tree, o, "faults", faults);
    json_t *sensors = bl_tree_array(tree);
    for (size_t i = 0; i < run->columns; i++) {
        if (run->column[i].quantity == BL_QUANTITY_PRESSURE) {
            bl_tree_append(tree, sensors, sensor_truth(tree, &run->column[i]));
        }
    }
    bl_tree_put(tree, o, "sensors", sensors);
    json_t *applications = bl_tree_array(tree);
    for (size_t i = 0; i < run->applications; i++) {
        bl_tree_append(tree, applications,
                       application_truth(tree, s, run, &run->application[i]));
    }
    bl_tree_put(tree, o, "applications", applications);
    return o;
}

enum bl_status bl_simulation_truth(const struct bl_simulation *simulation,
                                   struct bl_output *output,
                                   struct bl_error *error)
{
    const struct bl_scenario *s = simulation->scenario;
    struct bl_tree made = {false};
    struct bl_tree *tree = &made;
    json_t *root = bl_tree_object(tree);
    json_t *runs = bl_tree_array(tree);
    bl_tree_text(tree, root, "schema", "brakelag-truth/1");
    bl_tree_text(tree, root, "scenario", s->name);
    bl_tree_time(tree, root, "seed", (int64_t)s->seed);
    for (size_t i = 0; i < simulation->runs; i++) {
        bl_tree_append(tree, runs,
                       run_truth(tree, s, i, &simulation->run[i].shown));
    }
    bl_tree_put(tree, root, "runs", runs);
    const enum bl_status status = bl_tree_write(tree, root, output, error);
    json_decref(root);
    return status;
}
