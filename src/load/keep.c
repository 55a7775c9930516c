/* SPDX-License-Identifier: MIT */
/*
 * Which rows of a log are kept. A log of up to BL_LIMIT_LOG_WHOLE bytes of
 * samples is kept whole. A longer one is thinned while it is read: what lies
 * outside stretches of activity goes into blocks (quiet.c). So memory grows
 * with the time of braking and not with that of the recording.
 */
#include "load/build.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "base/number.h"

#include <math.h>
#include <string.h>

static const int64_t second_ns = INT64_C(1000000000);
/* Rest is taken from up to 10 s of quiet (lag/track.c), and that many samples
   are needed of a slow log. After an application a rest of its own must fit. */
static const int64_t before_ns = INT64_C(12000000000);
static const int64_t after_ns = INT64_C(2000000000);
static const int64_t ends_ns = INT64_C(2000000000);
enum { BEFORE_SAMPLES = 50, BLOCK_LEAST = 8, BLOCK_MOST = 4096 };
enum { INTERVALS = 4096 };

static bool uses(const struct bl_trial_input *input, size_t channel)
{
    return input->kind == BL_INPUT_CHANNEL && input->channel == (long)channel;
}

/* Does this channel open windows? All do that a command or an output may show
   in; a reservoir, a voltage or a speed moves without braking. */
static bool opens(const struct bl_trial *trial, size_t channel)
{
    for (size_t i = 0; i < trial->units; i++) {
        const struct bl_trial_unit *u = &trial->unit[i];
        if (uses(&u->reservoir, channel) || uses(&u->voltage, channel)) {
            return false;
        }
        if (uses(&u->command, channel) || uses(&u->control, channel) ||
            uses(&u->control_b, channel) || uses(&u->control_out, channel)) {
            return true;
        }
        for (size_t k = 0; k < u->outputs; k++) {
            if (uses(&u->output[k], channel)) {
                return true;
            }
        }
    }
    const enum bl_quantity quantity = trial->channel[channel].quantity;
    return quantity == BL_QUANTITY_SWITCH || quantity == BL_QUANTITY_PRESSURE ||
           quantity == BL_QUANTITY_RATIO;
}

enum bl_status bl_keep_start(struct bl_log_keep *k,
                             const struct bl_trial *trial, size_t channels,
                             size_t whole_bytes)
{
    k->trial = trial;
    k->whole_bytes = whole_bytes;
    k->opener = bl_alloc(channels, sizeof(*k->opener));
    k->activity = bl_alloc(channels, sizeof(*k->activity));
    return k->opener == NULL || k->activity == NULL ? BL_NOMEM : BL_OK;
}

void bl_keep_channel(struct bl_log_keep *k, size_t column, size_t channel)
{
    if (opens(k->trial, channel)) {
        k->opener[k->openers++] =
            (struct bl_opener){.column = column, .channel = channel};
    }
}

/* Bounds of what leaves rest, well below what analysis looks for: the level
   of a command, the response of an output, the middle of a switch. */
static void bounds(const struct bl_log_keep *k, const struct bl_log_samples *s,
                   const struct bl_opener *opener, double *floor,
                   double *ceiling)
{
    const struct bl_trial *trial = k->trial;
    const enum bl_quantity quantity = trial->channel[opener->channel].quantity;
    *floor = 0;
    *ceiling = INFINITY;
    if (quantity == BL_QUANTITY_PRESSURE) {
        *ceiling = trial->response_at_kpa;
    } else if (quantity == BL_QUANTITY_SWITCH) {
        const struct bl_block_look all =
            bl_block_look(s->value[opener->column], s->count);
        *floor = *ceiling = all.count == 0 ? 0 : (all.high - all.low) / 4;
        return;
    }
    for (size_t i = 0; i < trial->units; i++) {
        const struct bl_trial_unit *u = &trial->unit[i];
        if (!isnan(u->command_at) && u->command_at > 0 &&
            (quantity == BL_QUANTITY_PRESSURE ||
             uses(&u->command, opener->channel))) {
            *ceiling = fmin(*ceiling, u->command_at);
        }
    }
    if (!isinf(*ceiling)) {
        *ceiling *= 0.4;
        *floor =
            quantity == BL_QUANTITY_PRESSURE ? fmin(5, *ceiling) : *ceiling / 2;
    }
}

/* Rows of a quarter of a second. */
static enum bl_status find_block_rows(struct bl_log_keep *k,
                                      const struct bl_log_samples *s)
{
    double *interval = bl_alloc(INTERVALS, sizeof(*interval));
    if (interval == NULL) {
        return BL_NOMEM;
    }
    size_t n = 0;
    for (size_t i = 1; i < s->count && n < INTERVALS; i++) {
        interval[n++] = (double)(s->time_ns[i] - s->time_ns[i - 1]);
    }
    k->interval_ns = (int64_t)bl_median(interval, n);
    bl_free(interval);
    const int64_t rows =
        k->interval_ns > 0 ? second_ns / 4 / k->interval_ns : BLOCK_MOST;
    k->block_rows = rows < BLOCK_LEAST  ? BLOCK_LEAST
                    : rows > BLOCK_MOST ? BLOCK_MOST
                                        : (size_t)rows;
    return BL_OK;
}

