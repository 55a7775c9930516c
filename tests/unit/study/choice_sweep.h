/* SPDX-License-Identifier: MIT */
/*
 * The sweep over seeds: threshold 50 or 70 kPa, everything else drawn at
 * random. The answer must be right or "cannot tell"; fast ramps must be
 * refused. Ranges of play, crack and lag: common practice (valve hysteresis 5
 * to 20 kPa, lags of 0.05 to 0.3 s).
 */
#ifndef BRAKELAG_TESTS_UNIT_STUDY_CHOICE_SWEEP_H
#define BRAKELAG_TESTS_UNIT_STUDY_CHOICE_SWEEP_H

#include "curve_plant.h"

struct tally {
    unsigned right, wrong, cannot_tell, refused, none_fits;
};

static struct plant draw_plant(struct bl_random *random)
{
    return (struct plant){
        .threshold = bl_random_uniform(random) < 0.5 ? 50 : 70,
        .jump = bl_random_uniform(random) < 0.5
                    ? 0
                    : 8 + 20 * bl_random_uniform(random),
        .gain = bl_random_uniform(random) < 0.5
                    ? 1
                    : 0.4 + 0.5 * bl_random_uniform(random),
        .play = 15 * bl_random_uniform(random),
        .supply = 650,
        .dead_s = 0.02 + 0.13 * bl_random_uniform(random),
        .fill_s = 0.03 + 0.12 * bl_random_uniform(random),
        .noise = 0.3 + 1.2 * bl_random_uniform(random),
        .step = bl_random_uniform(random) < 0.5 ? 0.244 : 1.0};
}

enum shape { SLOW_RAMP, STEP_AND_HOLD, FAST_RAMP };

static size_t draw_demand(double *demand, enum shape shape,
                          struct bl_random *random)
{
    const double spread = bl_random_uniform(random);
    const double rate =
        shape == SLOW_RAMP ? 5 + 14 * spread : 50 + 200 * spread;
    const double each = 1.2 + 1.3 * spread;
    const double length =
        shape == STEP_AND_HOLD ? 40 * each + 6 : 2 * 400 / rate + 9;
    const size_t samples = (size_t)(length * PLANT_RATE);
    assert_true(samples < PLANT_MOST);
    for (size_t i = 0; i < samples; i++) {
        const double t = (double)i / PLANT_RATE;
        demand[i] = shape == STEP_AND_HOLD ? steps_at(t, each, 10, 200)
                                           : ramp_at(t, rate, 400);
    }
    return samples;
}

static void sweep_one(struct tally *tally, enum shape shape, uint64_t seed)
{
    static double demand[PLANT_MOST];
    struct bl_random random;
    bl_random_seed(&random, seed * 977 + (uint64_t)shape);
    const struct plant plant = draw_plant(&random);
    const size_t samples = draw_demand(demand, shape, &random);
    struct fitted is;
    fit_plant(&is, &plant, demand, samples, seed, &common_lag);
    struct bl_candidate candidate[] = {{.threshold = 50, .gain = 1},
                                       {.threshold = 70, .gain = 1},
                                       {.threshold = 50, .gain = NAN},
                                       {.threshold = 70, .gain = NAN}};
    const struct bl_curve_doubt doubt = {.gain = 0.005};
    const double threshold =
        bl_curve_choose(candidate, COUNT_OF(candidate), &is.rising, &doubt)
            .threshold;
    if (is.rising.reason != BL_CURVE_FITTED) {
        tally->refused++;
        assert_true(shape != FAST_RAMP ||
                    is.rising.reason == BL_CURVE_TOO_FAST);
    } else if (isnan(threshold)) {
        const bool any = fabs(candidate[0].off_threshold) <= 2 ||
                         fabs(candidate[1].off_threshold) <= 2;
        *(any ? &tally->cannot_tell : &tally->none_fits) += 1;
    } else if (threshold == plant.threshold) {
        tally->right++;
    } else {
        tally->wrong++;
    }
    bl_curve_points_finish(&is.points);
}

static struct tally sweep(enum shape shape, uint64_t seeds, const char *name)
{
    struct tally tally = {.right = 0};
    for (uint64_t seed = 1; seed <= seeds; seed++) {
        sweep_one(&tally, shape, seed);
    }
    print_message("%s: %u right, %u wrong, %u cannot tell, %u none fits, "
                  "%u refused\n",
                  name, tally.right, tally.wrong, tally.cannot_tell,
                  tally.none_fits, tally.refused);
    return tally;
}

/* Never wrong; "none fits" is a wrong answer too, 2 u may be left by chance.
   Where the plants allow it, most are to be decided. */
static void check_sweep(uint64_t seeds)
{
    const struct tally ramp = sweep(SLOW_RAMP, seeds, "slow ramps");
    const struct tally steps = sweep(STEP_AND_HOLD, seeds, "steps");
    const struct tally fast = sweep(FAST_RAMP, seeds, "fast ramps");
    assert_int_equal(ramp.wrong, 0);
    assert_int_equal(steps.wrong, 0);
    assert_true(ramp.none_fits * 20 <= seeds);
    assert_true(steps.none_fits * 20 <= seeds);
    assert_true(ramp.right * 5 >= seeds * 4);
    assert_true(steps.right * 5 >= seeds * 4);
    assert_int_equal(fast.refused, seeds);
}

#endif
