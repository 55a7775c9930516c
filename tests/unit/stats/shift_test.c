/* SPDX-License-Identifier: MIT */
/*
 * Shifts, exact tests and trend against published data, and
 * against enumeration written out here.
 */
#include "stats/stats_common.h"
#include "testing.h"

#include "base/alloc.h"
#include "base/random.h"
#include "brakelag/stats.h"

/* Depression scale, Hollander and Wolfe 1973 (the usual signed-rank example);
   from memory. */
static void depression_scale(void **state)
{
    (void)state;
    static const double x[] = {1.83, .50,  1.62, 2.48, 1.68,
                               1.88, 1.55, 3.06, 1.30};
    static const double y[] = {.878, .647, .598, 2.05, 1.06,
                               1.29, 1.06, 3.14, 1.29};
    double d[9];
    for (int i = 0; i < 9; i++) {
        d[i] = x[i] - y[i];
    }
    struct bl_shift s;
    assert_int_equal(bl_shift_paired(&s, d, 9, 0.95, NULL), BL_OK);
    assert_true(s.exact);
    assert_false(s.ties);
    assert_near(s.statistic, 40, 0);
    assert_near(s.p, 0.03906, 5e-6);
    assert_near(s.shift, 0.46, 5e-3);
    assert_near(s.low, 0.010, 5e-4);
    assert_near(s.high, 0.786, 5e-4);
    assert_near(s.confidence, 0.961, 5e-4);
    assert_near(s.p_smallest, 2.0 / 512, 1e-15);
}

/* Maize heights of Darwin as used by Fisher, The Design of Experiments, 21;
   from memory. */
static void maize(void **state)
{
    (void)state;
    static const double d[] = {49, -67, 8,  16, 6,  23, 28, 41,
                               14, 29,  56, 24, 75, 60, -48};
    struct bl_description m;
    assert_int_equal(bl_describe(&m, d, 15, NULL), BL_OK);
    const double t = m.mean / m.u_mean;
    assert_near(t, 2.148, 5e-4);
    assert_near(bl_student_p(t, 14), 0.0497, 5e-5);
    struct bl_shift s;
    assert_int_equal(bl_shift_paired(&s, d, 15, 0.95, NULL), BL_OK);
    assert_near(s.shift, 25, 0);
    assert_near(s.statistic, 96, 0);
    assert_near(s.low, 4, 0);
    assert_near(s.high, 41.5, 0);
}

/* Sleep data of Student 1908; from memory. */
static void sleep_data(void **state)
{
    (void)state;
    static const double d[] = {1.2, 2.4, 1.3, 1.3, 0, 1.0, 1.8, .8, 4.6, 1.4};
    struct bl_description m;
    assert_int_equal(bl_describe(&m, d, 10, NULL), BL_OK);
    const double t = m.mean / m.u_mean;
    assert_near(t, 4.0621, 5e-5);
    assert_near(bl_student_p(t, 9), 0.002833, 5e-7);
    const double k = bl_coverage_factor(0.95, 9);
    assert_near(m.mean - k * m.u_mean, 0.70011, 5e-6);
    assert_near(m.mean + k * m.u_mean, 2.45989, 5e-6);
    struct bl_shift s;
    assert_int_equal(bl_shift_paired(&s, d, 10, 0.95, NULL), BL_OK);
    assert_near(s.shift, 1.3, 1e-12);
    assert_int_equal(s.zeros, 1);
    assert_true(s.ties);
}

