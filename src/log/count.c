/* SPDX-License-Identifier: MIT */
/* What is counted of each column: numbers, their extremes and differences. */
#include "log/reader.h"

#include "base/lanes.h"

#include <math.h>

/* Extremes and differences of numbers, and of the first to the one before. */
struct differences {
    double smallest, largest, least;
    uint64_t repeats;
};

/* One after the other; `least` and the extremes go on from what was seen. */
static void difference_each(struct differences *d, double last,
                            const double *value, size_t rows)
{
    for (size_t i = 0; i < rows; i++) {
        const double now = value[i];
        const double step = fabs(now - last);
        d->smallest = now < d->smallest ? now : d->smallest;
        d->largest = now > d->largest ? now : d->largest;
        d->repeats += step == 0;
        /* Differences of written numbers carry the noise of doubles. */
        if (step < d->least && step > 1e-12 * (fabs(now) + fabs(last))) {
            d->least = step;
        }
        last = now;
    }
}

/* Two at a time, where no difference is less than the least seen (nearly
   always); false: there is one, and nothing was counted. */
static bool difference_pairs(struct differences *d, const double *value,
                             size_t rows)
{
    const struct bl_pair none = bl_pair_all(0);
    const struct bl_pair one = bl_pair_all(1);
    const struct bl_pair far = bl_pair_all(INFINITY);
    struct bl_pair low = bl_pair_all(value[0]);
    struct bl_pair high = low;
    struct bl_pair least = far;
    struct bl_pair changed = none;
    size_t i = 1;
    for (; i + BL_PAIR <= rows; i += BL_PAIR) {
        const struct bl_pair now = bl_pair_load(value + i);
        const struct bl_pair step =
            bl_pair_size(bl_pair_subtract(now, bl_pair_load(value + i - 1)));
        low = bl_pair_min(now, low);
        high = bl_pair_max(now, high);
        least = bl_pair_min(bl_pair_positive(step, step, far), least);
        changed = bl_pair_add(changed, bl_pair_positive(step, one, none));
    }
    double ends[4][BL_PAIR];
    bl_pair_store(ends[0], low);
    bl_pair_store(ends[1], high);
    bl_pair_store(ends[2], least);
    bl_pair_store(ends[3], changed);
    if (fmin(ends[2][0], ends[2][1]) < d->least) {
        return false;
    }
    d->smallest = fmin(d->smallest, fmin(ends[0][0], ends[0][1]));
    d->largest = fmax(d->largest, fmax(ends[1][0], ends[1][1]));
    d->repeats += (i - 1) - (uint64_t)(ends[3][0] + ends[3][1]);
    difference_each(d, value[i - 1], value + i, rows - i);
    return true;
}

void bl_log_count_numbers(struct bl_log_column *column,
                          struct log_channel *channel, const double *value,
                          size_t rows)
{
    if (rows == 0) {
        return;
    }
    const bool first = column->values == 0;
    struct differences d = {.smallest = first ? value[0] : column->smallest,
                            .largest = first ? value[0] : column->largest,
                            .least =
                                column->step == 0 ? INFINITY : column->step};
    difference_each(&d, channel->has_last ? channel->last : NAN, value, 1);
    if (!difference_pairs(&d, value, rows)) {
        difference_each(&d, value[0], value + 1, rows - 1);
    }
    column->values += rows;
    column->smallest = d.smallest;
    column->largest = d.largest;
    column->repeats += d.repeats;
    column->step = isinf(d.least) ? 0 : d.least;
    channel->last = value[rows - 1];
    channel->has_last = true;
}

void bl_log_count_row(struct bl_log_reader *reader, size_t at)
{
    for (size_t i = 0; i < reader->info.columns; i++) {
        struct log_channel *channel = &reader->channel[i];
        struct bl_log_column *column = &reader->info.column[i];
        if (!channel->selected) {
            continue;
        }
        switch (channel->kind) {
        case LOG_NUMBER:
        case LOG_GROUPED:
        case LOG_SWITCH:
            bl_log_count_numbers(column, channel, &channel->values[at], 1);
            break;
        case LOG_MISSING:
            column->missing++;
            break;
        case LOG_OVERFLOW:
            column->overflows++;
            break;
        case LOG_TEXT:
            column->not_numbers++;
            break;
        case LOG_COUNTED:
            break;
        }
    }
}
