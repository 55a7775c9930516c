/* SPDX-License-Identifier: MIT */
/* Rest, hold and plain access to samples, against values known by hand. */
#include "testing.h"

#include "trace.h"

static void test_access(void **state)
{
    (void)state;
    static const int64_t times[] = {0, 10, 20, 30, 100, 110, 120};
    static const float values[] = {0, 1, 2, NAN, 10, 11, 7};
    static const size_t parts[] = {0, 5};
    const struct bl_samples samples = {.time_ns = times,
                                       .value = values,
                                       .count = 7,
                                       .interval_ns = 10,
                                       .part_start = parts,
                                       .parts = 2};
    assert_int_equal(bl_samples_at(&samples, -5), 0);
    assert_int_equal(bl_samples_at(&samples, 10), 1);
    assert_int_equal(bl_samples_at(&samples, 11), 2);
    assert_int_equal(bl_samples_at(&samples, 121), 7);
    assert_near(bl_samples_value(&samples, 5), 0.5, 1e-12);
    assert_near(bl_samples_value(&samples, 20), 2, 0);
    assert_nan(bl_samples_value(&samples, 25));  /* missing cell */
    assert_nan(bl_samples_value(&samples, 60));  /* gap of 7 intervals */
    assert_nan(bl_samples_value(&samples, 105)); /* across parts */
    assert_near(bl_samples_value(&samples, 115), 9, 1e-12);
    assert_nan(bl_samples_value(&samples, -1));
    assert_nan(bl_samples_value(&samples, 121));
    assert_true(bl_samples_split(&samples, 0, 200));
    assert_false(bl_samples_split(&samples, 0, 110));
    assert_false(bl_samples_split(&samples, 110, 200));
    const struct bl_extent extent = bl_samples_extent(&samples, 0, 120);
    assert_true(extent.known);
    assert_int_equal(extent.count, 5);
    assert_near(extent.smallest, 0, 0);
    assert_near(extent.largest, 11, 0);
    assert_int_equal(extent.largest_ns, 110);
    assert_near(extent.median, 2, 0);
    assert_false(bl_samples_extent(&samples, 30, 40).known);
}

/* A brake that still vents behind a gap is no rest, however few steps it falls:
   the rest is the one in front of the press that the gap hides. */
static void test_rest_behind_gap(void **state)
{
    (void)state;
    enum { BEFORE = 400, BEHIND = 17 };
    int64_t times[BEFORE + BEHIND];
    float values[BEFORE + BEHIND];
    for (size_t i = 0; i < BEFORE + BEHIND; i++) {
        const bool behind = i >= BEFORE;
        times[i] = (int64_t)i * 5000000 + (behind ? 635000000 : 0);
        values[i] = behind
                        ? (float)round(7 - 2.0 * (double)(i - BEFORE) / BEHIND)
                    : i >= BEFORE - 4 ? 20
                                      : 2;
    }
    const struct bl_samples samples = {.time_ns = times,
                                       .value = values,
                                       .count = BEFORE + BEHIND,
                                       .resolution = 1,
                                       .interval_ns = 5000000};
    const struct bl_rest rest = bl_rest_before(
        &samples, 0, INT64_MAX, 300000000, INT64_C(10000000000), 1);
    assert_true(rest.known);
    assert_near(rest.value, 2, 0.01);
    assert_true(rest.to_ns < times[BEFORE]);
}

/* White noise: the median's standard error is sqrt(pi/2) of the mean's
   (textbook), and 1.4826 MAD estimates sigma. */
static void test_rest_noise(void **state)
{
    (void)state;
    struct noise noise = {11};
    unsigned covered = 0;
    double mean_noise = 0;
    const unsigned runs = 400;
    for (unsigned i = 0; i < runs; i++) {
        const struct shape shape = {
            .rest = 7, .hold = 7, .foot_s = 1e6, .release_s = 1e6, .slope = 1};
        struct trace trace;
        trace_make(&trace, &shape, (struct recorder){500, 250, 0, 2, 0},
                   &noise);
        const struct bl_rest rest = bl_rest_before(
            &trace.samples, 0, 2000000000, 500000000, 2000000000, 0);
        trace_free(&trace);
        assert_true(rest.known);
        covered += fabs(rest.value - 7) <= 2 * rest.u;
        mean_noise += rest.noise / runs;
    }
    print_message("rest: noise %.3f for 2, k=2 covers %.1f %%\n", mean_noise,
                  100.0 * covered / runs);
    assert_near(mean_noise, 2, 0.05);
    assert_true(covered >= 0.93 * runs);
}

