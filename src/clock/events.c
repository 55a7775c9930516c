/* SPDX-License-Identifier: MIT */
/*
 * Events of one series: switch edges, rises of a pressure or a pedal, state
 * changes and rises on a bus. Points are taken by the rules of signal.h.
 */
#include "clock/events.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "signal/signal.h"
#include "signal/walk.h"

#include <math.h>
#include <stdlib.h>

/* Where the rest of a whole recording lies: of so many samples the middle one
   of those near the lowest tenth (own choice: braking is not most of it). */
enum { REST_SAMPLES = 4096, LOWEST = 10 };
/* A contact is steady after so long: switches bounce for some milliseconds
   (own choice). */
static const int64_t STEADY_NS = 50000000;
/* Noise is read from a quiet stretch of at least and at most so long, that
   keeps within a tenth of the level (own choice). */
static const int64_t QUIET_LEAST_NS = 200000000;
static const int64_t QUIET_MOST_NS = 2000000000;
static const double QUIET_SHARE = 0.1;
/* An event less certain than this is left out: it could pair with anything. */
static const double MOST_U_S = 0.050;

static enum bl_status add(struct bl_event_list *list, int64_t time_ns,
                          double u_s)
{
    if (u_s > MOST_U_S) {
        list->uncertain++;
        return BL_OK;
    }
    if (list->count >= BL_LIMIT_CLOCK_EVENTS) {
        list->cut = true;
        return BL_OK;
    }
    if (!bl_grow(&list->time_ns, &list->capacity, list->count + 1,
                 sizeof(*list->time_ns), BL_LIMIT_CLOCK_EVENTS)) {
        return BL_NOMEM;
    }
    list->time_ns[list->count++] = time_ns;
    return BL_OK;
}

static enum bl_status add_off(struct bl_event_list *list, int64_t time_ns,
                              double u_s)
{
    if (u_s > MOST_U_S || list->offs >= BL_LIMIT_CLOCK_EVENTS) {
        return BL_OK;
    }
    if (!bl_grow(&list->off_ns, &list->off_capacity, list->offs + 1,
                 sizeof(*list->off_ns), BL_LIMIT_CLOCK_EVENTS)) {
        return BL_NOMEM;
    }
    list->off_ns[list->offs++] = time_ns;
    return BL_OK;
}

/* One more passage in the mean rise; after it was added. */
static void rise(struct bl_event_list *list, size_t before, double level,
                 double slope)
{
    if (list->count == before || !(slope > 0)) {
        return;
    }
    const double n = (double)list->count;
    list->rise_s += (level / slope - list->rise_s) / n;
}

void bl_events_finish(struct bl_event_list *list)
{
    bl_free(list->time_ns);
    bl_free(list->off_ns);
    *list = (struct bl_event_list){0};
}

/* Just behind the first part. */
static int64_t samples_end(const struct bl_samples *samples)
{
    size_t end = samples->count;
    if (samples->parts > 1 && samples->part_start[1] < end) {
        end = samples->part_start[1];
    }
    return end == 0 ? 0 : samples->time_ns[end - 1] + 1;
}

static double interval_u(int64_t interval_ns)
{
    return (double)interval_ns * 1e-9 / sqrt(12.0);
}

enum bl_status bl_events_switch(struct bl_event_list *list,
                                const struct bl_samples *samples)
{
    if (samples->count == 0) {
        return BL_OK;
    }
    list->u_s = interval_u(samples->interval_ns);
    struct bl_walk walk = {samples->time_ns[0], samples_end(samples)};
    while (walk.at_ns < walk.end_ns) {
        const struct bl_edge on =
            bl_switch_edge(samples, walk.at_ns, walk.end_ns, true, STEADY_NS);
        if (!on.found) {
            break;
        }
        if (add(list, on.time_ns, on.u_sampling_s) != BL_OK) {
            return BL_NOMEM;
        }
        if (!bl_walk_on(&walk, on.seen_ns)) {
            break;
        }
        const struct bl_edge off =
            bl_switch_edge(samples, walk.at_ns, walk.end_ns, false, STEADY_NS);
        if (off.found &&
            add_off(list, off.time_ns, off.u_sampling_s) != BL_OK) {
            return BL_NOMEM;
        }
        if (!off.found || !bl_walk_on(&walk, off.seen_ns)) {
            break;
        }
    }
    return BL_OK;
}

static int by_value(const void *left, const void *right)
{
    const float *a = left;
    const float *b = right;
    return (*a > *b) - (*a < *b);
}

/*
 * Where the series rests: a tenth of the samples lie below the low end, since
 * braking takes a part of the kept samples, never nine tenths of them; of all
 * that are less than `reach` above it, the middle one, so that noise does not
 * pull it down. NaN: no samples or memory.
 */
