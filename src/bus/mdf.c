/* SPDX-License-Identifier: MIT */
/*
 * Frames of a measurement file (src/mdf). Groups of bus events are known by the
 * names of their members (CAN_DataFrame.ID ..), as ASAM's associated standard
 * for bus logging gives them; from memory, compared with public documentation.
 * Groups have stamps of their own on one clock: their frames are merged by
 * time.
 */
#include "bus/mdf_frame.h"

#include "base/alloc.h"

#include <string.h>

/* One set of data, with the frame that comes next. */
struct source {
    struct bl_mdf_cursor cursor;
    struct bl_frame frame;
    size_t set;
    bool has, doubt;
};

struct mdf_reader {
    struct bl_bus_context *context;
    struct bl_mdf *mdf;
    struct bl_mdf_plan *plan; /* one per group */
    struct source *source;
    size_t sources;
};

static enum bl_bus_answer probe(const uint8_t *data, size_t size, bool all,
                                struct bl_error *why)
{
    static const char *const magic[] = {"MDF     ", "UnFinMF "};
    (void)why;
    for (size_t i = 0; i < sizeof(magic) / sizeof(magic[0]); i++) {
        if (size > 0 && memcmp(data, magic[i], size < 8 ? size : 8) == 0) {
            return bl_mdf_recognised(data, size)    ? BL_BUS_MINE
                   : size < BL_MDF_ID_BYTES && !all ? BL_BUS_NEED_MORE
                                                    : BL_BUS_NOT_MINE;
        }
    }
    return BL_BUS_NOT_MINE;
}

static void close_reader(void *state)
{
    struct mdf_reader *reader = state;
    if (reader == NULL) {
        return;
    }
    for (size_t i = 0; i < reader->sources; i++) {
        bl_mdf_cursor_close(&reader->source[i].cursor);
    }
    for (size_t g = 0; reader->plan != NULL && g < reader->mdf->groups; g++) {
        bl_mdf_plan_finish(&reader->plan[g]);
    }
    bl_free(reader->plan);
    bl_free(reader->source);
    bl_mdf_close(reader->mdf);
    bl_free(reader);
}

/* The next frame of a set. What cannot be one is counted. */
static enum bl_status advance(struct mdf_reader *reader, struct source *source,
                              struct bl_frame *frame, bool *has,
                              struct bl_error *error)
{
    *has = false;
    for (;;) {
        struct bl_mdf_record record;
        bool got;
        enum bl_status status =
            bl_mdf_cursor_next(&source->cursor, &record, &got, error);
        if (status != BL_OK || !got) {
            return status;
        }
        source->doubt = source->doubt || record.after_loss;
        struct bl_mdf_plan *plan = &reader->plan[record.group];
        if (plan->decode == NULL) {
            continue;
        }
        bool taken = false;
        status =
            bl_mdf_frame(reader->context, plan, &record, frame, &taken, error);
        if (status != BL_OK) {
            return status;
        }
        if (taken) {
            *has = true;
            return BL_OK;
        }
        source->doubt = true;
    }
}

static enum bl_status open_sources(struct mdf_reader *reader,
                                   struct bl_error *error)
{
    struct bl_mdf *mdf = reader->mdf;
    for (size_t s = 0; s < mdf->sets; s++) {
        bool frames = false;
        for (size_t g = 0; g < mdf->set[s].groups; g++) {
            frames =
                frames || reader->plan[mdf->set[s].first + g].decode != NULL;
        }
        if (!frames) {
            continue;
        }
        struct source *source = &reader->source[reader->sources++];
        source->set = s;
        const enum bl_status status =
            bl_mdf_cursor_open(&source->cursor, mdf, s, error);
        if (status != BL_OK) {
            return status;
        }
    }
    for (size_t i = 0; reader->sources > 1 && i < reader->sources; i++) {
        struct source *source = &reader->source[i];
        const enum bl_status status =
            advance(reader, source, &source->frame, &source->has, error);
        if (status != BL_OK) {
            return status;
        }
    }
    return BL_OK;
}

