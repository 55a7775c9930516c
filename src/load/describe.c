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
    /* Sorted by the median. A pause of the recorder is not irregular. */
    s->regular = interval[0] == interval[count - 1 - count / 100];
    bl_free(interval);
    return BL_OK;
}

/*
 * Where the values move, count how often each is repeated. Noise of one
 * resolution step repeats values too, so only moves of more than four steps in
 * a row, all in one direction, are looked at.
 */
static enum bl_status find_stairs(struct bl_samples *s, struct bl_error *error)
{
    double *lengths = bl_alloc(LOOKED_AT, sizeof(*lengths));
    if (lengths == NULL) {
        return bl_fail_memory(error);
    }
    size_t count = 0;
    size_t run_start = 0;
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
        before = held;
        run_start = i;
    }
    if (count >= STEPS_NEEDED) {
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
