/* SPDX-License-Identifier: MIT */
/*
 * The characteristic from blocks. Checks are worked on paper from the model
 * out = jump + gain (in - on), and from two rules of measuring practice: a
 * ramp of 50 kPa/s with a lag of 0.15 s reads the onset 7.5 kPa high; 50 and
 * 70 kPa are parted with 2 sigma each only where u is at most 5 kPa.
 */
#include "choice_sweep.h"
#include "study/characteristic/curve.h"

static double demand[PLANT_MOST];

static struct plant plain_plant(void)
{
    return (struct plant){.threshold = 50,
                          .gain = 1,
                          .supply = 800,
                          .dead_s = 0.05,
                          .fill_s = 0.05,
                          .noise = 0.3,
                          .step = 0.1};
}

static size_t ramp(double rate, double top)
{
    const size_t samples = (size_t)((2 * top / rate + 9) * PLANT_RATE);
    for (size_t i = 0; i < samples; i++) {
        demand[i] = ramp_at((double)i / PLANT_RATE, rate, top);
    }
    return samples;
}

static void every_parameter_comes_back(void **state)
{
    (void)state;
    const struct plant plant = {.threshold = 62,
                                .jump = 30,
                                .gain = 0.6,
                                .play = 12,
                                .supply = 200,
                                .dead_s = 0.05,
                                .fill_s = 0.05,
                                .noise = 0.3,
                                .step = 0.1};
    const struct bl_curve_lag lag = {0.1, 0.005};
    struct fitted is;
    fit_plant(&is, &plant, demand, ramp(15, 450), 1, &lag);
    assert_int_equal(is.rising.reason, BL_CURVE_FITTED);
    assert_near(is.rising.on.value, 62, 2 * is.rising.on.u);
    assert_true(is.rising.has_jump);
    assert_near(is.rising.jump.value, 30, 2);
    assert_near(is.rising.gain.value, 0.6, 0.01);
    assert_true(is.rising.saturates);
    /* 30 + 0.6 (in - 62) = 200 at 345.3 kPa. */
    assert_near(is.rising.sat_in.value, 345.3, 4);
    assert_near(is.rising.sat_out.value, 200, 1.5);
    assert_near(is.hysteresis.value, 12, 2 * is.hysteresis.u + 0.5);
    assert_true(is.hysteresis.u < 3);
    bl_curve_points_finish(&is.points);
}

static void a_plain_line_has_no_jump(void **state)
{
    (void)state;
    const struct plant plant = plain_plant();
    const struct bl_curve_lag lag = {0.1, 0.005};
    struct fitted is;
    fit_plant(&is, &plant, demand, ramp(10, 400), 2, &lag);
    assert_false(is.rising.has_jump);
    assert_false(is.rising.saturates);
    assert_near(is.rising.on.value, 50, 1);
    assert_near(is.hysteresis.value, 0, 1);
    bl_curve_points_finish(&is.points);
}

/* Bias = rate x lag: 20 kPa/s x 0.1 s is 2 kPa, left in without correction. */
static void a_ramp_is_corrected_by_rate_times_lag(void **state)
{
    (void)state;
    const struct plant plant = plain_plant();
    const struct bl_curve_lag none = {0, 0};
    const struct bl_curve_lag right = {0.1, 0};
    struct fitted is;
    const size_t samples = ramp(20, 400);
    fit_plant(&is, &plant, demand, samples, 3, &none);
    const double uncorrected = is.rising.on.value;
    bl_curve_points_finish(&is.points);
    fit_plant(&is, &plant, demand, samples, 3, &right);
    assert_near(uncorrected - is.rising.on.value, 20 * 0.1, 0.1);
    assert_near(is.rising.on.value, 50, 0.6);
    assert_near(is.rising.bias, 2.0, 0.1);
    bl_curve_points_finish(&is.points);
}

static void a_fast_ramp_is_refused_with_advice(void **state)
{
    (void)state;
    const struct plant plant = plain_plant();
    struct fitted is;
    fit_plant(&is, &plant, demand, ramp(50, 400), 4, &common_lag);
    assert_int_equal(is.rising.reason, BL_CURVE_TOO_FAST);
    assert_nan(is.rising.on.value);
    assert_true(is.points.time.fast_s > 10);
    assert_non_null(strstr(bl_curve_reason_sentence(BL_CURVE_TOO_FAST),
                           "record steps of 10 kPa"));
    bl_curve_points_finish(&is.points);
}

/* Instruments without an error of their own. */
static const struct bl_curve_doubt perfect = {.kpa = 0};
static const struct bl_curve_doubt perfect_empty = {.surely_empty = true};

/* Two candidates 20 kPa apart: decided at u = 5, not above. */
static void choosing_needs_five_kilopascal(void **state)
{
    (void)state;
    struct bl_branch found = {
        .reason = BL_CURVE_FITTED, .on = {51, 4.9}, .gain = {1, 0.01}};
    struct bl_candidate two[] = {{.threshold = 50, .gain = 1},
                                 {.threshold = 70, .gain = 1}};
    struct bl_curve_choice choice = bl_curve_choose(two, 2, &found, &perfect);
    assert_int_equal(choice.index, 0);
    assert_near(choice.threshold, 50, 0);
    found.on.u = 5.1;
    choice = bl_curve_choose(two, 2, &found, &perfect);
    assert_int_equal(choice.index, -1);
    assert_nan(choice.threshold);
    assert_int_equal(two[0].fits, BL_FIT_UNKNOWN);
    /* Far from both: none fits. */
    found.on = (struct bl_measured){120, 2};
    choice = bl_curve_choose(two, 2, &found, &perfect);
    assert_int_equal(choice.index, -1);
    assert_int_equal(two[0].fits, BL_FIT_NO);
    assert_int_equal(two[1].fits, BL_FIT_NO);
}

