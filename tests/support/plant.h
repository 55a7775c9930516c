/* SPDX-License-Identifier: MIT */
/*
 * A second plant for fault trials. It shares nothing with the library's own
 * physics, prediction and simulation: every unit is a dead time, a first-order
 * lag and a shelf (crack pressure), its noise is a linear congruential
 * generator summed four times. Nothing here is a model of a certain valve;
 * "delay + first order" is what published full-scale timing reports fit.
 */
#ifndef BRAKELAG_TESTS_SUPPORT_PLANT_H
#define BRAKELAG_TESTS_SUPPORT_PLANT_H

#include "testing.h"

#include "brakelag/brakelag.h"

enum {
    PLANT_UNITS = 3, /* 0 tows; 1 and 2 are followed */
    PLANT_RUNS = 2,  /* before and now */
    PLANT_APPLICATIONS = 4,
    PLANT_CHANNELS = 10,
    PLANT_RATE = 200
};

/* Channels in their order. */
enum {
    AT_PEDAL,
    AT_OUT0,
    AT_CONTROL1,
    AT_OUT1,
    AT_CONTROL2,
    AT_OUT2,
    AT_RES1,
    AT_RES2,
    AT_VOLT1,
    AT_VOLT2
};

/* What may be wrong with a unit, all zero when sound. */
struct plant_fault {
    double line_dead_s;    /* control arrives later */
    double line_release_s; /* control leaves later */
    double line_loss_kpa;
    double dead_s;       /* output begins later */
    double fill_factor;  /* more of the time constant, apply */
    double release_s;    /* output begins to fall later */
    double fall_factor;  /* more of the time constant, release */
    double lost_kpa;     /* output lacks */
    double leak_kpa_s;   /* output falls while held */
    bool none;           /* no output at all */
    double stays_kpa;    /* never quite vents after the first application */
    double zero_kpa;     /* the transducer's zero */
    double sag_kpa;      /* reservoir, per application */
    double volts;        /* supply drops by, under load */
    double stray_kpa;    /* output without command, between applications */
    double scale;        /* output written in another unit: factor */
    double clip_kpa;     /* output clipped there */
    double absolute_kpa; /* output is absolute */
    bool dead;           /* transducer dead */
    int stairs;          /* every so many samples only */
    bool exchanged;      /* outputs 1 and 2 exchanged */
    double early_s;      /* output stamped too early */
    double pedal_s;      /* pedal slower by */
};

struct plant {
    struct bl_trial trial;
    struct bl_trial_unit unit[PLANT_UNITS];
    struct bl_trial_input output[PLANT_UNITS];
    struct bl_trial_channel channel[PLANT_CHANNELS];
    struct bl_trial_recording recording[PLANT_RUNS];
    struct bl_trial_run run[PLANT_RUNS];
    struct bl_loaded_recording loaded[PLANT_RUNS];
    struct bl_channel_series series[PLANT_RUNS][PLANT_CHANNELS];
    struct bl_run_data data[PLANT_RUNS];
    struct bl_run_clocks clocks[PLANT_RUNS];
    struct bl_clock_tie tie[PLANT_RUNS];
    struct bl_run_lag *lag[PLANT_RUNS];
    int64_t *time_ns;
    float *value[PLANT_RUNS][PLANT_CHANNELS];
    size_t rows, part_start[1];
    uint32_t random;
};

static inline double plant_uniform(struct plant *p)
{
    p->random = p->random * 1664525u + 1013904223u;
    return (double)(p->random >> 8) / 16777216.0;
}

static inline double plant_normal(struct plant *p)
{
    double sum = -2;
    for (int i = 0; i < 4; i++) {
        sum += plant_uniform(p);
    }
    return sum * 1.7320508; /* variance of four uniforms: a third */
}

/* A first-order lag behind a dead time, with time constants of its own for
   both ways: what the state is after one sample. */
static inline double plant_step(double state, double input, double up_s,
                                double down_s)
{
    const double tau = input > state ? up_s : down_s;
    return state + (input - state) / (tau * PLANT_RATE + 1);
}

struct plant_state {
    double control[PLANT_UNITS], output[PLANT_UNITS], leaked[PLANT_UNITS];
    double *past_control[PLANT_UNITS], *past_pedal;
};

