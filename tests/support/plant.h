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
    PLANT_CHANNELS = 12,
    PLANT_RATE = 200,
    PLANT_SECONDS = 88 /* room; a course takes less */
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
    AT_VOLT2,
    AT_CONTROL1B,
    AT_CONTROL2B
};

/* What may be wrong with a unit, all zero when sound. */
struct plant_fault {
    double line_dead_s;    /* control arrives later */
    double line_release_s; /* control leaves later */
    double line_loss_kpa;
    double dead_s;        /* output begins later */
    double fill_factor;   /* more of the time constant, apply */
    double release_s;     /* output begins to fall later */
    double fall_factor;   /* more of the time constant, release */
    double lost_kpa;      /* output lacks */
    double leak_kpa_s;    /* output falls while held */
    bool none;            /* no output at all */
    double stays_kpa;     /* never quite vents after the first application */
    double zero_kpa;      /* the transducer's zero */
    double sag_kpa;       /* reservoir, per application */
    double volts;         /* supply drops by, under load */
    double stray_kpa;     /* output without command, between applications */
    double scale;         /* output written in another unit: factor */
    double clip_kpa;      /* output clipped there */
    double absolute_kpa;  /* output is absolute */
    bool dead;            /* transducer dead */
    int stairs;           /* every so many samples only */
    bool exchanged;       /* outputs 1 and 2 exchanged */
    double early_s;       /* output stamped too early */
    double pedal_s;       /* pedal slower by */
    double shelf_kpa;     /* the unit begins to brake later by */
    double b_off_kpa;     /* second transducer reads more, while braking */
    double false_kpa;     /* second transducer shows that between applications,
                             and the unit brakes by it */
    double touch_kpa;     /* control pressed at its coupling alone, between */
    bool follows_air;     /* the powered unit does not use its demand */
    double demand_late_s; /* its demand comes later by */
    double demand_invalid_s; /* it has none for so long, from each application's
                                start; until then it brakes by its air */
    double hunt_kpa;         /* output swings up and down by, twice a second */
    double air_hunt_kpa;     /* control pressure does */
    double noise_kpa;        /* of the output's transducer, more */
};

/* What a run does. */
struct plant_course {
    double hold_kpa, period_s;
    bool stairs;     /* instead: holds of 2 s, 10 kPa apart, to 200 and down */
    bool powered;    /* units follow the demand, 20 ms behind the pedal */
    double foot_kpa; /* a foot that moves up and down by, twice a second */
};
static const struct plant_course plant_full = {.hold_kpa = 650, .period_s = 10};

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
    double *pedal[PLANT_RUNS];
    size_t rows[PLANT_RUNS], part_start[1];
    double shelf_kpa; /* of sound units */
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

/* Applications held for 3 s, up in `rise_s` and down in 0.1 s, from 4 s on. */
static inline double plant_pedal(double s, const struct plant_course *course,
                                 double rise_s)
{
    if (course->stairs) {
        const int step = s < 4 ? 0 : 1 + (int)((s - 4) / 2);
        return 10 * fmax(0, step <= 20 ? step : 40 - step);
    }
    const double in = s < 4 ? -1 : fmod(s - 4, course->period_s);
    if (in < 0 || in > 3.1 || s > 4 + PLANT_APPLICATIONS * course->period_s) {
        return 0;
    }
    if (in < rise_s) {
        return course->hold_kpa * in / rise_s;
    }
    return in > 3 ? course->hold_kpa * (3.1 - in) / 0.1 : course->hold_kpa;
}

static inline size_t plant_rows(const struct plant_course *course)
{
    const double s =
        course->stairs ? 86 : PLANT_APPLICATIONS * course->period_s + 6;
    assert_true(s <= PLANT_SECONDS);
    return (size_t)(s * PLANT_RATE);
}

