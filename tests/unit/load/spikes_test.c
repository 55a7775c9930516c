/* SPDX-License-Identifier: MIT */
/*
 * Spikes against made signals of known shape: what stands out for fewer samples
 * than a valve could follow is left out; steps, overshoots, ringing,
 * stair-steps, switches and slow loggers are not. Outside references: the
 * made signals; 2 to 10 ms and 10 to 20 kPa are far from any valve, a pedal's
 * overshoot of 50 ms and more is usual (common practice).
 */
#include "testing.h"

#include "base/random.h"
#include "load/build.h"

#include <math.h>

enum { ROWS = 4000, RUNS = 40 };

struct made {
    struct bl_log_samples s;
    struct bl_spikes k;
    float *column[1];
    double step; /* smallest one seen so far */
    int64_t time_ns[ROWS];
    float value[ROWS];
};

static void start(struct made *m, double hz)
{
    memset(m, 0, sizeof(*m));
    for (size_t i = 0; i < ROWS; i++) {
        m->time_ns[i] = (int64_t)llround((double)i * 1e9 / hz);
    }
    m->column[0] = m->value;
    m->step = 0.1;
    m->s = (struct bl_log_samples){
        .time_ns = m->time_ns, .count = ROWS, .value = m->column, .values = 1};
    bl_spikes_start(&m->k, BL_QUANTITY_PRESSURE);
}

/* In pieces, as blocks of a log come: the pieces must not matter. */
static void search(struct made *m, size_t piece)
{
    for (size_t given = piece; m->s.settled < ROWS; given += piece) {
        m->s.count = given < ROWS ? given : ROWS;
        const size_t to = bl_spikes_until(&m->s, m->s.count == ROWS);
        if (to > m->s.settled) {
            bl_spikes_remove(&m->k, &m->s, 0, to, m->step);
            m->s.settled = to;
        }
    }
}

/* An application: rest, a rise of 0.15 s, a hold with an overshoot of 60 ms,
   a fall. Seconds from its start. */
static double application(double t, double hold)
{
    if (t < 1) {
        return 0;
    }
    if (t < 4) {
        const double x = t - 1;
        const double rise = hold * (1 - exp(-x / 0.05));
        const double over = x > 0.2 && x < 0.26 ? 0.2 * hold : 0;
        return rise + over * sin((x - 0.2) / 0.06 * 3.14159265);
    }
    return hold * exp(-(t - 4) / 0.08);
}

static void fill(struct made *m, double hz, double hold, double noise,
                 struct bl_random *dice)
{
    start(m, hz);
    for (size_t i = 0; i < ROWS; i++) {
        const double p = application(fmod((double)i / hz, 6), hold);
        /* Written with one decimal. */
        m->value[i] =
            (float)(round((p + noise * bl_random_normal(dice)) * 10) / 10);
    }
}

static void spikes_are_left_out(void **state)
{
    (void)state;
    static const double rates[] = {100, 200, 500, 1000, 2000};
    static struct made m;
    struct bl_random dice;
    bl_random_seed(&dice, 5);
    for (size_t r = 0; r < COUNT_OF(rates); r++) {
        for (size_t i = 0; i < RUNS; i++) {
            fill(&m, rates[r], 600, 1, &dice);
            const size_t at = 40 + (size_t)bl_random_below(&dice, ROWS - 80);
            const size_t rows = 1 + i % 3;
            /* In the rise itself a spike of less than a sample's climb is
               none: high ones there, low ones where all is quiet. */
            const float height = i % 2 == 0 ? 9800 : -1500;
            for (size_t k = 0; k < rows; k++) {
                m.value[at + k] += height;
            }
            search(&m, 512);
            if (m.k.count != rows || !isnan(m.value[at]) ||
                !isnan(m.value[at + rows - 1])) {
                fail_msg("%g Hz, %zu rows at %zu: %llu left out", rates[r],
                         rows, at, (unsigned long long)m.k.count);
            }
        }
    }
}

