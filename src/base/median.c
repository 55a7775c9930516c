/* SPDX-License-Identifier: MIT */
/* Medians by selection: no more is put in order than the middle needs. */
#include "base/lanes.h"
#include "base/number.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static int compare_double(const void *a, const void *b)
{
    double x;
    double y;
    memcpy(&x, a, sizeof(x));
    memcpy(&y, b, sizeof(y));
    return (x > y) - (x < y);
}

void bl_sort(double *value, size_t count)
{
    if (count > 1) {
        qsort(value, count, sizeof(*value), compare_double);
    }
}

double bl_median(double *value, size_t count)
{
    if (count == 0) {
        return NAN;
    }
    bl_sort(value, count);
    const size_t half = count / 2;
    return count % 2 == 1
               ? value[half]
               : value[half - 1] + (value[half] - value[half - 1]) / 2;
}

/*
 * Hoare's selection, with the middle of three as pivot and the equal ones in
 * the middle: afterwards value[k] is what sorting would put there. Samples of a
 * quiet channel have few different values, which a two-way split takes badly.
 */
static float select_float(float *value, size_t count, size_t k)
{
    size_t low = 0;
    size_t high = count;
    while (high - low > 1) {
        const float a = value[low];
        const float b = value[low + (high - low) / 2];
        const float c = value[high - 1];
        const float pivot = a < b ? (b < c ? b : (a < c ? c : a))
                                  : (a < c ? a : (b < c ? c : b));
        size_t smaller = low;
        size_t larger = high;
        for (size_t i = low; i < larger;) {
            const float x = value[i];
            if (x < pivot) {
                value[i++] = value[smaller];
                value[smaller++] = x;
            } else if (x > pivot) {
                value[i] = value[--larger];
                value[larger] = x;
            } else {
                i++;
            }
        }
        if (k >= smaller && k < larger) {
            break;
        }
        low = k < smaller ? low : larger;
        high = k < smaller ? smaller : high;
    }
    return value[k];
}

enum { BUCKETS = 1024, FEW = 128 };

struct scale {
    float low, per_unit;
};

static inline uint32_t bucket_of(const struct scale *scale, float value)
{
    const float place = (value - scale->low) * scale->per_unit;
    return place < BUCKETS - 1 ? (uint32_t)place : BUCKETS - 1;
}

/* Buckets of equal width over all values; false: they are one value, or too far
   apart for it. */
static bool lay_scale(struct scale *scale, const float *value, size_t count)
{
    struct bl_lanes lows = bl_lanes_all(value[0]);
    struct bl_lanes highs = lows;
    size_t i = 0;
    for (; i + BL_LANES <= count; i += BL_LANES) {
        const struct bl_lanes v = bl_lanes_load(value + i);
        lows = bl_lanes_min(v, lows);
        highs = bl_lanes_max(v, highs);
    }
    float ends[2][BL_LANES];
    bl_lanes_store(ends[0], lows);
    bl_lanes_store(ends[1], highs);
    float low = ends[0][0];
    float high = ends[1][0];
    for (size_t k = 1; k < BL_LANES; k++) {
        low = fminf(low, ends[0][k]);
        high = fmaxf(high, ends[1][k]);
    }
    for (; i < count; i++) {
        low = fminf(low, value[i]);
        high = fmaxf(high, value[i]);
    }
    *scale = (struct scale){low, BUCKETS / (high - low)};
    return scale->per_unit > 0 && isfinite(scale->per_unit);
}

/*
 * What sorting would put at `k`. A scale that goes up with the value, rounding
 * or not, tells in which bucket it lies; those of this bucket move to the front
 * and are looked at alone. No step depends on how noise falls, as every one of
 * a selection by pivots does.
 */
static float value_at(float *value, size_t count, size_t k)
{
    struct scale scale;
    while (count > FEW && lay_scale(&scale, value, count)) {
        uint32_t in[BUCKETS] = {0};
        for (size_t i = 0; i < count; i++) {
            in[bucket_of(&scale, value[i])]++;
        }
        uint32_t bucket = 0;
        while (k >= in[bucket]) {
            k -= in[bucket++];
        }
        size_t kept = 0;
        for (size_t i = 0; i < count; i++) {
            const float x = value[i];
            value[i] = value[kept];
            value[kept] = x;
            kept += bucket_of(&scale, x) == bucket;
        }
        if (kept == count) {
            break;
        }
        count = kept;
    }
    return select_float(value, count, k);
}

/* The largest below `upper`, and how many are; at most MANY, whose numbers
   single precision counts exactly. */
enum { MANY = 1 << 20 };

static size_t below(const float *value, size_t count, float upper,
                    float *largest)
{
    const struct bl_lanes none = bl_lanes_all(0);
    const struct bl_lanes one = bl_lanes_all(1);
    const struct bl_lanes least = bl_lanes_all(-INFINITY);
    struct bl_lanes highs = least;
    struct bl_lanes sums = none;
    size_t i = 0;
    for (; i + BL_LANES <= count; i += BL_LANES) {
        const struct bl_lanes v = bl_lanes_load(value + i);
        const struct bl_lanes under = bl_lanes_subtract(bl_lanes_all(upper), v);
        highs = bl_lanes_max(bl_lanes_positive(under, v, least), highs);
        sums = bl_lanes_add(sums, bl_lanes_positive(under, one, none));
    }
    float high[BL_LANES], sum[BL_LANES];
    bl_lanes_store(high, highs);
    bl_lanes_store(sum, sums);
    size_t all = 0;
    for (size_t k = 0; k < BL_LANES; k++) {
        *largest = fmaxf(*largest, high[k]);
        all += (size_t)sum[k];
    }
    for (; i < count; i++) {
        if (value[i] < upper) {
            *largest = fmaxf(*largest, value[i]);
            all++;
        }
    }
    return all;
}

float bl_median_float(float *value, size_t count)
{
    if (count == 0) {
        return NAN;
    }
    const size_t half = count / 2;
    const float upper = value_at(value, count, half);
    if (count % 2 == 1) {
        return upper;
    }
    /* The one before it is the largest of those below, where these are just
       the lower half; else it is another one like it. */
    float lower = -INFINITY;
    size_t smaller = 0;
    for (size_t at = 0; at < count; at += MANY) {
        const size_t length = count - at < MANY ? count - at : MANY;
        smaller += below(value + at, length, upper, &lower);
    }
    lower = smaller == half ? lower : upper;
    return lower + (upper - lower) / 2;
}
