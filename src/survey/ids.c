/* SPDX-License-Identifier: MIT */
/* Identifiers of a bus recording: counts, intervals, signals that moved. */
#include "survey/internal.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "base/number.h"

enum { INTERVALS = 256, SLOTS = 1u << 17, SIGNALS_MAX = 64 };

/* Intervals of one identifier, evenly thinned: each `stride`th is kept. */
struct thinned {
    int64_t *interval;
    size_t count, capacity;
    uint64_t stride, skip; /* so many are passed over before the next */
    bool any;
};

struct running {
    struct thinned thinned;
    uint16_t part;
};

struct bl_survey_ids {
    struct bl_survey_file *file;
    const struct bl_tables *tables;
    size_t capacity, running_capacity;
    struct running *running; /* beside file->id */
    uint32_t *slot;          /* open addressing; place + 1, 0 is free */
};

enum bl_status bl_survey_ids_create(struct bl_survey_ids **out,
                                    struct bl_survey_file *file,
                                    const struct bl_tables *tables,
                                    struct bl_error *error)
{
    struct bl_survey_ids *ids = bl_alloc(1, sizeof(*ids));
    *out = ids;
    if (ids == NULL) {
        return bl_fail_memory(error);
    }
    ids->file = file;
    ids->tables = tables;
    ids->slot = bl_alloc(SLOTS, sizeof(*ids->slot));
    return ids->slot == NULL ? bl_fail_memory(error) : BL_OK;
}

void bl_survey_ids_destroy(struct bl_survey_ids *ids)
{
    if (ids == NULL) {
        return;
    }
    for (size_t i = 0; ids->running != NULL && i < ids->file->ids; i++) {
        bl_free(ids->running[i].thinned.interval);
    }
    bl_free(ids->running);
    bl_free(ids->slot);
    bl_free(ids);
}

static bool is_extended(const struct bl_frame *frame)
{
    return (frame->flags & BL_FRAME_EXTENDED) != 0;
}

/* Its slot, taken or the free one where it belongs. */
static uint32_t *find_slot(const struct bl_survey_ids *ids,
                           const struct bl_frame *frame)
{
    const bool extended = is_extended(frame);
    uint64_t hash = ((uint64_t)frame->bus << 32 | frame->id) * 2 + extended;
    hash *= 0x9e3779b97f4a7c15U;
    size_t at = (size_t)(hash >> 47);
    for (;; at = (at + 1) % SLOTS) {
        if (ids->slot[at] == 0) {
            return &ids->slot[at];
        }
        const struct bl_survey_id *id = &ids->file->id[ids->slot[at] - 1];
        if (id->id == frame->id && id->bus == frame->bus &&
            id->extended == extended) {
            return &ids->slot[at];
        }
    }
}

static enum bl_status add_signals(struct bl_survey_id *id,
                                  struct bl_error *error)
{
    size_t count = 0;
    for (size_t m = 0; m < id->messages; m++) {
        count += id->message[m]->signals;
    }
    count = count < SIGNALS_MAX ? count : SIGNALS_MAX;
    if (count == 0) {
        return BL_OK;
    }
    id->signal = bl_alloc(count, sizeof(*id->signal));
    if (id->signal == NULL) {
        return bl_fail_memory(error);
    }
    for (size_t m = 0; m < id->messages; m++) {
        for (size_t s = 0; s < id->message[m]->signals; s++) {
            const struct bl_signal *signal = &id->message[m]->signal[s];
            if (signal->role != BL_ROLE_NONE && id->signals < count &&
                signal->kind != BL_SIGNAL_TEXT) {
                struct bl_survey_signal *out = &id->signal[id->signals++];
                out->signal = signal;
                out->smallest = NAN;
                out->largest = NAN;
            }
        }
    }
    return BL_OK;
}

static enum bl_status add_id(struct bl_survey_ids *ids,
                             const struct bl_frame *frame, uint32_t *slot,
                             struct bl_error *error)
{
    struct bl_survey_file *file = ids->file;
    const size_t count = file->ids;
    if (!bl_grow(&file->id, &ids->capacity, count + 1, sizeof(*file->id),
                 BL_LIMIT_IDENTIFIERS) ||
        !bl_grow(&ids->running, &ids->running_capacity, count + 1,
                 sizeof(*ids->running), BL_LIMIT_IDENTIFIERS)) {
        return bl_fail_memory(error);
    }
    struct bl_survey_id *id = &file->id[count];
    memset(id, 0, sizeof(*id));
    memset(&ids->running[count], 0, sizeof(ids->running[count]));
    ids->running[count].thinned.stride = 1;
    id->bus = frame->bus;
    id->id = frame->id;
    id->extended = is_extended(frame);
    id->shortest = UINT8_MAX;
    if (ids->tables != NULL) {
        const size_t found =
            bl_tables_match(ids->tables, id->id, id->extended, NULL,
                            id->message, BL_SURVEY_MESSAGES);
        id->messages = found < BL_SURVEY_MESSAGES ? found : BL_SURVEY_MESSAGES;
    }
    file->ids++;
    *slot = (uint32_t)file->ids;
    return add_signals(id, error);
}