static void small_spikes_in_quiet_are_left_out(void **state)
{
    (void)state;
    static struct made m;
    struct bl_random dice;
    bl_random_seed(&dice, 6);
    for (size_t i = 0; i < RUNS; i++) {
        fill(&m, 500, 400, 0.5, &dice);
        const size_t at = i % 2 == 0 ? 300 : 1600; /* rest, hold */
        for (size_t k = 0; k < 1 + i % 3; k++) {
            m.value[at + k] += 20;
        }
        search(&m, 700);
        assert_int_equal(m.k.count, 1 + i % 3);
    }
}

/* Values of a rise that lost their digits: they fall back from the slope, which
   then goes on where it would have been. */
static void what_falls_back_from_a_slope_is_left_out(void **state)
{
    (void)state;
    static struct made m;
    struct bl_random dice;
    bl_random_seed(&dice, 13);
    for (size_t i = 0; i < RUNS; i++) {
        fill(&m, 500, 600, 0.3, &dice);
        const size_t at = 506 + i % 8; /* the rise begins with row 500 */
        for (size_t k = 0; k < 1 + i % 3; k++) {
            m.value[at + k] = 0;
        }
        search(&m, 700);
        assert_int_equal(m.k.count, 1 + i % 3);
    }
}

/* Nothing of a sound signal is a spike, at any rate and noise. */
static void nothing_else_is(void **state)
{
    (void)state;
    static const double rates[] = {10, 25, 50, 100, 200, 500, 1000, 5000};
    static const double noises[] = {0, 0.3, 1, 7, 30, 140};
    static struct made m;
    struct bl_random dice;
    bl_random_seed(&dice, 7);
    for (size_t r = 0; r < COUNT_OF(rates); r++) {
        for (size_t n = 0; n < COUNT_OF(noises); n++) {
            for (size_t i = 0; i < 10; i++) {
                fill(&m, rates[r], 60.0 * (double)(i + 1), noises[n], &dice);
                search(&m, 333);
                if (m.k.count > 0) {
                    fail_msg("%g Hz, noise %g: %llu left out", rates[r],
                             noises[n], (unsigned long long)m.k.count);
                }
            }
        }
    }
}

/* A step from one sample to the next, back after 0.1 s; a tap of one sample of
   a slow logger; a coarse channel that flickers; a slow channel padded. */
static void edges_and_coarse_channels_stay(void **state)
{
    (void)state;
    static struct made m;
    struct bl_random dice;
    bl_random_seed(&dice, 8);
    start(&m, 500);
    for (size_t i = 0; i < ROWS; i++) {
        m.value[i] = i % 500 < 50 ? 600 : 0;
    }
    search(&m, 512);
    assert_int_equal(m.k.count, 0);
    start(&m, 10);
    for (size_t i = 0; i < ROWS; i++) {
        m.value[i] = i % 50 == 7 ? 300 : 0;
    }
    search(&m, 512);
    assert_int_equal(m.k.count, 0);
    start(&m, 500);
    m.step = INFINITY;
    for (size_t i = 0; i < ROWS; i++) {
        m.value[i] = (float)(10 * round(0.4 * bl_random_normal(&dice)));
    }
    search(&m, 512);
    assert_int_equal(m.k.count, 0);
    for (size_t padded = 2; padded <= 50; padded += 6) {
        fill(&m, 500, 600, 2, &dice);
        for (size_t i = 0; i < ROWS; i++) {
            m.value[i] = m.value[i - i % padded];
        }
        search(&m, 512);
        assert_int_equal(m.k.count, 0);
    }
}

/* A wave runs through a line and is damped within some samples: it is air. */
static void a_wave_in_a_line_stays(void **state)
{
    (void)state;
    static const float wave[] = {4, 20, 8, 11, 6, 5, 3, 1};
    static struct made m;
    struct bl_random dice;
    bl_random_seed(&dice, 12);
    for (size_t i = 0; i < RUNS; i++) {
        start(&m, 500);
        m.step = 1;
        for (size_t k = 0; k < ROWS; k++) {
            m.value[k] = (float)round(650 + 0.4 * bl_random_normal(&dice));
        }
        for (size_t k = 0; k < COUNT_OF(wave); k++) {
            m.value[1000 + k] += wave[k] * (float)(1 + i % 4);
        }
        search(&m, 512);
        assert_int_equal(m.k.count, 0);
    }
}

