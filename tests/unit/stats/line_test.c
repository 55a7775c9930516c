/* SPDX-License-Identifier: MIT */
/*
 * Lines, Type A, coverage factors against published data. Sources beside each
 * check; "from memory" where the source was not re-read.
 */
#include "stats/stats_common.h"
#include "testing.h"

#include "brakelag/stats.h"

/* JCGM 100:2008 ("GUM"), H.3: thermometer. Data as in the public GTC
   documentation of that example. */
static const double gum_t[] = {21.521, 22.012, 22.512, 23.003, 23.507, 23.999,
                               24.513, 25.002, 25.503, 26.010, 26.511};
static const double gum_b[] = {-.171, -.169, -.166, -.159, -.164, -.165,
                               -.156, -.157, -.159, -.161, -.160};

/* Least squares over all points: none lies beyond the floor. */
static enum bl_status all_points(struct bl_straight_line *out, const double *x,
                                 const double *y, size_t n,
                                 struct bl_error *error)
{
    struct bl_robust_line robust = {0};
    const struct bl_line_points points = {x, y, n, 0, (double)INFINITY};
    const enum bl_status status = bl_line_robust(&robust, &points, NULL, error);
    *out = robust.straight;
    return status;
}

/* Height of the line at x and its u there, GUM H.3.4 and 5.2.2. */
static double at(const struct bl_straight_line *line, double x)
{
    return line->intercept + line->slope * x;
}

static double u_at(const struct bl_straight_line *line, double x)
{
    const double a = line->u_intercept;
    const double b = x * line->u_slope;
    return sqrt(a * a + b * b + 2 * a * b * line->correlation);
}

static void gum_h3(void **state)
{
    (void)state;
    double x[11];
    for (int i = 0; i < 11; i++) {
        x[i] = gum_t[i] - 20;
    }
    struct bl_straight_line line;
    assert_int_equal(all_points(&line, x, gum_b, 11, NULL), BL_OK);
    assert_true(line.known);
    assert_near(line.intercept, -0.1712, 0.00005);
    assert_near(line.u_intercept, 0.0029, 0.00005);
    assert_near(line.slope, 0.00218, 0.000005);
    assert_near(line.u_slope, 0.00067, 0.000005);
    assert_near(line.correlation, -0.930, 0.0005);
    assert_near(line.s, 0.0035, 0.00005);
    assert_near(at(&line, 10), -0.1494, 0.00005);
    assert_near(u_at(&line, 10), 0.0041, 0.00005);
    /* The same by exact arithmetic on the data. */
    assert_near(line.intercept, -0.1712038, 5e-8);
    assert_near(line.u_slope, 0.00066794, 5e-9);
    assert_near(u_at(&line, 10), 0.0041386, 5e-8);

    struct bl_robust_line robust;
    assert_int_equal(
        bl_line_robust(&robust,
                       &(const struct bl_line_points){x, gum_b, 11, 3, 0}, NULL,
                       NULL),
        BL_OK);
    assert_int_equal(robust.pairs, 55);
    assert_near(robust.slope, 0.00201005, 5e-9);
    assert_near(robust.intercept, -0.17104925, 5e-9);
}

/* NIST StRD "Norris" (linear regression, lower difficulty); certified values
   from memory. */
