/* SPDX-License-Identifier: MIT */
/* Reading whole recordings in the bus tests. */
#ifndef BRAKELAG_TESTS_BUS_RECORDINGS_H
#define BRAKELAG_TESTS_BUS_RECORDINGS_H

#include "testing.h"

#include "brakelag/bus.h"

struct recording {
    enum bl_status open_status, status;
    struct bl_error error;
    struct bl_frame *frame;
    size_t frames, room;
    struct bl_bytes *source;
    struct bl_bus_reader *reader;
    const struct bl_bus_info *info; /* NULL when not opened */
};

static inline void read_all(struct recording *r)
{
    for (;;) {
        const struct bl_frame *batch;
        size_t count;
        r->status = bl_bus_next(r->reader, &batch, &count, &r->error);
        if (r->status != BL_OK || count == 0) {
            break;
        }
        if (r->frames + count > r->room) {
            r->room = 2 * (r->frames + count);
            r->frame = realloc(r->frame, r->room * sizeof(*r->frame));
            assert_non_null(r->frame);
        }
        memcpy(r->frame + r->frames, batch, count * sizeof(*batch));
        r->frames += count;
    }
    /* The end, or the failure, comes again. */
    const struct bl_frame *batch;
    size_t count;
    struct bl_error again;
    bl_error_clear(&again);
    assert_int_equal(bl_bus_next(r->reader, &batch, &count, &again), r->status);
    assert_int_equal(count, 0);
    assert_string_equal(again.message, r->error.message);
    assert_int_equal(r->frames, r->info->frames);
}

static inline void read_source(struct recording *r,
                               const struct bl_bus_options *options)
{
    r->open_status = bl_bus_open(&r->reader, r->source, options, &r->error);
    if (r->open_status == BL_OK) {
        r->info = bl_bus_info(r->reader);
        read_all(r);
    } else {
        assert_null(r->reader);
        assert_int_equal(r->error.status, r->open_status);
    }
}

static inline struct recording read_file(const char *path,
                                         const struct bl_bus_options *options)
{
    struct recording r = {.status = BL_OK};
    bl_error_clear(&r.error);
    assert_int_equal(bl_bytes_open(&r.source, path, NULL), BL_OK);
    read_source(&r, options);
    return r;
}

static inline struct recording read_memory(const void *data, size_t size,
                                           const struct bl_bus_options *options)
{
    struct recording r = {.status = BL_OK};
    bl_error_clear(&r.error);
    assert_int_equal(
        bl_bytes_open_memory(&r.source, "memory", data, size, NULL), BL_OK);
    read_source(&r, options);
    return r;
}

static inline void close_recording(struct recording *r)
{
    free(r->frame);
    bl_bus_close(r->reader);
    bl_bytes_close(r->source);
}

static inline uint64_t notes_of(const struct recording *r, const char *code)
{
    const struct bl_note *note = bl_notes_find(&r->info->notes, code);
    return note == NULL ? 0 : note->count;
}

/* Equal in all but the bus. */
static inline bool same_frame(const struct bl_frame *a,
                              const struct bl_frame *b)
{
    return a->time_ns == b->time_ns && a->id == b->id && a->kind == b->kind &&
           a->flags == b->flags && a->length == b->length &&
           a->part == b->part && memcmp(a->data, b->data, sizeof(a->data)) == 0;
}

#endif
