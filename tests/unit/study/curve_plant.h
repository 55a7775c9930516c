/* SPDX-License-Identifier: MIT */
/* A brake for the tests of the characteristic, by the model of a valve with
   threshold, jump, gain, play, saturation, dead time and filling: written
   here, sharing nothing with the simulator. */
#ifndef BRAKELAG_TESTS_UNIT_STUDY_CURVE_PLANT_H
#define BRAKELAG_TESTS_UNIT_STUDY_CURVE_PLANT_H

#include "study/characteristic/curve.h"
#include "testing.h"

#include "base/random.h"

struct plant {
    double threshold, jump, gain, play, supply;
    double dead_s, fill_s; /* lag of a slow ramp: their sum */
    double noise, step;    /* of both transducers */
};

enum { PLANT_RATE = 100, PLANT_MOST = 60000 };

/* Demand over time: a ramp up, a stay and a ramp down; or steps. */
static double ramp_at(double t, double rate, double top)
{
    const double up = top / rate;
    const double from = t - 3;
    if (from < 0) {
        return 0;
    }
    if (from < up) {
        return rate * from;
    }
    return from < up + 2 ? top : fmax(top - rate * (from - up - 2), 0);
}

static double steps_at(double t, double each_s, double size, double top)
{
    const int steps = (int)(top / size);
    const int at = (int)((t - 3) / each_s) + 1;
    if (t < 3 || at >= 2 * steps) {
        return 0;
    }
    const double before = size * (at <= steps ? at - 1 : 2 * steps - at + 1);
    const double after = size * (at <= steps ? at : 2 * steps - at);
    const double since = (t - 3) - (at - 1) * each_s;
    /* A foot moves in 0.15 s. */
    return before + (after - before) * fmin(since / 0.15, 1);
}

/* Steady output, with a play that drags behind the input. */
static double plant_static(const struct plant *plant, double in, double *drag)
{
    *drag = fmax(*drag, in);
    *drag = fmin(*drag, in + plant->play);
    const double x = *drag - plant->threshold;
    return x <= 0 ? 0 : fmin(plant->jump + plant->gain * x, plant->supply);
}

static double read_out(struct bl_random *random, const struct plant *plant,
                       double value)
{
    const double noisy = value + plant->noise * bl_random_normal(random);
    return round(noisy / plant->step) * plant->step;
}

/* Run the plant over `demand` (PLANT_RATE per second) into blocks. */
static size_t plant_run(const struct plant *plant, const double *demand,
                        size_t samples, struct bl_random *random,
                        struct bl_curve_block *block)
{
    const size_t dead = (size_t)(plant->dead_s * PLANT_RATE + 0.5);
    const size_t each = (size_t)(BL_CURVE_BLOCK * PLANT_RATE + 0.5);
    double drag = 0, out = 0, in_sum = 0, out_sum = 0;
    size_t blocks = 0;
    for (size_t i = 0; i < samples; i++) {
        const double late = i >= dead ? demand[i - dead] : 0;
        const double goal = plant_static(plant, late, &drag);
        out += (goal - out) * (1 - exp(-1.0 / PLANT_RATE / plant->fill_s));
        in_sum += read_out(random, plant, demand[i]);
        out_sum += read_out(random, plant, out);
        if ((i + 1) % each == 0) {
            block[blocks++] = (struct bl_curve_block){(double)i / PLANT_RATE,
                                                      in_sum / (double)each,
                                                      out_sum / (double)each};
            in_sum = out_sum = 0;
        }
    }
    return blocks;
}

struct fitted {
    struct bl_curve_points points;
    struct bl_branch rising, falling;
    struct bl_measured hysteresis;
};

/* What is assumed where no step of the run tells the lag. */
static const struct bl_curve_lag common_lag = {0.15, 0.15 / 1.7320508};

static void fit_plant(struct fitted *is, const struct plant *plant,
                      const double *demand, size_t samples, uint64_t seed,
                      const struct bl_curve_lag *lag)
{
    static struct bl_curve_block block[PLANT_MOST];
    struct bl_random random;
    bl_random_seed(&random, seed);
    const size_t n = plant_run(plant, demand, samples, &random, block);
    *is = (struct fitted){.points = {.item = NULL}};
    assert_int_equal(bl_curve_collect(&is->points, block, n, NULL), BL_OK);
    assert_int_equal(bl_curve_fit(&is->rising, &is->points, false, lag, NULL),
                     BL_OK);
    assert_int_equal(bl_curve_fit(&is->falling, &is->points, true, lag, NULL),
                     BL_OK);
    is->hysteresis = bl_curve_hysteresis(&is->rising, &is->falling, lag);
}

#endif
