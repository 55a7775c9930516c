/* SPDX-License-Identifier: MIT */
/*
 * Doubled transducers on signals made here. Limits of the flags: three times
 * the joined zero errors, 2 % of gain, 2 samples or 5 ms of delay; identical
 * to the bit is never a real pair (common practice in comparing redundant
 * sensors). What each case must give follows from how it is made.
 */
#include "brakelag/transducers.h"
#include "study/transducers/pair.h"
#include "testing.h"

#include "base/random.h"

enum { N = 6000 }; /* 60 s at 100 Hz */
static double t[N], a[N], b[N], w[N];

/* Four applications to 300 kPa: 0.5 s up, 5 s hold, 0.5 s down, 8 s rest. */
static double wave(double at)
{
    const double x = fmod(at, 14);
    return at < 0 || x < 4 ? 0
           : x < 4.5       ? 600 * (x - 4)
           : x < 9.5       ? 300
           : x < 10        ? 600 * (10 - x)
                           : 0;
}

static void make(double offset, double gain, double delay, uint64_t seed)
{
    struct bl_random random;
    bl_random_seed(&random, seed);
    for (size_t i = 0; i < N; i++) {
        t[i] = 0.01 * (double)i;
        w[i] = wave(t[i] + 0.02);
        a[i] = wave(t[i]) + 0.5 * bl_random_normal(&random);
        b[i] = offset + gain * wave(t[i] - delay) +
               0.5 * bl_random_normal(&random);
    }
}

static struct bl_pair compare(bool witness)
{
    const struct bl_pair_rules rules = bl_pair_rules_default();
    struct bl_pair pair;
    assert_int_equal(bl_pair_compare(&pair,
                                     &(const struct bl_pair_samples){
                                         t, a, b, witness ? w : NULL, N},
                                     &rules, NULL),
                     BL_OK);
    return pair;
}

static void a_good_pair_is_left_alone(void **state)
{
    (void)state;
    for (uint64_t seed = 1; seed <= 5; seed++) {
        make(0, 1, 0, seed);
        const struct bl_pair pair = compare(true);
        assert_false(pair.offset_off || pair.gain_off || pair.delay_off);
        assert_false(pair.identical);
        assert_int_equal(pair.disagreements + pair.false_demands, 0);
        assert_int_equal(pair.wrong, BL_SIDE_UNKNOWN);
        assert_near(pair.noise_a, 0.5, 0.05);
        assert_near(pair.noise_b, 0.5, 0.05);
    }
}

static void offset_gain_and_delay_come_back(void **state)
{
    (void)state;
    make(6, 1.03, 0.03, 7);
    const struct bl_pair pair = compare(true);
    assert_near(pair.offset_rest.value, 6, 0.1);
    assert_near(pair.offset_hold.value, 6 + 0.03 * 300, 0.2);
    assert_near(pair.gain.value, 1.03, 0.003);
    assert_near(pair.delay_s.value, 0.03, 0.001);
    assert_true(pair.offset_off && pair.gain_off && pair.delay_off);
    assert_int_equal(pair.wrong, BL_SIDE_B);
}

static void just_inside_is_not_flagged(void **state)
{
    (void)state;
    make(4, 1.015, 0.01, 8);
    const struct bl_pair pair = compare(true);
    assert_false(pair.offset_off || pair.gain_off || pair.delay_off);
}

static void one_channel_twice_is_told(void **state)
{
    (void)state;
    make(0, 1, 0, 9);
    memcpy(b, a, sizeof(a));
    assert_true(compare(false).identical);
    b[3000] += 0.1;
    assert_false(compare(false).identical);
}

static void one_that_stands_still_is_wrong(void **state)
{
    (void)state;
    make(0, 0, 0, 10);
    const struct bl_pair pair = compare(true);
    assert_int_equal(pair.stuck, BL_SIDE_B);
    assert_int_equal(pair.wrong, BL_SIDE_B);
    /* Four holds of 5 s in 60 s are seen as such. */
    assert_int_equal(pair.disagreements, 4);
    assert_near(pair.disagreement[0].from_s, 4 + 10.0 / 600, 0.02);
}

