/* SPDX-License-Identifier: MIT */
/* Identifiers of a bus recording: counts, intervals, signals that moved. */
#include "survey/internal.h"

#include "survey/moves.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/alloc.h"
#include "base/array.h"
#include "base/intervals.h"
#include "base/limits.h"
#include "base/number.h"
#include "bus/beats.h"

enum { SLOTS = 1u << 17 };

/* What every frame of an identifier touches, close together; the rest of it is
   in file->id. */
struct running {
    uint64_t key;
    uint64_t frames;
    int64_t last_ns, shortest_ns, longest_ns, longest_at_ns;
    uint16_t part;
    uint8_t shortest, longest;
    bool listen;
    struct bl_beat_band band;
    struct bl_intervals intervals;
    struct bl_survey_moves moves;
};

struct bl_survey_ids {
    struct bl_survey_file *file;
    const struct bl_tables *tables;
    struct bl_survey_talk *talk;
    size_t capacity, running_capacity;
    struct running *running; /* beside file->id */
    struct bl_beats beats;   /* numbers as in file->id */
    int64_t last_ns;         /* of all frames */
    uint16_t part;
    bool any;
    uint32_t *slot; /* open addressing; place + 1, 0 is free */
};

enum bl_status bl_survey_ids_create(struct bl_survey_ids **out,
                                    struct bl_survey_file *file,
                                    const struct bl_tables *tables,
                                    struct bl_survey_talk *talk,
                                    struct bl_error *error)
{
    struct bl_survey_ids *ids = bl_alloc(1, sizeof(*ids));
    *out = ids;
    if (ids == NULL) {
        return bl_fail_memory(error);
    }
    ids->file = file;
    ids->tables = tables;
    ids->talk = talk;
    ids->slot = bl_alloc(SLOTS, sizeof(*ids->slot));
    return ids->slot == NULL ? bl_fail_memory(error) : BL_OK;
}

void bl_survey_ids_destroy(struct bl_survey_ids *ids)
{
    if (ids == NULL) {
        return;
    }
    for (size_t i = 0; ids->running != NULL && i < ids->file->ids; i++) {
        bl_intervals_finish(&ids->running[i].intervals);
        bl_survey_moves_finish(&ids->running[i].moves);
    }
    bl_beats_free(&ids->beats);
    bl_free(ids->running);
    bl_free(ids->slot);
    bl_free(ids);
}

static bool is_extended(const struct bl_frame *frame)
{
    return (frame->flags & BL_FRAME_EXTENDED) != 0;
}

static uint64_t key_of(const struct bl_frame *frame)
{
    return ((uint64_t)frame->bus << 32 | frame->id) * 2 + is_extended(frame);
}

/* Its slot, taken or the free one where it belongs. */
static uint32_t *find_slot(const struct bl_survey_ids *ids, uint64_t key)
{
    size_t at = (size_t)(key * 0x9e3779b97f4a7c15U >> 47);
    while (ids->slot[at] != 0 && ids->running[ids->slot[at] - 1].key != key) {
        at = (at + 1) % SLOTS;
    }
    return &ids->slot[at];
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
    id->bus = frame->bus;
    id->id = frame->id;
    id->extended = is_extended(frame);
    if (ids->tables != NULL) {
        const size_t found =
            bl_tables_match(ids->tables, id->id, id->extended, NULL,
                            id->message, BL_SURVEY_MESSAGES);
        id->messages = found < BL_SURVEY_MESSAGES ? found : BL_SURVEY_MESSAGES;
    }
    file->ids++;
    *slot = (uint32_t)file->ids;
    struct running *running = &ids->running[count];
    *running = (struct running){.key = key_of(frame),
                                .shortest_ns = INT64_MAX,
                                .longest_ns = INT64_MIN,
                                .shortest = UINT8_MAX,
                                .band = BL_BEAT_BAND_NONE};
    const enum bl_status status =
        bl_survey_moves_start(&running->moves, id, error);
    size_t number; /* the same: both grow together */
    return status == BL_OK && bl_beats_add(&ids->beats, &number) != BL_OK
               ? bl_fail_memory(error)
               : status;
}

