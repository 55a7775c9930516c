/* SPDX-License-Identifier: MIT */
/*
 * How often an interval of three runs a side holds the difference of the
 * populations, and how often a difference that is none is called sure: 1000
 * trials a cell, from runs with effects of their own of 0, 1 and 3 times the
 * scatter within (runs_plant.h). Bounds are those that docs/testing.md states.
 */
#include "runs_plant.h"

static struct runs_found trials(const struct runs_cell *cell, uint64_t seed)
{
    enum { TRIALS = 1000 };
    struct bl_random random;
    struct runs_found found = {0};
    bl_random_seed(&random, seed);
    for (size_t i = 0; i < TRIALS; i++) {
        runs_trial(&found, cell, &random);
    }
    print_message("%zu runs a side of %zu%s, between %.0f within %.0f ms, "
                  "pedals %.2f and %.2f s, fills %.1f, difference %.0f ms: "
                  "covered %zu, sure %zu of %zu\n",
                  cell->runs, cell->applications,
                  cell->blocks ? " in blocks" : "", 1e3 * cell->between,
                  1e3 * cell->within, cell->pedal_base, cell->pedal_against,
                  cell->fills, 1e3 * cell->difference, found.covered,
                  found.sure, found.trials);
    return found;
}

static const double ratio[] = {0, 1, 3};

static struct runs_cell cell_of(size_t k, bool blocks)
{
    return (struct runs_cell){.runs = 3,
                              .applications = 5,
                              .between = 0.004 * ratio[k],
                              .within = 0.004,
                              .pedal_base = 0.10,
                              .pedal_against = 0.10,
                              .fills = 1,
                              .blocks = blocks};
}

static void three_runs_a_side_cover(void **state)
{
    (void)state;
    for (size_t k = 0; k < 2 * COUNT_OF(ratio); k++) {
        struct runs_cell cell = cell_of(k / 2, k % 2 == 1);
        cell.difference = 0.05;
        const struct runs_found f = trials(&cell, 1000 + k);
        assert_in_range(f.covered, 930, 980);
    }
}

static void no_difference_is_seldom_sure(void **state)
{
    (void)state;
    for (size_t k = 0; k < COUNT_OF(ratio); k++) {
        struct runs_cell cell = cell_of(k, false);
        assert_true(trials(&cell, 2000 + k).sure <= 65);
    }
}

/* Units that only delay, half and half, and that only fill: the pedal's own
   0.15 s is none of theirs. */
static void slower_pedals_are_seldom_sure(void **state)
{
    (void)state;
    for (size_t k = 0; k < 3 * COUNT_OF(ratio); k++) {
        struct runs_cell cell = cell_of(k / 3, false);
        cell.pedal_against = 0.25;
        cell.fills = 0.5 * (double)(k % 3);
        assert_true(trials(&cell, 3000 + k).sure <= 65);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(three_runs_a_side_cover),
        cmocka_unit_test(no_difference_is_seldom_sure),
        cmocka_unit_test(slower_pedals_are_seldom_sure),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