static void nist_norris(void **state)
{
    (void)state;
    static const double yx[][2] = {
        {0.1, 0.2},     {338.8, 337.4}, {118.1, 118.2}, {888.0, 884.6},
        {9.2, 10.1},    {228.1, 226.5}, {668.5, 666.3}, {998.5, 996.3},
        {449.1, 448.6}, {778.9, 777.0}, {559.2, 558.2}, {0.3, 0.4},
        {0.1, 0.6},     {778.1, 775.5}, {668.8, 666.9}, {339.3, 338.0},
        {448.9, 447.5}, {10.8, 11.6},   {557.7, 556.0}, {228.3, 228.1},
        {998.0, 995.8}, {888.8, 887.6}, {119.6, 120.2}, {0.3, 0.3},
        {0.6, 0.3},     {557.6, 556.8}, {339.3, 339.1}, {888.0, 887.2},
        {998.5, 999.0}, {778.9, 779.0}, {10.2, 11.1},   {117.6, 118.3},
        {228.9, 229.2}, {668.4, 669.1}, {449.2, 448.9}, {0.2, 0.5}};
    double x[36];
    double y[36];
    for (int i = 0; i < 36; i++) {
        y[i] = yx[i][0];
        x[i] = yx[i][1];
    }
    struct bl_straight_line line;
    assert_int_equal(all_points(&line, x, y, 36, NULL), BL_OK);
    assert_near(line.intercept, -0.262323073774029, 1e-12);
    assert_near(line.u_intercept, 0.232818234301152, 1e-13);
    assert_near(line.slope, 1.00211681802045, 1e-14);
    assert_near(line.u_slope, 4.29796848199937e-4, 1e-17);
    assert_near(line.s, 0.884796396144373, 1e-13);
}

/* US EPA, Unified Guidance 2009, example 17-7 (sodium); data from memory. */
static void epa_median_slope(void **state)
{
    (void)state;
    static const double year[] = {89.6, 90.1, 90.8, 91.1, 92.1,
                                  93.1, 94.1, 95.6, 96.1, 96.3};
    static const double ppm[] = {56, 53, 51, 55, 52, 60, 62, 59, 61, 63};
    struct bl_robust_line robust;
    assert_int_equal(
        bl_line_robust(&robust,
                       &(const struct bl_line_points){year, ppm, 10, 3, 0},
                       NULL, NULL),
        BL_OK);
    assert_int_equal(robust.pairs, 45);
    assert_near(robust.slope, 1.33, 0.005);
    struct bl_description x;
    struct bl_description y;
    assert_int_equal(bl_describe(&x, year, 10, NULL), BL_OK);
    assert_int_equal(bl_describe(&y, ppm, 10, NULL), BL_OK);
    assert_near(x.median, 92.6, 1e-9);
    assert_near(y.median, 57.5, 1e-9);
    struct bl_trend trend;
    assert_int_equal(bl_trend(&trend, ppm, 10, NULL), BL_OK);
    assert_int_equal(trend.s, 25);
    /* Kendall's table, n = 10, S = 25: 0.014 on one side (from memory). */
    assert_near(trend.p / 2, 0.014, 0.0005);
}

/* Eight pairs of stamps of two recorders, 37 ppm and 2.345 s apart, the fifth
   pair 0.4 s wrong; figures by an independent program. */
static void clock_example_with_a_bad_pair(void **state)
{
    (void)state;
    static const double bus[] = {10,     72.5, 131.25,  190,
                                 255.75, 312,  377.125, 431.5};
    static const double daq[] = {12.345770,  74.847383,  133.599956,
                                 192.351530, 258.504663, 314.356844,
                                 379.483854, 433.860766};
    double y[8];
    for (int i = 0; i < 8; i++) {
        y[i] = daq[i] - bus[i];
    }
    struct bl_robust_line robust;
    bool inlier[8];
    assert_int_equal(
        bl_line_robust(&robust,
                       &(const struct bl_line_points){bus, y, 8, 3, 0.01},
                       inlier, NULL),
        BL_OK);
    /* The stamps are given to 1 us; over a minute that is 0.02 ppm. */
    assert_near(robust.slope * 1e6, 36.09, 0.02);
    assert_near(robust.intercept, 2.34523, 5e-6);
    assert_int_equal(robust.outliers, 1);
    assert_false(inlier[4]);
    assert_near(robust.straight.slope * 1e6, 36.58, 0.005);
    assert_near(robust.straight.intercept, 2.34505, 5e-6);
    struct bl_straight_line line;
    assert_int_equal(all_points(&line, bus, y, 8, NULL), BL_OK);
    assert_near(line.slope * 1e6, 123.1, 0.05);
    assert_near(line.intercept, 2.37583, 5e-6);
}