/* Values rounded to whole kPa: noise of one step and more carries what lies
   between two steps, and the median of grouped data (textbook: lower limit plus
   the missing share of the class) finds it. The plain median is off by up to
   half a step, many times its standard error. */
/* The same in coarse steps, wherever the level lies between two of them: a
   value in steps of r has the variance of the noise and r^2 / 12 (Bennett
   1948). */
static void test_rest_noise_in_steps(void **state)
{
    (void)state;
    struct noise noise = {15};
    static const double sigma[] = {0.7, 1, 1.5, 2, 3};
    for (unsigned i = 0; i < 10 * COUNT_OF(sigma); i++) {
        const double s = sigma[i / 10];
        const double rest_kpa = 3 + 0.1 * (i % 10);
        const double expected = sqrt(s * s + 1.0 / 12);
        double mean = 0;
        for (unsigned run = 0; run < 20; run++) {
            const struct shape shape = {.rest = rest_kpa,
                                        .hold = rest_kpa,
                                        .foot_s = 1e6,
                                        .release_s = 1e6,
                                        .slope = 1};
            struct trace trace;
            trace_make(&trace, &shape, (struct recorder){1000, 500, 0, s, 1},
                       &noise);
            const struct bl_rest rest = bl_rest_before(
                &trace.samples, 0, 2000000000, 500000000, 2000000000, 0);
            trace_free(&trace);
            assert_true(rest.known);
            mean += rest.noise / 20;
        }
        assert_near(mean, expected, 0.15 * expected);
    }
}

static void test_rest_steps(void **state)
{
    (void)state;
    struct noise noise = {12};
    unsigned covered = 0;
    const unsigned runs = 400;
    for (unsigned i = 0; i < runs; i++) {
        const double rest_kpa = 7 + noise_uniform(&noise);
        const struct shape shape = {.rest = rest_kpa,
                                    .hold = rest_kpa,
                                    .foot_s = 1e6,
                                    .release_s = 1e6,
                                    .slope = 1};
        struct trace trace;
        trace_make(&trace, &shape,
                   (struct recorder){500, 250, 0, i % 2 ? 1.5 : 1, 1}, &noise);
        const struct bl_rest rest = bl_rest_before(
            &trace.samples, 0, 2000000000, 500000000, 2000000000, 0);
        trace_free(&trace);
        assert_true(rest.known);
        assert_near(rest.value, rest_kpa, 0.4);
        covered += fabs(rest.value - rest_kpa) <= 2 * rest.u;
    }
    print_message("rest in steps: k=2 covers %.1f %%\n",
                  100.0 * covered / runs);
    assert_true(covered >= 0.93 * runs);
}

/* The quiet stretch ends where a rise begins; a slope is not quiet; values
   that sit on one step of 0.5 have noise 0.5 / sqrt 12. */
static void test_rest_where(void **state)
{
    (void)state;
    struct noise noise = {12};
    struct shape shape = {
        .rest = 3, .hold = 600, .foot_s = 1.0, .slope = 1000, .release_s = 1e6};
    struct trace trace;
    trace_make(&trace, &shape, (struct recorder){1500, 1000, 0, 0.3, 0},
               &noise);
    struct bl_rest rest = bl_rest_before(&trace.samples, 0, 1300000000,
                                         400000000, 2000000000, 0.5);
    assert_true(rest.known);
    assert_near(rest.value, 3, 0.1);
    assert_true(rest.to_ns <= 1030000000);
    assert_true(rest.to_ns - rest.from_ns >= 400000000 - 1000000);
    trace_free(&trace);

    shape = (struct shape){
        .rest = 0, .hold = 1e6, .foot_s = -1, .slope = 30, .release_s = 1e6};
    trace_make(&trace, &shape, (struct recorder){1500, 1000, 0, 0.3, 0},
               &noise);
    rest =
        bl_rest_before(&trace.samples, 0, 1500000000, 400000000, 2000000000, 1);
    assert_false(rest.known);
    trace_free(&trace);

    shape = (struct shape){
        .rest = 3.1, .hold = 3.1, .foot_s = 1e6, .slope = 1, .release_s = 1e6};
    trace_make(&trace, &shape, (struct recorder){1500, 1000, 0, 0.01, 0.5},
               &noise);
    rest =
        bl_rest_before(&trace.samples, 0, 1500000000, 400000000, 2000000000, 0);
    assert_true(rest.known);
    assert_near(rest.value, 3, 1e-9);
    assert_near(rest.noise, 0.5 / sqrt(12), 1e-9);
    assert_true(fabs(rest.value - 3.1) <= 2 * rest.u);
    trace_free(&trace);
}

