/* SPDX-License-Identifier: MIT */
/*
 * The run as unit of inference, on figures worked out by hand and on a plant
 * whose runs have effects of their own (runs_plant.h).
 */
#include "runs_plant.h"

static struct runs_plant p;

/* Means of runs 1, 2, 3 and 4, 5, 6 (tenths of a second): difference 0.3, u =
   sqrt(2 * 0.01 / 3), 4 degrees of freedom, t(0.975, 4) = 2.776445 (table).
   Each run has two values that lie 0.01 about its mean, so within is
   0.01 sqrt 2, and between is sqrt(0.01 - 0.0002 / 2) by analysis of variance.
 */
static void three_runs_a_side_by_welch(void **state)
{
    (void)state;
    plant_start(&p, 6, 2, false);
    for (size_t r = 0; r < 6; r++) {
        const double mean = 0.1 * (double)(r / 2 + 1) + (r % 2 == 1 ? 0.3 : 0);
        plant_set(&p, r, 0, mean - 0.01, 0);
        plant_set(&p, r, 1, mean + 0.01, 0);
    }
    struct bl_comparison *c = plant_compare(&p, NULL);
    const struct bl_comparison_row *row = plant_row(c);
    const double u = sqrt(0.02 / 3);
    assert_int_equal(row->scope, BL_SCOPE_RUNS);
    assert_near(row->difference_s, 0.3, 1e-12);
    assert_near(row->mean.dof, 4, 1e-9);
    assert_near(row->low_s, 0.3 - 2.776445 * u, 1e-6);
    assert_near(row->high_s, 0.3 + 2.776445 * u, 1e-6);
    assert_int_equal(row->verdict, BL_VERDICT_LATER);
    assert_near(row->of_runs.base.within_sd, 0.01 * sqrt(2), 1e-12);
    assert_near(row->of_runs.base.between_sd, sqrt(0.01 - 0.0001), 1e-12);
    /* Three and three cannot give 0.05 by ranks: 2 / 20. */
    assert_nan(row->p_exact);
    assert_near(row->shift.p_smallest, 0.1, 1e-12);
    bl_comparison_destroy(c);
}

/* Blocks drift by a second, differences are 0.10, 0.11, 0.12: mean 0.11, s
   0.01, t(0.975, 2) = 4.302653. */
static void blocks_pair_runs(void **state)
{
    (void)state;
    plant_start(&p, 6, 1, true);
    for (size_t r = 0; r < 6; r++) {
        const double block = (double)(r / 2);
        plant_set(&p, r, 0, block + (r % 2 == 1 ? 0.10 + 0.01 * block : 0), 0);
    }
    struct bl_comparison *c = plant_compare(&p, NULL);
    const struct bl_comparison_row *row = plant_row(c);
    assert_int_equal(row->scope, BL_SCOPE_PAIRS);
    assert_int_equal(row->of_runs.pairs, 3);
    assert_near(row->difference_s, 0.11, 1e-12);
    assert_near(row->low_s, 0.11 - 4.302653 * 0.01 / sqrt(3), 1e-7);
    assert_int_equal(row->verdict, BL_VERDICT_LATER);
    bl_comparison_destroy(c);
}

/* Four and four, all apart: 2 / C(8, 4) = 2/70. */
static void exact_from_four_a_side(void **state)
{
    (void)state;
    plant_start(&p, 8, 1, false);
    for (size_t r = 0; r < 8; r++) {
        plant_set(&p, r, 0, 0.01 * (double)(r / 2) + (r % 2 == 1 ? 0.5 : 0), 0);
    }
    struct bl_comparison *c = plant_compare(&p, NULL);
    assert_near(plant_row(c)->p_exact, 2.0 / 70, 1e-12);
    bl_comparison_destroy(c);
}

/* One run against five: what is missing is runs of the one. */
static void asks_for_runs_of_the_side_that_lacks_them(void **state)
{
    (void)state;
    plant_start(&p, 6, 5, false);
    for (size_t r = 0; r < 6; r++) {
        p.run[r].condition = r == 0 ? (char *)"unpowered" : (char *)"powered";
        for (size_t i = 0; i < 5; i++) {
            plant_set(&p, r, i, 0.3 + 0.001 * (double)(i * r % 4), 0);
        }
    }
    struct bl_comparison *c = plant_compare(&p, NULL);
    const struct bl_comparison_row *row = plant_row(c);
    assert_int_equal(row->verdict, BL_VERDICT_RUN_MORE);
    assert_int_equal(row->of_runs.more_base, 2);
    assert_int_equal(row->of_runs.more_against, 0);
    assert_int_equal(row->aim.runs, 0);
    bl_comparison_destroy(c);
}

/* Six in one run each, 0.2 s apart, and one value 0.5 s off: it is named, it is
   kept, and it is said what would be without. */
