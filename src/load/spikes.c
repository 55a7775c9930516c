/* SPDX-License-Identifier: MIT */
/*
 * Spikes: values that stand out and are back before a valve could have
 * followed.
 *
 * A stretch of values is a spike where its first and last edge are abrupt, the
 * values around it agree with each other, and it lasts too short: up to 10 ms,
 * or up to three different values within 40 ms. The solenoids of anti-lock
 * modulators, the fastest valves of a brake system, need about 10 ms to open
 * and as much to close, and a foot is slower (common practice; the limits are
 * our own choice). At any rate of the logger, up to three rows of what no brake
 * system holds (over 2000 kPa, under -150 kPa) are one too. What stands out
 * must clear the noise and the movement around it, so that steps, overshoots,
 * ringing and stair-steps stay.
 *
 * The value becomes a missing one. Only pressures and positions are searched: a
 * voltage may well jump.
 */
#include "load/build.h"

#include "base/number.h"

#include <math.h>
#include <string.h>

static const int64_t short_ns = 10000000, most_ns = 40000000;
static const int64_t absurd_ns = INT64_C(3000000000);
static const double absurd_high_kpa = 2000, absurd_low_kpa = -150;
/* Activity opens at as much; a pedal's travel in percent alike. */
static const double floor_kpa = 5;
enum { NEAR = 32, SIDE = 6, RUN_ROWS = 128, VALUES_MOST = 3, HOLE_MOST = 3 };
/* Shares that a spike clears; `unknown`: of the floor, where too little moves
   to know the noise. */
static const double noises = 8, movements = 4, steps = 4, unknown = 20;
enum { BENDS_NEEDED = 8 };

void bl_spikes_start(struct bl_spikes *k, enum bl_quantity quantity)
{
    *k = (struct bl_spikes){.on = quantity == BL_QUANTITY_PRESSURE ||
                                  quantity == BL_QUANTITY_RATIO,
                            .pressure = quantity == BL_QUANTITY_PRESSURE};
}

size_t bl_spikes_until(const struct bl_log_samples *s, bool last)
{
    const size_t ahead = RUN_ROWS + NEAR + HOLE_MOST;
    return last ? s->count : s->count > ahead ? s->count - ahead : 0;
}

/* What lies around a stretch, on either side: values that follow each other,
   those that repeat the one before left out, as slow channels are padded. */
struct around {
    float bend[2 * NEAR]; /* second differences, which a slope does not touch */
    size_t bends;
    float beside; /* largest of the steps nearest to it on either side */
    double step;  /* smallest; INFINITY: none */
};

static void add_side(struct around *a, const float *value, size_t from,
                     size_t to, bool before)
{
    float step[NEAR];
    size_t count = 0;
    float last = value[before ? to : from];
    for (size_t k = 1; k < NEAR && from + k <= to; k++) {
        /* From the stretch outwards. */
        const float v = value[before ? to - k : from + k];
        if (isnan(v) || v == last) {
            continue;
        }
        step[count++] = v - last;
        last = v;
        a->step = fmin(a->step, (double)fabsf(step[count - 1]));
    }
    for (size_t k = 1; k < count; k++) {
        a->bend[a->bends++] = fabsf(step[k] - step[k - 1]);
    }
    for (size_t k = 0; k < count && k < SIDE; k++) {
        a->beside = fmaxf(a->beside, fabsf(step[k]));
    }
}

static bool clears(const struct bl_log_samples *s, size_t column, size_t before,
                   size_t behind, double height, double step)
{
    struct around a = {.step = INFINITY};
    const float *value = s->value[column];
    const size_t from = before > NEAR ? before - NEAR : 0;
    const size_t to = behind + NEAR < s->count ? behind + NEAR : s->count - 1;
    add_side(&a, value, from, before, true);
    add_side(&a, value, behind, to, false);
    if (height < movements * (double)a.beside ||
        (fmin(a.step, step) < INFINITY &&
         height < steps * fmin(a.step, step))) {
        return false;
    }
    if (a.bends < BENDS_NEEDED) {
        return height >= unknown * floor_kpa;
    }
    /* A second difference has root 6 of the noise of one value. */
    const double noise =
        1.4826 / sqrt(6) * (double)bl_median_float(a.bend, a.bends);
    return height >= noises * noise;
}

static bool absurd(const struct bl_spikes *k, float value)
{
    return k->pressure &&
           ((double)value > absurd_high_kpa || (double)value < absurd_low_kpa);
}

/* On a slope the values around a spike do not agree with each other. But what
   falls back from it lies off the curve, where the same guess from the
   neighbours, a cubic through two on either side, is right at the places beside
   it. Places on either side; fewer in all say nothing; how often the largest
   error there is cleared (own choice: white noise gives the largest of 16
   at 2.5 standard deviations, and so a spike from twelve on). */
