/* SPDX-License-Identifier: MIT */
/*
 * Pairing of event lists. Truth comes from the generator in simulated.h, or
 * from lists written out here.
 */
#include "simulated.h"

#include "base/alloc.h"
#include "base/limits.h"

static void a_hundred_simulated_pairs(void **state)
{
    (void)state;
    const struct tally tally = run_simulated(100, 20260301);
    check_tally(&tally);
}

/* True: 37 ppm, 2.345 s. Fifth pair wrong by 0.4 s. Expected figures by an
   independent program: least squares without the bad pair. */
static void example_with_a_bad_pair(void **state)
{
    (void)state;
    static const double bus[] = {10,     72.5, 131.25,  190,
                                 255.75, 312,  377.125, 431.5};
    static const double daq[] = {12.345770,  74.847383,  133.599956,
                                 192.351530, 258.504663, 314.356844,
                                 379.483854, 433.860766};
    struct bl_pair_options options = bl_pair_defaults();
    options.u_event_s = 0.001;
    struct bl_pair_result r;
    assert_int_equal(bl_clock_pair(&(struct bl_moments){bus, 8},
                                   &(struct bl_moments){daq, 8}, &options, &r,
                                   NULL),
                     BL_OK);
    assert_int_equal(r.outcome, BL_PAIR_TIED);
    assert_int_equal(r.pairs, 7);
    assert_near(r.drift * 1e6, 36.58, 0.005);
    double at_zero = r.offset_s - r.drift * r.centre_s;
    assert_near(at_zero, 2.34505, 5e-6);
    assert_true(fabs(r.drift * 1e6 - 37) < 3 * r.u_drift * 1e6);
    assert_near(r.first_s, 10, 0);
    assert_near(r.last_s, 431.5, 0);
    assert_true(r.other_pairs < 4);
    /* Events that usually scatter by 5 ms say less about the drift: it is
       drawn towards 0 by u^2 / prior^2, here below 3 %. */
    options.u_event_s = 0.005;
    assert_int_equal(bl_clock_pair(&(struct bl_moments){bus, 8},
                                   &(struct bl_moments){daq, 8}, &options, &r,
                                   NULL),
                     BL_OK);
    assert_int_equal(r.outcome, BL_PAIR_TIED);
    assert_true(r.drift * 1e6 < 36.58 && r.drift * 1e6 > 36.58 * 0.97);
    at_zero = r.offset_s - r.drift * r.centre_s;
    assert_near(at_zero, 2.34505, 0.0003);
}

/* The same list with the bad pair 15 ms off: what is kept for drawing shows it
   as left out, the others on the line of least squares. */
static void residuals_of_an_example(void **state)
{
    (void)state;
    static const double bus[] = {10,     72.5, 131.25,  190,
                                 255.75, 312,  377.125, 431.5};
    static const double daq[] = {12.345770,  74.847383,  133.599956,
                                 192.351530, 258.119663, 314.356844,
                                 379.483854, 433.860766};
    struct bl_pair_options options = bl_pair_defaults();
    options.u_event_s = 0.001;
    struct bl_pair_result r;
    assert_int_equal(bl_clock_pair(&(struct bl_moments){bus, 8},
                                   &(struct bl_moments){daq, 8}, &options, &r,
                                   NULL),
                     BL_OK);
    assert_int_equal(r.outliers, 1);
    assert_int_equal(r.residuals, 8);
    double sum = 0;
    size_t used = 0;
    for (size_t i = 0; i < r.residuals; i++) {
        const struct bl_clock_residual *is = &r.residual[i];
        used += is->used;
        if (is->used) {
            assert_true(fabs(is->off_s) < 0.001);
            sum += is->off_s;
        } else {
            assert_near(is->at_s, 255.75, 0);
            assert_near(is->off_s, 0.015, 0.001);
        }
    }
    assert_int_equal(used, 7);
    assert_near(sum, 0, 1e-6);
}

static void even_pauses_are_refused_with_both_candidates(void **state)
{
    (void)state;
    double a[10];
    double b[9];
    for (int i = 0; i < 10; i++) {
        a[i] = 12.0 * i;
    }
    for (int i = 0; i < 9; i++) {
        b[i] = 12.0 * i + 3.5;
    }
    const struct bl_pair_options options = bl_pair_defaults();
    struct bl_pair_result r;
    assert_int_equal(bl_clock_pair(&(struct bl_moments){a, 10},
                                   &(struct bl_moments){b, 9}, &options, &r,
                                   NULL),
                     BL_OK);
    assert_int_equal(r.outcome, BL_PAIR_AMBIGUOUS);
    assert_int_equal(r.pairs, 9);
    assert_int_equal(r.other_pairs, 9);
    /* Whole periods apart. */
    assert_near(fabs(r.offset_s - r.other_offset_s), 12, 1e-6);
    assert_near(r.period_s, 12, 1e-9);
}

