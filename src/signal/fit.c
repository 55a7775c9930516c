/* SPDX-License-Identifier: MIT */
/* Small least squares by normal equations on centred, scaled abscissae. */
#include "signal/fit.h"

#include <math.h>
#include <string.h>

void bl_signal_sums_add(struct bl_signal_sums *sums, double x, double y)
{
    const double x2 = x * x;
    sums->n += 1;
    sums->x += x;
    sums->x2 += x2;
    sums->x3 += x2 * x;
    sums->x4 += x2 * x2;
    sums->y += y;
    sums->xy += x * y;
    sums->x2y += x2 * y;
    sums->y2 += y * y;
}

/* Inverse of a symmetric positive definite matrix of order <= 4 in place, by
   Gauss-Jordan without pivoting; false when it is singular. */
static bool invert(double a[4][4], unsigned order)
{
    double diagonal[4];
    for (unsigned i = 0; i < order; i++) {
        diagonal[i] = a[i][i];
    }
    for (unsigned k = 0; k < order; k++) {
        const double pivot = a[k][k];
        if (!(pivot > 1e-12 * diagonal[k])) {
            return false;
        }
        a[k][k] = 1;
        for (unsigned j = 0; j < order; j++) {
            a[k][j] /= pivot;
        }
        for (unsigned i = 0; i < order; i++) {
            if (i == k) {
                continue;
            }
            const double factor = a[i][k];
            a[i][k] = 0;
            for (unsigned j = 0; j < order; j++) {
                a[i][j] -= factor * a[k][j];
            }
        }
    }
    return true;
}

bool bl_signal_poly_fit(const struct bl_signal_sums *sums, unsigned terms,
                        struct bl_signal_poly *out)
{
    double a[4][4] = {
        {sums->n, sums->x, sums->x2, 0},
        {sums->x, sums->x2, sums->x3, 0},
        {sums->x2, sums->x3, sums->x4, 0},
    };
    const double right[3] = {sums->y, sums->xy, sums->x2y};
    memset(out, 0, sizeof(*out));
    out->terms = terms;
    if (terms < 2 || terms > 3 || sums->n < terms || !invert(a, terms)) {
        return false;
    }
    out->rss = sums->y2;
    for (unsigned i = 0; i < terms; i++) {
        for (unsigned j = 0; j < terms; j++) {
            out->var[i][j] = a[i][j];
            out->c[i] += a[i][j] * right[j];
        }
        out->rss -= out->c[i] * right[i];
    }
    out->rss = fmax(out->rss, 0);
    return true;
}

struct hinge_data {
    const double *x, *y;
    size_t count;
    unsigned terms; /* 2: level then line; 3: line then line */
};

/* Regressors at x for a break at x0: 1, (x - x0)+, (x - x0)-. */
static void regressors(double x, double x0, double g[3])
{
    g[0] = 1;
    g[1] = x > x0 ? x - x0 : 0;
    g[2] = x > x0 ? 0 : x - x0;
}

/* Sums over all points for a break at x0. What a regressor that is 0 would add
   is left out. */
static void add_points(const struct hinge_data *data, double x0, double a[4][4],
                       double right[3])
{
    double n = 0, y = 0;
    double x_after = 0, xx_after = 0, xy_after = 0;
    double x_before = 0, xx_before = 0, xy_before = 0;
    for (size_t i = 0; i < data->count; i++) {
        const double from = data->x[i] - x0;
        n += 1;
        y += data->y[i];
        if (data->x[i] > x0) {
            x_after += from;
            xx_after += from * from;
            xy_after += from * data->y[i];
        } else {
            x_before += from;
            xx_before += from * from;
            xy_before += from * data->y[i];
        }
    }
    a[0][0] = n;
    a[0][1] = a[1][0] = x_after;
    a[1][1] = xx_after;
    right[0] = y;
    right[1] = xy_after;
    if (data->terms == 3) {
        a[0][2] = a[2][0] = x_before;
        a[2][2] = xx_before;
        right[2] = xy_before;
    }
}

