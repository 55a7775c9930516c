/* SPDX-License-Identifier: MIT */
/*
 * A small trial with one measured run, made by hand: two units, one that
 * answers and one that does not, and figures of round numbers. Every
 * expectation of the report tests follows from the numbers written here.
 */
#ifndef BRAKELAG_TESTS_UNIT_REPORT_SAMPLE_H
#define BRAKELAG_TESTS_UNIT_REPORT_SAMPLE_H

#include "brakelag/report.h"
#include "report/result.h"

#include <math.h>
#include <string.h>

struct sample {
    struct bl_trial trial;
    struct bl_trial_unit unit[3];
    struct bl_trial_input output[3];
    struct bl_trial_run run[2];
    struct bl_trial_recording recording[2];
    double level[1], speed[1];
    struct bl_trial_pair record[1];
    struct bl_run_data data;
    struct bl_loaded_recording loaded[2];
    struct bl_loaded_file file[3];
    char bus[2][64];
    struct bl_run_clocks clocks;
    struct bl_clock_tie tie[2];
    struct bl_run_lag lag;
    struct bl_application application[1];
    struct bl_unit_lag unit_lag[3];
    struct bl_figure levels[3];
    struct bl_summary summary[2];
};

static inline struct bl_figure sample_known(double s, double u_s)
{
    struct bl_figure figure = {.known = true, .s = s, .u_s = u_s};
    figure.part.crossing = u_s;
    figure.part.gain = NAN; /* the channel does not state it */
    figure.part.zero = NAN;
    return figure;
}

static inline struct bl_figure sample_missing(enum bl_reason reason)
{
    struct bl_figure figure = {.reason = reason};
    return figure;
}

static inline struct bl_level sample_level(double value, double u)
{
    struct bl_level level = {true, BL_REASON_NONE, value, u,
                             BL_QUANTITY_PRESSURE};
    return level;
}

static inline void sample_unit(struct bl_unit_lag *lag, size_t unit,
                               double response_s)
{
    const struct bl_level none = {.reason = BL_REASON_NO_CHANNEL,
                                  .quantity = BL_QUANTITY_PRESSURE};
    lag->unit = unit;
    lag->output = 0;
    lag->responded = BL_YES;
    lag->rest = sample_level(0.5, 0.25);
    lag->hold = sample_level(650, 1.5);
    lag->hold_from = BL_HOLD_SETTLED;
    lag->peak = sample_level(655, 2);
    lag->control_peak = none;
    lag->figure[BL_FIGURE_DEMAND_ARRIVAL] =
        sample_missing(BL_REASON_NO_CHANNEL);
    lag->figure[BL_FIGURE_RISE_START] =
        sample_known(response_s - 0.0625, 0.004);
    lag->figure[BL_FIGURE_RESPONSE] = sample_known(response_s, 0.002);
    lag->figure[BL_FIGURE_APPLY_10] = sample_known(response_s + 0.125, 0.002);
    lag->figure[BL_FIGURE_APPLY_75] = sample_known(response_s + 0.25, 0.002);
    lag->figure[BL_FIGURE_APPLY_90] = sample_known(response_s + 0.375, 0.002);
    lag->figure[BL_FIGURE_RELEASE_START] = sample_known(0.25, 0.002);
    lag->figure[BL_FIGURE_RELEASE_10] = sample_known(0.5, 0.002);
    lag->figure[BL_FIGURE_RELEASE_END] = sample_known(0.75, 0.002);
    lag->figure[BL_FIGURE_STAGGER] = sample_known(0, 0);
}

static inline void sample_silent(struct bl_unit_lag *lag, size_t unit)
{
    const struct bl_figure none = sample_missing(BL_REASON_DID_NOT_RESPOND);
    sample_unit(lag, unit, 0);
    lag->responded = BL_NO;
    lag->hold_from = BL_HOLD_NONE;
    lag->hold.known = false;
    lag->hold.reason = BL_REASON_DID_NOT_RESPOND;
    lag->peak = sample_level(3, 1);
    lag->control_peak = sample_level(640, 2);
    lag->figure[BL_FIGURE_RISE_START] = lag->figure[BL_FIGURE_RESPONSE] =
        lag->figure[BL_FIGURE_APPLY_10] = lag->figure[BL_FIGURE_APPLY_75] =
            lag->figure[BL_FIGURE_APPLY_90] = none;
    lag->figure[BL_FIGURE_RELEASE_START] = lag->figure[BL_FIGURE_RELEASE_10] =
        lag->figure[BL_FIGURE_RELEASE_END] = none;
    lag->figure[BL_FIGURE_STAGGER] = none;
}

static inline void sample_trial(struct sample *s)
{
    static char names[3][32] = {"prime mover", "J\xE4rn, \"A\"", "bin trailer"};
    for (int i = 0; i < 3; i++) {
        s->output[i] = (struct bl_trial_input){
            .kind = BL_INPUT_CHANNEL, .text = (char *)"out", .channel = 0};
        s->unit[i] = (struct bl_trial_unit){.combination = 'A',
                                            .number = i,
                                            .name = names[i],
                                            .address = i == 0 ? 0x20 : -1,
                                            .output = &s->output[i],
                                            .outputs = 1};
    }
    s->run[0] = (struct bl_trial_run){.name = (char *)"P1",
                                      .condition = (char *)"powered",
                                      .power = BL_STATED_ON,
                                      .control_air = BL_AIR_OPEN};
    s->run[1] = (struct bl_trial_run){.name = (char *)"U1"};
    s->recording[0] = (struct bl_trial_recording){.name = (char *)"p1.pcap",
                                                  .kind = BL_RECORDING_CAPTURE};
    s->recording[1] = (struct bl_trial_recording){.name = (char *)"p1.csv",
                                                  .kind = BL_RECORDING_LOG};
    s->level[0] = 65;
    s->speed[0] = 80;
    s->record[0] = (struct bl_trial_pair){(char *)"place", (char *)"yard", 9};
    s->trial = (struct bl_trial){.path = (char *)"trial.ini",
                                 .name = (char *)"Yard trial",
                                 .response_at_kpa = 20,
                                 .brakes_at_kpa = 35,
                                 .level_kpa = s->level,
                                 .levels = 1,
                                 .speed_kmh = s->speed,
                                 .speeds = 1,
                                 .unit = s->unit,
                                 .units = 3,
                                 .run = s->run,
                                 .runs = 2,
                                 .recording = s->recording,
                                 .recordings = 2,
                                 .record = s->record,
                                 .records = 1};
    memset(s->trial.sha256, 'a', 64);
}

