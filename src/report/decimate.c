/* SPDX-License-Identifier: MIT */
#include "report/decimate.h"

#include <math.h>
#include <string.h>

enum { ROUNDS_MAX = 40, KEPT_MAX = 4 };

/* A gathering: indices of the samples that represent it. */
struct gathering {
    size_t first, low, high, last;
};

/* The longest gathering from `start` whose values lie within `tolerance`. */
static struct gathering gather(const struct bl_point *point, size_t count,
                               size_t start, double tolerance)
{
    struct gathering g = {start, start, start, start};
    if (isnan(point[start].value)) {
        return g;
    }
    for (size_t i = start + 1; i < count && !isnan(point[i].value); i++) {
        const double value = point[i].value;
        const double low = fmin(value, point[g.low].value);
        const double high = fmax(value, point[g.high].value);
        if (high - low > tolerance) {
            break;
        }
        g.low = value < point[g.low].value ? i : g.low;
        g.high = value > point[g.high].value ? i : g.high;
        g.last = i;
    }
    return g;
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
                     double tolerance, size_t most, struct bl_point *out)
{
    size_t total = 0;
    for (size_t i = 0; i < count && total <= most;) {
        const struct gathering g = gather(point, count, i, tolerance);
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
                   double step)
{
    double low = INFINITY;
    double high = -INFINITY;
    for (size_t i = 0; i < count; i++) {
        low = fmin(low, point[i].value);
        high = fmax(high, point[i].value);
    }
    if (!(high >= low)) {
        return reduce(point, count, 0, SIZE_MAX, point);
    }
    double tolerance = fmax(step, (high - low) / 1000);
    for (int i = 0; i < ROUNDS_MAX; i++) {
        if (reduce(point, count, tolerance, most, NULL) <= most) {
            break;
        }
        tolerance *= 1.5;
    }
    return reduce(point, count, tolerance, SIZE_MAX, point);
}
