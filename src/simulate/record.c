/* SPDX-License-Identifier: MIT */
/*
 * The two recorders: each with its own clock; the log through transducers
 * with noise, resolution, zero, gain and delay of their own.
 */
#include "simulate/result.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/alloc.h"
#include "base/limits.h"

#define RUNS_APART_S 1000.0
#define LOG_FROM_S 0.05 /* the log starts a little after the capture */

static int64_t stamp(const struct bl_scenario *s, size_t run, double time_s,
                     double offset_s, double drift_ppm)
{
    const int64_t start = (int64_t)llround(s->start_s * 1e9) +
                          (int64_t)run * (int64_t)(RUNS_APART_S * 1e9);
    return start +
           (int64_t)llround((time_s * (1 + drift_ppm * 1e-6) + offset_s) * 1e9);
}

int64_t bl_sim_log_stamp(const struct bl_scenario *s, size_t run, double time_s)
{
    return stamp(s, run, time_s, s->log_offset_s, s->log_drift_ppm);
}

int64_t bl_sim_capture_stamp(const struct bl_scenario *s, size_t run,
                             double time_s)
{
    return stamp(s, run, time_s, s->capture_offset_s, s->capture_drift_ppm);
}

double bl_sim_log_scale(const struct bl_scenario *s)
{
    return 1 + s->log_drift_ppm * 1e-6;
}

static int in_order(const void *a, const void *b)
{
    const struct sim_trace_frame *x = a;
    const struct sim_trace_frame *y = b;
    if (x->frame.time_ns != y->frame.time_ns) {
        return x->frame.time_ns < y->frame.time_ns ? -1 : 1;
    }
    return x->order < y->order ? -1 : x->order > y->order;
}

static bool in_gap(const struct bl_scenario *s, size_t run, double time_s)
{
    /* The recorders are nobody's: whichever unit it was written for. */
    for (size_t u = 0; u < s->units; u++) {
        const struct sim_fault *gap =
            bl_sim_fault(s, run, u, FAULT_RECORDING_GAP);
        if (gap != NULL && time_s >= gap->at_s &&
            time_s < gap->at_s + gap->for_s) {
            return true;
        }
    }
    return false;
}

/* The recorder writes microseconds. */
static int64_t to_microsecond(int64_t time_ns)
{
    return (time_ns + 500) / 1000 * 1000;
}

enum bl_status bl_sim_record_bus(struct sim_result *result,
                                 struct sim_world *world,
                                 struct bl_error *error)
{
    const struct bl_scenario *s = world->scenario;
    struct bl_simulated_run *shown = &result->shown;
    if (world->frames > 0) {
        qsort(world->frame, world->frames, sizeof(*world->frame), in_order);
    }
    result->frame = bl_alloc(world->frames, sizeof(*result->frame));
    result->bus = bl_alloc(world->buses, sizeof(*result->bus));
    if (result->frame == NULL || result->bus == NULL) {
        return bl_fail_memory(error);
    }
    for (size_t i = 0; i < world->buses; i++) {
        result->bus[i] = world->bus[i];
    }
    double first_s = 0;
    for (size_t i = 0; i < world->frames; i++) {
        const double time_s = (double)world->frame[i].frame.time_ns * 1e-9;
        if (in_gap(s, world->run, time_s)) {
            continue;
        }
        first_s = shown->frames == 0 ? time_s : first_s;
        struct bl_frame *frame = &result->frame[shown->frames++];
        *frame = world->frame[i].frame;
        frame->time_ns =
            to_microsecond(bl_sim_capture_stamp(s, world->run, time_s));
    }
    shown->frame = result->frame;
    shown->bus = result->bus;
    shown->buses = world->buses;
    shown->offset_s =
        s->log_offset_s - s->capture_offset_s +
        (s->log_drift_ppm - s->capture_drift_ppm) * 1e-6 * first_s;
    shown->drift_ppm =
        ((1 + s->log_drift_ppm * 1e-6) / (1 + s->capture_drift_ppm * 1e-6) -
         1) *
        1e6;
    return BL_OK;
}

bool bl_sim_channel(const struct bl_scenario *s, enum sim_channel_kind kind,
                    size_t unit, char name[32])
{
    static const char *const words[CHANNEL_KINDS] = {
        "treadle", "pedal_switch", "control", "output", "res", "volts"};
    const struct sim_unit *u = &s->unit[unit];
    const bool has[CHANNEL_KINDS] = {
        s->has_treadle && unit == 0,   s->has_pedal && unit == 0,
        s->has_control && unit > 0,    u->brakes,
        s->has_reservoir && u->brakes, s->has_voltage && unit > 0};
    if (kind <= CHANNEL_PEDAL) {
        snprintf(name, 32, "%s", words[kind]);
    } else {
        snprintf(name, 32, "%s_%zu", words[kind], unit);
    }
    return has[kind];
}

struct sensor {
    const struct sim_world *world;
    enum sim_channel_kind kind;
    size_t unit, reads; /* whose trace; another unit's when swapped */
    double zero_kpa, gain, delay_s, factor;
    const struct sim_fault *stairs, *stuck, *clipped, *dead;
    struct bl_random noise;
    double noise_kpa, resolution_kpa;
};