static enum bl_status feed_odd(struct bl_survey_ids *ids, size_t place,
                               int64_t time_ns, struct bl_error *error)
{
    struct running *running = &ids->running[place];
    const struct bl_beat_odd odd = {place, running->last_ns, time_ns,
                                    running->part};
    return bl_beats_odd(&ids->beats, &running->band, &odd) == BL_OK
               ? BL_OK
               : bl_fail_memory(error);
}

static void feed_length(struct running *running, uint8_t length)
{
    running->shortest = length < running->shortest ? length : running->shortest;
    running->longest = length > running->longest ? length : running->longest;
}

/* An interval as nearly all are, behind others of one part. False: another one,
   and nothing was done. */
static bool feed_usual(struct running *running, const struct bl_frame *frame)
{
    const int64_t interval = frame->time_ns - running->last_ns;
    if (!bl_beat_usual(&running->band, interval) ||
        running->part != frame->part ||
        !bl_intervals_add(&running->intervals, interval)) {
        return false;
    }
    if (interval < running->shortest_ns) {
        running->shortest_ns = interval;
    }
    if (interval > running->longest_ns) {
        running->longest_ns = interval;
        running->longest_at_ns = running->last_ns;
    }
    running->frames++;
    running->last_ns = frame->time_ns;
    feed_length(running, frame->length);
    return true;
}

static enum bl_status feed_running(struct bl_survey_ids *ids, size_t place,
                                   const struct bl_frame *frame,
                                   struct bl_error *error)
{
    struct running *running = &ids->running[place];
    enum bl_status status = BL_OK;
    const int64_t interval = frame->time_ns - running->last_ns;
    if (running->frames > 0 && running->part == frame->part &&
        interval <= BL_SURVEY_JUMP_NS) {
        if (interval < running->shortest_ns) {
            running->shortest_ns = interval;
        }
        if (interval > running->longest_ns) {
            running->longest_ns = interval;
            running->longest_at_ns = running->last_ns;
        }
        if (!bl_intervals_add(&running->intervals, interval)) {
            status = bl_fail_memory(error);
        }
        if (!bl_beat_usual(&running->band, interval) && status == BL_OK) {
            status = feed_odd(ids, place, frame->time_ns, error);
            bl_beat_narrow(&running->band, BL_SURVEY_JUMP_NS);
        }
    } else if (running->frames > 0) {
        bl_beats_until(&ids->beats, place, running->last_ns);
    }
    running->frames++;
    running->last_ns = frame->time_ns;
    running->part = frame->part;
    feed_length(running, frame->length);
    return status;
}

/* Can it be of the talk on a bus? */
static bool is_talk(const struct bl_frame *frame)
{
    return frame->kind <= BL_FRAME_FD && is_extended(frame) &&
           frame->bus < BL_BUS_MAX;
}

/* An identifier beyond the limit has no place of its own: its frames are
   counted, and what they say is heard. */
static enum bl_status feed_left_out(struct bl_survey_ids *ids,
                                    const struct bl_frame *frame,
                                    struct bl_error *error)
{
    bool listen;
    ids->file->ids_left_out++;
    if (!is_talk(frame)) {
        return BL_OK;
    }
    enum bl_status status =
        bl_survey_talk_meet(ids->talk, frame, &listen, error);
    if (status == BL_OK) {
        bl_survey_talk_count(ids->talk, frame->bus, frame->id, 1);
        status = listen ? bl_survey_talk_feed(ids->talk, frame, error) : BL_OK;
    }
    return status;
}

/* The first frame with data of an identifier. */
static enum bl_status meet(struct bl_survey_ids *ids, size_t place,
                           const struct bl_frame *frame, struct bl_error *error)
{
    ids->file->id[place].first_ns = frame->time_ns;
    return is_talk(frame)
               ? bl_survey_talk_meet(ids->talk, frame,
                                     &ids->running[place].listen, error)
               : BL_OK;
}

