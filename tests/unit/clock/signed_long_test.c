/* SPDX-License-Identifier: MIT */
/* Few applications, both edges, often enough to count what is rare. */
#include "signed_plant.h"

static void hold_to(const struct few_wanted *wanted, uint64_t seed)
{
    const struct few_found f = few_runs(10000, seed, wanted);
    assert_true(100 * f.tied >= 85 * f.runs);
    assert_true(1000 * f.wrong <= f.runs);
    assert_true(100 * f.within_2u >= 94 * f.tied);
}

static void three_applications(void **state)
{
    (void)state;
    hold_to(&(const struct few_wanted){.applications = 3}, 21);
    hold_to(&(const struct few_wanted){.applications = 3,
                                       .missing = 0.02,
                                       .stabs = 0.1},
            22);
}

static void four_applications(void **state)
{
    (void)state;
    hold_to(&(const struct few_wanted){.applications = 4,
                                       .missing = 0.05,
                                       .stabs = 0.2},
            23);
}

/* At most one in a hundred gets through, and none of them wrong. */
static void nearly_even_pauses(void **state)
{
    (void)state;
    for (size_t n = 3; n <= 5; n++) {
        const struct few_wanted wanted = {
            .applications = n, .even = 0.01, .missing = 0.05, .stabs = 0.1};
        const struct few_found f = few_runs(10000, 30 + n, &wanted);
        assert_true(1000 * f.wrong <= f.runs);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(three_applications),
        cmocka_unit_test(four_applications),
        cmocka_unit_test(nearly_even_pauses),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