static enum bl_status make_plans(struct mdf_reader *reader,
                                 struct bl_error *error)
{
    struct bl_mdf *mdf = reader->mdf;
    struct bl_bus_info *info = &reader->context->info;
    reader->plan = bl_alloc(mdf->groups, sizeof(*reader->plan));
    reader->source = bl_alloc(mdf->sets, sizeof(*reader->source));
    if (reader->plan == NULL || reader->source == NULL) {
        return bl_fail_memory(error);
    }
    for (size_t g = 0; g < mdf->groups; g++) {
        const struct bl_mdf_group *group = &mdf->group[g];
        if (group->holds == BL_MDF_HOLDS_OTHER_FRAMES) {
            info->other_packets += group->cycles;
        }
        const enum bl_status status =
            bl_mdf_plan(&reader->plan[g], mdf, g, error);
        if (status != BL_OK) {
            return status;
        }
        const int64_t step_ns =
            reader->plan[g].decode == NULL ? 0 : bl_mdf_time_step(mdf, group);
        if (step_ns > 0 &&
            (info->resolution_ns == 0 || step_ns < info->resolution_ns)) {
            info->resolution_ns = step_ns;
        }
    }
    info->resolution_ns = info->resolution_ns == 0 ? 1 : info->resolution_ns;
    info->after_damage = mdf->frames_left_out;
    return BL_OK;
}

static enum bl_status open_reader(void **out, struct bl_bus_context *context,
                                  struct bl_error *error)
{
    struct mdf_reader *reader = bl_alloc(1, sizeof(*reader));
    if (reader == NULL) {
        return bl_fail_memory(error);
    }
    reader->context = context;
    enum bl_status status =
        bl_mdf_open(&reader->mdf, context->source, &context->info.notes, error);
    const struct bl_mdf *mdf = reader->mdf;
    if (status == BL_OK && !bl_mdf_has_frames(mdf)) {
        status =
            mdf->failed == BL_OK
                ? bl_fail(error, BL_FORMAT, bl_bytes_name(context->source),
                          "expected groups of CAN frames, found none in this "
                          "measurement file%s",
                          bl_mdf_has_values(mdf)
                              ? ": it holds channels and belongs to 'logs'"
                              : "")
                : bl_fail_offset(
                      error, mdf->failed, bl_bytes_name(context->source),
                      mdf->failure.offset, "%s", mdf->failure.message);
    }
    if (status == BL_OK) {
        status = make_plans(reader, error);
    }
    if (status == BL_OK) {
        status = open_sources(reader, error);
    }
    if (status != BL_OK) {
        close_reader(reader);
        return status;
    }
    *out = reader;
    return BL_OK;
}

/* One frame, from the set whose frame is the earliest. */
static enum bl_status take_earliest(struct mdf_reader *reader,
                                    struct bl_frame *frame, bool *has,
                                    struct bl_error *error)
{
    struct source *first = NULL;
    for (size_t i = 0; i < reader->sources; i++) {
        struct source *source = &reader->source[i];
        if (source->has &&
            (first == NULL || source->frame.time_ns < first->frame.time_ns)) {
            first = source;
        }
    }
    *has = first != NULL;
    if (first == NULL) {
        return BL_OK;
    }
    *frame = first->frame;
    struct bl_bus_info *info = &reader->context->info;
    info->after_damage = info->after_damage || first->doubt;
    first->doubt = false;
    return advance(reader, first, &first->frame, &first->has, error);
}

static enum bl_status at_end(struct mdf_reader *reader, struct bl_error *error)
{
    struct bl_bus_info *info = &reader->context->info;
    for (size_t i = 0; i < reader->sources; i++) {
        info->after_damage = info->after_damage || reader->source[i].doubt ||
                             reader->source[i].cursor.lost;
    }
    if (reader->mdf->failed != BL_OK && error != NULL) {
        *error = reader->mdf->failure;
    }
    return reader->mdf->failed;
}

static enum bl_status next(void *state, struct bl_frame *frame, size_t room,
                           size_t *count, struct bl_error *error)
{
    struct mdf_reader *reader = state;
    struct bl_bus_info *info = &reader->context->info;
    *count = 0;
    while (*count < room) {
        bool has = false;
        enum bl_status status = BL_OK;
        if (reader->sources == 1) {
            struct source *source = &reader->source[0];
            status = advance(reader, source, frame + *count, &has, error);
            info->after_damage = info->after_damage || source->doubt;
            source->doubt = false;
        } else {
            status = take_earliest(reader, frame + *count, &has, error);
        }
        *count += bl_bus_taken(reader->context, frame + *count, has);
        if (status != BL_OK) {
            info->after_damage = true;
            return status;
        }
        if (!has) {
            return *count > 0 ? BL_OK : at_end(reader, error);
        }
    }
    return BL_OK;
}

const struct bl_bus_format bl_format_mdf = {
    .name = "mdf",
    .called = "MDF 4",
    .probe = probe,
    .open = open_reader,
    .next = next,
    .close = close_reader,
};