/* Best value and slopes for a break at x0; the sum of squares, or infinity. */
static double fit_at(const struct hinge_data *data, double x0, double c[3])
{
    double a[4][4] = {{0}};
    double right[3] = {0};
    add_points(data, x0, a, right);
    if (!invert(a, data->terms)) {
        return INFINITY;
    }
    for (unsigned j = 0; j < 3; j++) {
        c[j] = 0;
        for (unsigned k = 0; j < data->terms && k < data->terms; k++) {
            c[j] += a[j][k] * right[k];
        }
    }
    double rss = 0;
    for (size_t i = 0; i < data->count; i++) {
        const double slope = data->x[i] > x0 ? c[1] : c[2];
        const double r = data->y[i] - c[0] - slope * (data->x[i] - x0);
        rss += r * r;
    }
    return rss;
}

static double golden(const struct hinge_data *data, double low, double high)
{
    const double share = 0.6180339887498949;
    double c[3];
    double p = high - share * (high - low);
    double q = low + share * (high - low);
    double at_p = fit_at(data, p, c);
    double at_q = fit_at(data, q, c);
    for (unsigned i = 0; i < 60 && high - low > 0; i++) {
        if (at_p <= at_q) {
            high = q;
            q = p;
            at_q = at_p;
            p = high - share * (high - low);
            at_p = fit_at(data, p, c);
        } else {
            low = p;
            p = q;
            at_p = at_q;
            q = low + share * (high - low);
            at_q = fit_at(data, q, c);
        }
    }
    return (low + high) / 2;
}

/* Standard error of the break from the Jacobian of all parameters. */
static double break_error(const struct hinge_data *data, double x0,
                          const double c[3], double rss)
{
    const unsigned order = data->terms + 1;
    if (data->count <= order) {
        return INFINITY;
    }
    double a[4][4] = {{0}};
    for (size_t i = 0; i < data->count; i++) {
        double g[4];
        double slopes[3];
        regressors(data->x[i], x0, slopes);
        /* With the value at the break as parameter, moving the break shifts
           each line by minus its slope. */
        g[0] = data->x[i] > x0 ? -c[1] : -c[2];
        g[1] = 1;
        g[2] = slopes[1];
        g[3] = slopes[2];
        for (unsigned j = 0; j < order; j++) {
            for (unsigned k = 0; k < order; k++) {
                a[j][k] += g[j] * g[k];
            }
        }
    }
    if (!invert(a, order)) {
        return INFINITY;
    }
    const double variance = rss / (double)(data->count - order);
    return sqrt(fmax(a[0][0], 0) * variance);
}

bool bl_signal_hinge_fit(const double *x, const double *y, size_t count,
                         bool flat, struct bl_signal_hinge *out)
{
    const struct hinge_data data = {x, y, count, flat ? 2 : 3};
    memset(out, 0, sizeof(*out));
    if (count < 5 || !(x[count - 1] > x[0])) {
        return false;
    }
    const unsigned cells = count < 64 ? (unsigned)count : 64;
    const double cell = (x[count - 1] - x[0]) / cells;
    double best = INFINITY;
    double at = x[0];
    double c[3];
    for (unsigned i = 1; i < cells; i++) {
        const double rss = fit_at(&data, x[0] + cell * i, c);
        if (rss < best) {
            best = rss;
            at = x[0] + cell * i;
        }
    }
    if (!isfinite(best)) {
        return false;
    }
    out->x0 = golden(&data, at - cell, at + cell);
    out->rss = fit_at(&data, out->x0, c);
    out->value = c[0];
    out->slope_after = c[1];
    out->slope_before = c[2];
    out->u_x0 = break_error(&data, out->x0, c, out->rss);
    return isfinite(out->rss);
}