static double rest_of(const struct bl_samples *samples, double reach,
                      enum bl_status *status)
{
    float *copy = bl_alloc(REST_SAMPLES, sizeof(*copy));
    *status = copy == NULL ? BL_NOMEM : BL_OK;
    if (copy == NULL) {
        return (double)NAN;
    }
    const size_t step = samples->count / REST_SAMPLES + 1;
    size_t n = 0;
    for (size_t i = 0; i < samples->count && n < REST_SAMPLES; i += step) {
        if (!isnan(samples->value[i])) {
            copy[n++] = samples->value[i];
        }
    }
    qsort(copy, n, sizeof(*copy), by_value);
    double value = (double)NAN;
    if (n > 0) {
        const double most = (double)copy[n / LOWEST] + reach;
        size_t near = n / LOWEST + 1;
        while (near < n && (double)copy[near] < most) {
            near++;
        }
        value = (double)copy[near / 2];
    }
    bl_free(copy);
    return value;
}

/* A row of samples or of held values, and what is asked of it. */
struct rising {
    const struct bl_samples *samples; /* or */
    const struct bl_steps *steps;
    double low, level, noise;
};

static struct bl_crossing next_up(const struct rising *r, int64_t from_ns,
                                  int64_t to_ns)
{
    return r->samples != NULL
               ? bl_rising(r->samples, from_ns, to_ns, r->low + r->level,
                           r->noise, r->level / 2)
               : bl_steps_rising(r->steps, from_ns, to_ns, r->low + r->level,
                                 BL_HELD_OUTPUT);
}

static struct bl_crossing next_down(const struct rising *r, int64_t from_ns,
                                    int64_t to_ns)
{
    return r->samples != NULL
               ? bl_falling(r->samples, from_ns, to_ns, r->low + r->level / 2,
                            r->noise, r->level / 4)
               : bl_steps_falling(r->steps, from_ns, to_ns,
                                  r->low + r->level / 2, BL_HELD_COMMAND);
}

/* Every rise through the level, and the fall through half of it behind. */
static enum bl_status add_rises(struct bl_event_list *list,
                                const struct rising *r, struct bl_walk walk)
{
    const int64_t end = walk.end_ns;
    while (walk.at_ns < end) {
        const struct bl_crossing up = next_up(r, walk.at_ns, end);
        if (!up.found) {
            break;
        }
        const size_t before = list->count;
        if (add(list, up.time_ns, up.u_sampling_s) != BL_OK) {
            return BL_NOMEM;
        }
        rise(list, before, r->level, up.slope);
        if (!bl_walk_on(&walk, up.seen_ns)) {
            break;
        }
        const struct bl_crossing down = next_down(r, walk.at_ns, end);
        if (down.found &&
            add_off(list, down.time_ns, down.u_sampling_s) != BL_OK) {
            return BL_NOMEM;
        }
        if (!down.found || !bl_walk_on(&walk, down.seen_ns)) {
            break;
        }
    }
    return BL_OK;
}

enum bl_status bl_events_rising(struct bl_event_list *list,
                                const struct bl_samples *samples, double level)
{
    enum bl_status status = BL_OK;
    const double rest = samples->count == 0
                            ? (double)NAN
                            : rest_of(samples, level / 2, &status);
    if (isnan(rest)) {
        return status;
    }
    list->u_s = interval_u(samples->interval_ns);
    const int64_t end = samples_end(samples);
    struct bl_walk walk = {samples->time_ns[0], end};
    const struct bl_rest quiet =
        bl_rest_before(samples, walk.at_ns, end, QUIET_LEAST_NS, QUIET_MOST_NS,
                       QUIET_SHARE * level);
    const double noise =
        quiet.known ? quiet.noise : samples->resolution / sqrt(12.0);
    return add_rises(
        list,
        &(const struct rising){
            .samples = samples, .low = rest, .level = level, .noise = noise},
        walk);
}

/* Just behind the first part; *lowest of its valid values. */
static int64_t steps_end(const struct bl_steps *steps, double *lowest)
{
    int64_t end = steps->segment[0].first_ns;
    *lowest = (double)INFINITY;
    for (size_t i = 0; i < steps->count; i++) {
        const struct bl_segment *s = &steps->segment[i];
        if (s->part != steps->segment[0].part) {
            break;
        }
        end = s->last_ns + 1;
        if (s->state == BL_VALUE_VALID && s->value < *lowest) {
            *lowest = s->value;
        }
    }
    return end;
}

enum bl_status bl_events_steps(struct bl_event_list *list,
                               const struct bl_steps *steps, double level)
{
    if (steps->count == 0) {
        return BL_OK;
    }
    list->u_s = interval_u(steps->interval_ns);
    double lowest;
    const int64_t end = steps_end(steps, &lowest);
    if (!isfinite(lowest)) {
        return BL_OK;
    }
    return add_rises(
        list,
        &(const struct rising){.steps = steps, .low = lowest, .level = level},
        (struct bl_walk){steps->segment[0].first_ns, end});
}
