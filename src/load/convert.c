/* SPDX-License-Identifier: MIT */
/* Numbers of a column to samples in the channel's canonical unit. */
#include "load/build.h"

#include "base/lanes.h"

#include <math.h>

void bl_conversion_start(struct bl_conversion *c)
{
    *c = (struct bl_conversion){.scale = 1, .low = INFINITY, .high = -INFINITY};
}

static void count_missing(struct bl_conversion *c, const double *from,
                          size_t rows)
{
    for (size_t i = 0; i < rows; i++) {
        c->missing += isnan(from[i] * c->scale + c->zero);
    }
}

void bl_convert(struct bl_conversion *c, float *into, const double *from,
                size_t rows)
{
    const struct bl_pair scale = bl_pair_all(c->scale);
    const struct bl_pair zero = bl_pair_all(c->zero);
    struct bl_pair low = bl_pair_all(c->low);
    struct bl_pair high = bl_pair_all(c->high);
    struct bl_pair nothing = bl_pair_all(0); /* NaN where one is missing */
    size_t i = 0;
    for (; i + BL_PAIR <= rows; i += BL_PAIR) {
        const struct bl_pair value =
            bl_pair_add(bl_pair_times(bl_pair_load(from + i), scale), zero);
        bl_pair_store_float(into + i, value);
        low = bl_pair_min(value, low);
        high = bl_pair_max(value, high);
        nothing = bl_pair_add(nothing, bl_pair_subtract(value, value));
    }
    double lows[BL_PAIR], highs[BL_PAIR], sum[BL_PAIR];
    bl_pair_store(lows, low);
    bl_pair_store(highs, high);
    bl_pair_store(sum, nothing);
    for (; i < rows; i++) {
        const double value = from[i] * c->scale + c->zero;
        into[i] = (float)value;
        lows[0] = value < lows[0] ? value : lows[0];
        highs[0] = value > highs[0] ? value : highs[0];
        sum[0] += value - value;
    }
    c->low = lows[0] < lows[1] ? lows[0] : lows[1];
    c->high = highs[0] > highs[1] ? highs[0] : highs[1];
    if (isnan(sum[0] + sum[1])) {
        count_missing(c, from, rows);
    }
}
