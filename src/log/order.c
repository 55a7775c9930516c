/* SPDX-License-Identifier: MIT */
/*
 * Rows in order of time. Rows stay held for 200 ms of recording so that a late
 * one can be sorted in; a larger step back starts a new part.
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

static enum bl_status place_late(struct bl_log_reader *reader, int64_t time_ns,
                                 int64_t line)
{
    if (reader->has_delivered && time_ns < reader->delivered_ns) {
        reader->info.bad_rows++;
        reader->info.after_damage = true;
        return bl_note(&reader->info.notes, "late-row-excluded", line, -1,
                       "a row comes too late to be sorted in; left out");
    }
    size_t to = reader->count;
    while (to > 0 && reader->time_ns[to - 1] > time_ns) {
        to--;
    }
    log_count_row(reader, reader->count);
    reader->info.late_rows++;
    reader->time_ns[reader->count] = time_ns;
    shift_row(reader, reader->count, to);
    reader->count++;
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

enum bl_status log_place(struct bl_log_reader *reader, int64_t time_ns,
                         int64_t line)
{
    enum bl_status status = BL_OK;
    if (reader->info.after_damage && add_damage(reader, time_ns) != BL_OK) {
        return BL_NOMEM;
    }
    if (reader->any && time_ns < reader->newest_ns) {
        if (is_late(reader, time_ns)) {
            return place_late(reader, time_ns, line);
        }
        reader->part_break = true;
        reader->info.splits++;
        status = bl_note(&reader->info.notes, "time-goes-back", line, -1,
                         "time steps back by more than 200 ms; a new part "
                         "begins");
    }
    log_count_row(reader, reader->count);
    reader->time_ns[reader->count++] = time_ns;
    reader->newest_ns = time_ns;
    reader->any = true;
    return status;
}

size_t log_ready(const struct bl_log_reader *reader)
{
    const size_t count = reader->count - reader->part_break;
    if (reader->part_break || reader->ended) {
        return count;
    }
    size_t ready = count;
    while (ready > 0 &&
           (uint64_t)reader->newest_ns - (uint64_t)reader->time_ns[ready - 1] <=
               (uint64_t)LOG_LATE_NS) {
        ready--;
    }
    /* Faster than the arrays hold 200 ms: sort over half of them. */
    return ready == 0 && count == reader->capacity ? count / 2 : ready;
}

void log_drop_delivered(struct bl_log_reader *reader)
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
    if (reader->part_break) {
        reader->part_break = false;
        reader->has_delivered = false;
        reader->part += reader->part < UINT16_MAX;
    }
}