/* Rest to begin with: the quietest block of the first ten seconds. */
static void find_rest(struct bl_log_keep *k, const struct bl_log_samples *s,
                      size_t number)
{
    const float *value = s->value[k->opener[number].column];
    struct bl_block_look rest = {.deviation = INFINITY};
    for (size_t b = 0; b < BL_ACTIVITY_BLOCKS; b++) {
        const size_t first = b * k->block_rows;
        if (first + k->block_rows > s->count) {
            break;
        }
        const struct bl_block_look look =
            bl_block_look(value + first, k->block_rows);
        if (look.count > 0 && look.deviation < rest.deviation) {
            rest = look;
        }
    }
    if (isinf(rest.deviation)) {
        rest.deviation = 0; /* no value: whatever comes first moves */
    }
    double floor, ceiling;
    bounds(k, s, &k->opener[number], &floor, &ceiling);
    bl_activity_start(&k->activity[number], floor, ceiling, &rest);
}

/* Stretches to keep stay in order and apart; new ones belong near the end. */
static enum bl_status add_stretch(struct bl_log_keep *k, int64_t from_ns,
                                  int64_t to_ns)
{
    if (!bl_grow(&k->stretch, &k->stretch_capacity, k->stretches + 1,
                 sizeof(*k->stretch), BL_LIMIT_SAMPLES)) {
        return BL_NOMEM;
    }
    size_t at = k->stretches;
    while (at > 0 && k->stretch[at - 1].to_ns >= from_ns) {
        at--;
    }
    /* All from `at` on that begin before the end of the new one join it. */
    size_t end = at;
    while (end < k->stretches && k->stretch[end].from_ns <= to_ns) {
        from_ns = k->stretch[end].from_ns < from_ns ? k->stretch[end].from_ns
                                                    : from_ns;
        to_ns = k->stretch[end].to_ns > to_ns ? k->stretch[end].to_ns : to_ns;
        end++;
    }
    memmove(&k->stretch[at + 1], &k->stretch[end],
            (k->stretches - end) * sizeof(*k->stretch));
    k->stretch[at] = (struct bl_stretch){from_ns, to_ns};
    k->stretches = k->stretches + 1 - (end - at);
    return BL_OK;
}

static int64_t before_of(const struct bl_log_keep *k)
{
    const int64_t samples_ns = k->interval_ns * BEFORE_SAMPLES;
    return samples_ns > before_ns ? samples_ns : before_ns;
}

static enum bl_status look(struct bl_log_keep *k,
                           const struct bl_log_samples *s, bool to_the_end)
{
    while (k->seen < s->settled) {
        const size_t left = s->settled - k->seen;
        const size_t rows = left < k->block_rows ? left : k->block_rows;
        if (rows < k->block_rows && !to_the_end) {
            break;
        }
        bool moves = false;
        for (size_t i = 0; i < k->openers; i++) {
            const float *value = s->value[k->opener[i].column] + k->seen;
            moves = bl_activity_block(&k->activity[i], s->time_ns + k->seen,
                                      value, rows) ||
                    moves;
        }
        if (moves &&
            add_stretch(k, s->time_ns[k->seen] - before_of(k),
                        s->time_ns[k->seen + rows - 1] + after_ns) != BL_OK) {
            return BL_NOMEM;
        }
        k->seen += rows;
    }
    return BL_OK;
}

static enum bl_status keep_ends(struct bl_log_keep *k,
                                const struct bl_log_samples *s, bool last)
{
    for (; k->parts < s->parts; k->parts++) {
        const size_t first = s->part_start[k->parts];
        if (first == s->count) {
            break;
        }
        if (add_stretch(k, s->time_ns[first], s->time_ns[first] + ends_ns) !=
            BL_OK) {
            return BL_NOMEM;
        }
        if (first > 0 && add_stretch(k, s->time_ns[first - 1] - ends_ns,
                                     s->time_ns[first - 1]) != BL_OK) {
            return BL_NOMEM;
        }
    }
    const int64_t end_ns = s->time_ns[s->count - 1];
    return last ? add_stretch(k, end_ns - ends_ns, end_ns) : BL_OK;
}

/* First row from `from` on whose time is at or after time_ns. */
static size_t row_at(const struct bl_log_samples *s, size_t from,
                     int64_t time_ns)
{
    size_t low = from;
    size_t high = s->count;
    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        if (s->time_ns[middle] < time_ns) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    return low;
}