enum { PLACES = 8, PLACES_NEEDED = 12 };
static const double errors = 5;

/* How far the nearest (or the furthest) of the `rows` values behind row `at`
   lies off the cubic through at - 1, at, and the two rows behind them; NaN
   where one is missing. */
static double off_cubic(const float *value, size_t at, size_t rows,
                        bool furthest)
{
    const double m = (double)rows + 1;
    const double y[4] = {(double)value[at - 1], (double)value[at],
                         (double)value[at + rows + 1],
                         (double)value[at + rows + 2]};
    const double x[4] = {-1, 0, m, m + 1};
    double out = furthest ? 0 : INFINITY;
    for (size_t k = 1; k <= rows; k++) {
        double sum = 0;
        for (unsigned i = 0; i < 4; i++) {
            double weight = y[i];
            for (unsigned j = 0; j < 4; j++) {
                weight *= i == j ? 1 : ((double)k - x[j]) / (x[i] - x[j]);
            }
            sum += weight;
        }
        const double off = fabs((double)value[at + k] - sum);
        if (isnan(off)) {
            return NAN;
        }
        out = furthest ? fmax(out, off) : fmin(out, off);
    }
    return out;
}

/* Do two steps on either side of the `rows` values behind row `before` climb
   (or all fall), and the values go the other way? */
static bool against_slope(const float *value, size_t before, size_t rows)
{
    const size_t behind = before + rows + 1;
    const float on = value[behind] - value[before];
    bool all = (value[before + 1] - value[before]) * on < 0;
    for (size_t k = 0; k < 2; k++) {
        all = all && (value[before - k] - value[before - k - 1]) * on > 0 &&
              (value[behind + k + 1] - value[behind + k]) * on > 0;
    }
    return all;
}

/* Rows that were sorted in, or a gap, bend a slope in time. */
static bool even(const int64_t *time_ns, size_t first, size_t last)
{
    const int64_t mean_ns =
        (time_ns[last] - time_ns[first]) / (int64_t)(last - first);
    bool all = true;
    for (size_t i = first; i < last; i++) {
        const int64_t step_ns = time_ns[i + 1] - time_ns[i];
        all = all && step_ns > mean_ns / 2 && step_ns < 2 * mean_ns;
    }
    return all;
}

/* Do the `rows` values behind row `before` stand out of a slope? */
static bool leaves_slope(const struct bl_log_samples *s, size_t column,
                         size_t before, size_t rows)
{
    const float *value = s->value[column];
    if (before < 2 || before + rows + 3 >= s->count ||
        !against_slope(value, before, rows) ||
        !even(s->time_ns, before - 2, before + rows + 3)) {
        return false;
    }
    const double off = off_cubic(value, before, rows, false);
    if (!(off > floor_kpa)) {
        return false;
    }
    size_t places = 0;
    for (size_t k = 0; k < (size_t)2 * PLACES; k++) {
        /* Clear of the spike's own rows, on either side in turn. */
        const size_t by = rows + 2 + k / 2;
        const size_t at = k % 2 == 0 ? before - by : before + by;
        if ((k % 2 == 0 && before <= by) || at + rows + 2 >= s->count) {
            continue;
        }
        const double error = off_cubic(value, at, rows, true);
        if (isnan(error)) {
            continue;
        }
        if (off < errors * error) {
            return false;
        }
        places++;
    }
    return places >= PLACES_NEEDED;
}

/* Rows from `first` on that are a spike; 0: they are not one. `before`: the
   last good row, `step`: the smallest step seen so far. */
static size_t length_of(const struct bl_spikes *k,
                        const struct bl_log_samples *s, size_t column,
                        size_t before, size_t first, double step)
{
    const float *value = s->value[column];
    const float base = value[before];
    double least = INFINITY;
    /* A channel in the wrong unit is all of it beyond. */
    bool none_holds = !absurd(k, base);
    size_t values = 0;
    for (size_t i = first; i < s->count && i < first + RUN_ROWS; i++) {
        const int64_t span_ns = s->time_ns[i] - s->time_ns[before];
        const bool slow = span_ns > most_ns;
        if (span_ns < 0 || (slow && (!none_holds || span_ns > absurd_ns ||
                                     i > first + VALUES_MOST))) {
            return 0;
        }
        if (isnan(value[i])) {
            continue;
        }
        const double height = (double)fabsf(value[i] - base);
        const bool turns =
            i > first && (value[i] - value[i - 1]) * (value[first] - base) < 0;
        if (turns && !slow && i - first <= VALUES_MOST && first == before + 1 &&
            leaves_slope(s, column, before, i - first)) {
            return i - first;
        }
        if (i > first && height <= least / 4) {
            const bool brief =
                span_ns <= short_ns || (!slow && values <= VALUES_MOST);
            return (brief || none_holds) && least - height > floor_kpa &&
                           clears(s, column, before, i, least - height, step)
                       ? i - first
                       : 0;
        }
        least = height < least ? height : least;
        none_holds = none_holds && absurd(k, value[i]);
        values += i == first || value[i] != value[i - 1];
    }
    return 0;
}

