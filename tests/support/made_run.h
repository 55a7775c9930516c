/* SPDX-License-Identifier: MIT */
/*
 * A small run made by hand: traces are straight lines between corners, so that
 * every crossing can be worked out on paper. Nothing of the library is used to
 * make it.
 */
#ifndef BRAKELAG_TESTS_SUPPORT_MADE_RUN_H
#define BRAKELAG_TESTS_SUPPORT_MADE_RUN_H

#include "testing.h"

#include "brakelag/brakelag.h"

enum {
    MADE_UNITS = 4,
    MADE_CHANNELS = 8,
    MADE_SERIES = 4,
    MADE_SEGMENTS = 2000
};

struct corner {
    double s, value;
};

struct made_run {
    struct bl_trial trial;
    struct bl_trial_unit unit[MADE_UNITS];
    struct bl_trial_input output[MADE_UNITS][2];
    struct bl_trial_channel channel[MADE_CHANNELS];
    struct bl_trial_recording recording[2];
    struct bl_trial_run run;
    struct bl_run_data data;
    struct bl_loaded_recording loaded[2];
    struct bl_channel_series series[MADE_CHANNELS];
    struct bl_bus_series bus[MADE_SERIES];
    struct bl_message message;
    struct bl_signal signal[MADE_SERIES];
    struct bl_segment *segment[MADE_SERIES];
    struct bl_run_clocks clocks;
    struct bl_clock_tie tie[2];
    int64_t *time_ns;
    float *value[MADE_CHANNELS];
    size_t rows;
    size_t part_start[2];
};

static inline double made_line(const struct corner *c, size_t corners, double s)
{
    if (s <= c[0].s) {
        return c[0].value;
    }
    for (size_t i = 1; i < corners; i++) {
        if (s <= c[i].s) {
            return c[i - 1].value + (c[i].value - c[i - 1].value) *
                                        (s - c[i - 1].s) /
                                        (c[i].s - c[i - 1].s);
        }
    }
    return c[corners - 1].value;
}

/* An empty run of `seconds` at `rate_hz`: one log, unit 0 commands through
   channel 0 at 20 kPa. */
static inline void made_start(struct made_run *m, double seconds,
                              double rate_hz)
{
    memset(m, 0, sizeof(*m));
    m->rows = (size_t)(seconds * rate_hz);
    m->time_ns = calloc(m->rows, sizeof(*m->time_ns));
    for (size_t i = 0; i < m->rows; i++) {
        m->time_ns[i] = (int64_t)llround((double)i / rate_hz * 1e9);
    }
    m->recording[0].kind = BL_RECORDING_LOG;
    m->recording[1].kind = BL_RECORDING_CAPTURE;
    m->run.name = (char *)"made";
    m->trial.path = (char *)"made.ini";
    m->trial.unit = m->unit;
    m->trial.channel = m->channel;
    m->trial.recording = m->recording;
    m->trial.recordings = 2;
    m->trial.run = &m->run;
    m->trial.runs = 1;
    m->trial.response_at_kpa = 20;
    m->trial.brakes_at_kpa = 35;
    m->data.recording = m->loaded;
    m->data.recordings = 2;
    m->loaded[0].kind = BL_RECORDING_LOG;
    m->loaded[1].kind = BL_RECORDING_CAPTURE;
    m->loaded[1].recording = 1;
    m->data.channel = m->series;
    m->data.series = m->bus;
    m->clocks.tie = m->tie;
    m->clocks.ties = 2;
    for (size_t i = 0; i < 2; i++) {
        m->tie[i] = (struct bl_clock_tie){.method = "shared",
                                          .claim = BL_CLAIM_ABSOLUTE};
    }
}

static inline void made_finish(struct made_run *m)
{
    free(m->time_ns);
    for (size_t i = 0; i < MADE_CHANNELS; i++) {
        free(m->value[i]);
    }
    for (size_t i = 0; i < MADE_SERIES; i++) {
        free(m->segment[i]);
    }
}

