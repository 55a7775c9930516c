/* SPDX-License-Identifier: MIT */
/*
 * A budget worked out on paper: one pressure of a transducer whose zero is off
 * by 3 kPa at most, against a frame of a bus with a clock of its own. Rules:
 * JCGM 100:2008 (GUM) 4.3.7 (a half-width a: a / root 3; a full width w: w /
 * root 12), F.2.2.1 (resolution), 5.1.2 (root of the sum of squares). Noise
 * between two interpolated samples leaves root(2/3) of itself: the mean of
 * share^2 + (1 - share)^2 over all shares is 2/3.
 */
#include "testing.h"

#include "lag/budget.h"

static const double slope_kpa_s = 600;

/* The passage of a stated pressure at 600 kPa/s, noise 1 kPa, values every
   1 ms that stand for their interval, stamps of the bus to 0.1 ms. */
static struct bl_uncertainty of_passage(struct bl_trial_channel *channel)
{
    *channel = (struct bl_trial_channel){.u_zero = 3 / sqrt(3.0),
                                         .u_gain_fraction = NAN,
                                         .accuracy_fraction = NAN,
                                         .accuracy_value = NAN,
                                         .range_low = NAN,
                                         .range_high = NAN};
    const struct bl_track track = {.channel = channel,
                                   .u_delay_s = 0.001 / sqrt(3.0),
                                   .u_stamp_s = 0.0001 / sqrt(12.0)};
    const struct bl_passage passage = {.found = true,
                                       .slope = slope_kpa_s,
                                       .u_noise_s =
                                           sqrt(2.0 / 3) * 1 / slope_kpa_s,
                                       .u_sampling_s = 0.001 / sqrt(12.0)};
    const struct bl_level_origin origin = {
        .absolute = true, .fraction = NAN, .level = 65, .rest = 0};
    return bl_budget_passage(&track, &passage, &origin);
}

/* Offset to 0.5 ms, drift to +-2 ppm, 600 s on. */
static double of_clock(void)
{
    const struct bl_clock_tie tie = {.claim = BL_CLAIM_ABSOLUTE,
                                     .u_offset_s = 0.0005,
                                     .u_drift_ppm = 2 / sqrt(3.0)};
    return bl_clock_u(&tie, INT64_C(600000000000));
}

static void components_follow_their_rules(void **state)
{
    (void)state;
    struct bl_trial_channel channel;
    const struct bl_uncertainty u = of_passage(&channel);
    assert_near(u.crossing * 1e3, 1.36, 0.005);
    assert_near(u.sampling * 1e3, 0.29, 0.005);
    assert_near(u.resolution * 1e3, 0.03, 0.005);
    assert_near(u.zero * 1e3, 2.89, 0.005);
    assert_near(u.delay * 1e3, 0.58, 0.005);
    assert_nan(u.gain); /* not stated: not included */
    /* 0.50 and 0.69 */
    assert_near(of_clock() * 1e3, sqrt(0.50 * 0.50 + 0.69 * 0.69), 0.005);
}

static void the_worked_budget_comes_out(void **state)
{
    (void)state;
    struct bl_trial_channel channel;
    struct bl_uncertainty u = of_passage(&channel);
    u.clock = of_clock();
    /* against the frame itself */
    assert_near(bl_budget_total(&u) * 1e3, 3.37, 0.005);
    /* against the pedal, which a frame every 10 ms tells of */
    u.command = 0.010 / sqrt(12.0);
    assert_near(u.command * 1e3, 2.89, 0.005);
    assert_near(bl_budget_total(&u) * 1e3, 4.43, 0.01);
    /* Zero, delay and clock are the same every time and do not average out:
       root of 2.89^2 + 0.58^2 + 0.50^2 + 0.69^2. */
    assert_near(bl_budget_common(&u) * 1e3, 3.07, 0.01);
}

/* On one channel zero and gain cancel where they can: above rest the zero, of
   a share of the unit's own hold the gain. */
static void what_cancels_is_left_out(void **state)
{
    (void)state;
    struct bl_trial_channel channel;
    (void)of_passage(&channel);
    channel.u_gain_fraction = 0.01;
    const struct bl_track track = {.channel = &channel, .u_delay_s = NAN};
    const struct bl_passage passage = {.found = true, .slope = slope_kpa_s};
    const struct bl_level_origin above = {
        .fraction = NAN, .level = 35, .rest = 5, .u_rest = 0.6};
    const struct bl_uncertainty response =
        bl_budget_passage(&track, &passage, &above);
    assert_near(response.zero, 0, 0);
    assert_near(response.gain * 1e3, 0.5, 1e-9); /* 1 % of 30 kPa: 0.3 kPa */
    assert_near(response.rest * 1e3, 1.0, 1e-9); /* 0.6 kPa */
    assert_nan(response.delay);
    const struct bl_level_origin share = {.fraction = 0.75,
                                          .level = 455,
                                          .rest = 5,
                                          .u_rest = 0.6,
                                          .u_hold = 0.8};
    const struct bl_uncertainty most =
        bl_budget_passage(&track, &passage, &share);
    assert_near(most.zero, 0, 0);
    assert_near(most.gain, 0, 0);
    /* a quarter of 0.6 kPa and three of 0.8: 0.15 and 0.6 kPa */
    assert_near(most.rest * 1e3, sqrt(0.15 * 0.15 + 0.6 * 0.6) / 0.6, 1e-9);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(components_follow_their_rules),
        cmocka_unit_test(the_worked_budget_comes_out),
        cmocka_unit_test(what_cancels_is_left_out),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
