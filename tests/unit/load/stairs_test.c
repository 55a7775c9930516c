/* SPDX-License-Identifier: MIT */
/*
 * Recorders that repeat each value against noise that happens to: a pedal that
 * goes up in 0.2 s and comes down in 0.3 s, five times, at 1 kHz, in
 * noise of one and a half steps of the log; values written once, or twice each.
 */
#include "testing.h"

#include "base/random.h"
#include "load/build.h"

#include <math.h>

enum { ROWS = 10000, RUNS = 200 };

static double pedal(double t)
{
    const double s = fmod(t, 2);
    return s < 0.5   ? 0
           : s < 0.7 ? 3000 * (s - 0.5)
           : s < 1   ? 600
           : s < 1.3 ? 600 - 2000 * (s - 1)
                     : 0;
}

/* `each`: rows that one value is written in. */
static struct bl_samples described(unsigned seed, size_t each)
{
    static int64_t time_ns[ROWS];
    static float value[ROWS];
    struct bl_error error;
    struct bl_random random;
    bl_random_seed(&random, seed);
    for (size_t i = 0; i < ROWS; i++) {
        time_ns[i] = (int64_t)i * 1000000;
        const double noisy =
            pedal((double)i * 1e-3) + 1.5 * bl_random_normal(&random);
        value[i] = i % each == 0 ? (float)round(noisy) : value[i - 1];
    }
    struct bl_samples s = {.time_ns = time_ns, .value = value, .count = ROWS};
    assert_int_equal(bl_samples_describe(&s, 1, &error), BL_OK);
    return s;
}

static void noise_makes_no_stairs(void **state)
{
    (void)state;
    for (unsigned seed = 1; seed <= RUNS; seed++) {
        assert_false(described(seed, 1).stair_steps);
    }
}

static void a_recorder_that_repeats_is_seen(void **state)
{
    (void)state;
    for (unsigned seed = 1; seed <= RUNS; seed++) {
        const struct bl_samples s = described(seed, 4);
        assert_true(s.stair_steps);
        assert_in_range(s.stair_ns, 4000000, 5000000);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(noise_makes_no_stairs),
        cmocka_unit_test(a_recorder_that_repeats_is_seen),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
