/* SPDX-License-Identifier: MIT */
/*
 * When a channel moves. Rest is the mean of its quiet blocks of the last ten
 * seconds, so that drift of temperature is followed; an anchor keeps a creeping
 * application from being followed with it.
 */
#include "signal/activity.h"

#include "base/lanes.h"

#include <math.h>

static const int64_t anew_ns = INT64_C(60000000000);

enum { LANES = 2 * BL_LANES };

/* One value after the other, where some are missing. */
static struct bl_block_look look_slowly(const float *value, size_t count)
{
    struct bl_block_look look = {.low = INFINITY, .high = -INFINITY};
    double sum = 0;
    for (size_t i = 0; i < count; i++) {
        if (!isnan(value[i])) {
            look.low = fmin(look.low, (double)value[i]);
            look.high = fmax(look.high, (double)value[i]);
            sum += (double)value[i];
            look.count++;
        }
    }
    look.mean = look.count == 0 ? NAN : sum / (double)look.count;
    double squares = 0;
    for (size_t i = 0; i < count; i++) {
        if (!isnan(value[i])) {
            const double d = (double)value[i] - look.mean;
            squares += d * d;
        }
    }
    look.deviation = look.count == 0 ? NAN : sqrt(squares / (double)look.count);
    return look;
}

/* Sums over values less `origin`; at most CHUNK values, so that single
   precision will do. */
struct sums {
    float low, high;
    double sum, squares;
};

/* What add_up holds for four of its lanes. */
struct lane_sums {
    struct bl_lanes low, high, sum, squares;
};

static inline void add_lanes(struct lane_sums *s, const float *value,
                             struct bl_lanes origin)
{
    const struct bl_lanes v = bl_lanes_load(value);
    const struct bl_lanes d = bl_lanes_subtract(v, origin);
    s->low = bl_lanes_min(v, s->low);
    s->high = bl_lanes_max(v, s->high);
    s->sum = bl_lanes_add(s->sum, d);
    s->squares = bl_lanes_add(s->squares, bl_lanes_times(d, d));
}

static void spread_lanes(const struct lane_sums *s, float low[BL_LANES],
                         float high[BL_LANES], float sum[BL_LANES],
                         float squares[BL_LANES])
{
    bl_lanes_store(low, s->low);
    bl_lanes_store(high, s->high);
    bl_lanes_store(sum, s->sum);
    bl_lanes_store(squares, s->squares);
}

static struct sums add_up(const float *value, size_t count, float origin)
{
    float low[LANES], high[LANES], sum[LANES], squares[LANES];
    const struct bl_lanes from = bl_lanes_all(origin);
    const struct bl_lanes none = bl_lanes_all(0);
    struct lane_sums left = {from, from, none, none};
    struct lane_sums right = left;
    size_t i = 0;
    for (; i + LANES <= count; i += LANES) {
        add_lanes(&left, value + i, from);
        add_lanes(&right, value + i + BL_LANES, from);
    }
    spread_lanes(&left, low, high, sum, squares);
    spread_lanes(&right, low + BL_LANES, high + BL_LANES, sum + BL_LANES,
                 squares + BL_LANES);
    for (; i < count; i++) {
        const float d = value[i] - origin;
        low[0] = value[i] < low[0] ? value[i] : low[0];
        high[0] = value[i] > high[0] ? value[i] : high[0];
        sum[0] += d;
        squares[0] += d * d;
    }
    struct sums all = {.low = low[0], .high = high[0]};
    for (size_t k = 0; k < LANES; k++) {
        all.low = low[k] < all.low ? low[k] : all.low;
        all.high = high[k] > all.high ? high[k] : all.high;
        all.sum += (double)sum[k];
        all.squares += (double)squares[k];
    }
    return all;
}