static inline void sample_recordings(struct sample *s)
{
    s->file[0] = (struct bl_loaded_file){.path = "p1.pcap"};
    s->file[1] = (struct bl_loaded_file){.path = "p1.csv"};
    s->file[2] = (struct bl_loaded_file){.path = "p1-more.csv"};
    for (int i = 0; i < 3; i++) {
        memset(s->file[i].stored.sha256, 'b' + i, 64);
        s->file[i].stored.bytes = 1000 + (unsigned)i;
    }
    memcpy(s->bus[0], "can0", 5);
    s->loaded[0] = (struct bl_loaded_recording){.recording = 0,
                                                .kind = BL_RECORDING_CAPTURE,
                                                .file = &s->file[0],
                                                .files = 1,
                                                .frames = 4648,
                                                .bus = s->bus,
                                                .buses = 2};
    s->loaded[1] = (struct bl_loaded_recording){.recording = 1,
                                                .kind = BL_RECORDING_LOG,
                                                .file = &s->file[1],
                                                .files = 2,
                                                .rows = 12000,
                                                .status = BL_FORMAT,
                                                .failure = "p1-more.csv:7: x"};
    s->data = (struct bl_run_data){.recording = s->loaded, .recordings = 2};
    s->tie[0] = (struct bl_clock_tie){.method = "pulse",
                                      .claim = BL_CLAIM_ABSOLUTE,
                                      .offset_s = 1.25,
                                      .u_offset_s = 0.0005,
                                      .drift_ppm = 37,
                                      .u_drift_ppm = 1,
                                      .pairs = 12,
                                      .outliers = 1,
                                      .residual_s = 0.001};
    s->tie[1] =
        (struct bl_clock_tie){.method = "own", .claim = BL_CLAIM_AMBIGUOUS};
    s->clocks = (struct bl_run_clocks){.tie = s->tie, .ties = 2};
}

static inline void sample_lag(struct sample *s)
{
    sample_unit(&s->unit_lag[0], 0, 0.5);
    s->unit_lag[0].flags = BL_FLAG_NOT_SETTLED;
    sample_unit(&s->unit_lag[1], 1, 0.25);
    sample_silent(&s->unit_lag[2], 2);
    for (int i = 0; i < 3; i++) {
        s->levels[i] = i < 2 ? sample_known(0.375, 0.002)
                             : sample_missing(BL_REASON_NOT_REACHED);
        s->unit_lag[i].level = &s->levels[i];
    }
    s->application[0] =
        (struct bl_application){.number = 1,
                                .combination = 'A',
                                .kind = BL_KIND_FULL,
                                .shape = BL_SHAPE_STEP,
                                .command_apply = sample_known(12.5, 0.001),
                                .command_release = sample_known(20.5, 0.001),
                                .command_rest = sample_level(0, 1),
                                .command_hold = sample_level(700, 2),
                                .command_hold_from = BL_HOLD_SETTLED,
                                .unit = s->unit_lag,
                                .units = 3,
                                .stagger_from = 1};
    s->application[0].spread = sample_missing(BL_REASON_NOT_ALL_RESPONDED);
    for (int i = 0; i < 2; i++) {
        s->summary[i] = (struct bl_summary){.unit = (size_t)i,
                                            .kind = BL_KIND_FULL,
                                            .shape = BL_SHAPE_STEP,
                                            .figure = BL_FIGURE_RESPONSE,
                                            .n = 1,
                                            .median_s = i == 0 ? 0.5 : 0.25,
                                            .low_s = i == 0 ? 0.5 : 0.25,
                                            .high_s = i == 0 ? 0.5 : 0.25,
                                            .u_s = 0.001};
    }
    /* A count of nanoseconds that no double holds. */
    s->lag = (struct bl_run_lag){.t0_ns = INT64_C(1701364099986950001),
                                 .application = s->application,
                                 .applications = 1,
                                 .summary = s->summary,
                                 .summaries = 2};
}

static inline void sample_make(struct sample *s)
{
    memset(s, 0, sizeof(*s));
    sample_trial(s);
    sample_recordings(s);
    sample_lag(s);
}

/* The whole result: one measured run, one that failed. */
static inline enum bl_status
sample_result(struct bl_result **out, struct sample *s, struct bl_error *error)
{
    struct bl_error why;
    bl_error_clear(&why);
    (void)bl_fail(&why, BL_NODATA, "u1.csv", "no command was found");
    enum bl_status status = bl_result_create(out, &s->trial, error);
    if (status == BL_OK) {
        status = bl_result_add_run(*out, &s->trial,
                                   &(const struct bl_result_run){
                                       0, &s->data, &s->clocks, &s->lag, NULL},
                                   error);
    }
    if (status == BL_OK) {
        status = bl_result_add_run(
            *out, &s->trial,
            &(const struct bl_result_run){1, NULL, NULL, NULL, &why}, error);
    }
    return status;
}

#endif