/* The pedal: every 10 s, held for 3 s, up in 0.1 s and down in 0.1 s. */
static inline double plant_pedal(double s, double hold_kpa, double rise_s)
{
    const double in = fmod(s, 10) - 4;
    if (in < 0 || in > 3.1) {
        return 0;
    }
    if (in < rise_s) {
        return hold_kpa * in / rise_s;
    }
    return in > 3 ? hold_kpa * (3.1 - in) / 0.1 : hold_kpa;
}

static inline double plant_past(const double *past, size_t row, double delay_s)
{
    const size_t back = (size_t)(delay_s * PLANT_RATE + 0.5);
    return row < back ? 0 : past[row - back];
}

static inline double plant_scatter(struct plant *p)
{
    return 0.002 * plant_normal(p);
}

static const int plant_out_at[] = {AT_OUT0, AT_OUT1, AT_OUT2};

/* What the transducers make of it. */
static inline void plant_record(struct plant *p, size_t run,
                                const struct plant_fault *fault,
                                const double *pedal, double *const *control,
                                double *const *output)
{
    for (size_t i = 0; i < p->rows; i++) {
        float **v = p->value[run];
        const double in = fmod((double)i / PLANT_RATE, 10);
        v[AT_PEDAL][i] = (float)(pedal[i] + 0.4 * plant_normal(p));
        v[AT_CONTROL1][i] = (float)(control[1][i] + 0.4 * plant_normal(p));
        v[AT_CONTROL2][i] = (float)(control[2][i] + 0.4 * plant_normal(p));
        for (size_t u = 0; u < PLANT_UNITS; u++) {
            const struct plant_fault *f = &fault[u];
            const size_t ahead = (size_t)(f->early_s * PLANT_RATE);
            const size_t from = i + ahead < p->rows ? i + ahead : p->rows - 1;
            double o = output[u][from] + 0.4 * plant_normal(p) + f->zero_kpa +
                       f->absolute_kpa;
            o *= f->scale > 0 ? f->scale : 1;
            o = f->clip_kpa > 0 ? fmin(o, f->clip_kpa) : o;
            o = f->dead ? 3.25 : o;
            v[plant_out_at[u]][i] =
                f->stairs > 0 && i % (size_t)f->stairs != 0 && i > 0
                    ? v[plant_out_at[u]][i - 1]
                    : (float)o;
        }
        for (size_t u = 1; u < PLANT_UNITS; u++) {
            const struct plant_fault *f = &fault[u];
            const double past = floor((double)i / PLANT_RATE / 10);
            v[u == 1 ? AT_RES1 : AT_RES2][i] =
                (float)(800 - f->sag_kpa * (past + (in > 4.2)) +
                        0.4 * plant_normal(p));
            v[u == 1 ? AT_VOLT1 : AT_VOLT2][i] =
                (float)(24 - (in > 4 && in < 7 ? f->volts : 0) +
                        0.05 * plant_normal(p));
        }
        if (fault[1].exchanged || fault[2].exchanged) {
            const float swap = v[AT_OUT1][i];
            v[AT_OUT1][i] = v[AT_OUT2][i];
            v[AT_OUT2][i] = swap;
        }
    }
}

