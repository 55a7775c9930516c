/* SPDX-License-Identifier: MIT */
/* The fit through a unit's visits against normal equations solved another way;
   then 80 simulated lives. */
#include "life_plant.h"

#include "base/alloc.h"
#include "study/life/frame.h"

/* Gauss: a x = b; the second way to what fit.c finds by rotating. */
static void gauss(double (*a)[8], double *b, size_t n)
{
    for (size_t c = 0; c < n; c++) {
        for (size_t r = 0; r < n; r++) {
            const double by = r == c ? 0 : a[r][c] / a[c][c];
            for (size_t k = c; k < n && r != c; k++) {
                a[r][k] -= by * a[c][k];
            }
            b[r] -= by * b[c];
        }
    }
    for (size_t c = 0; c < n; c++) {
        b[c] /= a[c][c];
    }
}

static void line_agrees_with_normal_equations(void **state)
{
    (void)state;
    enum { N = 8 };
    life_state = 5;
    struct bl_life_frame *f = bl_alloc(1, sizeof(*f));
    f->n = N;
    double shares[2][N];
    for (size_t i = 0; i < N; i++) {
        f->year[i] = (double)i * 0.5 + life_between(0, 0.2);
        f->y[i] = 0.4 + 0.03 * life_normal();
        f->u_random[i] = life_between(0.001, 0.01);
        shares[0][i] = life_normal() * 0.02;
        shares[1][i] = i < 4 ? 0.01 : 0;
    }
    for (size_t i = 0; i < N; i++) {
        for (size_t k = 0; k < N; k++) {
            f->shared[i][k] =
                shares[0][i] * shares[0][k] + shares[1][i] * shares[1][k];
        }
    }
    bl_life_turn(f);
    const struct bl_life_options options = bl_life_options_default();
    struct bl_life_fit fit;
    bl_life_fit(&fit, f, BL_LIFE_LINE, 0, &options);
    /* X' V^-1 X with V as the fit has it. */
    double column[2][N];
    double normal[2][2] = {{0}};
    double right[2] = {0};
    for (size_t c = 0; c < 2; c++) {
        double v[N][8];
        for (size_t i = 0; i < N; i++) {
            for (size_t k = 0; k < N; k++) {
                v[i][k] = f->shared[i][k] +
                          (i == k ? fit.variance + pow(f->u_random[i], 2) : 0);
            }
            column[c][i] = c == 0 ? 1 : f->year[i];
        }
        gauss(v, column[c], N);
        for (size_t i = 0; i < N; i++) {
            normal[c][0] += column[c][i];
            normal[c][1] += column[c][i] * f->year[i];
            right[c] += column[c][i] * f->y[i];
        }
    }
    const double det =
        normal[0][0] * normal[1][1] - normal[0][1] * normal[1][0];
    const double slope =
        (normal[0][0] * right[1] - normal[1][0] * right[0]) / det;
    const double at0 =
        (normal[1][1] * right[0] - normal[0][1] * right[1]) / det;
    assert_near(fit.size, slope, 1e-10);
    assert_near(fit.u, sqrt(normal[0][0] / det), 1e-10);
    double by_weights = 0;
    for (size_t i = 0; i < N; i++) {
        by_weights += fit.weight[i] * f->y[i];
        assert_near(fit.expected[i], at0 + slope * f->year[i], 1e-10);
    }
    assert_near(by_weights, slope, 1e-10);
    assert_near(bl_life_variance(f, fit.weight, fit.variance), fit.u * fit.u,
                1e-12);
    /* The spread: weighted squares and the usual share are n - 2 + 4. */
    double v[N][8];
    double r[N];
    double residual[N];
    for (size_t i = 0; i < N; i++) {
        for (size_t k = 0; k < N; k++) {
            v[i][k] = f->shared[i][k] +
                      (i == k ? fit.variance + pow(f->u_random[i], 2) : 0);
        }
        r[i] = residual[i] = f->y[i] - at0 - slope * f->year[i];
    }
    gauss(v, r, N);
    double squares = 0;
    for (size_t i = 0; i < N; i++) {
        squares += r[i] * residual[i];
    }
    assert_near(squares + 4 * 0.000144 / fit.variance, N - 2 + 4, 1e-8);
    bl_free(f);
}

/* 80 units, 12 visits, spread up to 15 ms, everything else moving; a thousand
   of each law in study/life_many. Bounds are asked for of units; figures are
   printed. */
static void lives_80(void **state)
{
    (void)state;
    const uint64_t seed = 47000000;
    struct life_count count;
    life_count_yard(&count, 80, (struct life_plan){.spread_high_s = 0.015}, 0.1,
                    0.1, seed);
    life_print("up to 15 ms", &count, seed);
    assert_int_equal(count.drifts, 20);
    assert_true(count.drift_units >= 18);
    assert_true(count.false_units <= 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(line_agrees_with_normal_equations),
        cmocka_unit_test(lives_80),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
