/* SPDX-License-Identifier: MIT */
/* The plan of a run, the pedal, and what all parts of a run look up. */
#include "simulate/world.h"

#include <math.h>

#include "base/alloc.h"
#include "base/limits.h"

#define TOUCH_KPA 12.0 /* of a stab: the switch moves, nothing brakes */
#define TOUCH_S 0.15
#define TOUCH_EVERY_S 0.6

void bl_sim_random(struct bl_random *random, const struct bl_scenario *s,
                   size_t run, enum sim_stream stream, size_t index)
{
    /* Odd factors keep (run, stream, index) apart for any seed. */
    bl_random_seed(random, s->seed * 0x9E3779B97F4A7C15u +
                               (uint64_t)run * 0xBF58476D1CE4E5B9u +
                               (uint64_t)stream * 0x94D049BB133111EBu +
                               (uint64_t)index * 0xD6E8FEB86659FD93u);
}

double bl_sim_trace(const struct sim_world *world, const double *trace,
                    double time_s)
{
    const double at = time_s / world->scenario->step_s;
    if (!(at > 0)) {
        return trace[0];
    }
    if (at >= (double)(world->count - 1)) {
        return trace[world->count - 1];
    }
    const size_t i = (size_t)at;
    return trace[i] + (at - (double)i) * (trace[i + 1] - trace[i]);
}

/* 0 to 1 without corners: 3 x2 - 2 x3. */
static double smooth(double x)
{
    return x <= 0 ? 0 : x >= 1 ? 1 : x * x * (3 - 2 * x);
}

static double touches(const struct sim_press *press, double time_s)
{
    for (long i = 1; i <= press->profile->stabs; i++) {
        const double from = press->from_s - (double)i * TOUCH_EVERY_S;
        if (time_s > from && time_s < from + TOUCH_S) {
            const double half = TOUCH_S / 2;
            return TOUCH_KPA * smooth(time_s < from + half
                                          ? (time_s - from) / half
                                          : (from + TOUCH_S - time_s) / half);
        }
    }
    return 0;
}

static double pressed(const struct sim_press *press, double time_s)
{
    if (time_s >= press->hold_to_s) {
        const double fall = press->to_s - press->hold_to_s;
        return press->profile->pressure_kpa *
               (1 - smooth((time_s - press->hold_to_s) / fall));
    }
    if (time_s > press->from_s) {
        const double rise = press->hold_from_s - press->from_s;
        return press->profile->pressure_kpa *
               smooth((time_s - press->from_s) / rise);
    }
    return touches(press, time_s);
}

double bl_sim_pedal_kpa(const struct sim_world *world, double time_s)
{
    for (size_t i = 0; i < world->presses; i++) {
        if (time_s < world->press[i].end_s) {
            return pressed(&world->press[i], time_s);
        }
    }
    return 0;
}

bool bl_sim_pedal_touched(const struct sim_world *world, double time_s)
{
    return bl_sim_pedal_kpa(world, time_s) > 3;
}

double bl_sim_unit_voltage(const struct sim_world *world, size_t unit,
                           double time_s)
{
    const struct bl_scenario *s = world->scenario;
    if (!s->run[world->run].power) {
        return 0;
    }
    const double low = bl_sim_amount(s, world->run, unit, FAULT_VOLTAGE_LOW, 0);
    return s->unit[unit].voltage -
           (bl_sim_pedal_touched(world, time_s) ? low : 0);
}

static void lay_presses(struct sim_world *world)
{
    const struct bl_scenario *s = world->scenario;
    const struct sim_run *run = &s->run[world->run];
    struct bl_random random;
    double at = s->first_s;
    bl_sim_random(&random, s, world->run, STREAM_PEDAL, 0);
    for (size_t i = 0; i < run->profiles; i++) {
        struct sim_press *press = &world->press[i];
        const struct sim_profile *profile = &s->profile[run->profile[i]];
        press->profile = profile;
        /* Nobody presses by the clock: up to 0.3 s later each time. */
        press->from_s = at + 0.3 * bl_random_uniform(&random) +
                        (double)profile->stabs * TOUCH_EVERY_S;
        /* No foot is equally quick twice. */
        const double rise_s =
            profile->rise_s +
            profile->rise_spread_s * (2 * bl_random_uniform(&random) - 1);
        press->hold_from_s = press->from_s + (rise_s > 0.001 ? rise_s : 0.001);
        press->hold_to_s = press->hold_from_s + profile->hold_s;
        press->to_s = press->hold_to_s + profile->fall_s;
        press->end_s = press->to_s + profile->pause_s;
        at = press->end_s;
    }
    world->duration_s = at;
}

static enum bl_status make_traces(struct sim_world *world,
                                  struct bl_error *error)
{
    const size_t n = world->count;
    world->treadle = bl_alloc(n, sizeof(double));
    bool good = world->treadle != NULL;
    for (size_t u = 0; u < world->scenario->units; u++) {
        struct sim_unit_traces *t = &world->unit[u];
        t->control = bl_alloc(n, sizeof(double));
        t->control_out = bl_alloc(n, sizeof(double));
        t->output = bl_alloc(n, sizeof(double));
        t->reservoir = bl_alloc(n, sizeof(double));
        t->demand = bl_alloc(n, sizeof(double));
        good = good && t->control != NULL && t->control_out != NULL &&
               t->output != NULL && t->reservoir != NULL && t->demand != NULL;
    }
    return good ? BL_OK : bl_fail_memory(error);
}

enum bl_status bl_sim_plan(struct sim_world *world, struct bl_error *error)
{
    const struct bl_scenario *s = world->scenario;
    const struct sim_run *run = &s->run[world->run];
    world->press = bl_alloc(run->profiles, sizeof(*world->press));
    world->unit = bl_alloc(s->units, sizeof(*world->unit));
    world->bus = bl_alloc(s->units + 1, sizeof(*world->bus));
    if (world->press == NULL || world->unit == NULL || world->bus == NULL) {
        return bl_fail_memory(error);
    }
    world->presses = run->profiles;
    lay_presses(world);
    const double count = world->duration_s / s->step_s + 2;
    if (count > BL_LIMIT_SIMULATED_STEPS) {
        return bl_fail(error, BL_LIMIT, s->source,
                       "run %s takes %.0f steps, at most %u are allowed",
                       run->name, count, BL_LIMIT_SIMULATED_STEPS);
    }
    world->count = (size_t)count;
    enum bl_status status = make_traces(world, error);
    for (size_t i = 0; status == BL_OK && i < world->count; i++) {
        const double kpa =
            bl_sim_pedal_kpa(world, (double)i * s->step_s - s->treadle_delay_s);
        world->treadle[i] = kpa < s->supply_kpa ? kpa : s->supply_kpa;
    }
    return status;
}

void bl_sim_world_finish(struct sim_world *world)
{
    for (size_t u = 0; world->unit != NULL && u < world->scenario->units; u++) {
        bl_free(world->unit[u].control);
        bl_free(world->unit[u].control_out);
        bl_free(world->unit[u].output);
        bl_free(world->unit[u].reservoir);
        bl_free(world->unit[u].demand);
    }
    bl_free(world->treadle);
    bl_free(world->unit);
    bl_free(world->press);
    bl_free(world->bus);
    bl_free(world->frame);
}
