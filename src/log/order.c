/* SPDX-License-Identifier: MIT */
/*
 * Rows in order of time. Rows stay held for 200 ms of recording so that a late
 * one can be sorted in. A stamp that is far off, either way, stays in doubt: if
 * one of the next 16 rows is back where time had been, the rows between are
 * strays and left out; else it is a gap, or a jump back that begins a new part.
 */
#include "log/reader.h"

#include "base/array.h"
#include "base/limits.h"

#include <string.h>

static void shift_row(struct bl_log_reader *reader, size_t from, size_t to)
{
    const int64_t time_ns = reader->time_ns[from];
    memmove(reader->time_ns + to + 1, reader->time_ns + to,
            (from - to) * sizeof(*reader->time_ns));
    reader->time_ns[to] = time_ns;
    for (size_t i = 0; i < reader->info.columns; i++) {
        double *values = reader->channel[i].values;
        if (values != NULL) {
            const double value = values[from];
            memmove(values + to + 1, values + to,
                    (from - to) * sizeof(*values));
            values[to] = value;
        }
    }
}

/* Behind the newest row by little; unsigned, because stamps may lie anywhere in
   the range of int64. */
static bool is_late(const struct bl_log_reader *reader, int64_t time_ns)
{
    return (uint64_t)reader->newest_ns - (uint64_t)time_ns <=
           (uint64_t)LOG_LATE_NS;
}

static enum bl_status leave_out_late(struct bl_log_reader *reader, int64_t line)
{
    reader->info.bad_rows++;
    reader->info.after_damage = true;
    return bl_note(&reader->info.notes, "late-row-excluded", line, -1,
                   "a row comes too late to be sorted in; left out");
}

/* The row at `from`, behind all that are held, goes in front of later ones. */
static enum bl_status place_late(struct bl_log_reader *reader, size_t from,
                                 int64_t time_ns, int64_t line)
{
    const bool next_part = reader->next_rows > 0;
    if (!next_part && reader->has_delivered && time_ns < reader->delivered_ns) {
        return leave_out_late(reader, line);
    }
    const size_t least = next_part ? reader->count - reader->next_rows : 0;
    size_t to = reader->count;
    while (to > least && reader->time_ns[to - 1] > time_ns) {
        to--;
    }
    reader->info.late_rows++;
    reader->time_ns[from] = time_ns;
    shift_row(reader, from, to);
    reader->count++;
    reader->next_rows += next_part;
    return bl_note(&reader->info.notes, "late-row", line, -1,
                   "time steps back by less than 200 ms; row sorted in");
}

/* Rows before this one were left out. Of too many such places the last one
   reaches up to the row at hand. */
static enum bl_status add_damage(struct bl_log_reader *reader, int64_t time_ns)
{
    struct bl_log_info *info = &reader->info;
    struct bl_log_damage damage = {.at = {INT64_MIN, time_ns},
                                   .part = reader->part};
    if (reader->any && reader->newest_ns <= time_ns) {
        damage.at.from_ns = reader->newest_ns;
    } else if (reader->any && is_late(reader, time_ns)) {
        damage.at = (struct bl_damage){time_ns, reader->newest_ns};
    } else if (reader->any) {
        damage.at.from_ns = time_ns; /* nothing spans the jump as it is */
        damage.part++;
    }
    info->after_damage = false;
    if (info->damages == BL_LIMIT_DAMAGES) {
        struct bl_log_damage *last = &info->damage[info->damages - 1];
        damage.at.from_ns = last->at.from_ns;
        *last = damage;
        return BL_OK;
    }
    if (!bl_grow(&info->damage, &reader->damage_capacity, info->damages + 1,
                 sizeof(*info->damage), BL_LIMIT_DAMAGES)) {
        return BL_NOMEM;
    }
    info->damage[info->damages++] = damage;
    return BL_OK;
}

void bl_log_pace(struct bl_log_reader *reader, size_t first, size_t end)
{
    /* Rows that are counted have no stamps that could be wrong; groups of a
       measurement file have a pace each. */
    if (reader->dialect.form != LOG_FORM_INDEX && reader->mdf == NULL) {
        bl_pace_skip(&reader->pace,
                     reader->info.bad_rows - reader->paced_bad_rows);
        reader->paced_bad_rows = reader->info.bad_rows;
        bl_pace_feed(&reader->pace, reader->time_ns + first, end - first);
    }
}

