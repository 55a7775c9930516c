/* SPDX-License-Identifier: MIT */
/*
 * Rows that are not kept, as blocks with extremes and mean. When there are too
 * many blocks, neighbours are joined, and new ones are made twice as long.
 */
#include "load/build.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"

#include <math.h>
#include <string.h>

enum { ROWS_FIRST = 64 };

enum bl_status bl_quiet_start(struct bl_quiet_build *q, size_t channels)
{
    q->value = bl_alloc(channels, sizeof(*q->value));
    if (q->value == NULL) {
        return BL_NOMEM;
    }
    q->channels = channels;
    q->rows_each = ROWS_FIRST;
    return BL_OK;
}

static struct bl_quiet_value join(const struct bl_quiet_value *a,
                                  const struct bl_quiet_value *b,
                                  double share_of_b)
{
    if (isnan(a->mean) || isnan(b->mean)) {
        return isnan(a->mean) ? *b : *a;
    }
    return (struct bl_quiet_value){
        .smallest = a->smallest < b->smallest ? a->smallest : b->smallest,
        .largest = a->largest > b->largest ? a->largest : b->largest,
        .mean = (float)((double)a->mean +
                        share_of_b * ((double)b->mean - (double)a->mean))};
}

/* Neighbours of one stretch become one. */
static void halve(struct bl_quiet_build *q)
{
    size_t n = 0;
    for (size_t i = 0; i < q->count; n++) {
        struct bl_quiet_rows rows = q->rows[i];
        const bool two =
            i + 1 < q->count && q->rows[i + 1].stretch == rows.stretch;
        double share = 0;
        if (two) {
            rows.last_ns = q->rows[i + 1].last_ns;
            rows.rows += q->rows[i + 1].rows;
            share = (double)q->rows[i + 1].rows / (double)rows.rows;
        }
        q->rows[n] = rows;
        for (size_t c = 0; c < q->channels; c++) {
            struct bl_quiet_value *value = q->value[c];
            value[n] = two ? join(&value[i], &value[i + 1], share) : value[i];
        }
        i += two ? 2 : 1;
    }
    q->count = n;
}

/* `capacity` is one for all arrays: they grow together. */
static enum bl_status room_for_one(struct bl_quiet_build *q)
{
    size_t capacity = q->capacity;
    if (q->count < capacity) {
        return BL_OK;
    }
    if (!bl_grow(&q->rows, &capacity, q->count + 1, sizeof(*q->rows),
                 BL_LIMIT_SAMPLES)) {
        return BL_NOMEM;
    }
    for (size_t c = 0; c < q->channels; c++) {
        void *grown = bl_realloc(q->value[c], capacity, sizeof(**q->value));
        if (grown == NULL) {
            return BL_NOMEM;
        }
        q->value[c] = grown;
    }
    q->capacity = capacity;
    return BL_OK;
}

static enum bl_status add_block(struct bl_quiet_build *q,
                                const struct bl_log_samples *s, size_t first,
                                size_t end)
{
    if (q->count >= BL_LIMIT_QUIET_BLOCKS &&
        q->rows_each < UINT32_MAX / 4 / ROWS_FIRST) {
        halve(q);
        q->rows_each *= 2;
    }
    if (room_for_one(q) != BL_OK) {
        return BL_NOMEM;
    }
    q->rows[q->count] = (struct bl_quiet_rows){.first_ns = s->time_ns[first],
                                               .last_ns = s->time_ns[end - 1],
                                               .rows = (uint32_t)(end - first),
                                               .stretch = q->stretch};
    for (size_t c = 0; c < q->channels; c++) {
        const struct bl_block_look look =
            bl_block_look(s->value[c] + first, end - first);
        const bool any = look.count > 0;
        q->value[c][q->count] =
            (struct bl_quiet_value){.smallest = any ? (float)look.low : NAN,
                                    .largest = any ? (float)look.high : NAN,
                                    .mean = any ? (float)look.mean : NAN};
    }
    q->count++;
    return BL_OK;
}

enum bl_status bl_quiet_add(struct bl_quiet_build *q,
                            const struct bl_log_samples *s, size_t first,
                            size_t end)
{
    for (size_t at = first; at < end;) {
        const size_t to =
            end - at > (size_t)q->rows_each ? at + q->rows_each : end;
        if (add_block(q, s, at, to) != BL_OK) {
            return BL_NOMEM;
        }
        at = to;
    }
    return BL_OK;
}

void bl_quiet_finish(struct bl_quiet_build *q)
{
    for (size_t c = 0; c < q->channels; c++) {
        bl_free(q->value[c]);
    }
    bl_free(q->value);
    bl_free(q->rows);
    *q = (struct bl_quiet_build){0};
}