/* b reads 40 kPa too little from 30 s on; without a demand nobody can tell. */
static void a_fault_is_dated_and_assigned_by_the_demand(void **state)
{
    (void)state;
    make(0, 1, 0, 11);
    for (size_t i = 3000; i < N; i++) {
        b[i] -= wave(t[i]) > 100 ? 40 : 0;
    }
    const struct bl_pair pair = compare(true);
    assert_true(pair.disagreements >= 2);
    assert_near(pair.disagreement[0].from_s, 32.17, 0.02);
    assert_int_equal(pair.wrong, BL_SIDE_B);
    assert_near(pair.largest, 40, 3);
    assert_int_equal(compare(false).wrong, BL_SIDE_UNKNOWN);
}

/* From 54 s the wave is at rest: a alone shows 60 kPa for 1 s, and the demand
   follows it. */
static void a_false_demand_is_dated(void **state)
{
    (void)state;
    make(0, 1, 0, 12);
    for (size_t i = 5420; i < 5520; i++) {
        a[i] += 60;
        w[i] = 60;
    }
    const struct bl_pair pair = compare(true);
    assert_int_equal(pair.false_demands, 1);
    assert_near(pair.false_demand[0].from_s, 54.20, 0.011);
    assert_near(pair.false_demand[0].to_s, 55.19, 0.011);
    assert_int_equal(pair.false_demand[0].follows, BL_SIDE_A);
    assert_near(pair.false_demand[0].demand, 60, 0.1);
}

static void missing_values_are_counted(void **state)
{
    (void)state;
    make(0, 1, 0, 13);
    a[10] = NAN;
    b[10] = NAN;
    b[4000] = NAN;
    const struct bl_pair pair = compare(true);
    assert_int_equal(pair.missing, 2);
    assert_int_equal(pair.samples, N - 2);
}

/* Every sample lies between the bounds of its stretch, and a bound is a sample:
   so a spike of one sample, which no median shows, shows here. */
static void stretches_keep_every_difference(void **state)
{
    (void)state;
    make(2, 1, 0, 9);
    b[2345] += 90;
    b[4000] -= 70;
    b[100] = NAN;
    const struct bl_pair pair = compare(false);
    assert_in_range(pair.stretches, 1, BL_PAIR_STRETCHES);
    double least = INFINITY;
    double most = -INFINITY;
    size_t inside = 0;
    for (size_t k = 0; k < pair.stretches; k++) {
        const struct bl_pair_stretch *s = &pair.stretch[k];
        bool touched_low = false;
        bool touched_high = false;
        const bool last = k + 1 == pair.stretches;
        for (size_t i = 0; i < N; i++) {
            const double apart = b[i] - a[i];
            if (isnan(apart) || t[i] < s->from_s ||
                (t[i] >= s->to_s && !last)) {
                continue;
            }
            assert_true(apart >= s->least && apart <= s->most);
            touched_low |= apart == s->least;
            touched_high |= apart == s->most;
            inside++;
        }
        assert_true(touched_low && touched_high);
        assert_near(s->middle, 2, 1);
        least = fmin(least, s->least);
        most = fmax(most, s->most);
    }
    assert_int_equal(inside, N - 1);
    assert_true(least < -60 && most > 80);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_good_pair_is_left_alone),
        cmocka_unit_test(offset_gain_and_delay_come_back),
        cmocka_unit_test(just_inside_is_not_flagged),
        cmocka_unit_test(one_channel_twice_is_told),
        cmocka_unit_test(one_that_stands_still_is_wrong),
        cmocka_unit_test(a_fault_is_dated_and_assigned_by_the_demand),
        cmocka_unit_test(a_false_demand_is_dated),
        cmocka_unit_test(stretches_keep_every_difference),
        cmocka_unit_test(missing_values_are_counted),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