/* A stretch of three quarters of a second that zigzags by 50 kPa, once in each
   of its quarters and with hardly any noise: the quarters have one median, and
   spread by 0.37 of the 50 kPa if all of it counts as noise. About the line
   through each there is nothing but the noise, 0.3 kPa, and the last quarter of
   the last one lies 3/8 of 50 kPa away: no rest. Normal noise that spreads as
   wide (18.5 kPa) has no such line: a rest. */
static void test_rest_zigzag(void **state)
{
    (void)state;
    struct noise noise = {15};
    const struct shape level = {
        .rest = 250, .hold = 250, .foot_s = 1e6, .slope = 1, .release_s = 1e6};
    for (unsigned i = 0; i < 50; i++) {
        struct trace trace;
        trace_make(&trace, &level, (struct recorder){300, 400, 0, 0.3, 0},
                   &noise);
        for (size_t k = 0; k < trace.samples.count; k++) {
            const double share = (double)(k % 75) / 75;
            const double way = k / 75 % 2 == 0 ? 0.5 - share : share - 0.5;
            trace.value[k] += (float)(50 * way);
        }
        struct bl_rest rest = bl_rest_before(&trace.samples, 0, 750000000,
                                             747500000, 747500000, 0.5);
        assert_false(rest.known);
        trace_free(&trace);
        trace_make(&trace, &level, (struct recorder){300, 400, 0, 18.5, 0},
                   &noise);
        rest = bl_rest_before(&trace.samples, 0, 750000000, 747500000,
                              747500000, 0.5);
        assert_true(rest.known);
        trace_free(&trace);
    }
}

/* A rest of 3 kPa with noise s = 0.3 after a fall from 600 kPa in 0.3 s that
   ends at any time before. The stretch may reach into the fall with half of its
   first quarter, an eighth of all: then the median of all is that of the upper
   4/7 of normal noise, 0.18 s too high. The first quarter's own median may
   stand m higher, and as its other half lies about m below, it spreads by
   1.48 m. Medians differ by twice the mean spread at most:
   m <= 2 (1.48 m + s + 3 s) / 4, so m <= 8 s; u is a quarter of m. */
static void test_rest_after_fall(void **state)
{
    (void)state;
    struct noise noise = {16};
    for (int ms = 400; ms <= 1600; ms += 5) {
        const struct shape level = {
            .rest = 3, .hold = 3, .foot_s = 1e6, .slope = 1, .release_s = 1e6};
        struct trace trace;
        trace_make(&trace, &level, (struct recorder){2000, 1000, 0, 0.3, 0},
                   &noise);
        for (int k = 0; k < ms; k++) {
            trace.value[k] += (float)(k < ms - 300 ? 597 : 1.99 * (ms - k));
        }
        const struct bl_rest rest = bl_rest_before(
            &trace.samples, 0, 2000000000, 300000000, 10000000000, 1);
        assert_true(rest.known);
        assert_near(rest.value, 3, 0.18 * 0.3 + 4 * 0.3 / sqrt(300));
        assert_true(rest.u <= 2 * 0.3);
        trace_free(&trace);
    }
}

/* A rest is not carried over a jump of the recorder's time, nor found where
   there are fewer than 8 samples. */