/* A channel that follows straight lines; returns its index. */
static inline long made_channel(struct made_run *m, enum bl_quantity quantity,
                                const struct corner *corners, size_t count)
{
    const size_t c = m->trial.channels++;
    m->data.channels = m->trial.channels;
    m->channel[c] = (struct bl_trial_channel){.name = (char *)"channel",
                                              .quantity = quantity,
                                              .scale = NAN,
                                              .zero = NAN,
                                              .accuracy_fraction = NAN,
                                              .accuracy_value = NAN,
                                              .u_zero = NAN,
                                              .u_gain_fraction = NAN,
                                              .resolution = NAN,
                                              .delay_s = NAN,
                                              .u_delay_s = NAN,
                                              .range_low = NAN,
                                              .range_high = NAN,
                                              .trips_at_kpa = NAN,
                                              .resets_at_kpa = NAN,
                                              .on_level = NAN};
    m->value[c] = calloc(m->rows, sizeof(float));
    for (size_t i = 0; i < m->rows; i++) {
        m->value[c][i] =
            (float)made_line(corners, count, (double)m->time_ns[i] * 1e-9);
    }
    m->series[c] = (struct bl_channel_series){.channel = c};
    m->series[c].samples =
        (struct bl_samples){.time_ns = m->time_ns,
                            .value = m->value[c],
                            .count = m->rows,
                            .interval_ns = m->time_ns[1] - m->time_ns[0],
                            .is_switch = quantity == BL_QUANTITY_SWITCH,
                            .part_start = m->part_start,
                            .parts = 1};
    return (long)c;
}

/* An electronic demand in kPa on the second recording: a frame every
   `interval_s`, the first at `first_s`. Each frame is a segment of its own;
   returns its index. */
static inline size_t made_demand(struct made_run *m,
                                 const struct corner *corners, size_t count,
                                 double first_s, double interval_s)
{
    const size_t d = m->data.series_count++;
    const double last_s = (double)m->time_ns[m->rows - 1] * 1e-9;
    m->signal[d] = (struct bl_signal){.message = &m->message,
                                      .name = (char *)"demand",
                                      .unit = (char *)"kPa",
                                      .role = BL_ROLE_SERVICE_DEMAND,
                                      .kind = BL_SIGNAL_NUMBER};
    m->segment[d] = calloc(MADE_SEGMENTS, sizeof(struct bl_segment));
    size_t n = 0;
    for (; n < MADE_SEGMENTS; n++) {
        const double s = first_s + (double)n * interval_s;
        if (s > last_s) {
            break;
        }
        const int64_t ns = (int64_t)llround(s * 1e9);
        m->segment[d][n] =
            (struct bl_segment){.first_ns = ns,
                                .last_ns = ns,
                                .count = 1,
                                .value = made_line(corners, count, s),
                                .state = BL_VALUE_VALID};
    }
    m->bus[d] = (struct bl_bus_series){
        .recording = 1,
        .signal = &m->signal[d],
        .destination = BL_ADDRESS_GLOBAL,
        .steps = {.segment = m->segment[d],
                  .count = n,
                  .frames = n,
                  .interval_ns = (int64_t)llround(interval_s * 1e9),
                  .resolution = 5.0 / 256}};
    return d;
}

/* The next unit, with no, one or two output channels (-1: none). */
static inline struct bl_trial_unit *made_unit(struct made_run *m, long output,
                                              long output_b)
{
    const size_t u = m->trial.units++;
    struct bl_trial_unit *unit = &m->unit[u];
    *unit = (struct bl_trial_unit){.combination = 'A',
                                   .number = (int)u,
                                   .name = (char *)"unit",
                                   .address = -1,
                                   .output = m->output[u]};
    const long wanted[] = {output, output_b};
    for (size_t i = 0; i < 2; i++) {
        if (wanted[i] >= 0) {
            unit->output[unit->outputs++] = (struct bl_trial_input){
                .kind = BL_INPUT_CHANNEL, .channel = wanted[i]};
        }
    }
    return unit;
}

static inline void made_command(struct made_run *m, long channel, double at)
{
    m->unit[0].command =
        (struct bl_trial_input){.kind = BL_INPUT_CHANNEL, .channel = channel};
    m->unit[0].command_kind = BL_COMMAND_TREADLE_PRESSURE;
    m->unit[0].command_at_kind = BL_COMMAND_AT_PRESSURE;
    m->unit[0].command_at = at;
}

/* What is measured on it; the caller destroys it. */
static inline struct bl_run_lag *made_measured(struct made_run *m)
{
    struct bl_error error;
    struct bl_run_lag *lag = NULL;
    const enum bl_status status =
        bl_measure_run(&lag, &m->trial, &m->data, &m->clocks, &error);
    if (status != BL_OK) {
        fail_msg("%s", error.message);
    }
    return lag;
}

#endif