/* Even pauses with other events missing on each side: the holes may fit a
   wrong shift, so none of 500 may be tied. */
static void even_pauses_with_holes_are_refused(void **state)
{
    (void)state;
    struct bl_random random;
    bl_random_seed(&random, 99);
    const struct bl_pair_options options = bl_pair_defaults();
    for (int round = 0; round < 500; round++) {
        double a[30];
        double b[30];
        size_t na = 0;
        size_t nb = 0;
        const size_t n = 5 + (size_t)bl_random_below(&random, 20);
        const double pause = between(&random, 2, 15);
        for (size_t i = 0; i < n; i++) {
            const double t = pause * (double)i;
            if (bl_random_uniform(&random) > 0.2) {
                a[na++] = t;
            }
            if (bl_random_uniform(&random) > 0.2) {
                b[nb++] = t + 3 + 0.003 * bl_random_normal(&random);
            }
        }
        struct bl_pair_result r;
        assert_int_equal(bl_clock_pair(&(struct bl_moments){a, na},
                                       &(struct bl_moments){b, nb}, &options,
                                       &r, NULL),
                         BL_OK);
        assert_int_not_equal(r.outcome, BL_PAIR_TIED);
    }
}

static void nearly_even_pauses_never_tie_wrong(void **state)
{
    (void)state;
    check_nearly_even(200);
}

static void a_pattern_made_twice_is_ambiguous(void **state)
{
    (void)state;
    static const double once[] = {0, 3.1, 9.4, 12.2, 20.7};
    double a[5];
    double b[10];
    for (int i = 0; i < 5; i++) {
        a[i] = once[i];
        b[i] = once[i] + 2;
        b[i + 5] = once[i] + 62.5;
    }
    const struct bl_pair_options options = bl_pair_defaults();
    struct bl_pair_result r;
    assert_int_equal(bl_clock_pair(&(struct bl_moments){a, 5},
                                   &(struct bl_moments){b, 10}, &options, &r,
                                   NULL),
                     BL_OK);
    assert_int_equal(r.outcome, BL_PAIR_AMBIGUOUS);
    assert_int_equal(r.other_pairs, 5);
    assert_near(r.period_s, 0, 0);
    assert_near(fabs(r.offset_s - r.other_offset_s), 60.5, 1e-6);
}

/* A recorder that runs 1000 ppm fast, six strokes in 50 s, each seen 3 ms late
   or early: what crystals do must not hold it towards 0. */
static void a_drift_of_no_crystal_is_believed(void **state)
{
    (void)state;
    static const double a[] = {4, 12.1, 20.7, 29.5, 37.4, 46.8, 55, 63.6};
    static const double off[] = {0.003,  -0.003, 0.002, -0.002,
                                 -0.003, 0.003,  0.002, -0.002};
    double b[COUNT_OF(a)];
    for (size_t i = 0; i < COUNT_OF(a); i++) {
        b[i] = 2.2 + a[i] * 1.0006 + off[i];
    }
    const struct bl_pair_options options = bl_pair_defaults();
    struct bl_pair_result r;
    assert_int_equal(bl_clock_pair(&(struct bl_moments){a, COUNT_OF(a)},
                                   &(struct bl_moments){b, COUNT_OF(b)},
                                   &options, &r, NULL),
                     BL_OK);
    assert_int_equal(r.pairs, COUNT_OF(a));
    assert_true(fabs(r.drift * 1e6 - 600) < 2 * r.u_drift * 1e6);
    assert_true(r.u_drift * 1e6 < 300);
}

static void three_events_are_too_few(void **state)
{
    (void)state;
    static const double a[] = {0, 7, 19, 40};
    static const double b[] = {1, 8, 20};
    const struct bl_pair_options options = bl_pair_defaults();
    struct bl_pair_result r;
    assert_int_equal(bl_clock_pair(&(struct bl_moments){a, 4},
                                   &(struct bl_moments){b, 3}, &options, &r,
                                   NULL),
                     BL_OK);
    assert_int_equal(r.outcome, BL_PAIR_TOO_FEW);
    assert_int_equal(bl_clock_pair(&(struct bl_moments){NULL, 0},
                                   &(struct bl_moments){b, 3}, &options, &r,
                                   NULL),
                     BL_OK);
    assert_int_equal(r.outcome, BL_PAIR_TOO_FEW);
}