/* Eight pairs of response times, ms; figures by an independent program. */
static void eight_paired_runs(void **state)
{
    (void)state;
    static const double unpowered[] = {612, 598, 634, 607, 621, 603, 640, 615};
    static const double powered[] = {241, 238, 252, 236, 249, 240, 255, 243};
    double d[8];
    double back[8];
    for (int i = 0; i < 8; i++) {
        d[i] = unpowered[i] - powered[i];
        back[i] = -d[i];
    }
    struct bl_description m;
    assert_int_equal(bl_describe(&m, d, 8, NULL), BL_OK);
    assert_near(m.mean, 372.0, 1e-9);
    assert_near(m.s, 8.418, 5e-4);
    assert_near(m.median, 371.5, 0);
    struct bl_shift s;
    assert_int_equal(bl_shift_paired(&s, d, 8, 0.95, NULL), BL_OK);
    assert_near(s.shift, 371.5, 0);
    assert_near(s.low, 365.5, 0);
    assert_near(s.high, 378.5, 0);
    assert_near(s.confidence, 1 - 2 * 5.0 / 256, 1e-12);
    assert_near(s.p, 2.0 / 256, 1e-12);
    struct bl_shift r;
    assert_int_equal(bl_shift_paired(&r, back, 8, 0.95, NULL), BL_OK);
    assert_near(r.shift, -s.shift, 0);
    assert_near(r.low, -s.high, 0);
    assert_near(r.p, s.p, 1e-15);
}

/* 2/2^n and 1 - 2/2^n: counting signs. Five pairs cannot reach 95 %. */
static void few_pairs_say_what_they_cannot(void **state)
{
    (void)state;
    static const double expected[] = {.125, .0625, .03125, .015625, .0078125};
    for (size_t n = 4; n <= 8; n++) {
        assert_near(bl_p_smallest_paired(n), expected[n - 4], 1e-15);
    }
    static const double d[] = {5, 6, 7, 8, 10};
    struct bl_shift s;
    assert_int_equal(bl_shift_paired(&s, d, 5, 0.95, NULL), BL_OK);
    assert_near(s.confidence, 0.9375, 1e-12);
    assert_near(s.low, 5, 0);
    assert_near(s.high, 10, 0);
    assert_near(s.p, 0.0625, 1e-12);
    assert_true(s.p_smallest > 0.05);
    assert_int_equal(bl_shift_paired(&s, d, 1, 0.95, NULL), BL_OK);
    assert_near(s.confidence, 0, 1e-12);
    assert_nan(s.u);
    assert_near(bl_p_smallest_two(3, 3), 0.1, 1e-15);
    assert_near(bl_p_smallest_two(4, 4), 2.0 / 70, 1e-15);
}

/* Permeability of membranes, Hollander and Wolfe 1973: U 35, one-sided p
   .1272, estimate .305 (from memory). Mann and Whitney 1947, table for 5 and
   5: P(U <= 2) = .016. */
static void two_samples_published(void **state)
{
    (void)state;
    static const double at_term[] = {0.80, 0.83, 1.89, 1.04, 1.45,
                                     1.38, 1.91, 1.64, 0.73, 1.46};
    static const double early[] = {1.15, 0.88, 0.90, 0.74, 1.21};
    struct bl_shift s;
    assert_int_equal(
        bl_shift_two(&s, &(const struct bl_two_samples){early, 5, at_term, 10},
                     0.95, NULL),
        BL_OK);
    assert_near(s.statistic, 35, 0);
    assert_near(s.p / 2, 0.1272, 5e-5);
    assert_near(s.shift, 0.305, 1e-9);

    static const double low[] = {1, 2, 3, 4, 7};
    static const double high[] = {5, 6, 8, 9, 10};
    assert_int_equal(
        bl_shift_two(&s, &(const struct bl_two_samples){low, 5, high, 5}, 0.95,
                     NULL),
        BL_OK);
    assert_near(s.statistic, 25 - 2, 0);
    assert_near(s.p / 2, 0.016, 5e-4);
    /* k = 3 of 25: 1 - 2 * 4/252 is the first at 95 % or more. */
    assert_near(s.confidence, 1 - 2 * 4.0 / 252, 1e-12);
}

