/* SPDX-License-Identifier: MIT */
/* A scenario run by run: plan, demand, air, other messages, recorders, truth.
 */
#include "simulate/result.h"

#include <math.h>

#include "base/alloc.h"

static void result_finish(struct sim_result *result)
{
    for (size_t i = 0; i < result->shown.columns; i++) {
        bl_free(result->column[i].value);
    }
    for (size_t i = 0; i < result->shown.applications; i++) {
        struct bl_true_application *a = &result->application[i];
        for (size_t u = 0; u < a->units; u++) {
            bl_free(a->unit[u].level);
        }
        bl_free(a->unit);
    }
    bl_free(result->application);
    bl_free(result->column);
    bl_free(result->row_ns);
    bl_free(result->frame);
    bl_free(result->bus);
}

/* Earliest stamp of both recordings, on the log's clock. */
static void set_start(struct bl_simulated_run *run)
{
    int64_t first = run->rows > 0 ? run->row_ns[0] : INT64_MAX;
    if (run->frames > 0) {
        const int64_t bus =
            run->frame[0].time_ns + (int64_t)llround(run->offset_s * 1e9);
        first = bus < first ? bus : first;
    }
    run->t0_ns = first == INT64_MAX ? 0 : first;
}

static enum bl_status simulate_run(struct sim_result *result,
                                   const struct bl_scenario *s, size_t run,
                                   struct bl_error *error)
{
    struct sim_world world = {.scenario = s, .run = run};
    result->shown.name = s->run[run].name;
    result->shown.condition = s->run[run].condition;
    enum bl_status status = bl_sim_plan(&world, error);
    if (status == BL_OK) {
        status = bl_sim_demand(&world, error);
    }
    if (status == BL_OK) {
        status = bl_sim_air(&world, error);
    }
    if (status == BL_OK) {
        status = bl_sim_messages(&world, error);
    }
    if (status == BL_OK) {
        status = bl_sim_record_bus(result, &world, error);
    }
    if (status == BL_OK) {
        status = bl_sim_record_log(result, &world, error);
    }
    if (status == BL_OK) {
        status = bl_sim_truth(result, &world, error);
        set_start(&result->shown);
    }
    bl_sim_world_finish(&world);
    return status;
}

enum bl_status bl_simulate(struct bl_simulation **out,
                           const struct bl_scenario *s, struct bl_error *error)
{
    struct bl_simulation *simulation = bl_alloc(1, sizeof(*simulation));
    if (simulation == NULL) {
        return bl_fail_memory(error);
    }
    simulation->scenario = s;
    simulation->run = bl_alloc(s->runs, sizeof(*simulation->run));
    enum bl_status status =
        simulation->run == NULL ? bl_fail_memory(error) : BL_OK;
    for (size_t i = 0; status == BL_OK && i < s->runs; i++) {
        simulation->runs++;
        status = simulate_run(&simulation->run[i], s, i, error);
    }
    if (status != BL_OK) {
        bl_simulation_destroy(simulation);
        return status;
    }
    *out = simulation;
    return BL_OK;
}

void bl_simulation_destroy(struct bl_simulation *simulation)
{
    if (simulation == NULL) {
        return;
    }
    for (size_t i = 0; i < simulation->runs; i++) {
        result_finish(&simulation->run[i]);
    }
    bl_free(simulation->run);
    bl_free(simulation);
}

size_t bl_simulation_runs(const struct bl_simulation *simulation)
{
    return simulation->runs;
}

const struct bl_simulated_run *
bl_simulation_run(const struct bl_simulation *simulation, size_t index)
{
    return index < simulation->runs ? &simulation->run[index].shown : NULL;
}
