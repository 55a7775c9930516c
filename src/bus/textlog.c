/* SPDX-License-Identifier: MIT */
/*
 * The timestamped text recording (textline.h says what a line holds). A line
 * that is none is counted and skipped: the lines around it still stand.
 */
#include "bus/format.h"
#include "bus/textline.h"

#include "base/alloc.h"
#include "io/lines.h"

#include <string.h>

enum { PROBE_LINES = 20, NANO_DIGITS = 9, SHOWN_BYTES = 60 };

struct text_reader {
    struct bl_bus_context *context;
    struct bl_lines lines;
    unsigned fraction_digits; /* the most that a line had */
    /* Most lines begin as the one before. */
    struct bl_textline_before before;
    uint16_t bus_index; /* of its bus */
};

/* End of the line that starts at `data`; `size` when it has none. */
static size_t line_end(const uint8_t *data, size_t size)
{
    size_t end = 0;
    while (end < size && data[end] != '\n' && data[end] != '\r') {
        end++;
    }
    return end;
}

static size_t skip_mark(const uint8_t *data, size_t size)
{
    return size >= 3 && memcmp(data, "\xEF\xBB\xBF", 3) == 0 ? 3 : 0;
}

/* Broken when the first line begins as one of ours, but none is whole. */
static enum bl_bus_answer no_line(const uint8_t *first, size_t size,
                                  struct bl_error *why)
{
    struct bl_frame frame;
    struct bl_textline line;
    const size_t end = line_end(first, size);
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
    size_t at = skip_mark(data, size);
    for (int i = 0; i < PROBE_LINES && at < size; i++) {
        const size_t end = at + line_end(data + at, size - at);
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
    const size_t first = skip_mark(data, size);
    return no_line(data + first, size - first, why);
}

static enum bl_status open_reader(void **out, struct bl_bus_context *context,
                                  struct bl_error *error)
{
    struct text_reader *reader = bl_alloc(1, sizeof(*reader));
    if (reader == NULL) {
        return bl_fail_memory(error);
    }
    reader->context = context;
    bl_lines_start(&reader->lines, context->source, true);
    *out = reader;
    return BL_OK;
}

static void note_resolution(struct text_reader *reader, unsigned digits)
{
    if (digits <= reader->fraction_digits &&
        reader->context->info.resolution_ns > 0) {
        return;
    }
    reader->fraction_digits = digits;
    int64_t resolution_ns = 1;
    for (unsigned i = digits; i < NANO_DIGITS; i++) {
        resolution_ns *= 10;
    }
    reader->context->info.resolution_ns = resolution_ns;
}

/* Text of a line for a message: printable, cut. */
static void show(const struct bl_line *line, char text[SHOWN_BYTES + 1])
{
    size_t length = line->length < SHOWN_BYTES ? line->length : SHOWN_BYTES;
    for (size_t i = 0; i < length; i++) {
        const char c = line->text[i];
        text[i] = c >= ' ' && c < 0x7F ? c : '?';
    }
    text[length] = '\0';
}

static enum bl_status note_bad(struct text_reader *reader,
                               const struct bl_line *line,
                               const struct bl_textline *parts)
{
    struct bl_notes *notes = &reader->context->info.notes;
    if (!line->ended) {
        return bl_note(notes, "cut-last-record", line->number, line->offset,
                       "the last line is cut: expected %s, found the end",
                       parts->expected);
    }
    char shown[SHOWN_BYTES + 1];
    show(line, shown);
    reader->context->info.after_damage = true;
    return bl_note(notes, "bad-line", line->number, line->offset,
                   "column %zu: expected %s, found '%s'; line skipped",
                   parts->at + 1, parts->expected, shown);
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
        reader->context, parts->bus, parts->bus_length, 0, bus, error);
    if (status == BL_OK &&
        bl_textline_keep_bus(&reader->before, parts->bus, parts->bus_length)) {
        reader->bus_index = *bus;
    }
    return status;
}

static enum bl_status read_line(struct text_reader *reader,
                                const struct bl_line *line,
                                struct bl_frame *frame, bool *taken,
                                struct bl_error *error)
{
    struct bl_bus_context *context = reader->context;
    struct bl_textline parts;
    *taken = false;
    switch (bl_textline_parse(line->text, line->length, frame, &parts)) {
    case BL_TEXTLINE_BLANK:
        return BL_OK;
    case BL_TEXTLINE_COMMENT:
        return bl_note(&context->info.notes, "comment-lines", line->number,
                       line->offset,
                       "lines that begin with # are comments and say nothing");
    case BL_TEXTLINE_XL:
        context->info.other_packets++;
        return bl_note(&context->info.notes, "can-xl", line->number,
                       line->offset,
                       "CAN XL frames are counted as other packets");
    case BL_TEXTLINE_BAD:
        return note_bad(reader, line, &parts);
    case BL_TEXTLINE_FRAME:
        break;
    }
    if (!line->ended) {
        const enum bl_status status =
            bl_note(&context->info.notes, "last-line-without-end", line->number,
                    line->offset, "the last line has no end: it may be cut");
        if (status != BL_OK) {
            return status;
        }
    }
    note_resolution(reader, parts.fraction_digits);
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
    if (reader->before.bus_length == 0 || reader->lines.at_start ||
        reader->lines.skip_lf ||
        bl_bytes_window(reader->context->source, BL_TEXTLINE_PLAIN, &data,
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
        note_resolution(reader, digits);
        frame[(*count)++].bus = reader->bus_index;
        at = next;
    }
    (void)bl_bus_taken(reader->context, frame + first, *count > first);
    reader->lines.number += (int64_t)(*count - first);
    bl_bytes_take(reader->context->source, (size_t)(at - (const char *)data));
}

static enum bl_status next(void *state, struct bl_frame *frame, size_t room,
                           size_t *count, struct bl_error *error)
{
    struct text_reader *reader = state;
    *count = 0;
    while (*count < room) {
        read_plain(reader, frame, room, count);
        if (*count == room) {
            break;
        }
        struct bl_line line;
        enum bl_status status = bl_lines_next(&reader->lines, &line, error);
        bool taken = false;
        if (status == BL_LIMIT) {
            reader->context->info.after_damage = true;
            status = bl_note(&reader->context->info.notes, "bad-line",
                             reader->lines.number, -1,
                             "expected a frame, found a line that is too "
                             "long; line skipped");
        } else if (status == BL_OK) {
            if (line.text == NULL) {
                return BL_OK;
            }
            status = read_line(reader, &line, frame + *count, &taken, error);
        }
        if (status != BL_OK) {
            reader->context->info.after_damage = true;
            return status;
        }
        *count += bl_bus_taken(reader->context, frame + *count, taken);
    }
    return BL_OK;
}

static void close_reader(void *state)
{
    bl_free(state);
}

const struct bl_bus_format bl_format_textlog = {
    .name = "textlog",
    .called = "timestamped text",
    .probe = probe,
    .open = open_reader,
    .next = next,
    .close = close_reader,
};