/* Rows first..end-1 move to `to`, and the starts of parts with them. */
static void move_rows(struct bl_log_keep *k, struct bl_log_samples *s,
                      size_t to, size_t first, size_t end)
{
    const size_t by = first - to;
    const size_t rows = end - first;
    if (by > 0) {
        memmove(s->time_ns + to, s->time_ns + first,
                rows * sizeof(*s->time_ns));
        for (size_t c = 0; c < s->values; c++) {
            memmove(s->value[c] + to, s->value[c] + first,
                    rows * sizeof(**s->value));
        }
    }
    while (k->part_moved < s->parts && s->part_start[k->part_moved] < end) {
        s->part_start[k->part_moved++] -= by;
    }
}

/* Rows k->decided..until-1: out with those in no stretch. */
static enum bl_status thin(struct bl_log_keep *k, struct bl_log_samples *s,
                           size_t until)
{
    size_t to = k->decided;
    size_t at = k->decided;
    for (size_t i = 0; i < k->stretches && at < until; i++) {
        size_t first = row_at(s, at, k->stretch[i].from_ns);
        size_t end = row_at(s, first, k->stretch[i].to_ns + 1);
        first = first > until ? until : first;
        end = end > until ? until : end;
        s->quiet.stretch++;
        if (bl_quiet_add(&s->quiet, s, at, first) != BL_OK) {
            return BL_NOMEM;
        }
        move_rows(k, s, to, first, end);
        to += end - first;
        at = end;
    }
    s->quiet.stretch++;
    if (bl_quiet_add(&s->quiet, s, at, until) != BL_OK) {
        return BL_NOMEM;
    }
    k->decided = to;
    move_rows(k, s, to, until, s->count);
    while (k->part_moved < s->parts) {
        s->part_start[k->part_moved++] -= until - to;
    }
    s->count -= until - to;
    s->settled -= until - to;
    k->seen -= until - to;
    /* What has been passed is of no more use. */
    const int64_t next_ns = k->decided < s->count ? s->time_ns[k->decided]
                                                  : s->time_ns[s->count - 1];
    size_t passed = 0;
    while (passed < k->stretches && k->stretch[passed].to_ns < next_ns) {
        passed++;
    }
    memmove(k->stretch, k->stretch + passed,
            (k->stretches - passed) * sizeof(*k->stretch));
    k->stretches -= passed;
    return BL_OK;
}

static size_t row_bytes(const struct bl_log_samples *s)
{
    return sizeof(*s->time_ns) + s->values * sizeof(**s->value);
}

static enum bl_status begin(struct bl_log_keep *k,
                            const struct bl_log_samples *s)
{
    if (find_block_rows(k, s) != BL_OK) {
        return BL_NOMEM;
    }
    for (size_t i = 0; i < k->openers; i++) {
        find_rest(k, s, i);
    }
    const size_t least = k->block_rows * BL_ACTIVITY_BLOCKS;
    const size_t rows = k->whole_bytes / 2 / row_bytes(s);
    k->each_rows = rows < least ? least : rows;
    k->on = true;
    return BL_OK;
}

enum bl_status bl_keep_rows(struct bl_log_keep *k, struct bl_log_samples *s)
{
    if (k->openers == 0 || s->settled - k->seen < k->each_rows) {
        return BL_OK;
    }
    if (!k->on) {
        if (s->count * row_bytes(s) <= k->whole_bytes || s->count < INTERVALS) {
            return BL_OK;
        }
        if (begin(k, s) != BL_OK) {
            return BL_NOMEM;
        }
    }
    if (look(k, s, false) != BL_OK || keep_ends(k, s, false) != BL_OK) {
        return BL_NOMEM;
    }
    if (k->seen == 0) {
        return BL_OK;
    }
    /* Later rows may still turn out to be just before activity, or the last
       of their part. */
    const size_t until =
        row_at(s, k->decided, s->time_ns[k->seen - 1] - before_of(k) - ends_ns);
    k->part_moved = 0;
    while (k->part_moved < s->parts &&
           s->part_start[k->part_moved] < k->decided) {
        k->part_moved++;
    }
    return thin(k, s, until);
}

enum bl_status bl_keep_last(struct bl_log_keep *k, struct bl_log_samples *s)
{
    if (!k->on || s->count == 0) {
        return BL_OK;
    }
    if (look(k, s, true) != BL_OK || keep_ends(k, s, true) != BL_OK) {
        return BL_NOMEM;
    }
    k->part_moved = 0;
    while (k->part_moved < s->parts &&
           s->part_start[k->part_moved] < k->decided) {
        k->part_moved++;
    }
    return thin(k, s, s->count);
}

void bl_keep_finish(struct bl_log_keep *k)
{
    bl_free(k->opener);
    bl_free(k->activity);
    bl_free(k->stretch);
    k->opener = NULL;
    k->activity = NULL;
    k->stretch = NULL;
}