/* The row at `from`, behind all that are held, takes its place in order. */
static enum bl_status place_row(struct bl_log_reader *reader, size_t from,
                                int64_t line)
{
    enum bl_status status = BL_OK;
    const int64_t time_ns = reader->time_ns[from];
    const bool steps_back = reader->any && time_ns < reader->newest_ns;
    if (steps_back && !is_late(reader, time_ns)) {
        if (reader->next_rows > 0) {
            return leave_out_late(reader, line);
        }
        reader->info.splits++;
        status = bl_note(&reader->info.notes, "time-goes-back", line, -1,
                         "time steps back by more than 200 ms; a new part "
                         "begins");
        bl_pace_part(&reader->pace, time_ns);
    }
    bl_log_pace(reader, from, from + 1);
    if (steps_back && is_late(reader, time_ns)) {
        return place_late(reader, from, time_ns, line);
    }
    const bool next_part = steps_back || reader->next_rows > 0;
    shift_row(reader, from, reader->count);
    reader->count++;
    reader->next_rows += next_part;
    reader->newest_ns = time_ns;
    reader->any = true;
    return status;
}

enum bl_status bl_log_place_doubtful(struct bl_log_reader *reader)
{
    const size_t end = reader->count;
    const size_t first = end - reader->doubtful;
    reader->count = first;
    reader->doubtful = 0;
    enum bl_status status = BL_OK;
    for (size_t i = first; i < end && status == BL_OK; i++) {
        status = place_row(reader, i, reader->doubtful_line);
    }
    return status;
}

/* The row at hand undoes what those in doubt said: they are strays. */
static enum bl_status leave_out_strays(struct bl_log_reader *reader,
                                       int64_t time_ns)
{
    const size_t strays = reader->doubtful;
    shift_row(reader, reader->count, reader->count - strays);
    reader->count -= strays;
    reader->doubtful = 0;
    reader->info.strays += strays;
    reader->info.bad_rows += strays;
    enum bl_status status = add_damage(reader, time_ns);
    for (size_t i = 0; i < strays && status == BL_OK; i++) {
        status =
            bl_note(&reader->info.notes, "stray-row", reader->doubtful_line, -1,
                    "a stamp far off, which the next rows undo; row left "
                    "out");
    }
    return status;
}

static bool is_far_off(const struct bl_log_reader *reader, int64_t time_ns)
{
    return reader->any &&
           (time_ns < reader->newest_ns
                ? !is_late(reader, time_ns)
                : log_is_far(reader, reader->newest_ns, time_ns));
}

enum bl_status bl_log_place(struct bl_log_reader *reader, int64_t time_ns,
                            int64_t line)
{
    if (reader->info.after_damage && add_damage(reader, time_ns) != BL_OK) {
        return BL_NOMEM;
    }
    reader->time_ns[reader->count] = time_ns;
    bl_log_count_row(reader, reader->count);
    const bool far = is_far_off(reader, time_ns);
    if (far) {
        reader->doubtful_line =
            reader->doubtful == 0 ? line : reader->doubtful_line;
        reader->count++;
        reader->doubtful++;
        return reader->doubtful > LOG_STRAY_ROWS ? bl_log_place_doubtful(reader)
                                                 : BL_OK;
    }
    if (reader->doubtful > 0 && leave_out_strays(reader, time_ns) != BL_OK) {
        return BL_NOMEM;
    }
    return place_row(reader, reader->count, line);
}

size_t bl_log_ready(const struct bl_log_reader *reader)
{
    const size_t count = reader->count - reader->next_rows - reader->doubtful;
    if (reader->next_rows > 0 || reader->ended) {
        return count;
    }
    size_t ready = count;
    while (ready > 0 &&
           (uint64_t)reader->newest_ns - (uint64_t)reader->time_ns[ready - 1] <=
               (uint64_t)LOG_LATE_NS) {
        ready--;
    }
    /* Faster than the arrays hold 200 ms: sort over half of them. */
    return ready == 0 && reader->count == reader->capacity ? count / 2 : ready;
}

void bl_log_drop_delivered(struct bl_log_reader *reader)
{
    const size_t from = reader->delivered;
    if (from == 0) {
        return;
    }
    const size_t left = reader->count - from;
    reader->delivered_ns = reader->time_ns[from - 1];
    reader->has_delivered = true;
    memmove(reader->time_ns, reader->time_ns + from,
            left * sizeof(*reader->time_ns));
    for (size_t i = 0; i < reader->info.columns; i++) {
        double *values = reader->channel[i].values;
        if (values != NULL) {
            memmove(values, values + from, left * sizeof(*values));
        }
    }
    reader->count = left;
    reader->delivered = 0;
    if (reader->next_rows > 0) {
        reader->next_rows = 0;
        reader->has_delivered = false;
        reader->part += reader->part < UINT16_MAX;
    }
}
