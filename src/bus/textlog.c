/* SPDX-License-Identifier: MIT */
/*
 * The timestamped text recording (textline.h says what a line holds). A line
 * that is not a frame is counted and skipped: the lines around it still stand.
 */
#include "bus/textline.h"
#include "bus/textread.h"

#include <string.h>

enum { PROBE_LINES = 20 };

struct text_reader {
    struct bl_textread text;
    /* Most lines begin as the one before. */
    struct bl_textline_before before;
    uint16_t bus_index; /* of its bus */
};

/* Broken when the first line begins as one of ours, but none is whole. */
static enum bl_bus_answer no_line(const uint8_t *first, size_t size,
                                  struct bl_error *why)
{
    struct bl_frame frame;
    struct bl_textline line;
    const size_t end = bl_textread_end(first, size);
    if (end < 2 || first[0] != '(' || first[1] < '0' || first[1] > '9' ||
        bl_textline_parse((const char *)first, end, &frame, &line) !=
            BL_TEXTLINE_BAD ||
        line.at < 2) {
        return BL_BUS_NOT_MINE;
    }
    (void)bl_fail_offset(why, BL_FORMAT, NULL, (int64_t)line.at,
                         "a text recording, but no whole line in the first "
                         "%d: expected %s",
                         PROBE_LINES, line.expected);
    return BL_BUS_BROKEN;
}

static enum bl_bus_answer probe(const uint8_t *data, size_t size, bool all,
                                struct bl_error *why)
{
    size_t at = bl_textread_mark(data, size);
    for (int i = 0; i < PROBE_LINES && at < size; i++) {
        const size_t end = at + bl_textread_end(data + at, size - at);
        if (end == size && !all) {
            break;
        }
        struct bl_frame frame;
        struct bl_textline line;
        const enum bl_textline_kind kind =
            bl_textline_parse((const char *)data + at, end - at, &frame, &line);
        if (kind == BL_TEXTLINE_FRAME || kind == BL_TEXTLINE_XL) {
            return BL_BUS_MINE;
        }
        i -= kind == BL_TEXTLINE_COMMENT; /* as many as there are */
        at = end + 1;
    }
    if (!all) {
        return BL_BUS_NEED_MORE;
    }
    const size_t first = bl_textread_mark(data, size);
    return no_line(data + first, size - first, why);
}

static enum bl_status find_bus(struct text_reader *reader,
                               const struct bl_textline *parts, uint16_t *bus,
                               struct bl_error *error)
{
    if (reader->before.bus_length == parts->bus_length &&
        memcmp(reader->before.bus, parts->bus, parts->bus_length) == 0) {
        *bus = reader->bus_index;
        return BL_OK;
    }
    const enum bl_status status = bl_bus_index(
        reader->text.context, parts->bus, parts->bus_length, 0, bus, error);
    if (status == BL_OK &&
        bl_textline_keep_bus(&reader->before, parts->bus, parts->bus_length)) {
        reader->bus_index = *bus;
    }
    return status;
}

static enum bl_status read_line(void *state, const struct bl_text_line *line,
                                struct bl_frame *frame, bool *taken,
                                struct bl_error *error)
{
    struct text_reader *reader = state;
    struct bl_bus_context *context = reader->text.context;
    struct bl_textline parts;
    switch (bl_textline_parse(line->text, line->length, frame, &parts)) {
    case BL_TEXTLINE_BLANK:
        return BL_OK;
    case BL_TEXTLINE_COMMENT:
        return bl_textread_comment(&reader->text, line);
    case BL_TEXTLINE_XL:
        context->info.other_packets++;
        (void)bl_textread_time(&reader->text, &frame->time_ns);
        return bl_note(&context->info.notes, "can-xl", line->number,
                       line->offset,
                       "CAN XL frames are counted as other packets");
    case BL_TEXTLINE_BAD:
        return bl_textread_bad(&reader->text, line, parts.expected, parts.at,
                               error);
    case BL_TEXTLINE_FRAME:
        break;
    }
    if (!bl_textread_time(&reader->text, &frame->time_ns)) {
        return bl_textread_bad(&reader->text, line, "a time in range", 0,
                               error);
    }
    if (bl_textread_unended(&reader->text, line) != BL_OK) {
        return BL_NOMEM;
    }
    bl_textread_resolution(&reader->text, parts.fraction_digits);
    *taken = true;
    return find_bus(reader, &parts, &frame->bus, error);
}

/* Plain lines at hand, from the bus of the line before; the first other one is
   left to read_line. */
static void read_plain(struct text_reader *reader, struct bl_frame *frame,
                       size_t room, size_t *count)
{
    const uint8_t *data;
    size_t size;
    struct bl_error error;
    if (reader->before.bus_length == 0 || reader->text.deltas ||
        reader->text.lines.at_start || reader->text.lines.skip_lf ||
        bl_bytes_window(reader->text.context->source, BL_TEXTLINE_PLAIN, &data,
                        &size, &error) != BL_OK) {
        return; /* a failure shows again when the line is read */
    }
    const char *at = (const char *)data;
    const char *const end = at + size;
    const size_t first = *count;
    while (*count < room && end - at >= BL_TEXTLINE_PLAIN) {
        unsigned digits;
        const char *next =
            bl_textline_plain(at, &reader->before, frame + *count, &digits);
        if (next == NULL) {
            break;
        }
        bl_textread_resolution(&reader->text, digits);
        frame[(*count)++].bus = reader->bus_index;
        at = next;
    }
    (void)bl_bus_taken(reader->text.context, frame + first, *count > first);
    reader->text.lines.number += (int64_t)(*count - first);
    bl_bytes_take(reader->text.context->source,
                  (size_t)(at - (const char *)data));
}

static enum bl_status next(void *state, struct bl_frame *frame, size_t room,
                           size_t *count, struct bl_error *error)
{
    struct text_reader *reader = state;
    *count = 0;
    while (*count < room && !reader->text.ended) {
        read_plain(reader, frame, room, count);
        if (*count == room) {
            break;
        }
        const enum bl_status status =
            bl_textread_one(&reader->text, frame + *count, count, error);
        if (status != BL_OK) {
            return status;
        }
    }
    return BL_OK;
}

static enum bl_status open_reader(void **out, struct bl_bus_context *context,
                                  struct bl_error *error)
{
    static const struct bl_textread_ways ways = {sizeof(struct text_reader),
                                                 bl_textread_decide, read_line};
    return bl_textread_open(out, &ways, context, error);
}

const struct bl_bus_format bl_format_textlog = {
    .name = "textlog",
    .called = "timestamped text",
    .probe = probe,
    .open = open_reader,
    .next = next,
    .close = bl_textread_close,
};