/* What no brake system holds is none at any rate; a quantity that may jump is
   not searched. */
static void absurd_values_and_other_quantities(void **state)
{
    (void)state;
    static struct made m;
    struct bl_random dice;
    bl_random_seed(&dice, 9);
    fill(&m, 10, 600, 1, &dice);
    m.value[777] = 10202;
    search(&m, 512);
    assert_int_equal(m.k.count, 1);
    assert_true(isnan(m.value[777]));
    /* In pascal by mistake, a tap of the pedal at 10 Hz is no spike. */
    fill(&m, 10, 600, 1, &dice);
    for (size_t i = 0; i < ROWS; i++) {
        m.value[i] = 1000 * (i == 770 ? 300 : m.value[i] + 3);
    }
    search(&m, 512);
    assert_int_equal(m.k.count, 0);
    fill(&m, 500, 600, 1, &dice);
    bl_spikes_start(&m.k, BL_QUANTITY_VOLTAGE);
    m.value[777] = 10202;
    search(&m, 512);
    assert_int_equal(m.k.count, 0);
}

/* Blocks of any size give the same. */
static void pieces_do_not_matter(void **state)
{
    (void)state;
    static struct made a, b;
    struct bl_random dice;
    bl_random_seed(&dice, 10);
    fill(&a, 500, 600, 1, &dice);
    for (size_t i = 100; i + 100 < ROWS; i += 137) {
        a.value[i] += (float)(200 * bl_random_normal(&dice));
    }
    b = a;
    b.column[0] = b.value;
    b.s.value = b.column;
    b.s.time_ns = b.time_ns;
    search(&a, 64);
    search(&b, ROWS);
    assert_true(a.k.count > 10);
    assert_int_equal(a.k.count, b.k.count);
    for (size_t i = 0; i < ROWS; i++) {
        assert_int_equal(isnan(a.value[i]), isnan(b.value[i]));
    }
}

/* A range of 0 .. 1000 kPa: at rest with noise nothing is clipped; 200 samples
   at the top are; two are a touch. */
static void only_an_end_that_stops_the_signal_clips(void **state)
{
    (void)state;
    static float value[ROWS];
    struct bl_random dice;
    struct bl_range range;
    bl_random_seed(&dice, 11);
    const struct bl_trial_channel channel = {
        .quantity = BL_QUANTITY_PRESSURE, .range_low = 0, .range_high = 1000};
    for (size_t i = 0; i < ROWS; i++) {
        value[i] = (float)(2 * bl_random_normal(&dice));
    }
    value[100] = value[101] = 1000;
    bl_range_start(&range, &channel);
    bl_range_feed(&range, value, ROWS);
    assert_int_equal(range.at_end, 0);
    for (size_t i = 500; i < 700; i++) {
        value[i] = 1000;
    }
    bl_range_start(&range, &channel);
    bl_range_feed(&range, value, 600);
    bl_range_feed(&range, value + 600, ROWS - 600);
    assert_int_equal(range.at_end, 200);
    /* 4 mA stand for 20 kPa: below, the instrument shows nothing. */
    const struct bl_trial_channel raised = {
        .quantity = BL_QUANTITY_PRESSURE, .range_low = 20, .range_high = 1000};
    for (size_t i = 0; i < ROWS; i++) {
        value[i] = i < 300 ? 20 : 400;
    }
    bl_range_start(&range, &raised);
    bl_range_feed(&range, value, ROWS);
    assert_int_equal(range.at_end, 300);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(spikes_are_left_out),
        cmocka_unit_test(small_spikes_in_quiet_are_left_out),
        cmocka_unit_test(what_falls_back_from_a_slope_is_left_out),
        cmocka_unit_test(nothing_else_is),
        cmocka_unit_test(edges_and_coarse_channels_stay),
        cmocka_unit_test(a_wave_in_a_line_stays),
        cmocka_unit_test(absurd_values_and_other_quantities),
        cmocka_unit_test(pieces_do_not_matter),
        cmocka_unit_test(only_an_end_that_stops_the_signal_clips),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
