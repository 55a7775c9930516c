/* SPDX-License-Identifier: MIT */
#include "report/decimate.h"

#include <math.h>
#include <string.h>

enum { ROUNDS_MAX = 40, KEPT_MAX = 4 };

/* A gathering: indices of the samples that represent it. */
struct gathering {
    size_t first, low, high, last;
};

static void widen(struct gathering *g, const struct bl_point *point, size_t i)
{
    g->low = point[i].value < point[g->low].value ? i : g->low;
    g->high = point[i].value > point[g->high].value ? i : g->high;
}

/* Held values: the longest gathering from `start` whose values lie within
   `tolerance`. */
static struct gathering gather_held(const struct bl_point *point, size_t count,
                                    size_t start, double tolerance)
{
    struct gathering g = {start, start, start, start};
    for (size_t i = start + 1; i < count && !isnan(point[i].value); i++) {
        const double value = point[i].value;
        if (fmax(value, point[g.high].value) - fmin(value, point[g.low].value) >
            tolerance) {
            break;
        }
        widen(&g, point, i);
        g.last = i;
    }
    return g;
}

/* The longest gathering from `start` of which every sample lies within
   `tolerance` of the line from its first to its last: each sample narrows the
   slopes that such a line may have. */
static struct gathering gather_line(const struct bl_point *point, size_t count,
                                    size_t start, double tolerance)
{
    struct gathering g = {start, start, start, start};
    double least = -INFINITY;
    double most = INFINITY;
    for (size_t i = start + 1; i < count && !isnan(point[i].value); i++) {
        const double width = (double)(point[i].time_ns - point[start].time_ns);
        const double rise = point[i].value - point[start].value;
        if (!(width > 0) || least > most) {
            break;
        }
        if (rise / width >= least && rise / width <= most) {
            for (size_t k = g.last + 1; k <= i; k++) {
                widen(&g, point, k);
            }
            g.last = i;
        }
        least = fmax(least, (rise - tolerance) / width);
        most = fmin(most, (rise + tolerance) / width);
    }
    return g;
}

static struct gathering gather(const struct bl_point *point, size_t count,
                               size_t start, double tolerance, bool held)
{
    if (isnan(point[start].value)) {
        return (struct gathering){start, start, start, start};
    }
    return held ? gather_held(point, count, start, tolerance)
                : gather_line(point, count, start, tolerance);
}

/* Its indices in order of time, each once. */
static size_t kept(const struct gathering *g, size_t index[KEPT_MAX])
{
    const size_t early = g->low < g->high ? g->low : g->high;
    const size_t late = g->low < g->high ? g->high : g->low;
    const size_t all[KEPT_MAX] = {g->first, early, late, g->last};
    size_t count = 0;
    for (size_t i = 0; i < KEPT_MAX; i++) {
        if (count == 0 || all[i] > index[count - 1]) {
            index[count++] = all[i];
        }
    }
    return count;
}

/* How many points a tolerance leaves, counted until they are more than `most`;
   with `out`, write them there. */
static size_t reduce(const struct bl_point *point, size_t count,
                     double tolerance, bool held, size_t most,
                     struct bl_point *out)
{
    size_t total = 0;
    for (size_t i = 0; i < count && total <= most;) {
        const struct gathering g = gather(point, count, i, tolerance, held);
        size_t index[KEPT_MAX];
        const size_t keep = kept(&g, index);
        for (size_t k = 0; k < keep; k++) {
            if (out != NULL) {
                /* total <= index: writing never overtakes reading */
                out[total] = point[index[k]];
            }
            total++;
        }
        i = g.last + 1;
    }
    return total;
}

size_t bl_decimate(struct bl_point *point, size_t count, size_t most,
                   double step, bool held)
{
    double low = INFINITY;
    double high = -INFINITY;
    for (size_t i = 0; i < count; i++) {
        low = fmin(low, point[i].value);
        high = fmax(high, point[i].value);
    }
    if (!(high >= low)) {
        return reduce(point, count, 0, held, SIZE_MAX, point);
    }
    double tolerance = fmax(step, (high - low) / 1000);
    for (int i = 0; i < ROUNDS_MAX; i++) {
        if (reduce(point, count, tolerance, held, most, NULL) <= most) {
            break;
        }
        tolerance *= 1.5;
    }
    return reduce(point, count, tolerance, held, SIZE_MAX, point);
}