static void test_rest_parts(void **state)
{
    (void)state;
    struct noise noise = {13};
    const struct shape shape = {
        .rest = 3, .hold = 3, .foot_s = 1e6, .slope = 1, .release_s = 1e6};
    static const size_t parts[] = {0, 900};
    struct trace trace;
    trace_make(&trace, &shape, (struct recorder){1000, 1000, 0, 0.3, 0},
               &noise);
    trace.samples.part_start = parts;
    trace.samples.parts = 2;
    struct bl_rest rest = bl_rest_before(&trace.samples, 0, 1000000000,
                                         400000000, 2000000000, 0.5);
    assert_true(rest.known);
    assert_true(rest.to_ns <= 900000000);
    rest = bl_rest_before(&trace.samples, 994000000, 1000000000, 1000000,
                          2000000000, 0.5);
    assert_false(rest.known);
    trace_free(&trace);
}

/* Exponential of 600 kPa and 0.1 s: its slope is under 1 % of the hold per
   second once exp(-t/tau)/tau < 0.01, that is after 0.691 s. */
static void test_hold(void **state)
{
    (void)state;
    struct noise noise = {14};
    const struct shape shape = {
        .rest = 4, .hold = 604, .foot_s = 0.2, .tau_s = 0.1, .release_s = 4};
    struct trace trace;
    trace_make(&trace, &shape, (struct recorder){5000, 1000, 0, 1, 0}, &noise);
    struct bl_hold hold =
        bl_hold_settled(&trace.samples, 200000000, 5000000000, 4, 1);
    assert_true(hold.settled);
    assert_near(hold.value, 604, 4 * hold.u);
    assert_true(hold.from_ns >= 500000000 && hold.from_ns <= 1000000000);
    assert_true(hold.to_ns <= 4100000000 && hold.to_ns >= 3800000000);
    trace_free(&trace);
    /* A rise and a fall of the same size have no slope together. */
    const struct shape peak = {
        .rest = 4, .hold = 604, .foot_s = 0.5, .slope = 600, .release_s = 1.5};
    trace_make(&trace, &peak, (struct recorder){3000, 1000, 0, 1, 0}, &noise);
    hold = bl_hold_settled(&trace.samples, 500000000, 2500000000, 4, 1);
    assert_false(hold.settled);
    trace_free(&trace);
    /* 2 % per second is not settled. */
    const struct shape creep = {
        .rest = 4, .hold = 1e6, .foot_s = -50, .slope = 12, .release_s = 1e6};
    trace_make(&trace, &creep, (struct recorder){3000, 1000, 0, 0.2, 0},
               &noise);
    hold = bl_hold_settled(&trace.samples, 0, 3000000000, 4, 0.2);
    assert_false(hold.settled);
    trace_free(&trace);
}

/* An output that runs over by 70 kPa and comes back within 0.4 s has half a
   second without a slope at its top, which is no hold. By symmetry, from
   algebra: 650 + 70 exp(-((t - 0.9 s) / 0.25 s)^2); less than 0.01 kPa is left
   of it at 1.7 s. */
static void test_hump_is_no_hold(void **state)
{
    (void)state;
    enum { RATE = 200, ROWS = 2 * RATE };
    int64_t times[ROWS];
    float values[ROWS];
    for (size_t i = 0; i < ROWS; i++) {
        const double t = (double)i / RATE;
        const double x = (t - 0.9) / 0.25;
        times[i] = (int64_t)i * 5000000;
        values[i] = (float)(650 + 70 * exp(-x * x));
    }
    const struct bl_samples samples = {.time_ns = times,
                                       .value = values,
                                       .count = ROWS,
                                       .resolution = 0.01,
                                       .interval_ns = 5000000};
    struct bl_hold hold =
        bl_hold_settled(&samples, 500000000, 1300000000, 0, 0.2);
    assert_false(hold.settled);
    hold = bl_hold_settled(&samples, 500000000, 2000000000, 0, 0.2);
    assert_true(hold.settled);
    assert_near(hold.value, 650, 2);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_access),
        cmocka_unit_test(test_rest_behind_gap),
        cmocka_unit_test(test_rest_noise),
        cmocka_unit_test(test_rest_noise_in_steps),
        cmocka_unit_test(test_rest_steps),
        cmocka_unit_test(test_rest_where),
        cmocka_unit_test(test_rest_zigzag),
        cmocka_unit_test(test_rest_after_fall),
        cmocka_unit_test(test_rest_parts),
        cmocka_unit_test(test_hold),
        cmocka_unit_test(test_hump_is_no_hold),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