struct bl_block_look bl_block_look(const float *value, size_t count)
{
    enum { CHUNK = 512 };
    if (count == 0 || isnan(value[0])) {
        return look_slowly(value, count);
    }
    /* Differences from the first value: sums of squares of those are small. */
    const float origin = value[0];
    struct sums all = {.low = origin, .high = origin};
    for (size_t at = 0; at < count; at += CHUNK) {
        const size_t length = count - at < CHUNK ? count - at : CHUNK;
        const struct sums some = add_up(value + at, length, origin);
        all.low = some.low < all.low ? some.low : all.low;
        all.high = some.high > all.high ? some.high : all.high;
        all.sum += some.sum;
        all.squares += some.squares;
    }
    if (!isfinite(all.squares)) {
        return look_slowly(value, count); /* missing ones, or too large */
    }
    const double mean = all.sum / (double)count;
    return (struct bl_block_look){
        .count = count,
        .low = (double)all.low,
        .high = (double)all.high,
        .mean = (double)origin + mean,
        .deviation = sqrt(fmax(0, all.squares / (double)count - mean * mean))};
}

static void take_quiet(struct bl_activity *a, double mean, double deviation)
{
    a->mean[a->next] = mean;
    a->deviation[a->next] = deviation;
    a->next = (a->next + 1) % BL_ACTIVITY_BLOCKS;
    a->blocks += a->blocks < BL_ACTIVITY_BLOCKS;
    double sum = 0;
    double noise = 0;
    for (size_t i = 0; i < a->blocks; i++) {
        sum += a->mean[i];
        noise += a->deviation[i];
    }
    a->rest = sum / (double)a->blocks;
    a->noise = noise / (double)a->blocks;
}

static void take_anew(struct bl_activity *a, double rest, double deviation)
{
    a->blocks = 0;
    a->next = 0;
    a->beyond = false;
    a->level = false;
    a->anchor = rest;
    take_quiet(a, rest, deviation);
}

void bl_activity_start(struct bl_activity *a, double floor, double ceiling,
                       const struct bl_block_look *rest)
{
    *a = (struct bl_activity){.floor = floor, .ceiling = ceiling};
    take_anew(a, rest->mean, rest->deviation);
}

static bool two_beyond(struct bl_activity *a, const float *value, size_t count,
                       double leaves)
{
    bool found = false;
    for (size_t i = 0; i < count; i++) {
        if (isnan(value[i])) {
            continue;
        }
        const bool beyond = fabs((double)value[i] - a->rest) > leaves;
        found = found || (beyond && a->beyond);
        a->beyond = beyond;
    }
    return found;
}

/* Away from rest for a minute and level all the while: that is the new rest. */
static void watch_level(struct bl_activity *a, int64_t time_ns,
                        const struct bl_block_look *look, double leaves)
{
    if (look->high - look->low > 2 * leaves) {
        a->level = false;
        return;
    }
    const double low = fmin(a->level_low, look->mean);
    const double high = fmax(a->level_high, look->mean);
    if (!a->level || high - low > leaves) {
        a->level = true;
        a->level_from_ns = time_ns;
        a->level_low = a->level_high = look->mean;
        return;
    }
    a->level_low = low;
    a->level_high = high;
    if (time_ns - a->level_from_ns >= anew_ns) {
        take_anew(a, look->mean, look->deviation);
    }
}

bool bl_activity_block(struct bl_activity *a, const int64_t *time_ns,
                       const float *value, size_t count)
{
    const struct bl_block_look look = bl_block_look(value, count);
    if (look.count == 0) {
        return false;
    }
    /* Rounding is no move, also where the value stands quite still. */
    const double leaves = fmax(fmin(fmax(5 * a->noise, a->floor), a->ceiling),
                               1e-6 * fabs(a->rest));
    const bool inside =
        look.high - a->rest <= leaves && a->rest - look.low <= leaves;
    bool moves = fabs(look.mean - a->anchor) > 2 * leaves;
    if (inside) {
        a->beyond = false;
    } else {
        moves = two_beyond(a, value, count, leaves) || moves;
    }
    if (moves) {
        watch_level(a, time_ns[0], &look, leaves);
        return true;
    }
    a->level = false;
    if (inside) {
        take_quiet(a, look.mean, look.deviation);
    }
    return false;
}
