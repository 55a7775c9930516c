/* SPDX-License-Identifier: MIT */
/* What a channel shows over a whole log, one stretch of values after another:
   for what is asked of all samples, whether they are kept or not. */
#include "load/build.h"

#include <math.h>

void bl_seen_start(struct bl_seen_build *b)
{
    *b = (struct bl_seen_build){
        .seen = {.smallest = INFINITY, .largest = -INFINITY, .step = INFINITY},
        .last = NAN,
        .top = -INFINITY,
        .before = NAN};
}

/* A value below the top, as nearly all are, takes two comparisons. */
static void at_the_top(struct bl_seen_build *b, float value)
{
    if (value > b->top) {
        b->top = value;
        b->at_top = 0;
        b->seen.longest_at_top = 0;
    }
    b->at_top = value == b->top ? b->at_top + 1 : 0;
    if (b->at_top > b->seen.longest_at_top) {
        b->seen.longest_at_top = b->at_top;
    }
}

void bl_seen_feed(struct bl_seen_build *b, const float *value, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        const float v = value[i];
        if (v >= b->top || b->at_top > 0) {
            at_the_top(b, v);
        }
        const float before = b->before;
        b->before = v;
        if (v == before) {
            b->seen.count++;
            continue;
        }
        if (isnan(v)) {
            continue;
        }
        b->seen.count++;
        b->seen.smallest =
            (double)v < b->seen.smallest ? (double)v : b->seen.smallest;
        b->seen.largest =
            (double)v > b->seen.largest ? (double)v : b->seen.largest;
        b->seen.changes += !isnan(b->last) && (double)v != b->last;
        b->last = (double)v;
        /* Rounding of float storage is not a step. */
        const double d = fabs((double)v - (double)before);
        if (d < b->seen.step && d > 4e-7 * fabs((double)v)) {
            b->seen.step = d;
        }
    }
}

struct bl_seen bl_channel_seen(const struct bl_channel_series *series)
{
    if (series->seen.count > 0) {
        return series->seen;
    }
    struct bl_seen_build b;
    bl_seen_start(&b);
    bl_seen_feed(&b, series->samples.value, series->samples.count);
    return b.seen;
}
