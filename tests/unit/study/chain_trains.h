/* SPDX-License-Identifier: MIT */
/* Chains of units as the trade measures them, through the model's own front
   door: a trial that states lengths, and draws of all the rest. */
#ifndef BRAKELAG_TESTS_CHAIN_TRAINS_H
#define BRAKELAG_TESTS_CHAIN_TRAINS_H

#include "testing.h"

#include "study/predict/inputs.h"

enum { TRAIN_UNITS = 6, TRAIN_STEPS = 4000, TRAIN_RELEASE = 2250 };

struct chain_train {
    struct bl_trial_unit unit[TRAIN_UNITS];
    struct bl_trial trial;
    struct bl_unit_inputs in[TRAIN_UNITS];
    struct bl_unit_values values[TRAIN_UNITS];
    struct bl_chain_unit made[TRAIN_UNITS];
    struct bl_chain chain;
    size_t units;
    double drive[TRAIN_STEPS];
    double control[TRAIN_UNITS * TRAIN_STEPS];
    double output[TRAIN_UNITS * TRAIN_STEPS];
};

static inline struct bl_trial_unit train_unit(double length_m)
{
    return (struct bl_trial_unit){.pipe_m = NAN,
                                  .length_m = length_m,
                                  .bore_mm = NAN,
                                  .volume_cm3 = NAN,
                                  .crack_kpa = NAN,
                                  .keeps_kpa = NAN,
                                  .valve_delay_s = NAN,
                                  .conductance = NAN,
                                  .stroke_percent = NAN,
                                  .chambers_cm3 = NAN,
                                  .reservoir_volume_cm3 = NAN,
                                  .threshold_kpa = NAN,
                                  .gain = NAN};
}

/* Units of 8 to 14 m; nothing else is stated. */
static inline void train_start(struct chain_train *t, size_t units)
{
    static const double length_m[TRAIN_UNITS] = {11, 14, 8, 12, 9, 13};
    memset(t, 0, sizeof(*t));
    t->units = units;
    t->trial = (struct bl_trial){.unit = t->unit, .units = units};
    for (size_t u = 0; u < units; u++) {
        t->unit[u] = train_unit(length_m[u]);
    }
}

static inline void train_inputs(struct chain_train *t)
{
    for (size_t u = 0; u < t->units; u++) {
        bl_inputs_of(&t->in[u], &t->trial, u, NAN, NAN, false);
    }
}

/* A pedal that moves without corners in rise_s and fall_s, from 0.1 s on. */
static inline void train_press(struct chain_train *t, double kpa, double rise_s,
                               double fall_s)
{
    for (size_t i = 0; i < TRAIN_STEPS; i++) {
        const double s = (double)i * BL_CHAIN_STEP_S - 0.1;
        const double back = s + 0.1 - TRAIN_RELEASE * BL_CHAIN_STEP_S;
        const double x = fmin(fmax(s / rise_s, 0), 1);
        const double y = fmin(fmax(back / fall_s, 0), 1);
        t->drive[i] = kpa * (x * x * (3 - 2 * x)) * (1 - y * y * (3 - 2 * y));
    }
}

/* The chain of one draw, for a command that holds `kpa`. */
static inline void train_draw(struct chain_train *t, unsigned draw, double kpa)
{
    double control = kpa;
    bl_inputs_draw(t->values, t->in, t->units, draw);
    for (size_t u = 0; u < t->units; u++) {
        const struct bl_asked asked = {control, NAN};
        bl_inputs_build(&t->made[u], &t->in[u], &t->values[u], &asked,
                        u + 1 < t->units);
        control = bl_inputs_behind(&t->made[u], control);
    }
    t->chain = (struct bl_chain){.unit = t->made, .units = t->units};
    bl_inputs_chain(&t->chain, &t->values[0]);
}

static inline void train_run(struct chain_train *t)
{
    size_t done;
    assert_int_equal(bl_chain_run(&t->chain,
                                  &(const struct bl_chain_drive){
                                      t->drive, TRAIN_STEPS, TRAIN_STEPS, 0},
                                  t->control, t->output, &done, NULL),
                     BL_OK);
    assert_int_equal(done, TRAIN_STEPS);
}

/* First passage from step `from` on, seconds; NaN. */
static inline double train_passes(const double *kpa, size_t from, double level,
                                  bool up)
{
    for (size_t i = from + 1; i < TRAIN_STEPS; i++) {
        const double a = kpa[i - 1];
        const double b = kpa[i];
        if (up ? a < level && b >= level : a > level && b <= level) {
            return ((double)(i - 1) + (level - a) / (b - a)) * BL_CHAIN_STEP_S;
        }
    }
    return NAN;
}

static inline const double *train_output(const struct chain_train *t, size_t u)
{
    return t->output + u * TRAIN_STEPS;
}

static inline int train_by_size(const void *a, const void *b)
{
    const double x = *(const double *)a;
    const double y = *(const double *)b;
    return (x > y) - (x < y);
}

#endif