static void a_load_sensed_unit_looks_one_to_one_when_laden(void **state)
{
    (void)state;
    const struct bl_branch one = {
        .reason = BL_CURVE_FITTED, .on = {50, 1}, .gain = {1, 0.01}};
    struct bl_candidate two[] = {{.threshold = 50, .gain = 1},
                                 {.threshold = 50, .gain = NAN}};
    struct bl_curve_choice choice = bl_curve_choose(two, 2, &one, &perfect);
    assert_int_equal(choice.index, -1);
    assert_near(choice.threshold, 50, 0);
    choice = bl_curve_choose(two, 2, &one, &perfect_empty);
    assert_int_equal(choice.index, 0);
    const struct bl_branch low = {
        .reason = BL_CURVE_FITTED, .on = {50, 1}, .gain = {0.55, 0.01}};
    choice = bl_curve_choose(two, 2, &low, &perfect);
    assert_int_equal(choice.index, 1);
}

/* One answer to "does it follow what was called for": 2 u decide what fits, and
   where two fit nothing tells which of them it was. */
static void what_was_called_for_is_followed_or_not(void **state)
{
    (void)state;
    struct bl_candidate three[] = {
        {.name = "plain", .threshold = 50, .gain = 1, .stated = true},
        {.name = "load", .threshold = 50, .gain = NAN, .stated = true},
        {.name = "common", .threshold = 50, .gain = 0.5}};
    struct bl_characteristic is = {
        .candidate = three, .candidates = 3, .choice = -1};
    struct bl_branch found = {
        .reason = BL_CURVE_FITTED, .on = {50, 1}, .gain = {1, 0.01}};
    const struct bl_candidate *called;
    is.choice = bl_curve_choose(three, 3, &found, &perfect).index;
    assert_int_equal(bl_characteristic_follows(&is, "plain", &called),
                     BL_UNKNOWN);
    assert_ptr_equal(called, &three[0]);
    assert_int_equal(bl_characteristic_follows(&is, "load", NULL), BL_UNKNOWN);
    is.choice = bl_curve_choose(three, 3, &found, &perfect_empty).index;
    assert_int_equal(bl_characteristic_follows(&is, "plain", NULL), BL_YES);
    assert_int_equal(bl_characteristic_follows(&is, "load", NULL), BL_NO);
    /* A default is nothing that could be called for. */
    assert_int_equal(bl_characteristic_follows(&is, "common", &called),
                     BL_UNKNOWN);
    assert_null(called);
}

/* Vented and held at 100 kPa and above: the onset lies anywhere between. */
static void nothing_held_near_the_onset_is_refused(void **state)
{
    (void)state;
    const struct plant plant = plain_plant();
    const size_t samples = 64 * PLANT_RATE;
    for (size_t i = 0; i < samples; i++) {
        demand[i] = steps_at((double)i / PLANT_RATE, 3, 100, 1000);
    }
    struct fitted is;
    fit_plant(&is, &plant, demand, samples, 5, &common_lag);
    assert_int_equal(is.rising.reason, BL_CURVE_TOO_FAST);
    assert_nan(is.rising.on.value);
    assert_false(is.rising.has_jump);
    bl_curve_points_finish(&is.points);
}

static void missing_values_are_counted(void **state)
{
    (void)state;
    struct bl_curve_block block[40];
    for (size_t i = 0; i < COUNT_OF(block); i++) {
        block[i] = (struct bl_curve_block){0.2 * (double)i, 100, 50};
    }
    block[20].out = NAN;
    struct bl_curve_points points = {.item = NULL};
    assert_int_equal(bl_curve_collect(&points, block, 40, NULL), BL_OK);
    /* Two holds, three blocks before each that cannot be judged. */
    assert_int_equal(points.count, 2);
    assert_near(points.time.missing_s, 0.2, 1e-9);
    assert_near(points.time.hold_s, 0.2 * (17 + 16), 1e-9);
    bl_curve_points_finish(&points);
}

static void twenty_seeds(void **state)
{
    (void)state;
    check_sweep(20);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_parameter_comes_back),
        cmocka_unit_test(a_plain_line_has_no_jump),
        cmocka_unit_test(a_ramp_is_corrected_by_rate_times_lag),
        cmocka_unit_test(a_fast_ramp_is_refused_with_advice),
        cmocka_unit_test(choosing_needs_five_kilopascal),
        cmocka_unit_test(a_load_sensed_unit_looks_one_to_one_when_laden),
        cmocka_unit_test(what_was_called_for_is_followed_or_not),
        cmocka_unit_test(nothing_held_near_the_onset_is_refused),
        cmocka_unit_test(missing_values_are_counted),
        cmocka_unit_test(twenty_seeds),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