static enum bl_status keep_interval(struct thinned *thinned, int64_t interval,
                                    struct bl_error *error)
{
    thinned->any = true;
    if (thinned->skip > 0) {
        thinned->skip--;
        return BL_OK;
    }
    if (thinned->count == INTERVALS) {
        for (size_t i = 0; i < INTERVALS / 2; i++) {
            thinned->interval[i] = thinned->interval[2 * i];
        }
        thinned->count = INTERVALS / 2;
        thinned->stride *= 2;
    }
    if (!bl_grow(&thinned->interval, &thinned->capacity, thinned->count + 1,
                 sizeof(*thinned->interval), INTERVALS)) {
        return bl_fail_memory(error);
    }
    thinned->interval[thinned->count++] = interval;
    thinned->skip = thinned->stride - 1;
    return BL_OK;
}

static void feed_signal(struct bl_survey_signal *out,
                        const struct bl_frame *frame)
{
    const struct bl_value value =
        bl_signal_decode(out->signal, frame->data, frame->length);
    if (out->frames++ > 0 && value.raw != out->last_raw) {
        if (out->changes++ == 0) {
            out->first_change_ns = frame->time_ns;
        }
        out->last_change_ns = frame->time_ns;
    }
    out->last_raw = value.raw;
    if (value.state == BL_VALUE_VALID) {
        out->valid++;
        if (!(value.value >= out->smallest)) { /* the first one, too */
            out->smallest = value.value;
        }
        if (!(value.value <= out->largest)) {
            out->largest = value.value;
        }
    }
}

static enum bl_status feed_id(struct bl_survey_id *id, struct running *running,
                              const struct bl_frame *frame,
                              struct bl_error *error)
{
    if (frame->kind == BL_FRAME_REMOTE) {
        id->remote++;
        return BL_OK;
    }
    enum bl_status status = BL_OK;
    if (id->frames == 0) {
        id->first_ns = frame->time_ns;
    } else if (running->part == frame->part) {
        const int64_t interval = frame->time_ns - id->last_ns;
        if (!running->thinned.any || interval < id->interval_min_ns) {
            id->interval_min_ns = interval;
        }
        if (!running->thinned.any || interval > id->interval_max_ns) {
            id->interval_max_ns = interval;
            id->longest_gap_at_ns = id->last_ns;
        }
        status = keep_interval(&running->thinned, interval, error);
    }
    id->frames++;
    id->last_ns = frame->time_ns;
    running->part = frame->part;
    id->shortest = frame->length < id->shortest ? frame->length : id->shortest;
    id->longest = frame->length > id->longest ? frame->length : id->longest;
    for (size_t i = 0; i < id->signals; i++) {
        feed_signal(&id->signal[i], frame);
    }
    return status;
}

enum bl_status bl_survey_ids_feed(struct bl_survey_ids *ids,
                                  const struct bl_frame *frame,
                                  struct bl_error *error)
{
    if (frame->kind == BL_FRAME_ERROR) {
        return BL_OK;
    }
    uint32_t *slot = find_slot(ids, frame);
    if (*slot == 0) {
        if (ids->file->ids >= BL_LIMIT_IDENTIFIERS) {
            ids->file->ids_left_out++;
            return BL_OK;
        }
        const enum bl_status status = add_id(ids, frame, slot, error);
        if (status != BL_OK) {
            return status;
        }
    }
    return feed_id(&ids->file->id[*slot - 1], &ids->running[*slot - 1], frame,
                   error);
}

static int compare_ids(const void *a, const void *b)
{
    const struct bl_survey_id *x = a;
    const struct bl_survey_id *y = b;
    if (x->bus != y->bus) {
        return x->bus < y->bus ? -1 : 1;
    }
    if (x->extended != y->extended) {
        return x->extended ? 1 : -1;
    }
    return (x->id > y->id) - (x->id < y->id);
}

static int compare_ns(const void *a, const void *b)
{
    const int64_t x = *(const int64_t *)a;
    const int64_t y = *(const int64_t *)b;
    return (x > y) - (x < y);
}

void bl_survey_ids_finish(struct bl_survey_ids *ids)
{
    struct bl_survey_file *file = ids->file;
    for (size_t i = 0; i < file->ids; i++) {
        struct thinned *thinned = &ids->running[i].thinned;
        if (thinned->count > 0) {
            qsort(thinned->interval, thinned->count, sizeof(*thinned->interval),
                  compare_ns);
            file->id[i].interval_median_ns =
                thinned->interval[thinned->count / 2];
        }
        bl_free(thinned->interval);
        thinned->interval = NULL;
        if (file->id[i].shortest == UINT8_MAX) {
            file->id[i].shortest = 0; /* remote frames only */
        }
    }
    if (file->ids > 1) {
        qsort(file->id, file->ids, sizeof(*file->id), compare_ids);
    }
}
