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

enum { LANES = 8, CHUNK = 1024 };

/* Of a stretch of values and the one in front of it: extremes, how many differ
   from their neighbour, the smallest such difference. In lanes, so that a
   compiler may use wide registers. */
struct stretch {
    float low, high, step;
    uint32_t changes;
    bool whole; /* no value is missing */
};

static struct stretch look_at(const float *value, size_t count)
{
    float low[LANES], high[LANES], step[LANES], sum[LANES];
    uint32_t changes[LANES];
    for (size_t k = 0; k < LANES; k++) {
        low[k] = high[k] = value[0];
        step[k] = INFINITY;
        sum[k] = 0;
        changes[k] = 0;
    }
    size_t i = 1;
    for (; i + LANES <= count; i += LANES) {
        for (size_t k = 0; k < LANES; k++) {
            const float v = value[i + k];
            const float d = fabsf(v - value[i + k - 1]);
            low[k] = v < low[k] ? v : low[k];
            high[k] = v > high[k] ? v : high[k];
            changes[k] += d > 0;
            const float apart = d > 0 ? d : INFINITY;
            step[k] = apart < step[k] ? apart : step[k];
            sum[k] += d;
        }
    }
    struct stretch all = {.low = low[0], .high = high[0], .step = step[0]};
    float total = 0;
    for (; i < count; i++) {
        const float d = fabsf(value[i] - value[i - 1]);
        all.low = value[i] < all.low ? value[i] : all.low;
        all.high = value[i] > all.high ? value[i] : all.high;
        all.changes += d > 0;
        all.step = d > 0 && d < all.step ? d : all.step;
        total += d;
    }
    for (size_t k = 0; k < LANES; k++) {
        all.low = low[k] < all.low ? low[k] : all.low;
        all.high = high[k] > all.high ? high[k] : all.high;
        all.step = step[k] < all.step ? step[k] : all.step;
        all.changes += changes[k];
        total += sum[k];
    }
    all.whole = isfinite(total);
    return all;
}

/* One value after the other. */
static void feed_slowly(struct bl_seen_build *b, const float *value,
                        size_t count)
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

/* A stretch without missing values that stays below the largest one so far and
   shows no smaller step than was seen is counted as a whole. */
static bool feed_whole(struct bl_seen_build *b, const float *value,
                       size_t count)
{
    if (isnan(b->before) || b->at_top > 0) {
        return false;
    }
    const struct stretch s = look_at(value, count);
    const float first = fabsf(value[0] - b->before);
    const float step = first > 0 && first < s.step ? first : s.step;
    if (!s.whole || !(s.high < b->top) || (double)step < b->seen.step) {
        return false;
    }
    b->seen.count += count;
    b->seen.changes += s.changes + (first > 0);
    b->seen.smallest =
        (double)s.low < b->seen.smallest ? (double)s.low : b->seen.smallest;
    b->before = value[count - 1];
    b->last = (double)b->before;
    return true;
}

void bl_seen_feed(struct bl_seen_build *b, const float *value, size_t count)
{
    for (size_t at = 0; at < count; at += CHUNK) {
        const size_t length = count - at < CHUNK ? count - at : CHUNK;
        if (!feed_whole(b, value + at, length)) {
            feed_slowly(b, value + at, length);
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
