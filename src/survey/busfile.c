/* SPDX-License-Identifier: MIT */
/* One bus recording: buses, their silence and how full they are. */
#include "survey/internal.h"

#include <math.h>
#include <string.h>

#include "base/alloc.h"
#include "base/pace.h"

static const int64_t SECOND_NS = 1000000000;

/* Running figures of one bus. */
struct flow {
    bool seen;
    int64_t last_ns, second_ns, longest_gap_ns, longest_gap_at_ns;
    uint16_t part;
    uint64_t bits, second_bits, peak_bits;
    int64_t span_ns; /* without jumps, either way */
    uint64_t jumps;
};

/* Bits of a frame without stuff bits, with the three of the pause after it:
   ISO 11898-1 base format 47 + 8 n, extended 67 + 8 n. FD data phases run at
   a rate that a recording does not tell; they count like the rest. */
static uint64_t frame_bits(const struct bl_frame *frame)
{
    if (frame->kind == BL_FRAME_ERROR) {
        return 0;
    }
    const bool extended = (frame->flags & BL_FRAME_EXTENDED) != 0;
    const unsigned bytes = frame->kind == BL_FRAME_REMOTE ? 0 : frame->length;
    return (extended ? 67u : 47u) + UINT64_C(8) * bytes;
}

static void flow_feed(struct flow *flow, const struct bl_frame *frame)
{
    const int64_t time = frame->time_ns;
    if (flow->seen && flow->part == frame->part) {
        const int64_t step = time - flow->last_ns;
        if (step > BL_SURVEY_JUMP_NS) {
            flow->jumps++;
        } else {
            flow->span_ns += step;
            if (step > flow->longest_gap_ns) {
                flow->longest_gap_ns = step;
                flow->longest_gap_at_ns = flow->last_ns;
            }
        }
    }
    if (!flow->seen || flow->part != frame->part || time < flow->second_ns ||
        time - flow->second_ns >= SECOND_NS) {
        flow->second_ns = time - time % SECOND_NS;
        flow->second_bits = 0;
    }
    const uint64_t bits = frame_bits(frame);
    flow->bits += bits;
    flow->second_bits += bits;
    if (flow->second_bits > flow->peak_bits) {
        flow->peak_bits = flow->second_bits;
    }
    flow->seen = true;
    flow->last_ns = time;
    flow->part = frame->part;
}

/* Frames of one bus that stand together; the figures stay in registers. */
static void flow_feed_all(struct flow *flow, const struct bl_frame *frame,
                          size_t count)
{
    for (size_t i = 0; i < count;) {
        const uint16_t bus = frame[i].bus;
        if (bus >= BL_BUS_MAX) {
            i++;
            continue;
        }
        struct flow one = flow[bus];
        for (; i < count && frame[i].bus == bus; i++) {
            flow_feed(&one, &frame[i]);
        }
        flow[bus] = one;
    }
}

static enum bl_status take_info(struct bl_survey_file *file,
                                const struct bl_bus_info *info,
                                const struct flow *flow, struct bl_error *error)
{
    file->format = info->format;
    file->frames = info->frames;
    file->late = info->late_sorted;
    file->strays = info->strays;
    file->other_packets = info->other_packets;
    file->splits = info->undone_splits;
    for (size_t i = 0; info->times != NULL && i < info->times->places; i++) {
        if (bl_time_places_add(&file->times, &info->times->place[i]) != BL_OK) {
            return bl_fail_memory(error);
        }
    }
    file->damages += info->after_damage;
    file->resolution_ns = info->resolution_ns;
    file->untimed = info->untimed;
    file->bus = bl_alloc(info->buses, sizeof(*file->bus));
    if (file->bus == NULL ||
        bl_notes_append(&file->notes, &info->notes) != BL_OK) {
        return bl_fail_memory(error);
    }
    file->buses = info->buses;
    bool any = false;
    for (size_t i = 0; i < info->buses; i++) {
        struct bl_survey_bus *bus = &file->bus[i];
        const struct bl_bus_stats *stats = &info->bus[i];
        memcpy(bus->name, stats->name, sizeof(bus->name));
        memcpy(bus->frames, stats->frames, sizeof(bus->frames));
        bus->first_ns = stats->first_ns;
        bus->last_ns = stats->last_ns;
        if (i >= BL_BUS_MAX || !flow[i].seen) {
            continue;
        }
        if (!any || stats->first_ns < file->first_ns) {
            file->first_ns = stats->first_ns;
        }
        if (!any || stats->last_ns > file->last_ns) {
            file->last_ns = stats->last_ns;
        }
        any = true;
        if (info->untimed) {
            bus->mean_bit_s = bus->peak_bit_s = NAN;
            continue;
        }
        bus->longest_gap_ns = flow[i].longest_gap_ns;
        bus->longest_gap_at_ns = flow[i].longest_gap_at_ns;
        bus->peak_bit_s = (double)flow[i].peak_bits;
        if (flow[i].span_ns > 0) {
            bus->mean_bit_s =
                (double)flow[i].bits / ((double)flow[i].span_ns * 1e-9);
        }
        for (uint64_t k = 0; k < flow[i].jumps; k++) {
            if (bl_note(&file->notes, "time-jumps", -1, -1,
                        "time jumps ahead by more than an hour: a pause or a "
                        "wrong clock, which no silence, interval or rate "
                        "spans") != BL_OK) {
                return bl_fail_memory(error);
            }
        }
    }
    /* Stamps before 1990 count from the recorder's start, not from 1970. */
    file->absolute_time = file->first_ns > 631152000 * SECOND_NS;
    return BL_OK;
}

