/* SPDX-License-Identifier: MIT */
/*
 * Exact null distributions of rank sums by adding one value at a time. All
 * terms are positive, so nothing is lost to cancellation; kept as
 * probabilities, so nothing overflows.
 */
#include "stats/stats_common.h"

#include "base/alloc.h"

static size_t total(const unsigned *weight, size_t n)
{
    size_t sum = 0;
    for (size_t i = 0; i < n; i++) {
        sum += weight[i];
    }
    return sum;
}

double *bl_count_signed(const unsigned *weight, size_t n, size_t *size)
{
    *size = total(weight, n) + 1;
    double *p = bl_alloc(*size, sizeof(*p));
    if (p == NULL) {
        return NULL;
    }
    p[0] = 1;
    size_t top = 0;
    for (size_t i = 0; i < n; i++) {
        const size_t w = weight[i];
        top += w;
        for (size_t k = top + 1; k-- > 0;) {
            p[k] = 0.5 * (p[k] + (k >= w ? p[k - w] : 0));
        }
    }
    return p;
}

/* p[m][k]: probability that of the values seen so far m are drawn, with sum k.
   Value i is drawn with odds (draw - m) : (left - (draw - m)). */
double *bl_count_subset(const unsigned *weight, size_t n, size_t draw,
                        size_t *size)
{
    const size_t width = total(weight, n) + 1;
    *size = width;
    double *p = bl_alloc((draw + 1) * width, sizeof(*p));
    if (p == NULL) {
        return NULL;
    }
    p[0] = 1;
    size_t top = 0;
    for (size_t i = 0; i < n; i++) {
        const size_t w = weight[i];
        const double left = (double)(n - i);
        top += w;
        for (size_t m = (i + 1 < draw ? i + 1 : draw) + 1; m-- > 0;) {
            double *row = p + m * width;
            const double stay = (left - (double)(draw - m)) / left;
            const double *below = m > 0 ? row - width : NULL;
            const double come = (double)(draw - m + 1) / left;
            for (size_t k = 0; k <= top; k++) {
                const double drawn =
                    below != NULL && k >= w ? below[k - w] * come : 0;
                row[k] = (stay > 0 ? row[k] * stay : 0) + drawn;
            }
        }
    }
    for (size_t k = 0; draw > 0 && k < width; k++) {
        p[k] = p[draw * width + k];
    }
    return p;
}