static void an_outlier_is_named_and_kept(void **state)
{
    (void)state;
    static const double little[] = {0, 0.002, 0.001, 0.003, 0.001, 0.002};
    plant_start(&p, 2, 6, true);
    for (size_t i = 0; i < 6; i++) {
        plant_set(&p, 0, i, 0.5 + little[i], 0);
        plant_set(&p, 1, i, 0.3 + little[5 - i] + (i == 3 ? 0.5 : 0), 0);
    }
    struct bl_comparison *c = plant_compare(&p, NULL);
    const struct bl_comparison_row *row = plant_row(c);
    assert_int_equal(row->outliers, 1);
    assert_int_equal(row->outlier[0].run, 1);
    assert_int_equal(row->outlier[0].number, 4);
    assert_near(row->outlier[0].off_s, 0.5, 0.003);
    assert_int_equal(row->n_against, 6);
    assert_near(row->without.difference_s, -0.2, 0.002);
    bl_comparison_destroy(c);
}

/* A run as a whole: eight runs, one 0.3 s off. */
static void a_run_that_lies_apart_is_named(void **state)
{
    (void)state;
    plant_start(&p, 10, 2, false);
    for (size_t r = 0; r < 10; r++) {
        for (size_t i = 0; i < 2; i++) {
            plant_set(&p, r, i,
                      0.4 + 0.001 * (double)(r * 7 % 5) + 0.002 * (double)i +
                          (r == 6 ? 0.3 : 0),
                      0);
        }
    }
    struct bl_comparison *c = plant_compare(&p, NULL);
    const struct bl_comparison_row *row = plant_row(c);
    assert_int_equal(row->outliers, 1);
    assert_int_equal(row->outlier[0].run, 6);
    assert_int_equal(row->outlier[0].number, 0);
    assert_int_equal(row->verdict, BL_VERDICT_NO_CHANGE_SHOWN);
    bl_comparison_destroy(c);
}

/* Values without anything odd name nothing: 200 rows of normal scatter, at most
   1 in 100 by the rule; 8 is beyond 99.9 % of the binomial of 200 and 0.01. */
static void sound_values_are_not_named(void **state)
{
    (void)state;
    struct bl_random random;
    bl_random_seed(&random, 7);
    size_t named = 0;
    for (size_t t = 0; t < 200; t++) {
        plant_start(&p, 6, 5, false);
        for (size_t i = 0; i < 30; i++) {
            plant_set(&p, i / 5, i % 5, 0.4 + 0.01 * bl_random_normal(&random),
                      0);
        }
        struct bl_comparison *c = plant_compare(&p, NULL);
        named += plant_row(c)->outliers > 0;
        bl_comparison_destroy(c);
    }
    assert_true(named <= 8);
}

/* Runs that agree within 2 ms: the same within 20 ms is shown, which "no
   difference" alone would not say. Within 1 ms it is not. */
static void the_same_is_a_statement(void **state)
{
    (void)state;
    plant_start(&p, 8, 1, false);
    for (size_t r = 0; r < 8; r++) {
        plant_set(&p, r, 0, 0.4 + 0.002 * (double)(r * 3 % 4) / 3, 0);
    }
    struct bl_compare_options o = bl_compare_options_default();
    struct bl_comparison *c = plant_compare(&p, &o);
    assert_int_equal(plant_row(c)->verdict, BL_VERDICT_SAME);
    assert_near(plant_row(c)->same_within_s, 0.020, 1e-12);
    bl_comparison_destroy(c);
    o.same_within_s = 0.0005;
    c = plant_compare(&p, &o);
    assert_int_equal(plant_row(c)->verdict, BL_VERDICT_NO_CHANGE_SHOWN);
    bl_comparison_destroy(c);
}

/* Scatter between runs 10 ms, none within worth it, wished +- 10 ms: n with
   t(0.975, 2n - 2) sqrt(2) 10 ms / sqrt(n) <= 10 ms. On paper from a table of
   t: n = 8 gives 2.145 / 2 = 1.07, n = 9 gives 2.120 x 0.4714 = 0.999, a hair
   under the 10 ms; so 9. */
static void says_how_many_runs(void **state)
{
    (void)state;
    plant_start(&p, 6, 3, false);
    for (size_t r = 0; r < 6; r++) {
        for (size_t i = 0; i < 3; i++) {
            plant_set(&p, r, i,
                      0.4 + 0.010 * (double)(r / 2) + 1e-5 * ((double)i - 1) +
                          (r % 2 == 1 ? 0.2 : 0),
                      0);
        }
    }
    const struct bl_compare_options o = {.aim_s = 0.010};
    struct bl_comparison *c = plant_compare(&p, &o);
    assert_int_equal(plant_row(c)->aim.runs, 9);
    assert_int_equal(plant_row(c)->aim.applications, 3);
    bl_comparison_destroy(c);
    c = plant_compare(&p, NULL);
    assert_near(plant_row(c)->aim.half_width_s, 0.02, 1e-12);
    bl_comparison_destroy(c);
}

/* Units that only delay, under a pedal of 0.08 s and one of 0.24 s: 0.75 x 0.16
   = 0.12 s later, and none of it is theirs. */