/* One run; `fault` holds one entry per unit, NULL for a sound one. */
static inline void plant_run(struct plant *p, size_t run,
                             const struct plant_fault *fault, double hold_kpa)
{
    double *pedal = calloc(p->rows, sizeof(*pedal));
    double *control[PLANT_UNITS];
    double *output[PLANT_UNITS];
    static const double own_dead_s[] = {0.03, 0.05, 0.05};
    static const double line_s[] = {0, 0.06, 0.09};
    double pedal_s = 0.1;
    for (size_t u = 0; u < PLANT_UNITS; u++) {
        pedal_s += fault[u].pedal_s;
    }
    for (size_t i = 0; i < p->rows; i++) {
        pedal[i] = plant_pedal((double)i / PLANT_RATE, hold_kpa, pedal_s);
    }
    for (size_t u = 0; u < PLANT_UNITS; u++) {
        const struct plant_fault *f = &fault[u];
        control[u] = calloc(p->rows, sizeof(double));
        output[u] = calloc(p->rows, sizeof(double));
        const double *front = u == 0 ? pedal : control[u - 1];
        double c = 0;
        double o = 0;
        double leaked = 0;
        double jitter = 0;
        for (size_t i = 0; i < p->rows; i++) {
            const double s = (double)i / PLANT_RATE;
            if (i % (10 * PLANT_RATE) == 0) {
                jitter = plant_scatter(p);
            }
            const bool rising = fmod(s, 10) < 6.5;
            double in = plant_past(
                front, i,
                line_s[u] + (rising ? f->line_dead_s : f->line_release_s));
            in = fmax(0, in - (in > 100 ? f->line_loss_kpa : 0));
            c = u == 0 ? pedal[i] : plant_step(c, in, 0.03, 0.04);
            control[u][i] = c;
            double want = plant_past(control[u], i,
                                     own_dead_s[u] + jitter +
                                         (rising ? f->dead_s : f->release_s));
            want = want > 20 ? fmax(0, want - 5 - f->lost_kpa) : 0;
            leaked = fmod(s, 10) < 7 && o > 100
                         ? leaked + f->leak_kpa_s / PLANT_RATE
                         : 0;
            const double stray = fmod(s, 10) > 1 && fmod(s, 10) < 1.6 && s > 10
                                     ? f->stray_kpa
                                     : 0;
            o = plant_step(o, f->none ? 0 : fmax(want, stray),
                           0.08 * (1 + f->fill_factor),
                           0.12 * (1 + f->fall_factor));
            output[u][i] = fmax(o - leaked, s > 8 ? f->stays_kpa : 0);
        }
    }
    plant_record(p, run, fault, pedal, control, output);
    for (size_t u = 0; u < PLANT_UNITS; u++) {
        free(control[u]);
        free(output[u]);
        struct bl_samples *s = &p->series[run][plant_out_at[u]].samples;
        /* What loading says of repeated samples. */
        s->stair_steps = fault[u].stairs > 0;
        s->stair_ns = fault[u].stairs * (int64_t)1000000000 / PLANT_RATE;
    }
    free(pedal);
}

static inline struct bl_trial_input plant_input(long channel)
{
    return (struct bl_trial_input){.kind = BL_INPUT_CHANNEL,
                                   .channel = channel};
}

static inline void plant_describe(struct plant *p)
{
    static const enum bl_quantity quantities[] = {
        BL_QUANTITY_PRESSURE, BL_QUANTITY_PRESSURE, BL_QUANTITY_PRESSURE,
        BL_QUANTITY_PRESSURE, BL_QUANTITY_PRESSURE, BL_QUANTITY_PRESSURE,
        BL_QUANTITY_PRESSURE, BL_QUANTITY_PRESSURE, BL_QUANTITY_VOLTAGE,
        BL_QUANTITY_VOLTAGE};
    for (size_t c = 0; c < PLANT_CHANNELS; c++) {
        struct bl_trial_channel *is = &p->channel[c];
        *is = (struct bl_trial_channel){.name = (char *)"channel",
                                        .quantity = quantities[c]};
        is->scale = is->zero = is->accuracy_fraction = NAN;
        is->accuracy_value = is->u_zero = is->u_gain_fraction = NAN;
        is->resolution = is->delay_s = is->u_delay_s = NAN;
        is->range_low = is->range_high = is->trips_at_kpa = NAN;
        is->resets_at_kpa = is->on_level = NAN;
    }
    static const long outputs[] = {AT_OUT0, AT_OUT1, AT_OUT2};
    for (size_t u = 0; u < PLANT_UNITS; u++) {
        struct bl_trial_unit *is = &p->unit[u];
        *is = (struct bl_trial_unit){.combination = 'A',
                                     .number = (int)u,
                                     .name = (char *)"unit",
                                     .address = -1,
                                     .load = BL_LOAD_LADEN,
                                     .gain = 1,
                                     .crack_kpa = 5,
                                     .threshold_kpa = 20,
                                     .line_m = u == 0 ? NAN : 15};
        is->bore_mm = is->volume_cm3 = is->chambers_cm3 = NAN;
        is->reservoir_volume_cm3 = is->mass_kg = is->force_kn_per_kpa = NAN;
        p->output[u] = plant_input(outputs[u]);
        is->output = &p->output[u];
        is->outputs = 1;
    }
    p->unit[1].control = plant_input(AT_CONTROL1);
    p->unit[2].control = plant_input(AT_CONTROL2);
    p->unit[1].reservoir = plant_input(AT_RES1);
    p->unit[2].reservoir = plant_input(AT_RES2);
    p->unit[1].voltage = plant_input(AT_VOLT1);
    p->unit[2].voltage = plant_input(AT_VOLT2);
    p->unit[0].command = plant_input(AT_PEDAL);
    p->unit[0].command_kind = BL_COMMAND_TREADLE_PRESSURE;
    p->unit[0].command_at_kind = BL_COMMAND_AT_PRESSURE;
    p->unit[0].command_at = 20;
}

