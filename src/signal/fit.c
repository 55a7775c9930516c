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
