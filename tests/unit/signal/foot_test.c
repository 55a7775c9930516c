/* SPDX-License-Identifier: MIT */
/* Small least squares, and the onset of simple rises. */
#include "testing.h"

#include "signal/fit.h"
#include "trace.h"

static void test_parabola_exact(void **state)
{
    (void)state;
    struct bl_signal_sums sums = {0};
    struct bl_signal_poly poly;
    for (int i = -3; i <= 3; i++) {
        bl_signal_sums_add(&sums, i, 2 - 3.0 * i + 0.5 * i * i);
    }
    assert_true(bl_signal_poly_fit(&sums, 3, &poly));
    assert_near(poly.c[0], 2, 1e-12);
    assert_near(poly.c[1], -3, 1e-12);
    assert_near(poly.c[2], 0.5, 1e-12);
    assert_near(poly.rss, 0, 1e-9);
    /* Two points do not determine a parabola, one does not a line. */
    struct bl_signal_sums few = {0};
    bl_signal_sums_add(&few, 1, 1);
    assert_false(bl_signal_poly_fit(&few, 2, &poly));
    bl_signal_sums_add(&few, 1, 2);
    assert_false(bl_signal_poly_fit(&few, 2, &poly));
}

/* How often the true onset, 1 kPa above rest, lies within k = 2 (95.45 % of
   normal errors, JCGM 100:2008 G.1). */
static void foot_coverage(double slope, double tau_s, double sigma,
                          unsigned runs)
{
    struct noise noise = {(uint64_t)slope + 17};
    unsigned covered = 0;
    double sum = 0;
    double u = 0;
    double squares = 0;
    for (unsigned i = 0; i < runs; i++) {
        const struct shape shape = {.rest = 5,
                                    .hold = 605,
                                    .foot_s = 0.6 + noise_uniform(&noise) / 20,
                                    .slope = slope,
                                    .tau_s = tau_s,
                                    .release_s = 1e6};
        struct trace trace;
        trace_make(
            &trace, &shape,
            (struct recorder){2500, 1000, noise_uniform(&noise), sigma, 0},
            &noise);
        const struct bl_rest rest = bl_rest_before(&trace.samples, 0, 500000000,
                                                   200000000, 500000000, 0);
        assert_true(rest.known);
        const struct bl_foot foot = bl_rise_foot(
            &trace.samples, 300000000, 2500000000, &rest, 605, INT64_MAX);
        trace_free(&trace);
        assert_true(foot.found);
        const double error = (double)foot.time_ns * 1e-9 - shape.foot_s -
                             shape_passes(&shape, 1);
        covered += fabs(error) <= 2 * foot.u_s;
        sum += error;
        squares += error * error;
        u += foot.u_s * foot.u_s;
    }
    print_message("foot %s %g kPa/s, %g kPa: bias %.3f rms %.3f u %.3f ms, "
                  "k=2 covers %.1f %%\n",
                  tau_s > 0 ? "exp" : "ramp", slope, sigma, 1e3 * sum / runs,
                  1e3 * sqrt(squares / runs), 1e3 * sqrt(u / runs),
                  100.0 * covered / runs);
    assert_true(covered >= 0.93 * runs);
    /* And it is not covered by being vague: a fifth of the time constant or
       of 50 kPa at the slope. */
    assert_true(sqrt(u / runs) < (tau_s > 0 ? tau_s / 5 : 50 / slope));
}

static void test_foot_ramp(void **state)
{
    (void)state;
    foot_coverage(400, 0, 0.5, 150);
    foot_coverage(1000, 0, 1, 150);
    foot_coverage(4000, 0, 3, 150);
}

static void test_foot_exponential(void **state)
{
    (void)state;
    foot_coverage(1200, 0.5, 0.5, 150);
    foot_coverage(3000, 0.2, 1, 150);
    foot_coverage(6000, 0.1, 3, 150);
}

static void test_no_foot(void **state)
{
    (void)state;
    struct noise noise = {3};
    const struct shape shape = {
        .rest = 5, .hold = 5, .foot_s = 1e6, .slope = 1, .release_s = 1e6};
    struct trace trace;
    trace_make(&trace, &shape, (struct recorder){1000, 1000, 0, 1, 0}, &noise);
    const struct bl_rest rest =
        bl_rest_before(&trace.samples, 0, 500000000, 200000000, 500000000, 0);
    assert_false(
        bl_rise_foot(&trace.samples, 0, 1000000000, &rest, 605, INT64_MAX)
            .found);
    assert_false(
        bl_rise_foot(&trace.samples, 0, 1000000000, &rest, 4, INT64_MAX).found);
    trace_free(&trace);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_parabola_exact),
        cmocka_unit_test(test_foot_ramp),
        cmocka_unit_test(test_foot_exponential),
        cmocka_unit_test(test_no_foot),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
