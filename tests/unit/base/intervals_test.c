/* SPDX-License-Identifier: MIT */
/* The median in bounded memory beside that of the sorted numbers (the mean of
   the two middle ones, as numerical libraries define it). */
#include "testing.h"

#include "base/alloc.h"
#include "base/intervals.h"
#include "base/random.h"

#include <stdlib.h>

/* All of so many count. */
enum { MOST = 2 * BL_INTERVALS_EXACT - 1 };

static int ascending(const void *a, const void *b)
{
    const int64_t x = *(const int64_t *)a;
    const int64_t y = *(const int64_t *)b;
    return (x > y) - (x < y);
}

static int64_t sorted_median(int64_t *value, size_t count)
{
    qsort(value, count, sizeof(*value), ascending);
    const int64_t low = value[(count - 1) / 2];
    return low + (value[count / 2] - low + 1) / 2;
}

static int64_t median_of(const int64_t *value, size_t count, bool backwards)
{
    struct bl_intervals all = {0};
    for (size_t i = 0; i < count; i++) {
        assert_true(
            bl_intervals_add(&all, value[backwards ? count - 1 - i : i]));
    }
    assert_true(bl_intervals_end(&all));
    assert_int_equal(all.count, count);
    const int64_t median = bl_intervals_median(&all);
    bl_intervals_finish(&all);
    return median;
}

/* Every second, fourth .. interval is another one: what thinning cannot see. */
static void periodic_patterns_are_exact(void **state)
{
    (void)state;
    static int64_t value[MOST];
    for (size_t period = 2; period <= 64; period++) {
        for (size_t i = 0; i < MOST - 1; i++) {
            value[i] = i % period == 0 ? 9010000 : 9958000 + (int64_t)period;
        }
        const int64_t found = median_of(value, MOST - 1, false);
        assert_int_equal(found, sorted_median(value, MOST - 1));
    }
}

static void spread_numbers_lie_within_the_stated_error(void **state)
{
    (void)state;
    static int64_t value[MOST];
    struct bl_random random;
    bl_random_seed(&random, 15);
    for (unsigned run = 0; run < 40; run++) {
        const size_t count =
            1 + (size_t)(bl_random_uniform(&random) * (MOST - 1));
        const double octaves = run % 2 == 0 ? 1 : 12;
        for (size_t i = 0; i < count; i++) {
            value[i] =
                (int64_t)(1e6 * pow(2, octaves * bl_random_uniform(&random)));
        }
        const int64_t forwards = median_of(value, count, false);
        assert_int_equal(forwards, median_of(value, count, true));
        const double true_ns = (double)sorted_median(value, count);
        const double error = fabs((double)forwards / true_ns - 1);
        assert_true(error <= (octaves > 1 ? 0.004 : 0.00013));
    }
}

static void few_and_odd_numbers(void **state)
{
    (void)state;
    const int64_t odd[] = {-5, 0, INT64_MAX};
    assert_int_equal(median_of(odd, 3, false), 0);
    assert_int_equal(median_of(odd + 2, 1, false), INT64_MAX);
    const int64_t two[] = {10, 20};
    assert_int_equal(median_of(two, 2, false), 15);
    assert_int_equal(median_of(two, 0, false), 0);
}

/* Ranks and counts beside those of the sorted numbers, and the median again
   after them. */
static void ranks_and_counts(void **state)
{
    (void)state;
    struct bl_intervals all = {0};
    for (int64_t i = 0; i < 1000; i++) {
        assert_true(bl_intervals_add(&all, 1000 * (i * 7 % 1000)));
    }
    assert_true(bl_intervals_end(&all));
    assert_int_equal(bl_intervals_ranked(&all, 0), 0);
    assert_int_equal(bl_intervals_ranked(&all, 250), 250000);
    assert_int_equal(bl_intervals_median(&all), 499500);
    assert_int_equal(bl_intervals_up_to(&all, -1), 0);
    assert_int_equal(bl_intervals_up_to(&all, 374999), 375);
    assert_int_equal(bl_intervals_up_to(&all, 375000), 376);
    assert_int_equal(bl_intervals_up_to(&all, INT64_MAX), 1000);
    assert_int_equal(bl_intervals_ranked(&all, 999), 999000);
    assert_int_equal(bl_intervals_median(&all), 499500);
    bl_intervals_finish(&all);
}

/* How many of the numbers are smaller, as a share. */
static double share_below(const int64_t *value, size_t count, int64_t than)
{
    size_t below = 0;
    for (size_t i = 0; i < count; i++) {
        below += value[i] < than;
    }
    return (double)below / (double)count;
}

/* Of very many numbers some are drawn: counts stay, patterns that repeat stay
   exact, and the median of any others lies in their middle within the 1 % that
   the header states. */
static void very_many_are_drawn_by_dice(void **state)
{
    (void)state;
    enum { MANY = 400000 };
    int64_t *value = bl_alloc(MANY, sizeof(*value));
    assert_non_null(value);
    for (size_t period = 3; period <= 64; period += 10) {
        for (size_t i = 0; i < MANY; i++) {
            value[i] = i % period == 0 ? 9010000 : 9958000;
        }
        assert_int_equal(median_of(value, MANY, false), 9958000);
    }
    struct bl_random random;
    for (uint64_t seed = 1; seed <= 8; seed++) {
        bl_random_seed(&random, seed);
        for (size_t i = 0; i < MANY; i++) {
            value[i] = (int64_t)(1e7 * exp(bl_random_normal(&random)));
        }
        const int64_t median = median_of(value, MANY, seed % 2 == 0);
        assert_near(share_below(value, MANY, median), 0.5, 0.01);
    }
    bl_free(value);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(periodic_patterns_are_exact),
        cmocka_unit_test(spread_numbers_lie_within_the_stated_error),
        cmocka_unit_test(few_and_odd_numbers),
        cmocka_unit_test(ranks_and_counts),
        cmocka_unit_test(very_many_are_drawn_by_dice),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
