/* SPDX-License-Identifier: MIT */
/*
 * What the samples of a channel are like: nominal interval, smallest step of
 * the values, and whether the recorder repeats each value (stair-steps), which
 * happens when a slow channel is written at a fast one's rate.
 */
#include "load/build.h"

#include "base/alloc.h"
#include "base/number.h"

#include <math.h>

enum { LOOKED_AT = 4096, STEPS_NEEDED = 12 };
/* Up to so many intervals are rows that lack, more are a pause (own choice). */
enum { PAUSE = 8 };
/* Steps of other lengths that are needed to see how they are spread, and the
   share of their mean distance by which distances scatter where rows are lost
   at random. With one row in p lost it is sqrt(1 - p), but for chance; where
   stamps are rounded, distances differ by a row or two (own choice, between
   the two). */
enum { SPREAD_NEEDED = 12 };
static const double scatters_at_random = 0.7;
/* Share of the values that a repeating recorder writes once only, where rows
   are lost (own choice; noise of more than a step writes most of them once). */
static const double MOST_SINGLE = 0.2;

/* Between two neighbouring values at or behind sample `at`; a channel that is
   written in every other row only is half as fast as its log. NaN: none near.
 */
static double interval_at(const struct bl_samples *s, size_t at)
{
    enum { LOOK = 1024 };
    const size_t last = s->count - at > LOOK ? at + LOOK : s->count - 1;
    while (at < last && isnan(s->value[at])) {
        at++;
    }
    size_t before = at - 1;
    while (before > 0 && at - before < LOOK && isnan(s->value[before])) {
        before--;
    }
    return isnan(s->value[at]) || isnan(s->value[before])
               ? NAN
               : (double)(s->time_ns[at] - s->time_ns[before]);
}

/* How the stamps of a channel advance. Distances are in rows, from one longer
   step to the next, without a pause between them. */
struct advance {
    size_t steps, shorter, odd, longer;
    size_t since, distances;
    bool began;
    double sum, squares;
};

static void add_step(struct advance *a, int64_t step, int64_t usual)
{
    a->steps++;
    a->since++;
    if (step == usual) { /* nearly all are: spares the division */
        return;
    }
    const bool pause = step > PAUSE * usual;
    a->shorter += step < usual;
    a->odd += step < usual || step % usual != 0 || pause;
    if (step > usual && !pause) {
        if (a->began) {
            a->distances++;
            a->sum += (double)a->since;
            a->squares += (double)a->since * (double)a->since;
        }
        a->longer++;
        a->since = 0;
        a->began = true;
    } else if (pause) {
        a->began = false;
    }
}

/*
 * Is the rounding of the stamps one and the same for all of them? Rows that are
 * lost leave steps of whole intervals, and the stamps of the rest are as good
 * as before. Stamps rounded to about one interval leave the same steps: rows
 * every 10.2 ms, written in steps of 10 ms, have one step of 20 ms in 50, but
 * evenly. So whole steps are rows that lack where the longer ones come at
 * random.
 */
static bool is_regular(const struct bl_samples *s)
{
    struct advance a = {0};
    size_t last = 0;
    while (last < s->count && isnan(s->value[last])) {
        last++;
    }
    for (size_t i = last + 1; i < s->count; i++) {
        if (!isnan(s->value[i])) {
            add_step(&a, s->time_ns[i] - s->time_ns[last], s->interval_ns);
            last = i;
        }
    }
    if (a.shorter >= SPREAD_NEEDED || a.odd > a.steps / 100) {
        return false;
    }
    if (a.distances < SPREAD_NEEDED) {
        return a.odd + a.longer <= a.steps / 100;
    }
    const double mean = a.sum / (double)a.distances;
    const double least = scatters_at_random * mean;
    return a.squares / (double)a.distances - mean * mean >= least * least;
}

static enum bl_status find_interval(struct bl_samples *s,
                                    struct bl_error *error)
{
    if (s->count < 2) {
        return BL_OK;
    }
    /* Evenly spread over the log, so that a slow start does not decide. */
    const size_t stride = (s->count - 1) / LOOKED_AT + 1;
    double *interval = bl_alloc(LOOKED_AT + 1, sizeof(*interval));
    if (interval == NULL) {
        return bl_fail_memory(error);
    }
    size_t count = 0;
    for (size_t i = 1; i < s->count && count < LOOKED_AT; i += stride) {
        interval[count] = interval_at(s, i);
        count += !isnan(interval[count]);
    }
    if (count == 0) {
        interval[count++] = (double)(s->time_ns[1] - s->time_ns[0]);
    }
    s->interval_ns = (int64_t)llround(bl_median(interval, count));
    s->regular = s->interval_ns > 0 && is_regular(s);
    bl_free(interval);
    return BL_OK;
}

/*
 * Where the values move, count how often each is repeated. Noise of one
 * resolution step repeats values too, so only moves of more than four steps in
 * a row, all in one direction, are looked at. A recorder that repeats its
 * values repeats them everywhere: where many stand for one row only, those
 * moves were noise.
 */
static enum bl_status find_stairs(struct bl_samples *s, struct bl_error *error)
{
    double *lengths = bl_alloc(LOOKED_AT, sizeof(*lengths));
    if (lengths == NULL) {
        return bl_fail_memory(error);
    }
    size_t count = 0;
    size_t run_start = 0;
    size_t runs = 0;
    size_t single = 0;
    double before = NAN; /* value of the run before this one */
    for (size_t i = 1; i < s->count && count < LOOKED_AT; i++) {
        const double now = (double)s->value[i];
        const double held = (double)s->value[run_start];
        if (now == held) {
            continue;
        }
        const double limit = 4 * s->resolution;
        if ((now - held > limit && held - before > limit) ||
            (held - now > limit && before - held > limit)) {
            lengths[count++] = (double)(i - run_start);
        }
        runs++;
        single += i - run_start == 1 ? 1 : 0;
        before = held;
        run_start = i;
    }
    if (count >= STEPS_NEEDED && (double)single <= MOST_SINGLE * (double)runs) {
        const double length = bl_median(lengths, count);
        s->stair_steps = length >= 2;
        s->stair_ns = (int64_t)llround(length * (double)s->interval_ns);
    }
    bl_free(lengths);
    return BL_OK;
}

enum bl_status bl_samples_describe(struct bl_samples *samples, double step,
                                   struct bl_error *error)
{
    enum bl_status status = find_interval(samples, error);
    if (status == BL_OK && !samples->is_switch) {
        samples->resolution = isinf(step) ? 0 : step;
        status = find_stairs(samples, error);
    }
    return status;
}