static double fault_or(const struct sensor *x, enum fault_code code,
                       double without)
{
    return x->kind == CHANNEL_OUTPUT
               ? bl_sim_amount(x->world->scenario, x->world->run, x->unit, code,
                               without)
               : without;
}

static const struct sim_fault *fault_here(const struct sensor *x,
                                          enum fault_code code)
{
    return x->kind == CHANNEL_OUTPUT
               ? bl_sim_fault(x->world->scenario, x->world->run, x->unit, code)
               : NULL;
}

static size_t swapped_with(const struct sensor *x)
{
    const struct bl_scenario *s = x->world->scenario;
    for (size_t u = 0; x->kind == CHANNEL_OUTPUT && u < s->units; u++) {
        const struct sim_fault *fault =
            bl_sim_fault(s, x->world->run, u, FAULT_CHANNELS_SWAPPED);
        if (fault != NULL && u == x->unit) {
            return (size_t)fault->other;
        }
        if (fault != NULL && (size_t)fault->other == x->unit) {
            return u;
        }
    }
    return x->unit;
}

static void set_sensor(struct sensor *x)
{
    const struct bl_scenario *s = x->world->scenario;
    const size_t slot = x->unit * CHANNEL_KINDS + (size_t)x->kind;
    struct bl_random random;
    /* A sensor is the same in every run: its errors hang on the seed only. */
    bl_sim_random(&random, s, 0, STREAM_SENSOR, slot);
    bl_sim_random(&x->noise, s, x->world->run, STREAM_NOISE, slot);
    x->zero_kpa = s->zero_kpa * bl_random_normal(&random) +
                  fault_or(x, FAULT_ZERO_OFFSET, 0) +
                  fault_or(x, FAULT_GAUGE_ABSOLUTE, 0);
    x->gain = (1 + s->gain_part * bl_random_normal(&random)) *
              fault_or(x, FAULT_GAIN_ERROR, 1);
    x->delay_s = s->delay_s + s->delay_spread_s * bl_random_normal(&random);
    x->delay_s = (x->delay_s > 0 ? x->delay_s : 0) +
                 fault_or(x, FAULT_TRANSDUCER_LATE, 0);
    x->factor = fault_or(x, FAULT_WRONG_UNIT, 1);
    x->stairs = fault_here(x, FAULT_STAIR_STEPS);
    x->stuck = fault_here(x, FAULT_CHANNEL_STUCK);
    x->clipped = fault_here(x, FAULT_CHANNEL_CLIPPED);
    x->dead = fault_here(x, FAULT_CHANNEL_DEAD);
    x->reads = swapped_with(x);
    x->noise_kpa = s->noise_kpa;
    x->resolution_kpa = s->resolution_kpa;
    if (x->kind == CHANNEL_VOLTAGE) { /* volts, fine and quiet */
        x->zero_kpa = 0;
        x->gain = 1;
        x->noise_kpa = 0.02;
        x->resolution_kpa = 0.05;
    }
}

/* What stands at the sensor's port. */
static double at_port(const struct sensor *x, double time_s)
{
    const struct sim_world *world = x->world;
    const struct sim_unit_traces *unit = &world->unit[x->reads];
    if (x->kind == CHANNEL_VOLTAGE) {
        return bl_sim_unit_voltage(world, x->unit, time_s);
    }
    if (x->kind == CHANNEL_TREADLE ||
        world->scenario->run[world->run].reference) {
        return bl_sim_trace(world, world->treadle, time_s);
    }
    const double *trace = x->kind == CHANNEL_CONTROL  ? unit->control
                          : x->kind == CHANNEL_OUTPUT ? unit->output
                                                      : unit->reservoir;
    return bl_sim_trace(world, trace, time_s);
}

static bool is_switch(const struct sensor *x)
{
    const struct bl_scenario *s = x->world->scenario;
    return x->kind == CHANNEL_PEDAL ||
           (x->kind == CHANNEL_OUTPUT && s->unit[x->unit].output_switch);
}

static double reading(struct sensor *x, double time_s)
{
    const struct sim_world *world = x->world;
    if (x->kind == CHANNEL_PEDAL) {
        return bl_sim_pedal_touched(world, time_s);
    }
    double t = time_s - x->delay_s;
    if (x->stairs != NULL) {
        t = floor(t / x->stairs->amount) * x->stairs->amount;
    }
    if (x->stuck != NULL && t > x->stuck->at_s &&
        t < x->stuck->at_s + x->stuck->for_s) {
        t = x->stuck->at_s;
    }
    if (is_switch(x)) {
        return at_port(x, t) >= world->scenario->unit[x->unit].trips_at_kpa;
    }
    double value = at_port(x, t) * x->gain + x->zero_kpa;
    /* Noise does not pass stairs or a stuck converter. */
    const double noise = x->noise_kpa * bl_random_normal(&x->noise);
    value += x->stairs == NULL && x->stuck == NULL ? noise : 0;
    if (x->clipped != NULL && value > x->clipped->amount) {
        value = x->clipped->amount;
    }
    if (x->kind != CHANNEL_VOLTAGE && value > world->scenario->range_kpa) {
        value = world->scenario->range_kpa;
    }
    if (x->dead != NULL) {
        value = x->dead->amount;
    }
    return floor(value / x->resolution_kpa + 0.5) * x->resolution_kpa *
           x->factor;
}

