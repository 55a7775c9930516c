/* SPDX-License-Identifier: MIT */
/*
 * Changes in a row of values: tabular CUSUM (Page 1954, in the form of the
 * NIST/SEMATECH e-Handbook 6.3.2.3) and one change of the mean by least
 * squares.
 */
#include "brakelag/stats.h"

#include <math.h>

struct bl_cusum bl_cusum(const double *value, size_t n, double target, double k,
                         double h, double *high, double *low)
{
    struct bl_cusum out = {n, n, n, n};
    double up = 0;
    double down = 0;
    size_t up_from = 0;
    size_t down_from = 0;
    for (size_t i = 0; i < n; i++) {
        up = fmax(0, up + value[i] - target - k);
        down = fmax(0, down - (value[i] - target) - k);
        up_from = up > 0 ? up_from : i + 1;
        down_from = down > 0 ? down_from : i + 1;
        if (high != NULL) {
            high[i] = up;
        }
        if (low != NULL) {
            low[i] = down;
        }
        if (up > h && out.signal_high == n) {
            out.signal_high = i;
            out.onset_high = up_from;
        }
        if (down > h && out.signal_low == n) {
            out.signal_low = i;
            out.onset_low = down_from;
        }
    }
    return out;
}

struct bl_mean_change bl_mean_change(const double *value, size_t n)
{
    struct bl_mean_change out = {0};
    double total = 0;
    double squares = 0;
    for (size_t i = 0; i < n; i++) {
        const double d = value[i] - value[0];
        total += d;
        squares += d * d;
    }
    double left = 0;
    double best = -1;
    for (size_t i = 0; i + 1 < n; i++) {
        left += value[i] - value[0];
        const double before = left / (double)(i + 1);
        const double after = (total - left) / (double)(n - i - 1);
        const double explained = before * left + after * (total - left);
        if (explained > best) {
            best = explained;
            out = (struct bl_mean_change){true, i, value[0] + before,
                                          value[0] + after,
                                          fmax(0, squares - explained)};
        }
    }
    return out;
}
