/* SPDX-License-Identifier: MIT */
/* What a channel shows over a whole log, one stretch of values after another:
   for what is asked of all samples, whether they are kept or not. */
#include "load/build.h"

#include "base/lanes.h"

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

enum { CHUNK = 1024 };

/* Of a stretch of values and the one in front of it: extremes, how many differ
   from their neighbour, the smallest such difference. */
struct stretch {
    float low, high, step;
    uint32_t changes;
    bool whole; /* no value is missing */
};

static struct stretch look_at(const float *value, size_t count)
{
    float low[BL_LANES], high[BL_LANES], step[BL_LANES], changed[BL_LANES],
        sum[BL_LANES];
    const struct bl_lanes none = bl_lanes_all(0);
    const struct bl_lanes one = bl_lanes_all(1);
    const struct bl_lanes far = bl_lanes_all(INFINITY);
    struct bl_lanes lows = bl_lanes_all(value[0]);
    struct bl_lanes highs = lows;
    struct bl_lanes steps = far;
    struct bl_lanes changes = none;
    struct bl_lanes sums = none;
    size_t i = 1;
    for (; i + BL_LANES <= count; i += BL_LANES) {
        const struct bl_lanes v = bl_lanes_load(value + i);
        const struct bl_lanes d =
            bl_lanes_size(bl_lanes_subtract(v, bl_lanes_load(value + i - 1)));
        lows = bl_lanes_min(v, lows);
        highs = bl_lanes_max(v, highs);
        changes = bl_lanes_add(changes, bl_lanes_positive(d, one, none));
        steps = bl_lanes_min(bl_lanes_positive(d, d, far), steps);
        sums = bl_lanes_add(sums, d);
    }
    bl_lanes_store(low, lows);
    bl_lanes_store(high, highs);
    bl_lanes_store(step, steps);
    bl_lanes_store(changed, changes);
    bl_lanes_store(sum, sums);
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
    for (size_t k = 0; k < BL_LANES; k++) {
        all.low = low[k] < all.low ? low[k] : all.low;
        all.high = high[k] > all.high ? high[k] : all.high;
        all.step = step[k] < all.step ? step[k] : all.step;
        all.changes += (uint32_t)changed[k];
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
        /* To the value before, also where others' rows lie between. Rounding of
           float storage is not a step. */
        const double d = fabs((double)v - b->last);
        b->last = (double)v;
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

bool bl_channel_unit_unlikely(const struct bl_channel_series *series)
{
    static const double least_kpa = 150;
    static const double most_kpa = 1200;
    if (!(series->written_ratio > 0)) {
        return false;
    }
    const double stated = bl_channel_seen(series).largest;
    const double written = stated * series->written_ratio;
    return (stated < least_kpa || stated > most_kpa) && written >= least_kpa &&
           written <= most_kpa;
}