static inline void plant_start(struct plant *p, uint32_t seed)
{
    memset(p, 0, sizeof(*p));
    p->random = seed * 2654435761u + 12345u;
    p->rows = (size_t)(PLANT_APPLICATIONS * 10 + 2) * PLANT_RATE;
    p->time_ns = calloc(p->rows, sizeof(*p->time_ns));
    for (size_t i = 0; i < p->rows; i++) {
        p->time_ns[i] = (int64_t)i * (1000000000 / PLANT_RATE);
    }
    plant_describe(p);
    p->trial.path = (char *)"plant.ini";
    p->trial.unit = p->unit;
    p->trial.units = PLANT_UNITS;
    p->trial.channel = p->channel;
    p->trial.channels = PLANT_CHANNELS;
    p->trial.recording = p->recording;
    p->trial.recordings = PLANT_RUNS;
    p->trial.run = p->run;
    p->trial.runs = PLANT_RUNS;
    p->trial.response_at_kpa = 20;
    p->trial.brakes_at_kpa = 35;
    p->trial.control_line = BL_LINE_THROUGH;
    static const char *const names[] = {"before", "now"};
    for (size_t r = 0; r < PLANT_RUNS; r++) {
        p->run[r].name = (char *)(uintptr_t)names[r];
        p->run[r].condition = (char *)"unpowered";
        /* The voltage is on record; only the data plug is out. */
        p->run[r].power = BL_STATED_UNKNOWN;
        p->recording[r].kind = BL_RECORDING_LOG;
        p->recording[r].run = r;
        p->loaded[r].recording = r;
        p->data[r] = (struct bl_run_data){.run = r,
                                          .recording = &p->loaded[r],
                                          .recordings = 1,
                                          .channel = p->series[r],
                                          .channels = PLANT_CHANNELS};
        p->tie[r] =
            (struct bl_clock_tie){.method = "own", .claim = BL_CLAIM_ABSOLUTE};
        p->clocks[r] = (struct bl_run_clocks){.tie = &p->tie[r], .ties = 1};
        for (size_t c = 0; c < PLANT_CHANNELS; c++) {
            p->value[r][c] = calloc(p->rows, sizeof(float));
            p->series[r][c].channel = c;
            p->series[r][c].samples =
                (struct bl_samples){.time_ns = p->time_ns,
                                    .value = p->value[r][c],
                                    .count = p->rows,
                                    .interval_ns = 1000000000 / PLANT_RATE,
                                    .part_start = p->part_start,
                                    .parts = 1};
        }
    }
}

static inline void plant_measure(struct plant *p)
{
    for (size_t r = 0; r < PLANT_RUNS; r++) {
        struct bl_error error;
        bl_error_clear(&error);
        if (bl_measure_run(&p->lag[r], &p->trial, &p->data[r], &p->clocks[r],
                           &error) != BL_OK) {
            fail_msg("%s", error.message);
        }
    }
}

static inline void plant_finish(struct plant *p)
{
    for (size_t r = 0; r < PLANT_RUNS; r++) {
        bl_run_lag_destroy(p->lag[r]);
        for (size_t c = 0; c < PLANT_CHANNELS; c++) {
            free(p->value[r][c]);
        }
    }
    free(p->time_ns);
}

#endif
