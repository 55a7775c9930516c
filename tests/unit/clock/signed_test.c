/* SPDX-License-Identifier: MIT */
/* Few applications, both edges; signed_long has more of them. */
#include "signed_plant.h"

/* Presses at 10, 20 and 34 s, releases at 13, 24 and 37 s; the other clock is
   5 s ahead, and air comes back 0.3 s later: by hand 5 s, with three presses
   and three releases. */
static void three_applications_suffice(void **state)
{
    (void)state;
    static const double on_a[] = {10, 20, 34};
    static const double off_a[] = {13, 24, 37};
    static const double on_b[] = {15.001, 24.999, 39};
    static const double off_b[] = {18.3, 29.31, 42.29};
    const struct bl_signed_events a = {on_a, off_a, 3, 3, 0, 50};
    const struct bl_signed_events b = {on_b, off_b, 3, 3, 2, 60};
    const struct bl_pair_options o = bl_pair_defaults();
    struct bl_pair_result r;
    assert_int_equal(bl_clock_pair_signed(&a, &b, &o, &r, NULL), BL_OK);
    assert_int_equal(r.outcome, BL_PAIR_TIED);
    assert_near(r.offset_s, 5, 1e-9);
    assert_int_equal(r.pairs, 3);
    assert_int_equal(r.releases, 3);
    assert_near(r.drift, 0, 0);
    assert_near(r.u_drift, 100e-6 / sqrt(3), 1e-12);
    assert_true(r.odds >= 1000);
}

/* Pauses of 10.00 and 10.01 s: one press further on would do as well. */
static void even_pauses_are_refused(void **state)
{
    (void)state;
    static const double on_a[] = {10, 20, 30.01};
    static const double off_a[] = {13, 24, 32};
    static const double on_b[] = {15, 25, 35.01};
    static const double off_b[] = {18.3, 29.3, 37.3};
    const struct bl_signed_events a = {on_a, off_a, 3, 3, 0, 50};
    const struct bl_signed_events b = {on_b, off_b, 3, 3, 2, 60};
    const struct bl_pair_options o = bl_pair_defaults();
    struct bl_pair_result r;
    assert_int_equal(bl_clock_pair_signed(&a, &b, &o, &r, NULL), BL_OK);
    assert_int_equal(r.outcome, BL_PAIR_AMBIGUOUS);
}

/* Two presses and one release that fit are three events: too few. */
static void three_events_are_too_few(void **state)
{
    (void)state;
    static const double on_a[] = {10, 20};
    static const double off_a[] = {13};
    static const double on_b[] = {15, 25};
    static const double off_b[] = {18.3, 40};
    const struct bl_signed_events a = {on_a, off_a, 2, 1, 0, 50};
    const struct bl_signed_events b = {on_b, off_b, 2, 2, 2, 60};
    const struct bl_pair_options o = bl_pair_defaults();
    struct bl_pair_result r;
    assert_int_equal(bl_clock_pair_signed(&a, &b, &o, &r, NULL), BL_OK);
    assert_int_equal(r.outcome, BL_PAIR_TOO_FEW);
}

/* Recordings of two different runs have no shift. */
static void unrelated_lists_do_not_tie(void **state)
{
    (void)state;
    struct bl_random random;
    bl_random_seed(&random, 11);
    size_t tied = 0;
    for (size_t i = 0; i < 1000; i++) {
        const struct few_wanted wanted = {.applications = 3};
        struct few_events e;
        struct few_events other;
        struct bl_pair_result r;
        few_make(&e, &random, &wanted);
        few_make(&other, &random, &wanted);
        const struct bl_pair_options o = bl_pair_defaults();
        assert_int_equal(bl_clock_pair_signed(&e.a, &other.b, &o, &r, NULL),
                         BL_OK);
        tied += r.outcome == BL_PAIR_TIED;
    }
    assert_true(tied <= 3);
}

static void most_runs_of_three_are_tied(void **state)
{
    (void)state;
    const struct few_wanted wanted = {
        .applications = 3, .missing = 0.02, .stabs = 0.1};
    const struct few_found f = few_runs(3000, 1, &wanted);
    assert_true(100 * f.tied >= 85 * f.runs);
    assert_int_equal(f.wrong, 0);
    assert_true(100 * f.within_2u >= 94 * f.tied);
    const struct few_wanted even = {.applications = 3, .even = 0.005};
    assert_int_equal(few_runs(500, 2, &even).tied, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(three_applications_suffice),
        cmocka_unit_test(even_pauses_are_refused),
        cmocka_unit_test(three_events_are_too_few),
        cmocka_unit_test(unrelated_lists_do_not_tie),
        cmocka_unit_test(most_runs_of_three_are_tied),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
