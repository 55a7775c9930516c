/* SPDX-License-Identifier: MIT */
/* Fewer points, no extreme lost: compared with the whole trace. */
#include "testing.h"

#include "report/decimate.h"

#include <math.h>

enum { POINTS = 20000 };

static struct bl_point before[POINTS], after[POINTS];

/* A quiet trace with a rise, a ripple and one spike of a single sample. */
static void make(void)
{
    unsigned state = 12345;
    for (size_t i = 0; i < POINTS; i++) {
        state = state * 1103515245u + 12345u;
        const double noise = (double)(state >> 16 & 0xFF) / 255 - 0.5;
        const double rise = i < 8000 ? 0 : i < 9000 ? (double)(i - 8000) : 1000;
        before[i] = (struct bl_point){(int64_t)i * 1000000, rise + 3 * noise};
        after[i] = before[i];
    }
    before[4321].value = after[4321].value = -77;
    before[15000].value = after[15000].value = 1500;
}

static void keeps_extremes_of_every_stretch(void **state)
{
    (void)state;
    make();
    const size_t count = bl_decimate(after, POINTS, 300, 0.1, false);
    assert_in_range(count, 10, 300);
    double low = INFINITY;
    double high = -INFINITY;
    size_t at = 0;
    for (size_t i = 0; i < count; i++) {
        low = fmin(low, after[i].value);
        high = fmax(high, after[i].value);
        /* each point is a sample of its own, in order */
        while (at < POINTS && before[at].time_ns < after[i].time_ns) {
            at++;
        }
        assert_true(at < POINTS && before[at].time_ns == after[i].time_ns);
        assert_true(before[at].value == after[i].value);
    }
    assert_true(low == -77);
    assert_true(high == 1500);
    assert_true(after[0].time_ns == before[0].time_ns);
    assert_true(after[count - 1].time_ns == before[POINTS - 1].time_ns);
}

/* A gathering leaves at most four points, among them its smallest and largest.
   So whatever was dropped between two kept points lies between the smallest and
   the largest of the six around it: no extreme, however short, is lost. */
static void drops_nothing_beyond_its_neighbours(void **state)
{
    (void)state;
    make();
    const size_t count = bl_decimate(after, POINTS, 2000, 0.1, false);
    size_t dropped = 0;
    size_t next = 0; /* the kept point at or behind the sample */
    for (size_t i = 0; i < POINTS; i++) {
        while (next < count && after[next].time_ns < before[i].time_ns) {
            next++;
        }
        if (next < count && after[next].time_ns == before[i].time_ns) {
            continue;
        }
        double low = INFINITY;
        double high = -INFINITY;
        for (size_t k = next < 3 ? 0 : next - 3; k < next + 3 && k < count;
             k++) {
            low = fmin(low, after[k].value);
            high = fmax(high, after[k].value);
        }
        assert_true(before[i].value >= low && before[i].value <= high);
        dropped++;
    }
    assert_int_equal(dropped, POINTS - count);
    assert_true(dropped > POINTS / 2);
}

/* A line must not begin to rise before the samples do: between two kept points
   the drawn line stays as close to every sample as a hundredth of the range,
   with 105 points for a rise and a fall of 2,000 samples. */
static void keeps_the_shape(void **state)
{
    (void)state;
    enum { COUNT = 4000 };
    for (size_t i = 0; i < COUNT; i++) {
        /* flat, a rise as of a filling volume, flat, a fall of the same kind */
        const double up =
            i < 500 ? 0 : 650 * (1 - exp(-((double)i - 500) / 90));
        const double down = i < 2500 ? 1 : exp(-((double)i - 2500) / 150);
        before[i] = after[i] =
            (struct bl_point){(int64_t)i * 1000000, up * down};
    }
    const size_t count = bl_decimate(after, COUNT, 105, 0.25, false);
    assert_in_range(count, 10, 105);
    double worst = 0;
    size_t next = 1;
    for (size_t i = 0; i < COUNT; i++) {
        while (next + 1 < count && after[next].time_ns < before[i].time_ns) {
            next++;
        }
        const struct bl_point *a = &after[next - 1];
        const struct bl_point *b = &after[next];
        const double share = (double)(before[i].time_ns - a->time_ns) /
                             (double)(b->time_ns - a->time_ns);
        worst = fmax(worst, fabs(a->value + share * (b->value - a->value) -
                                 before[i].value));
    }
    assert_true(worst < 6.5);
}

static void gathers_held_values_by_value(void **state)
{
    (void)state;
    /* a step is drawn level: a line from 0 to 10 would not be what was sent */
    struct bl_point step[] = {{0, 0}, {10, 0}, {20, 0}, {30, 10}, {40, 10}};
    const size_t count = bl_decimate(step, 5, 100, 1, true);
    assert_int_equal(count, 4);
    assert_true(step[1].time_ns == 20 && step[1].value == 0);
    assert_true(step[2].time_ns == 30 && step[2].value == 10);
}

static void keeps_what_separates_parts(void **state)
{
    (void)state;
    make();
    after[5000].value = NAN;
    const size_t count = bl_decimate(after, POINTS, 100, 0.1, false);
    size_t gaps = 0;
    for (size_t i = 0; i < count; i++) {
        gaps += isnan(after[i].value) ? 1 : 0;
    }
    assert_int_equal(gaps, 1);
}

static void takes_few_points_as_they_are(void **state)
{
    (void)state;
    struct bl_point few[] = {{0, 1}, {10, 5}, {20, 2}};
    assert_int_equal(bl_decimate(few, 3, 100, 0, false), 3);
    assert_int_equal(bl_decimate(few, 0, 100, 0, false), 0);
    assert_true(few[1].value == 5);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(keeps_extremes_of_every_stretch),
        cmocka_unit_test(drops_nothing_beyond_its_neighbours),
        cmocka_unit_test(keeps_the_shape),
        cmocka_unit_test(gathers_held_values_by_value),
        cmocka_unit_test(keeps_what_separates_parts),
        cmocka_unit_test(takes_few_points_as_they_are),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
