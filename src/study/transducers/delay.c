/* SPDX-License-Identifier: MIT */
/* Delay of one channel behind the other by shifting it: the sum of squares
   over the moving samples is a parabola near its least. */
#include "study/transducers/pair.h"

#include <math.h>

enum { MOST_SAMPLES = 40000, HALF_GRID = 50 };
static const double widest_s = 0.25;

/* a at a place between samples; NaN at a gap. */
static double shifted(const struct bl_pair_data *pair, size_t i, double by,
                      double interval)
{
    const double at = (double)i - by;
    if (at < 0 || at + 1 >= (double)pair->n) {
        return NAN;
    }
    const size_t k = (size_t)at;
    const size_t low = k < i ? k : i;
    const size_t high = k + 1 > i ? k + 1 : i;
    const double spans = pair->time_s[high] - pair->time_s[low];
    if (fabs(spans - (double)(high - low) * interval) > 2 * interval) {
        return NAN;
    }
    return pair->a[k] + (at - (double)k) * (pair->a[k + 1] - pair->a[k]);
}

/* The samples that move, as indices into the scratch; how many. */
static size_t find_moving(const struct bl_pair_data *pair, double moving)
{
    const size_t stride = pair->n / MOST_SAMPLES + 1;
    size_t count = 0;
    for (size_t i = 2; i + 2 < pair->n; i += stride) {
        /* Seen on both, so that the choice does not lean to one side. */
        const double move = fabs(pair->a[i + 2] - pair->a[i - 2]) +
                            fabs(pair->b[i + 2] - pair->b[i - 2]);
        if (move > moving) {
            pair->scratch[count++] = (double)i;
        }
    }
    return count;
}

/* b as a that was shifted, in samples of `interval` seconds. */
struct shift_model {
    double interval, offset, gain;
};

static double squares(const struct bl_pair_data *pair, size_t moving, double by,
                      const struct shift_model *model, size_t *used)
{
    double sum = 0;
    *used = 0;
    for (size_t k = 0; k < moving; k++) {
        const size_t i = (size_t)pair->scratch[k];
        const double e = pair->b[i] - model->offset -
                         model->gain * shifted(pair, i, by, model->interval);
        if (!isnan(e)) {
            sum += e * e;
            (*used)++;
        }
    }
    return *used > 0 ? sum / (double)*used : NAN;
}

struct bl_measured bl_pair_delay(const struct bl_pair_data *pair,
                                 double interval_s, double offset, double gain,
                                 double noise)
{
    const struct bl_measured none = {NAN, NAN};
    if (!(interval_s > 0) || isnan(offset) || isnan(gain)) {
        return none;
    }
    const struct shift_model model = {interval_s, offset, gain};
    const size_t moving = find_moving(pair, fmax(12 * noise, 4.0));
    double best = INFINITY, middle = 0;
    double step = fmax(widest_s / interval_s, 4) / HALF_GRID;
    size_t used = 0;
    for (unsigned round = 0; round < 3; round++) {
        const double about = middle;
        for (int k = -HALF_GRID; k <= HALF_GRID; k++) {
            const double by = about + k * step;
            size_t n;
            const double s = squares(pair, moving, by, &model, &n);
            if (n >= 10 && s < best) {
                best = s;
                middle = by;
                used = n;
            }
        }
        step /= 10;
    }
    if (used < 10) {
        return none;
    }
    /* Curvature of the mean square, two samples to each side. */
    size_t n;
    const double left = squares(pair, moving, middle - 2, &model, &n);
    const double right = squares(pair, moving, middle + 2, &model, &n);
    const double bend = (left + right - 2 * best) / 4;
    const double u = bend > 0 ? sqrt(best / bend / (double)used) : NAN;
    return (struct bl_measured){middle * interval_s,
                                hypot(u, 0.03) * interval_s};
}