/* Twice the smaller share of all choices of m among n + m midranks. */
static double enumerated_two(const double *all, unsigned n, unsigned m)
{
    double rank[16];
    for (unsigned i = 0; i < n + m; i++) {
        rank[i] = 0.5;
        for (unsigned k = 0; k < n + m; k++) {
            rank[i] += all[k] < all[i] ? 1 : all[k] == all[i] ? 0.5 : 0;
        }
    }
    double seen = 0;
    for (unsigned i = n; i < n + m; i++) {
        seen += rank[i];
    }
    double low = 0;
    double high = 0;
    double ways = 0;
    for (unsigned mask = 0; mask < 1u << (n + m); mask++) {
        double sum = 0;
        unsigned picked = 0;
        for (unsigned i = 0; i < n + m; i++) {
            if ((mask >> i & 1) != 0) {
                sum += rank[i];
                picked++;
            }
        }
        if (picked == m) {
            ways++;
            low += sum <= seen;
            high += sum >= seen;
        }
    }
    return fmin(1, 2 * fmin(low, high) / ways);
}

static double enumerated_paired(const double *d, unsigned n)
{
    double rank[16];
    double seen = 0;
    unsigned used = 0;
    for (unsigned i = 0; i < n; i++) {
        if (d[i] == 0) {
            continue;
        }
        double r = 0.5;
        for (unsigned k = 0; k < n; k++) {
            if (d[k] != 0) {
                const double a = fabs(d[k]);
                const double b = fabs(d[i]);
                r += a < b ? 1 : a == b ? 0.5 : 0;
            }
        }
        rank[used++] = r;
        seen += d[i] > 0 ? r : 0;
    }
    double low = 0;
    double high = 0;
    for (unsigned mask = 0; mask < 1u << used; mask++) {
        double sum = 0;
        for (unsigned i = 0; i < used; i++) {
            sum += (mask >> i & 1) != 0 ? rank[i] : 0;
        }
        low += sum <= seen;
        high += sum >= seen;
    }
    return fmin(1, 2 * fmin(low, high) / ldexp(1, (int)used));
}

static void permute(double *v, unsigned n, unsigned at, long s, double *far,
                    double *all)
{
    if (at == n) {
        long mine = 0;
        for (unsigned i = 0; i < n; i++) {
            for (unsigned k = i + 1; k < n; k++) {
                mine += (v[k] > v[i]) - (v[k] < v[i]);
            }
        }
        *far += labs(mine) >= labs(s);
        *all += 1;
        return;
    }
    for (unsigned i = at; i < n; i++) {
        const double a = v[at];
        const double b = v[i];
        v[at] = b;
        v[i] = a;
        permute(v, n, at + 1, s, far, all);
        v[at] = a;
        v[i] = b;
    }
}

static void ties_agree_with_enumeration(void **state)
{
    (void)state;
    struct bl_random random;
    bl_random_seed(&random, 31);
    for (int round = 0; round < 60; round++) {
        double v[10];
        for (int i = 0; i < 10; i++) {
            v[i] = (double)bl_random_below(&random, 7) - 2;
        }
        const unsigned n = 2 + (unsigned)bl_random_below(&random, 4);
        struct bl_shift s;
        assert_int_equal(
            bl_shift_two(&s,
                         &(const struct bl_two_samples){v, n, v + n, 10 - n},
                         0.9, NULL),
            BL_OK);
        assert_near(s.p, enumerated_two(v, n, 10 - n), 1e-12);
        assert_int_equal(bl_shift_paired(&s, v, 10, 0.9, NULL), BL_OK);
        assert_near(s.p, enumerated_paired(v, 10), 1e-12);
        struct bl_trend t;
        assert_int_equal(bl_trend(&t, v, 6, NULL), BL_OK);
        double far = 0;
        double all = 0;
        permute(v, 6, 0, t.s, &far, &all);
        assert_near(t.p, far / all, 1e-12);
    }
}