/* Digits that write the resolution out, at most 6. */
static unsigned decimals_for(double resolution)
{
    unsigned digits = 0;
    double scaled = resolution;
    while (digits < 6 && fabs(scaled - floor(scaled + 0.5)) > 1e-6 * scaled) {
        scaled *= 10;
        digits++;
    }
    return digits;
}

static void describe(struct bl_simulated_column *column, const struct sensor *x)
{
    const struct bl_scenario *s = x->world->scenario;
    column->zero_kpa = x->zero_kpa;
    column->gain = x->gain;
    column->delay_s = x->delay_s;
    if (is_switch(x)) {
        column->quantity = BL_QUANTITY_SWITCH;
        column->unit = "";
    } else if (x->kind == CHANNEL_VOLTAGE) {
        column->quantity = BL_QUANTITY_VOLTAGE;
        column->unit = "V";
        column->decimals = decimals_for(x->resolution_kpa);
    } else {
        const struct bl_measurement_unit *unit =
            bl_measurement_unit_find(s->log_unit);
        column->quantity = BL_QUANTITY_PRESSURE;
        column->unit = unit->name;
        column->decimals =
            x->factor == 1 ? decimals_for(x->resolution_kpa / unit->factor) : 3;
    }
}

static enum bl_status record_column(struct sim_result *result, struct sensor *x,
                                    struct bl_simulated_column *column,
                                    struct bl_error *error)
{
    const struct bl_scenario *s = x->world->scenario;
    const size_t rows = result->shown.rows;
    set_sensor(x);
    describe(column, x);
    column->value = bl_alloc(rows, sizeof(*column->value));
    if (column->value == NULL) {
        return bl_fail_memory(error);
    }
    const struct bl_measurement_unit *unit =
        bl_measurement_unit_find(column->unit);
    const double factor = unit == NULL ? 1 : unit->factor;
    double scale = 1;
    for (unsigned i = 0; i < column->decimals; i++) {
        scale *= 10;
    }
    const int64_t zero = bl_sim_log_stamp(s, x->world->run, 0);
    for (size_t i = 0; i < rows; i++) {
        const double time_s =
            (double)(result->row_ns[i] - zero) * 1e-9 / bl_sim_log_scale(s);
        const double value = reading(x, time_s) / factor;
        column->value[i] = floor(value * scale + 0.5) / scale;
    }
    return BL_OK;
}

static enum bl_status lay_rows(struct sim_result *result,
                               const struct sim_world *world,
                               struct bl_error *error)
{
    const struct bl_scenario *s = world->scenario;
    const int64_t interval = (int64_t)llround(1e9 / s->log_hz);
    const double most = world->duration_s * s->log_hz + 2;
    if (most > BL_LIMIT_SIMULATED_STEPS) {
        return bl_fail(error, BL_LIMIT, s->source,
                       "the log takes %.0f rows, at most %u are allowed", most,
                       BL_LIMIT_SIMULATED_STEPS);
    }
    result->row_ns = bl_alloc((size_t)most, sizeof(*result->row_ns));
    if (result->row_ns == NULL) {
        return bl_fail_memory(error);
    }
    int64_t first = bl_sim_log_stamp(s, world->run, LOG_FROM_S);
    first -= first % interval;
    const int64_t zero = bl_sim_log_stamp(s, world->run, 0);
    for (size_t i = 0; i < (size_t)most; i++) {
        const int64_t at = first + (int64_t)i * interval;
        const double time_s = (double)(at - zero) * 1e-9 / bl_sim_log_scale(s);
        if (time_s >= world->duration_s) {
            break;
        }
        if (!in_gap(s, world->run, time_s)) {
            result->row_ns[result->shown.rows++] = at;
        }
    }
    result->shown.row_ns = result->row_ns;
    return BL_OK;
}

enum bl_status bl_sim_record_log(struct sim_result *result,
                                 const struct sim_world *world,
                                 struct bl_error *error)
{
    const struct bl_scenario *s = world->scenario;
    enum bl_status status = lay_rows(result, world, error);
    if (status != BL_OK) {
        return status;
    }
    result->column =
        bl_alloc(s->units * CHANNEL_KINDS, sizeof(*result->column));
    if (result->column == NULL) {
        return bl_fail_memory(error);
    }
    result->shown.column = result->column;
    for (int kind = 0; kind < CHANNEL_KINDS; kind++) {
        for (size_t u = 0; status == BL_OK && u < s->units; u++) {
            struct bl_simulated_column *column =
                &result->column[result->shown.columns];
            struct sensor x = {
                .world = world, .kind = (enum sim_channel_kind)kind, .unit = u};
            if (bl_sim_channel(s, x.kind, u, column->name)) {
                result->shown.columns++;
                status = record_column(result, &x, column, error);
            }
        }
    }
    return status;
}
