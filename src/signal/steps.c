/* SPDX-License-Identifier: MIT */
/* Held values: what is in force, and passages of a level. */
#include "signal/signal.h"

#include <math.h>

/* Index of the first segment that begins after time_ns. */
static size_t segment_after(const struct bl_steps *steps, int64_t time_ns)
{
    size_t low = 0;
    size_t high = steps->count;
    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        if (steps->segment[middle].first_ns <= time_ns) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    return low;
}

const struct bl_segment *bl_steps_at(const struct bl_steps *steps,
                                     int64_t time_ns)
{
    const size_t after = segment_after(steps, time_ns);
    return after == 0 ? NULL : &steps->segment[after - 1];
}

/* The last segment with a value before `index`, in the same part. */
static const struct bl_segment *valid_before(const struct bl_steps *steps,
                                             size_t index)
{
    const uint16_t part = steps->segment[index].part;
    while (index > 0) {
        const struct bl_segment *segment = &steps->segment[--index];
        if (segment->part != part) {
            return NULL;
        }
        if (segment->state == BL_VALUE_VALID) {
            return segment;
        }
    }
    return NULL;
}

bool bl_steps_break(const struct bl_steps *steps, size_t index)
{
    if (index == 0 || index >= steps->count) {
        return false;
    }
    const struct bl_segment *before = &steps->segment[index - 1];
    const struct bl_segment *segment = &steps->segment[index];
    return before->part != segment->part ||
           bl_damage_between(steps->damage, steps->damages, before->last_ns,
                             segment->first_ns) ||
           (steps->interval_ns > 0 &&
            segment->first_ns - before->last_ns > 3 * steps->interval_ns);
}

static struct bl_crossing passage(const struct bl_steps *steps,
                                  const struct bl_segment *previous,
                                  const struct bl_segment *segment,
                                  enum bl_held as)
{
    struct bl_crossing crossing = {.found = true};
    const int64_t width = segment->first_ns - previous->last_ns;
    crossing.time_ns = segment->first_ns;
    crossing.seen_ns = segment->first_ns;
    crossing.slope = NAN;
    if (width > 0) {
        crossing.slope =
            (segment->value - previous->value) / ((double)width * 1e-9);
    }
    /* A frame that the recording lost may have been the first beyond. */
    const bool damaged = bl_damage_between(
        steps->damage, steps->damages, previous->last_ns, segment->first_ns);
    const bool gap =
        damaged || (steps->interval_ns > 0 && width > 3 * steps->interval_ns);
    if (gap) {
        crossing.flags |= BL_FLAG_IN_GAP;
    }
    if (gap || as == BL_HELD_OUTPUT) {
        crossing.time_ns = previous->last_ns + width / 2;
        crossing.u_sampling_s = (double)width * 1e-9 / sqrt(12);
        crossing.flags |= BL_FLAG_HELD_VALUE;
    }
    return crossing;
}

static struct bl_crossing find(const struct bl_steps *steps, int64_t from_ns,
                               int64_t to_ns, double level, double sign,
                               enum bl_held as)
{
    const struct bl_crossing none = {.slope = NAN};
    size_t i = from_ns == INT64_MIN ? 0 : segment_after(steps, from_ns - 1);
    for (; i < steps->count && steps->segment[i].first_ns < to_ns; i++) {
        const struct bl_segment *segment = &steps->segment[i];
        if (segment->state != BL_VALUE_VALID ||
            sign * segment->value < sign * level) {
            continue;
        }
        const struct bl_segment *previous = valid_before(steps, i);
        if (previous != NULL && sign * previous->value < sign * level) {
            return passage(steps, previous, segment, as);
        }
    }
    return none;
}

struct bl_crossing bl_steps_rising(const struct bl_steps *steps,
                                   int64_t from_ns, int64_t to_ns, double level,
                                   enum bl_held as)
{
    return find(steps, from_ns, to_ns, level, 1, as);
}

struct bl_crossing bl_steps_falling(const struct bl_steps *steps,
                                    int64_t from_ns, int64_t to_ns,
                                    double level, enum bl_held as)
{
    return find(steps, from_ns, to_ns, level, -1, as);
}