static void remove_rows(struct bl_spikes *k, struct bl_log_samples *s,
                        size_t column, size_t first, size_t rows)
{
    float *value = s->value[column];
    for (size_t i = first; i < first + rows; i++) {
        if (k->count == 0) {
            k->first_ns = s->time_ns[i];
            k->first_value = value[i];
        }
        k->count += !isnan(value[i]);
        value[i] = NAN;
    }
}

/* Rows from `from` on, each near the one before it and none missing: no spike
   begins there. In blocks, as the compiler then takes several at a time. */
static size_t calm(const float *value, size_t from, size_t to)
{
    enum { BLOCK = 64 };
    size_t at = from;
    while (at > 0 && at + BLOCK <= to) {
        int jumps = 0;
        for (size_t i = at; i < at + BLOCK; i++) {
            jumps |= !(fabsf(value[i] - value[i - 1]) <= (float)floor_kpa);
        }
        if (jumps) {
            break;
        }
        at += BLOCK;
    }
    return at - from;
}

void bl_spikes_remove(struct bl_spikes *k, struct bl_log_samples *s,
                      size_t column, size_t to, double step)
{
    const float *value = s->value[column];
    bool known = false;
    size_t before = 0;
    if (!k->on) {
        return;
    }
    for (size_t i = s->settled > HOLE_MOST ? s->settled - HOLE_MOST : 0;
         i < s->settled; i++) {
        known = known || !isnan(value[i]);
        before = isnan(value[i]) ? before : i;
    }
    size_t look = s->settled; /* where to look for calm rows again */
    for (size_t i = s->settled; i < to; i++) {
        if (i >= look) {
            const size_t rows = calm(value, i, to);
            if (rows > 0) {
                i += rows - 1;
                known = true;
                before = i;
                continue;
            }
            look = i + 32;
        }
        if (isnan(value[i])) {
            continue;
        }
        if (known && i - before <= HOLE_MOST &&
            fabsf(value[i] - value[before]) > (float)floor_kpa) {
            const size_t rows = length_of(k, s, column, before, i, step);
            if (rows > 0) {
                remove_rows(k, s, column, i, rows);
                i += rows - 1;
                continue;
            }
        }
        known = true;
        before = i;
    }
}

enum bl_status bl_spikes_note(const struct bl_spikes *k,
                              struct bl_loaded_recording *into,
                              const char *channel, const char *unit)
{
    if (k->count == 0) {
        return BL_OK;
    }
    into->spikes += k->count;
    return bl_note_each(
        &into->notes, "spike", -1,
        "channel '%s': left out %llu value%s that jumped away and back "
        "faster than a valve can follow; first: %.4g %s, %.3f s into the log",
        channel, (unsigned long long)k->count, k->count == 1 ? "" : "s",
        (double)k->first_value, unit,
        (double)(k->first_ns - into->first_ns) * 1e-9);
}

/* The end of a range where the quantity itself ends is no limit of the
   instrument: a gauge at rest reads 0, with its noise on both sides. */
void bl_range_start(struct bl_range *r, const struct bl_trial_channel *channel)
{
    const enum bl_quantity quantity = channel->quantity;
    *r = (struct bl_range){.low = channel->range_low,
                           .high = channel->range_high};
    if (r->low <= 0 &&
        (quantity == BL_QUANTITY_PRESSURE || quantity == BL_QUANTITY_VOLTAGE ||
         quantity == BL_QUANTITY_SPEED || quantity == BL_QUANTITY_RATIO)) {
        r->low = NAN;
    }
    if (quantity == BL_QUANTITY_RATIO && r->high >= 100) {
        r->high = NAN;
    }
}

void bl_range_feed(struct bl_range *r, const float *value, size_t count)
{
    enum { SITS = 3 };
    if (isnan(r->low) && isnan(r->high)) {
        return;
    }
    for (size_t i = 0; i < count; i++) {
        if (isnan(value[i])) {
            continue;
        }
        const bool at_end =
            value[i] >= (float)r->high || value[i] <= (float)r->low;
        r->run = at_end ? r->run + 1 : 0;
        if (r->run >= SITS) {
            r->at_end += r->run == SITS ? SITS : 1;
        }
    }
}

uint64_t bl_range_met(const struct bl_range *r, const struct bl_seen *seen)
{
    /* More than half of neighbours differ, and twenty in a row do not (own
       choice). */
    const bool noisy = seen->changes * 2 > seen->count;
    return r->at_end == 0 && noisy && seen->longest_at_top >= 20
               ? seen->longest_at_top
               : r->at_end;
}