static void a_slower_pedal_is_no_difference(void **state)
{
    (void)state;
    plant_start(&p, 6, 3, false);
    for (size_t r = 0; r < 6; r++) {
        for (size_t i = 0; i < 3; i++) {
            const double pedal = r % 2 == 0 ? 0.08 : 0.24;
            plant_set(&p, r, i,
                      0.3 + 0.75 * pedal + 0.001 * (double)((r / 2 + i) % 3),
                      pedal);
        }
    }
    struct bl_comparison *c = plant_compare(&p, NULL);
    const struct bl_comparison_row *row = plant_row(c);
    assert_int_equal(c->commands, 1);
    assert_true(c->command[0].rise.differs);
    assert_near(c->command[0].rise.difference, 0.65 * 0.16, 1e-12);
    assert_true(row->command_taken_off);
    assert_near(row->command_s, 0.12, 1e-12);
    assert_near(row->difference_s, 0, 1e-12);
    /* at half of its way the pedal is 0.08 s later: 0.04 s between the two */
    assert_near(row->u_command_s, 0.04 / sqrt(3), 1e-12);
    assert_true(row->verdict != BL_VERDICT_EARLIER &&
                row->verdict != BL_VERDICT_LATER);
    bl_comparison_destroy(c);
}

/* A figure at a pressure, under the same pedals: nothing can be taken off, the
   interval allows for it, metres are refused. */
static void metres_are_refused_where_the_command_stays_in(void **state)
{
    (void)state;
    plant_start(&p, 6, 3, false);
    for (size_t r = 0; r < 6; r++) {
        for (size_t i = 0; i < 3; i++) {
            plant_set(&p, r, i, 0.3, r % 2 == 0 ? 0.08 : 0.24);
            p.answer[r][i].figure[BL_FIGURE_RESPONSE] =
                plant_figure(0.1 + 0.001 * (double)i + (r % 2 == 1 ? 0.02 : 0));
        }
    }
    struct bl_comparison *c = plant_compare(&p, NULL);
    const struct bl_comparison_row *row = NULL;
    for (size_t i = 0; i < c->rows; i++) {
        row = c->row[i].figure == BL_FIGURE_RESPONSE ? &c->row[i] : row;
    }
    assert_non_null(row);
    assert_false(row->command_taken_off);
    assert_true(row->metres_refused);
    assert_nan(row->travel[0].m);
    assert_int_equal(row->verdict, BL_VERDICT_COMMAND_DIFFERS);
    bl_comparison_destroy(c);
}

/* Holds of 600 and 400 kPa, both of one kind: not the same application. */
static void holds_far_apart_are_not_compared(void **state)
{
    (void)state;
    plant_start(&p, 6, 3, false);
    for (size_t r = 0; r < 6; r++) {
        for (size_t i = 0; i < 3; i++) {
            plant_set(&p, r, i, 0.3 + (r % 2 == 1 ? 0.1 : 0), 0.1);
            p.application[r][i].command_hold.value =
                (r % 2 == 1 ? 400 : 500) + (double)i;
        }
    }
    struct bl_comparison *c = plant_compare(&p, NULL);
    assert_true(c->command[0].hold_far);
    assert_int_equal(plant_row(c)->verdict, BL_VERDICT_COMMAND_DIFFERS);
    assert_nan(plant_row(c)->travel[0].m);
    bl_comparison_destroy(c);
}

/* Issue's cells, in short: 200 trials each; runs_many has 1000. */
static void intervals_cover_the_population(void **state)
{
    (void)state;
    for (size_t k = 0; k < 3; k++) {
        static const double times[] = {0, 1, 3};
        const struct runs_cell cell = {.runs = 3,
                                       .applications = 5,
                                       .between = 0.004 * times[k],
                                       .within = 0.004,
                                       .difference = 0.05,
                                       .pedal_base = 0.1,
                                       .pedal_against = 0.1,
                                       .fills = 1};
        struct bl_random random;
        bl_random_seed(&random, 100 + k);
        struct runs_found found = {0};
        for (size_t t = 0; t < 200; t++) {
            runs_trial(&found, &cell, &random);
        }
        /* 95 % less four standard deviations of 200 */
        assert_true((double)found.covered >= 0.95 * 200 - 4 * 3.1);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(three_runs_a_side_by_welch),
        cmocka_unit_test(blocks_pair_runs),
        cmocka_unit_test(exact_from_four_a_side),
        cmocka_unit_test(asks_for_runs_of_the_side_that_lacks_them),
        cmocka_unit_test(an_outlier_is_named_and_kept),
        cmocka_unit_test(a_run_that_lies_apart_is_named),
        cmocka_unit_test(sound_values_are_not_named),
        cmocka_unit_test(the_same_is_a_statement),
        cmocka_unit_test(says_how_many_runs),
        cmocka_unit_test(a_slower_pedal_is_no_difference),
        cmocka_unit_test(metres_are_refused_where_the_command_stays_in),
        cmocka_unit_test(holds_far_apart_are_not_compared),
        cmocka_unit_test(intervals_cover_the_population),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
