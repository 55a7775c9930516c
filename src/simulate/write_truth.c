/* SPDX-License-Identifier: MIT */
/* truth.json: schema "brakelag-truth/1", docs/scenario-file.md. */
#include <jansson.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "simulate/result.h"

/* To a tenth of a microsecond, or of a pascal: what lies beyond hangs on the
   mathematics library. */
static json_t *number(double value, double per_one)
{
    return json_real(floor(value * per_one + 0.5) / per_one);
}

static json_t *seconds(const struct bl_true_figure *figure)
{
    return figure->known ? number(figure->s, 1e7) : json_null();
}

static json_t *stamp(int64_t time_ns)
{
    char text[32];
    snprintf(text, sizeof(text), "%lld", (long long)time_ns);
    return json_string(text);
}

/* Takes over `value`; the first failure sticks. */
static void set(json_t *object, const char *key, json_t *value, bool *good)
{
    *good = json_object_set_new(object, key, value) == 0 && *good;
}

static json_t *levels(const struct bl_scenario *s,
                      const struct bl_true_unit *unit, bool *good)
{
    json_t *array = json_array();
    for (size_t i = 0; i < s->levels; i++) {
        json_t *level = json_object();
        set(level, "kpa", number(s->level_kpa[i], 1e4), good);
        set(level, "s", seconds(&unit->level[i]), good);
        *good = json_array_append_new(array, level) == 0 && *good;
    }
    return array;
}

static json_t *unit_truth(const struct bl_scenario *s,
                          const struct bl_true_unit *unit, bool *good)
{
    json_t *o = json_object();
    set(o, "unit", json_integer((json_int_t)unit->unit), good);
    set(o, "responded", json_boolean(unit->responded), good);
    set(o, "settled", json_boolean(unit->settled), good);
    set(o, "rest_kpa", number(unit->rest_kpa, 1e4), good);
    set(o, "hold_kpa", number(unit->hold_kpa, 1e4), good);
    set(o, "peak_kpa", number(unit->peak_kpa, 1e4), good);
    set(o, "demand_arrival", seconds(&unit->demand_arrival), good);
    set(o, "rise_start", seconds(&unit->rise_start), good);
    set(o, "response", seconds(&unit->response), good);
    set(o, "apply_10", seconds(&unit->apply_10), good);
    set(o, "apply_75", seconds(&unit->apply_75), good);
    set(o, "levels", levels(s, unit, good), good);
    set(o, "release_start", seconds(&unit->release_start), good);
    set(o, "release_10", seconds(&unit->release_10), good);
    set(o, "release_end", seconds(&unit->release_end), good);
    return o;
}

static json_t *application_truth(const struct bl_scenario *s,
                                 const struct bl_simulated_run *run,
                                 const struct bl_true_application *a,
                                 bool *good)
{
    static const char *const kinds[] = {"unknown", "light", "service", "full"};
    static const char *const shapes[] = {"unknown", "step", "ramp"};
    json_t *o = json_object();
    set(o, "number", json_integer(a->number), good);
    set(o, "kind", json_string(kinds[a->kind]), good);
    set(o, "shape", json_string(shapes[a->shape]), good);
    set(o, "apply_s", number((double)(a->apply_ns - run->t0_ns) * 1e-9, 1e7),
        good);
    set(o, "release_s",
        number((double)(a->release_ns - run->t0_ns) * 1e-9, 1e7), good);
    set(o, "command_hold_kpa", number(a->command_hold_kpa, 1e4), good);
    json_t *units = json_array();
    for (size_t u = 0; u < a->units; u++) {
        *good = json_array_append_new(units,
                                      unit_truth(s, &a->unit[u], good)) == 0 &&
                *good;
    }
    set(o, "units", units, good);
    return o;
}

static json_t *sensor_truth(const struct bl_simulated_column *column,
                            bool *good)
{
    json_t *o = json_object();
    set(o, "column", json_string(column->name), good);
    set(o, "zero_kpa", number(column->zero_kpa, 1e4), good);
    set(o, "gain", number(column->gain, 1e7), good);
    set(o, "delay_s", number(column->delay_s, 1e7), good);
    return o;
}

static json_t *fault_truth(const struct sim_fault *fault, bool *good)
{
    json_t *o = json_object();
    set(o, "code", json_string(fault->code_name), good);
    set(o, "unit", json_integer(fault->unit), good);
    set(o, "amount", number(fault->amount, 1e7), good);
    return o;
}

static json_t *run_truth(const struct bl_scenario *s, size_t index,
                         const struct bl_simulated_run *run, bool *good)
{
    json_t *o = json_object();
    set(o, "name", json_string(run->name), good);
    set(o, "condition", json_string(run->condition), good);
    set(o, "t0_ns", stamp(run->t0_ns), good);
    set(o, "offset_s", number(run->offset_s, 1e7), good);
    set(o, "drift_ppm", number(run->drift_ppm, 1e4), good);
    json_t *faults = json_array();
    for (size_t i = 0; i < s->faults; i++) {
        if (bl_sim_list_holds(s->fault[i].runs, s->run[index].name)) {
            *good = json_array_append_new(
                        faults, fault_truth(&s->fault[i], good)) == 0 &&
                    *good;
        }
    }
    set(o, "faults", faults, good);
    json_t *sensors = json_array();
    for (size_t i = 0; i < run->columns; i++) {
        if (run->column[i].quantity == BL_QUANTITY_PRESSURE) {
            *good = json_array_append_new(
                        sensors, sensor_truth(&run->column[i], good)) == 0 &&
                    *good;
        }
    }
    set(o, "sensors", sensors, good);
    json_t *applications = json_array();
    for (size_t i = 0; i < run->applications; i++) {
        *good =
            json_array_append_new(
                applications,
                application_truth(s, run, &run->application[i], good)) == 0 &&
            *good;
    }
    set(o, "applications", applications, good);
    return o;
}

static int put(const char *text, size_t length, void *user)
{
    bl_output_write(user, text, length);
    return 0;
}

enum bl_status bl_simulation_truth(const struct bl_simulation *simulation,
                                   struct bl_output *output,
                                   struct bl_error *error)
{
    const struct bl_scenario *s = simulation->scenario;
    bool good = true;
    json_t *root = json_object();
    json_t *runs = json_array();
    set(root, "schema", json_string("brakelag-truth/1"), &good);
    set(root, "scenario", json_string(s->name), &good);
    set(root, "seed", stamp((int64_t)s->seed), &good);
    for (size_t i = 0; i < simulation->runs; i++) {
        good =
            json_array_append_new(
                runs, run_truth(s, i, &simulation->run[i].shown, &good)) == 0 &&
            good;
    }
    set(root, "runs", runs, &good);
    const size_t flags =
        JSON_INDENT(1) | JSON_PRESERVE_ORDER | JSON_REAL_PRECISION(12);
    good = good && json_dump_callback(root, put, output, flags) == 0;
    json_decref(root);
    if (!good) {
        return bl_fail_memory(error);
    }
    bl_output_text(output, "\n");
    return BL_OK;
}
