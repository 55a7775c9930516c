/* SPDX-License-Identifier: MIT */
/* Every operation of base/lanes.h against the C expression that its comment
   gives, with missing, infinite and signed values among them. Run with the
   processor's wide registers and without: both must give the same. */
#ifndef BRAKELAG_TESTS_UNIT_BASE_LANES_CASES_H
#define BRAKELAG_TESTS_UNIT_BASE_LANES_CASES_H

#include "testing.h"

#include "base/lanes.h"
#include "base/random.h"

enum { LANE_ROUNDS = 20000 };

static float some_value(struct bl_random *random)
{
    static const float odd[] = {0, -0.0f, NAN, INFINITY, -INFINITY, 1e-42f};
    const uint64_t kind = bl_random_below(random, 12);
    return kind < COUNT_OF(odd) ? odd[kind]
                                : (float)bl_random_below(random, 9) - 4;
}

/* -0 and 0 are equal here: which of them a least value is does not matter. */
static void same(double got, double expected)
{
    assert_true(isnan(expected) ? isnan(got) : got == expected);
}

static void lanes_do_as_each_alone(void **state)
{
    (void)state;
    struct bl_random random;
    bl_random_seed(&random, 11);
    for (int round = 0; round < LANE_ROUNDS; round++) {
        float a[BL_LANES], b[BL_LANES], r[7][BL_LANES];
        for (size_t i = 0; i < BL_LANES; i++) {
            a[i] = some_value(&random);
            b[i] = some_value(&random);
        }
        const struct bl_lanes x = bl_lanes_load(a);
        const struct bl_lanes y = bl_lanes_load(b);
        bl_lanes_store(r[0], bl_lanes_add(x, y));
        bl_lanes_store(r[1], bl_lanes_subtract(x, y));
        bl_lanes_store(r[2], bl_lanes_times(x, y));
        bl_lanes_store(r[3], bl_lanes_min(x, y));
        bl_lanes_store(r[4], bl_lanes_max(x, y));
        bl_lanes_store(r[5], bl_lanes_size(x));
        bl_lanes_store(r[6], bl_lanes_positive(x, y, bl_lanes_all(7)));
        for (size_t i = 0; i < BL_LANES; i++) {
            same((double)r[0][i], (double)(a[i] + b[i]));
            same((double)r[1][i], (double)(a[i] - b[i]));
            same((double)r[2][i], (double)(a[i] * b[i]));
            same((double)r[3][i], (double)(a[i] < b[i] ? a[i] : b[i]));
            same((double)r[4][i], (double)(a[i] > b[i] ? a[i] : b[i]));
            same((double)r[5][i], (double)fabsf(a[i]));
            same((double)r[6][i], (double)(a[i] > 0 ? b[i] : 7));
        }
    }
}

static void pairs_do_as_each_alone(void **state)
{
    (void)state;
    struct bl_random random;
    bl_random_seed(&random, 12);
    for (int round = 0; round < LANE_ROUNDS; round++) {
        double a[BL_PAIR], b[BL_PAIR], r[7][BL_PAIR];
        float single[BL_PAIR];
        for (size_t i = 0; i < BL_PAIR; i++) {
            a[i] = (double)some_value(&random) / 3;
            b[i] = (double)some_value(&random);
        }
        const struct bl_pair x = bl_pair_load(a);
        const struct bl_pair y = bl_pair_load(b);
        bl_pair_store(r[0], bl_pair_add(x, y));
        bl_pair_store(r[1], bl_pair_subtract(x, y));
        bl_pair_store(r[2], bl_pair_times(x, y));
        bl_pair_store(r[3], bl_pair_min(x, y));
        bl_pair_store(r[4], bl_pair_max(x, y));
        bl_pair_store(r[5], bl_pair_size(x));
        bl_pair_store(r[6], bl_pair_positive(x, y, bl_pair_all(7)));
        bl_pair_store_float(single, x);
        for (size_t i = 0; i < BL_PAIR; i++) {
            same(r[0][i], a[i] + b[i]);
            same(r[1][i], a[i] - b[i]);
            same(r[2][i], a[i] * b[i]);
            same(r[3][i], a[i] < b[i] ? a[i] : b[i]);
            same(r[4][i], a[i] > b[i] ? a[i] : b[i]);
            same(r[5][i], fabs(a[i]));
            same(r[6][i], a[i] > 0 ? b[i] : 7);
            same((double)single[i], (double)(float)a[i]);
        }
    }
}

static int run_lanes(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lanes_do_as_each_alone),
        cmocka_unit_test(pairs_do_as_each_alone),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

#endif