/* Frames of a batch whose times can be reckoned with: nearly always all. */
static enum bl_status feed(struct bl_survey_ids *ids, struct flow *flow,
                           const struct bl_frame *batch, size_t count,
                           uint64_t *impossible, struct bl_error *error)
{
    enum bl_status status = BL_OK;
    for (size_t i = 0; i < count && status == BL_OK;) {
        size_t end = i;
        while (end < count && bl_survey_reckoned(batch[end].time_ns)) {
            end++;
        }
        if (end == i) {
            (*impossible)++;
            i++;
            continue;
        }
        flow_feed_all(flow, batch + i, end - i);
        status = bl_survey_ids_feed(ids, batch + i, end - i, error);
        i = end;
    }
    return status;
}

static enum bl_status read_frames(struct bl_survey_file *file,
                                  struct bl_bus_reader *reader,
                                  struct bl_survey_ids *ids, struct flow *flow,
                                  uint64_t *impossible, struct bl_error *error)
{
    for (;;) {
        const struct bl_frame *batch = NULL;
        size_t count = 0;
        struct bl_error failure;
        bl_error_clear(&failure);
        enum bl_status status = bl_bus_next(reader, &batch, &count, &failure);
        if (status != BL_OK) {
            return bl_survey_keep(file, status, &failure, error);
        }
        if (count == 0) {
            return BL_OK;
        }
        bl_survey_ids_resolution(ids, bl_bus_info(reader)->resolution_ns);
        for (size_t i = 0; i < count; i++) {
            file->damages += (batch[i].flags & BL_FRAME_AFTER_DAMAGE) != 0;
        }
        status = feed(ids, flow, batch, count, impossible, error);
        if (status != BL_OK) {
            return status;
        }
    }
}

enum bl_status bl_survey_read_bus(struct bl_survey_file *file,
                                  const struct bl_tables *tables,
                                  struct bl_bytes *source,
                                  const struct bl_bus_options *options,
                                  struct bl_error *error)
{
    struct bl_bus_reader *reader = NULL;
    struct bl_survey_ids *ids = NULL;
    struct bl_survey_talk *talk = NULL;
    struct flow *flow = bl_alloc(BL_BUS_MAX, sizeof(*flow));
    enum bl_status status = BL_OK;
    if (flow == NULL) {
        return bl_fail_memory(error);
    }
    status = bl_bus_open(&reader, source, options, error);
    if (status != BL_OK) {
        goto out;
    }
    status = bl_survey_talk_create(&talk, file, tables, error);
    if (status != BL_OK) {
        goto out;
    }
    status = bl_survey_ids_create(&ids, file, tables, talk, error);
    if (status != BL_OK) {
        goto out;
    }
    uint64_t impossible = 0;
    status = read_frames(file, reader, ids, flow, &impossible, error);
    if (status != BL_OK) {
        goto out;
    }
    if (bl_survey_ids_finish(ids) != BL_OK) {
        status = bl_fail_memory(error);
        goto out;
    }
    bl_survey_talk_finish(talk);
    status = take_info(file, bl_bus_info(reader), flow, error);
    if (status == BL_OK && !file->untimed &&
        bl_survey_ids_times(ids) != BL_OK) {
        status = bl_fail_memory(error);
    }
    if (status == BL_OK &&
        bl_survey_note_times(file, impossible, "frames") != BL_OK) {
        status = bl_fail_memory(error);
    }
out:
    bl_survey_talk_destroy(talk);
    bl_survey_ids_destroy(ids);
    bl_bus_close(reader);
    bl_free(flow);
    return status;
}