/* GUM 4.4.3, temperatures; table 1 from memory. */
static void gum_type_a(void **state)
{
    (void)state;
    static const double c[] = {96.90,  98.18,  98.25,  98.61,  99.03,
                               99.49,  99.56,  99.74,  99.89,  100.07,
                               100.33, 100.42, 100.68, 100.95, 101.11,
                               101.20, 101.57, 101.84, 102.36, 102.72};
    struct bl_description d;
    assert_int_equal(bl_describe(&d, c, 20, NULL), BL_OK);
    assert_near(d.mean, 100.145, 0.0005);
    assert_near(d.s, 1.489, 0.0005);
    assert_near(d.u_mean, 0.333, 0.0005);
}

/* GUM H.1, end gauge: components in nm with their degrees of freedom. Inputs
   and results as public programs that reproduce the example state them (three
   that agree): u_c = 32 (31.7) nm, 16.7 degrees cut down to 16, k = 2.92 and
   U = 93 nm for 99 %. */
static void gum_h1(void **state)
{
    (void)state;
    static const double d_u[] = {5.8, 3.9, 6.7};
    static const double d_dof[] = {24, 5, 8};
    /* The components are printed with two digits, hence the tolerance. */
    assert_near(bl_effective_dof(d_u, d_dof, 3), 25.6, 0.2);
    /* 50 mm and 0.1 K at 0.58e-6/K; 50 mm at 11.5e-6/K and 0.029 K */
    const double expansion = 50e6 * 0.1 * 0.58e-6;
    const double temperature = 50e6 * 11.5e-6 * 0.029;
    assert_near(expansion, 2.9, 0.05);
    assert_near(temperature, 16.7, 0.05);
    const double u[] = {25, 9.7, expansion, temperature};
    static const double dof[] = {18, 25.6, 50, 2};
    const double effective = bl_effective_dof(u, dof, 4);
    double square = 0;
    for (int i = 0; i < 4; i++) {
        square += u[i] * u[i];
    }
    assert_near(sqrt(square), 31.7, 0.05);
    assert_near(effective, 16.7, 0.05);
    assert_int_equal((int)effective, 16);
    const double k = bl_coverage_factor(0.99, effective);
    assert_near(k, 2.92, 0.005);
    assert_near(k * 32, 93, 0.5);
}

/* GUM table G.2, from memory. */
static void student_table(void **state)
{
    (void)state;
    static const struct {
        double dof, confidence, t;
    } rows[] = {{1, .95, 12.71},  {2, .95, 4.30}, {10, .95, 2.23},
                {20, .99, 2.85},  {5, .99, 4.03}, {50, .95, 2.01},
                {100, .99, 2.626}};
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        assert_near(bl_coverage_factor(rows[i].confidence, rows[i].dof),
                    rows[i].t, 0.005);
    }
    assert_near(bl_normal_quantile(0.975), 1.959964, 5e-7);
    assert_near(bl_normal_quantile(0.025), -1.959964, 5e-7);
    assert_near(bl_student_p(bl_student_quantile(0.9, 3.5), 3.5), 0.2, 1e-12);
}

static void bad_values_are_named(void **state)
{
    (void)state;
    const double x[] = {1, (double)NAN, 3};
    struct bl_error error;
    struct bl_straight_line line;
    assert_int_equal(all_points(&line, x, x, 3, &error), BL_ARG);
    assert_string_equal(error.message, "line, x: value 2 is not a finite "
                                       "number");
    const double same[] = {2, 2, 2};
    assert_int_equal(all_points(&line, same, gum_t, 3, NULL), BL_OK);
    assert_false(line.known);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(gum_h3),
        cmocka_unit_test(nist_norris),
        cmocka_unit_test(epa_median_slope),
        cmocka_unit_test(clock_example_with_a_bad_pair),
        cmocka_unit_test(gum_type_a),
        cmocka_unit_test(gum_h1),
        cmocka_unit_test(student_table),
        cmocka_unit_test(bad_values_are_named),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