/* The interval must hold the true shift at its stated rate: 1000 sets. */
static void intervals_cover(void **state)
{
    (void)state;
    struct bl_random random;
    bl_random_seed(&random, 32);
    double stated = 0;
    int two = 0;
    int paired = 0;
    for (int round = 0; round < 1000; round++) {
        double a[7];
        double b[8];
        for (int i = 0; i < 7; i++) {
            a[i] = bl_random_normal(&random);
        }
        for (int i = 0; i < 8; i++) {
            b[i] = 5 + bl_random_normal(&random);
        }
        struct bl_shift s;
        assert_int_equal(
            bl_shift_two(&s, &(const struct bl_two_samples){a, 7, b, 8}, 0.9,
                         NULL),
            BL_OK);
        two += s.low <= 5 && s.high >= 5;
        stated = s.confidence;
        assert_int_equal(bl_shift_paired(&s, b, 8, 0.9, NULL), BL_OK);
        paired += s.low <= 5 && s.high >= 5;
        assert_true(s.confidence >= 0.9);
    }
    /* Four standard deviations of a share of 1000. */
    assert_near(two / 1000.0, stated, 4 * sqrt(stated * (1 - stated) / 1000));
    assert_true(paired / 1000.0 > 0.9 - 4 * sqrt(0.09 / 1000));
}

/* Large samples fall back to the normal form and say so. */
static void many_values_are_approximate(void **state)
{
    (void)state;
    double v[80];
    for (int i = 0; i < 80; i++) {
        v[i] = i - 20.5;
    }
    struct bl_shift s;
    assert_int_equal(bl_shift_paired(&s, v, 80, 0.95, NULL), BL_OK);
    assert_false(s.exact);
    assert_near(s.shift, 19, 1e-9);
    assert_true(s.p < 1e-6 && s.low > 10 && s.high < 28);
    assert_int_equal(
        bl_shift_two(&s, &(const struct bl_two_samples){v, 40, v + 40, 40},
                     0.95, NULL),
        BL_OK);
    assert_false(s.exact);
    assert_near(s.shift, 40, 1e-9);
    struct bl_trend t;
    assert_int_equal(bl_trend(&t, v, 80, NULL), BL_OK);
    assert_int_equal(t.s, 80 * 79 / 2);
    assert_near(t.tau, 1, 1e-12);
    assert_true(t.p < 1e-10);
}

static enum bl_status everything(struct bl_error *error)
{
    static const double v[] = {3, 1, 4, 1, 5, 9, 2, 6};
    struct bl_shift shift;
    struct bl_trend trend;
    struct bl_robust_line line;
    struct bl_description d;
    enum bl_status s = bl_shift_two(
        &shift, &(const struct bl_two_samples){v, 4, v + 4, 4}, 0.9, error);
    s = s != BL_OK ? s : bl_shift_paired(&shift, v, 8, 0.9, error);
    s = s != BL_OK ? s : bl_trend(&trend, v, 8, error);
    s = s != BL_OK ? s : bl_describe(&d, v, 8, error);
    return s != BL_OK
               ? s
               : bl_line_robust(&line,
                                &(const struct bl_line_points){v, v, 8, 3, 0},
                                NULL, error);
}

static void every_lost_allocation_is_reported(void **state)
{
    (void)state;
    struct bl_error error;
    assert_int_equal(everything(&error), BL_OK);
    int failures = 0;
    for (uint64_t i = 1; i < 100; i++) {
        bl_alloc_fail_at(i);
        const enum bl_status status = everything(&error);
        bl_alloc_fail_at(0);
        if (status == BL_OK) {
            break;
        }
        assert_int_equal(status, BL_NOMEM);
        failures++;
    }
    assert_in_range(failures, 15, 90);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(depression_scale),
        cmocka_unit_test(maize),
        cmocka_unit_test(sleep_data),
        cmocka_unit_test(eight_paired_runs),
        cmocka_unit_test(few_pairs_say_what_they_cannot),
        cmocka_unit_test(two_samples_published),
        cmocka_unit_test(ties_agree_with_enumeration),
        cmocka_unit_test(intervals_cover),
        cmocka_unit_test(many_values_are_approximate),
        cmocka_unit_test(every_lost_allocation_is_reported),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
