/* SPDX-License-Identifier: MIT */
/*
 * Values that stand still bit for bit in a channel that never does: a recorder
 * or a converter that hung while its clock went on. What is repeated was not
 * measured. The first value of a run is kept, the others are left out as if
 * their cells were empty.
 *
 * A channel whose noise covers its steps repeats a value now and then, as often
 * in a row as chance has it. One that rests in one step, is held at an end of
 * its range or is logged faster than it is sampled repeats for a reason, and
 * nothing is said of it.
 */
#include "load/build.h"

#include <math.h>

/* Of all neighbours so many may be equal, by noise of about one step (own
   choice); of all values so many may stand still (own choice). */
static const double most_equal = 0.35, most_frozen = 0.2;
/* A run that chance makes once in a million logs. */
static const double by_chance = 1e-6;

enum { LEAST_PAIRS = 1000 };

/* A run of equal values: rows `first` to `end` - 1. */
struct run {
    size_t first, end;
};

/* The next run of equal values from `at` on, whatever its length. */
static struct run run_from(const float *value, size_t count, size_t at)
{
    struct run run = {at, at + 1};
    while (run.end < count && value[run.end] == value[at]) {
        run.end++;
    }
    return run;
}

/* So many equal values in a row are no chance; 0: nothing can be said. */
static size_t longest_by_chance(const float *value, size_t count)
{
    size_t pairs = 0;
    size_t equal = 0;
    for (size_t i = 1; i < count; i++) {
        pairs += !isnan(value[i]) && !isnan(value[i - 1]);
        equal += value[i] == value[i - 1];
    }
    const double share = ((double)equal + 1) / ((double)pairs + 1);
    if (pairs < LEAST_PAIRS || share > most_equal) {
        return 0;
    }
    return 2 + (size_t)ceil(log(by_chance / (double)pairs) / log(share));
}

/* Both ends of what the channel shows: there it may be held. */
static bool at_an_end(const struct bl_seen *seen, float value)
{
    return value <= (float)seen->smallest || value >= (float)seen->largest;
}

static enum bl_status leave_out(struct bl_channel_series *series, float *value,
                                const struct run *run,
                                struct bl_loaded_recording *into)
{
    const int64_t *time_ns = series->samples.time_ns;
    const size_t behind =
        run->end < series->samples.count ? run->end : run->end - 1;
    if (series->frozen == 0) {
        series->frozen_ns = time_ns[run->first];
    }
    for (size_t i = run->first + 1; i < run->end; i++) {
        value[i] = NAN;
        series->frozen++;
    }
    return bl_damage_add(into, time_ns[run->first], time_ns[behind]);
}

enum bl_status bl_frozen_remove(struct bl_channel_series *series, float *value,
                                struct bl_loaded_recording *into,
                                const char *channel)
{
    const size_t count = series->samples.count;
    const size_t longest = longest_by_chance(value, count);
    size_t frozen = 0;
    struct run run;
    for (size_t i = 0; longest > 0 && i < count; i = run.end) {
        run = run_from(value, count, i);
        frozen += run.end - i >= longest && !at_an_end(&series->seen, value[i])
                      ? run.end - i
                      : 0;
    }
    if (frozen == 0 || (double)frozen > most_frozen * (double)count) {
        return BL_OK;
    }
    for (size_t i = 0; i < count; i = run.end) {
        run = run_from(value, count, i);
        if (run.end - i >= longest && !at_an_end(&series->seen, value[i]) &&
            leave_out(series, value, &run, into) != BL_OK) {
            return BL_NOMEM;
        }
    }
    return bl_note_each(
        &into->notes, "frozen", -1,
        "channel '%s': left out %llu value%s that repeat the one before bit "
        "for bit, where this channel never stands still; first: %.3f s into "
        "the log",
        channel, (unsigned long long)series->frozen,
        series->frozen == 1 ? "" : "s",
        (double)(series->frozen_ns - into->first_ns) * 1e-9);
}