static inline double plant_hunt(double s, double kpa)
{
    return kpa * sin(2 * 2 * 3.14159265358979 * s);
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

/* Between applications, once the first one is over. */
static inline bool plant_between(double s)
{
    return s > 10 && fmod(s, 10) > 1 && fmod(s, 10) < 1.6;
}

/* One output as its transducer tells it. */
static inline float plant_told(struct plant *p, const struct plant_fault *f,
                               double kpa)
{
    double o = kpa + hypot(0.4, f->noise_kpa) * plant_normal(p) + f->zero_kpa +
               f->absolute_kpa;
    o *= f->scale > 0 ? f->scale : 1;
    o = f->clip_kpa > 0 ? fmin(o, f->clip_kpa) : o;
    return (float)(f->dead ? 3.25 : o);
}

/* What the transducers make of it. */
static inline void plant_record(struct plant *p, size_t run,
                                const struct plant_fault *fault,
                                double *const *control, double *const *output)
{
    static const int control_at[] = {0, AT_CONTROL1, AT_CONTROL2};
    static const int second_at[] = {0, AT_CONTROL1B, AT_CONTROL2B};
    static const int reservoir_at[] = {0, AT_RES1, AT_RES2};
    static const int volts_at[] = {0, AT_VOLT1, AT_VOLT2};
    const size_t rows = p->rows[run];
    float **v = p->value[run];
    for (size_t i = 0; i < rows; i++) {
        const double s = (double)i / PLANT_RATE;
        const bool held = p->pedal[run][i] > 100;
        v[AT_PEDAL][i] = (float)(p->pedal[run][i] + 0.4 * plant_normal(p));
        for (size_t u = 0; u < PLANT_UNITS; u++) {
            const struct plant_fault *f = &fault[u];
            const size_t ahead = (size_t)(f->early_s * PLANT_RATE);
            const size_t from = i + ahead < rows ? i + ahead : rows - 1;
            const float told = plant_told(p, f, output[u][from]);
            v[plant_out_at[u]][i] =
                f->stairs > 0 && i % (size_t)f->stairs != 0 && i > 0
                    ? v[plant_out_at[u]][i - 1]
                    : told;
        }
        for (size_t u = 1; u < PLANT_UNITS; u++) {
            const struct plant_fault *f = &fault[u];
            const double c = control[u][i];
            const double past = floor((s - 0.2) / 10 + 0.6);
            v[control_at[u]][i] = (float)(c + 0.4 * plant_normal(p));
            v[second_at[u]][i] = (float)(c + (c > 100 ? f->b_off_kpa : 0) +
                                         (plant_between(s) ? f->false_kpa : 0) +
                                         0.4 * plant_normal(p));
            v[reservoir_at[u]][i] =
                (float)(800 - f->sag_kpa * past + 0.4 * plant_normal(p));
            v[volts_at[u]][i] =
                (float)(24 - (held ? f->volts : 0) + 0.05 * plant_normal(p));
        }
        if (fault[1].exchanged || fault[2].exchanged) {
            const float swap = v[AT_OUT1][i];
            v[AT_OUT1][i] = v[AT_OUT2][i];
            v[AT_OUT2][i] = swap;
        }
    }
}

/* Pressures of a unit by row: in front of it, at its coupling, as that is
   touched there, at its brakes. */
struct plant_air {
    const double *front;
    double *control, *touched, *output;
};

/* Which application is on (0: none). */
static inline int plant_application(const struct plant *p, double s)
{
    const size_t i = (size_t)(s * PLANT_RATE);
    return i < p->rows[1] && p->pedal[1][i] > 0 ? 1 + (int)((s - 4) / 10) : 0;
}

/* What a demand asks for that comes late, or not at first. */
static inline double plant_demanded(const struct plant *p, size_t run, size_t i,
                                    double own_s, const struct plant_fault *f)
{
    const double s = fmax(0, (double)i / PLANT_RATE - own_s);
    const int application = plant_application(p, s);
    const bool none =
        application > 0 && s - 4 - 10 * (application - 1) < f->demand_invalid_s;
    return none ? 0
                : plant_past(p->pedal[run], i, 0.02 + f->demand_late_s + own_s);
}

/* One unit: control pressure at its coupling and its output, from the control
   pressure in front. */
static inline void plant_unit(struct plant *p, size_t run, size_t u,
                              const struct plant_fault *f,
                              const struct plant_course *course,
                              const struct plant_air *air)
{
    const double *front = air->front;
    double *control = air->control;
    double *touched = air->touched;
    double *output = air->output;
    static const double own_dead_s[] = {0.03, 0.05, 0.05};
    static const double line_s[] = {0, 0.06, 0.09};
    double c = 0;
    double o = 0;
    double leaked = 0;
    double jitter = 0;
    bool falling = false;
    for (size_t i = 0; i < p->rows[run]; i++) {
        const double s = (double)i / PLANT_RATE;
        const double pedal = p->pedal[run][i];
        const bool up = i > 0 && pedal > p->pedal[run][i - 1];
        falling = i > 0 && pedal < p->pedal[run][i - 1] ? true
                  : up                                  ? false
                                                        : falling;
        if (up && p->pedal[run][i - 1] <= 0) {
            jitter = plant_scatter(p);
        }
        double in = plant_past(
            front, i,
            line_s[u] + (falling ? f->line_release_s : f->line_dead_s));
        in = fmax(0, in - (in > 100 ? f->line_loss_kpa : 0));
        c = u == 0 ? pedal : plant_step(c, in, 0.03, 0.04);
        control[i] = c + (c > 100 ? plant_hunt(s, f->air_hunt_kpa) : 0);
        touched[i] = fmax(control[i], plant_between(s) ? f->touch_kpa : 0);
        const double *asks =
            course->powered && !f->follows_air ? p->pedal[run] : touched;
        const double own_s =
            own_dead_s[u] + jitter + (falling ? f->release_s : f->dead_s);
        double want = plant_past(asks, i, (asks == touched ? 0 : 0.02) + own_s);
        if (asks != touched && f->demand_late_s + f->demand_invalid_s > 0) {
            const double demanded = plant_demanded(p, run, i, own_s, f);
            want = falling ? demanded
                           : fmax(demanded, plant_past(touched, i, own_s));
        }
        want = fmax(want, plant_between(s) ? f->false_kpa : 0);
        want = want > p->shelf_kpa + f->shelf_kpa
                   ? fmax(0, want - 5 - f->lost_kpa)
                   : 0;
        leaked = !falling && o > 100 ? leaked + f->leak_kpa_s / PLANT_RATE : 0;
        const double stray = plant_between(s) ? f->stray_kpa : 0;
        o = plant_step(o, f->none ? 0 : fmax(want, stray),
                       0.08 * (1 + f->fill_factor),
                       0.12 * (1 + f->fall_factor));
        output[i] = fmax(o - leaked, s > 8 ? f->stays_kpa : 0) +
                    (o > 200 ? plant_hunt(s, f->hunt_kpa) : 0);
    }
}

/* One run; `fault` holds one entry per unit. */
static inline void plant_run(struct plant *p, size_t run,
                             const struct plant_fault *fault,
                             const struct plant_course *course)
{
    double *control[PLANT_UNITS];
    double *touched[PLANT_UNITS];
    double *output[PLANT_UNITS];
    double pedal_s = 0.1;
    p->rows[run] = plant_rows(course);
    for (size_t u = 0; u < PLANT_UNITS; u++) {
        pedal_s += fault[u].pedal_s;
    }
    for (size_t i = 0; i < p->rows[run]; i++) {
        const double s = (double)i / PLANT_RATE;
        p->pedal[run][i] = plant_pedal(s, course, pedal_s);
        p->pedal[run][i] +=
            p->pedal[run][i] > 200 ? plant_hunt(s, course->foot_kpa) : 0;
    }
    for (size_t u = 0; u < PLANT_UNITS; u++) {
        control[u] = calloc(p->rows[run], sizeof(double));
        touched[u] = calloc(p->rows[run], sizeof(double));
        output[u] = calloc(p->rows[run], sizeof(double));
        const struct plant_air air = {u == 0 ? p->pedal[run] : control[u - 1],
                                      control[u], touched[u], output[u]};
        plant_unit(p, run, u, &fault[u], course, &air);
    }
    plant_record(p, run, fault, touched, output);
    for (size_t u = 0; u < PLANT_UNITS; u++) {
        free(control[u]);
        free(touched[u]);
        free(output[u]);
        struct bl_samples *s = &p->series[run][plant_out_at[u]].samples;
        /* What loading says of repeated samples. */
        s->stair_steps = fault[u].stairs > 0;
        s->stair_ns = fault[u].stairs * (int64_t)1000000000 / PLANT_RATE;
    }
    for (size_t c = 0; c < PLANT_CHANNELS; c++) {
        p->series[run][c].samples.count = p->rows[run];
    }
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
        BL_QUANTITY_VOLTAGE,  BL_QUANTITY_PRESSURE, BL_QUANTITY_PRESSURE};
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
                                     .pipe_m = u == 0 ? NAN : 15};
        is->keeps_kpa = is->length_m = NAN;
        is->bore_mm = is->volume_cm3 = is->chambers_cm3 = NAN;
        is->reservoir_volume_cm3 = is->mass_kg = is->force_kn_per_kpa = NAN;
        p->output[u] = plant_input(outputs[u]);
        is->output = &p->output[u];
        is->outputs = 1;
    }
    p->unit[1].control = plant_input(AT_CONTROL1);
    p->unit[2].control = plant_input(AT_CONTROL2);
    p->unit[1].control.text = p->unit[2].control.text = (char *)"control";
    p->unit[1].control_b = plant_input(AT_CONTROL1B);
    p->unit[2].control_b = plant_input(AT_CONTROL2B);
    p->unit[1].control_b.text = p->unit[2].control_b.text = (char *)"control_b";
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
    const size_t rows = PLANT_SECONDS * PLANT_RATE;
    p->shelf_kpa = 20;
    p->time_ns = calloc(rows, sizeof(*p->time_ns));
    for (size_t i = 0; i < rows; i++) {
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
    p->trial.control_line = BL_CONTROL_LINE_THROUGH;
    static const char *const names[] = {"before", "now"};
    for (size_t r = 0; r < PLANT_RUNS; r++) {
        p->run[r].name = (char *)(uintptr_t)names[r];
        p->run[r].condition = (char *)"unpowered";
        /* The voltage is on record; only the data plug is out. */
        p->run[r].power = BL_STATED_ON;
        p->run[r].data = BL_STATED_OFF;
        p->pedal[r] = calloc(rows, sizeof(double));
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
            p->value[r][c] = calloc(rows, sizeof(float));
            p->series[r][c].channel = c;
            p->series[r][c].samples =
                (struct bl_samples){.time_ns = p->time_ns,
                                    .value = p->value[r][c],
                                    .count = rows,
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
        free(p->pedal[r]);
        for (size_t c = 0; c < PLANT_CHANNELS; c++) {
            free(p->value[r][c]);
        }
    }
    free(p->time_ns);
}

#endif