static enum bl_status feed(struct bl_survey_ids *ids,
                           const struct bl_frame *frame, struct bl_error *error)
{
    struct bl_survey_file *file = ids->file;
    uint32_t *slot = find_slot(ids, key_of(frame));
    enum bl_status status = BL_OK;
    if (*slot == 0) {
        if (file->ids >= BL_LIMIT_IDENTIFIERS) {
            return feed_left_out(ids, frame, error);
        }
        status = add_id(ids, frame, slot, error);
        if (status != BL_OK) {
            return status;
        }
    }
    const size_t place = *slot - 1;
    struct running *running = &ids->running[place];
    if (frame->kind == BL_FRAME_REMOTE) {
        file->id[place].remote++;
        return BL_OK;
    }
    if (running->frames == 0) {
        status = meet(ids, place, frame, error);
    }
    if (running->moves.signals > 0) {
        bl_survey_moves_feed(&running->moves, frame);
    }
    if (status == BL_OK && !feed_usual(running, frame)) {
        status = feed_running(ids, place, frame, error);
    }
    return status == BL_OK && running->listen
               ? bl_survey_talk_feed(ids->talk, frame, error)
               : status;
}

static enum bl_status add_silence(struct bl_survey_ids *ids, int64_t from_ns,
                                  const struct bl_frame *frame,
                                  struct bl_error *error)
{
    const struct bl_beat_silence silence = {from_ns, frame->time_ns,
                                            frame->part};
    return bl_beats_silence(&ids->beats, &silence) == BL_OK
               ? BL_OK
               : bl_fail_memory(error);
}

enum bl_status bl_survey_ids_feed(struct bl_survey_ids *ids,
                                  const struct bl_frame *frame, size_t count,
                                  struct bl_error *error)
{
    enum bl_status status = BL_OK;
    const int64_t silent_ns = bl_beats_silent(&ids->beats);
    if (ids->any && ids->part == frame[0].part &&
        frame[0].time_ns - ids->last_ns > silent_ns) {
        status = add_silence(ids, ids->last_ns, &frame[0], error);
    }
    for (size_t i = 0; i < count && status == BL_OK; i++) {
        if (i > 0 && frame[i].time_ns - frame[i - 1].time_ns > silent_ns) {
            status = add_silence(ids, frame[i - 1].time_ns, &frame[i], error);
        }
        if (frame[i].kind != BL_FRAME_ERROR && status == BL_OK) {
            status = feed(ids, &frame[i], error);
        }
    }
    ids->any = true;
    ids->last_ns = frame[count - 1].time_ns;
    ids->part = frame[count - 1].part;
    for (size_t i = count; i > 0; i--) {
        if (frame[i - 1].kind == BL_FRAME_CLASSIC && is_talk(&frame[i - 1])) {
            bl_survey_talk_until(ids->talk, frame[i - 1].time_ns);
            break;
        }
    }
    return status;
}

void bl_survey_ids_resolution(struct bl_survey_ids *ids, int64_t resolution_ns)
{
    ids->beats.resolution_ns = resolution_ns;
}

enum bl_status bl_survey_ids_times(struct bl_survey_ids *ids)
{
    return bl_beats_finish(&ids->beats, &ids->file->times);
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

static enum bl_status finish_id(struct bl_survey_id *id,
                                struct running *running)
{
    bl_survey_moves_end(&running->moves, id);
    id->frames = running->frames;
    id->last_ns = running->last_ns;
    id->longest = running->longest;
    if (running->frames > 0) { /* not remote frames only */
        id->shortest = running->shortest;
    }
    const enum bl_status status =
        bl_intervals_end(&running->intervals) ? BL_OK : BL_NOMEM;
    if (running->intervals.count > 0) {
        id->interval_min_ns = running->shortest_ns;
        id->interval_max_ns = running->longest_ns;
        id->longest_gap_at_ns = running->longest_at_ns;
        id->interval_median_ns = bl_intervals_median(&running->intervals);
    }
    bl_intervals_finish(&running->intervals);
    return status;
}

enum bl_status bl_survey_ids_finish(struct bl_survey_ids *ids)
{
    enum bl_status status = BL_OK;
    struct bl_survey_file *file = ids->file;
    for (size_t i = 0; i < file->ids; i++) {
        struct bl_survey_id *id = &file->id[i];
        if (finish_id(id, &ids->running[i]) != BL_OK) {
            status = BL_NOMEM;
        }
        bl_beats_until(&ids->beats, i, id->last_ns);
        if (id->extended && id->bus < BL_BUS_MAX) {
            bl_survey_talk_count(ids->talk, id->bus, id->id, id->frames);
        }
    }
    if (file->ids > 1) {
        qsort(file->id, file->ids, sizeof(*file->id), compare_ids);
    }
    return status;
}
