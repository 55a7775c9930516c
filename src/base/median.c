/* SPDX-License-Identifier: MIT */
/* Medians by selection: no more is put in order than the middle needs. */
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

double bl_median(double *value, size_t count)
{
    if (count == 0) {
        return NAN;
    }
    qsort(value, count, sizeof(*value), compare_double);
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
    float low = value[0];
    float high = value[0];
    for (size_t i = 1; i < count; i++) {
        low = value[i] < low ? value[i] : low;
        high = value[i] > high ? value[i] : high;
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
    size_t below = 0;
    float largest = -INFINITY;
    for (size_t i = 0; i < count; i++) {
        const bool is_below = value[i] < upper;
        const float x = is_below ? value[i] : -INFINITY;
        below += is_below;
        largest = x > largest ? x : largest;
    }
    const float lower = below == half ? largest : upper;
    return lower + (upper - lower) / 2;
}