/* Lists that have nothing to do with each other: 300 of them, none tied. */
static void unrelated_lists_are_refused(void **state)
{
    (void)state;
    struct bl_random random;
    bl_random_seed(&random, 77);
    const struct bl_pair_options options = bl_pair_defaults();
    for (int round = 0; round < 300; round++) {
        double a[30];
        double b[30];
        const size_t n = 4 + (size_t)bl_random_below(&random, 27);
        double ta = 0;
        double tb = 0;
        for (size_t i = 0; i < n; i++) {
            a[i] = ta += between(&random, 1, 15);
            b[i] = tb += between(&random, 1, 15);
        }
        struct bl_pair_result r;
        assert_int_equal(bl_clock_pair(&(struct bl_moments){a, n},
                                       &(struct bl_moments){b, n}, &options, &r,
                                       NULL),
                         BL_OK);
        assert_int_not_equal(r.outcome, BL_PAIR_TIED);
    }
}

/* The same offset on both clocks changes nothing. */
static void shifting_both_clocks_changes_nothing(void **state)
{
    (void)state;
    struct bl_random random;
    bl_random_seed(&random, 5);
    struct simulated s;
    do {
        simulate(&s, &random);
    } while (s.true_pairs < 12 || s.periodic);
    const struct bl_pair_options options = bl_pair_defaults();
    struct bl_pair_result r;
    struct bl_pair_result q;
    assert_int_equal(bl_clock_pair(&(struct bl_moments){s.a, s.na},
                                   &(struct bl_moments){s.b, s.nb}, &options,
                                   &r, NULL),
                     BL_OK);
    for (size_t i = 0; i < s.na; i++) {
        s.a[i] += 4096;
    }
    for (size_t i = 0; i < s.nb; i++) {
        s.b[i] += 4096;
    }
    assert_int_equal(bl_clock_pair(&(struct bl_moments){s.a, s.na},
                                   &(struct bl_moments){s.b, s.nb}, &options,
                                   &q, NULL),
                     BL_OK);
    assert_int_equal(r.outcome, BL_PAIR_TIED);
    assert_int_equal(q.pairs, r.pairs);
    assert_near(q.offset_s, r.offset_s, 1e-9);
    assert_near(q.drift, r.drift, 1e-11);
    assert_near(q.centre_s - 4096, r.centre_s, 1e-9);
}

static void odd_lists_are_named(void **state)
{
    (void)state;
    static const double a[] = {0, 7, 5, 40};
    const struct bl_pair_options options = bl_pair_defaults();
    struct bl_pair_result r;
    struct bl_error error;
    assert_int_equal(bl_clock_pair(&(struct bl_moments){a, 4},
                                   &(struct bl_moments){a, 4}, &options, &r,
                                   &error),
                     BL_ARG);
    assert_non_null(strstr(error.message, "ascending"));
    double *many = bl_alloc(BL_LIMIT_CLOCK_EVENTS + 1, sizeof(*many));
    assert_non_null(many);
    assert_int_equal(
        bl_clock_pair(&(struct bl_moments){many, BL_LIMIT_CLOCK_EVENTS + 1},
                      &(struct bl_moments){many, 4}, &options, &r, NULL),
        BL_OK);
    assert_int_equal(r.outcome, BL_PAIR_TOO_MANY);
    bl_free(many);
}

static void every_lost_allocation_is_reported(void **state)
{
    (void)state;
    static const double a[] = {0, 7, 19, 40, 52.5, 90};
    const struct bl_pair_options options = bl_pair_defaults();
    struct bl_pair_result r;
    int failures = 0;
    for (uint64_t i = 1; i < 100; i++) {
        bl_alloc_fail_at(i);
        const enum bl_status status =
            bl_clock_pair(&(struct bl_moments){a, 6},
                          &(struct bl_moments){a, 6}, &options, &r, NULL);
        bl_alloc_fail_at(0);
        if (status == BL_OK) {
            break;
        }
        assert_int_equal(status, BL_NOMEM);
        failures++;
    }
    assert_in_range(failures, 8, 90);
    assert_int_equal(r.outcome, BL_PAIR_TIED);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_hundred_simulated_pairs),
        cmocka_unit_test(example_with_a_bad_pair),
        cmocka_unit_test(residuals_of_an_example),
        cmocka_unit_test(even_pauses_are_refused_with_both_candidates),
        cmocka_unit_test(even_pauses_with_holes_are_refused),
        cmocka_unit_test(nearly_even_pauses_never_tie_wrong),
        cmocka_unit_test(a_pattern_made_twice_is_ambiguous),
        cmocka_unit_test(a_drift_of_no_crystal_is_believed),
        cmocka_unit_test(three_events_are_too_few),
        cmocka_unit_test(unrelated_lists_are_refused),
        cmocka_unit_test(shifting_both_clocks_changes_nothing),
        cmocka_unit_test(odd_lists_are_named),
        cmocka_unit_test(every_lost_allocation_is_reported),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
