/* SPDX-License-Identifier: MIT */
/*
 * Text as a terminal shows frames (termline.h says what a line holds). Where
 * the first frame has no stamp, none is expected: order is all there is.
 */
#include "bus/termline.h"
#include "bus/textread.h"

enum { PROBE_LINES = 40 };

struct terminal_reader {
    struct bl_textread text;
    bool begun;
    enum bl_termline_stamp stamp; /* of the first frame */
    uint64_t frames;
};

/* Broken when a line looks like one of ours, and none is whole. */
static enum bl_bus_answer no_line(const struct bl_termline *nearly,
                                  struct bl_error *why)
{
    if (!nearly->brackets) {
        return BL_BUS_NOT_MINE;
    }
    (void)bl_fail(why, BL_FORMAT, NULL,
                  "text as a terminal shows frames, but no whole line in the "
                  "first %d: expected %s",
                  PROBE_LINES, nearly->part.expected);
    return BL_BUS_BROKEN;
}

/* Behind the identifier only: another program's line may have brackets too. */
static bool is_near(const struct bl_termline *line)
{
    return line->brackets && line->part.bus_length > 0 &&
           line->part.at > line->part.bus_length + 5;
}

static enum bl_bus_answer probe(const uint8_t *data, size_t size, bool all,
                                struct bl_error *why)
{
    struct bl_termline nearly = {0};
    size_t at = bl_textread_mark(data, size);
    for (int i = 0; i < PROBE_LINES && at < size; i++) {
        const size_t end = at + bl_textread_end(data + at, size - at);
        if (end == size && !all) {
            return BL_BUS_NEED_MORE;
        }
        struct bl_frame frame;
        struct bl_termline line;
        const enum bl_textline_kind kind =
            bl_termline_parse((const char *)data + at, end - at, &frame, &line);
        if (kind == BL_TEXTLINE_FRAME) {
            return BL_BUS_MINE;
        }
        if (kind == BL_TEXTLINE_BAD && is_near(&line)) {
            nearly = line;
        }
        i -= kind == BL_TEXTLINE_COMMENT; /* as many as there are */
        at = end + 1;
    }
    return all ? no_line(&nearly, why) : BL_BUS_NEED_MORE;
}

/* What the first frame shows of all stamps. */
static enum bl_status begin(struct terminal_reader *reader,
                            const struct bl_termline *line)
{
    struct bl_bus_info *info = &reader->text.context->info;
    reader->begun = true;
    reader->stamp = line->stamp;
    if (line->stamp == BL_TERMLINE_NONE) {
        return bl_textread_untimed(&reader->text);
    }
    return line->stamp != BL_TERMLINE_DATE
               ? BL_OK
               : bl_note(&info->notes, "date-stamps", -1, -1,
                         "the stamps are dates without a time zone: they are "
                         "taken as UTC");
}

static void set_time(struct terminal_reader *reader,
                     const struct bl_termline *line, struct bl_frame *frame)
{
    struct bl_bus_info *info = &reader->text.context->info;
    switch (line->stamp) {
    case BL_TERMLINE_NONE:
        frame->time_ns = (int64_t)reader->frames;
        break;
    case BL_TERMLINE_SECONDS:
        bl_textread_resolution(&reader->text, line->part.fraction_digits);
        break;
    case BL_TERMLINE_DATE:
        if (info->resolution_ns == 0 ||
            line->resolution_ns < info->resolution_ns) {
            info->resolution_ns = line->resolution_ns;
        }
        break;
    }
}

static const char *expected_stamp(enum bl_termline_stamp stamp)
{
    return stamp == BL_TERMLINE_NONE      ? "no stamp, as before"
           : stamp == BL_TERMLINE_SECONDS ? "'(' and the time in seconds"
                                          : "'(' and a date with time of day";
}

static enum bl_status read_line(void *state, const struct bl_text_line *line,
                                struct bl_frame *frame, bool *taken,
                                struct bl_error *error)
{
    struct terminal_reader *reader = state;
    struct bl_textread *text = &reader->text;
    struct bl_termline parts;
    switch (bl_termline_parse(line->text, line->length, frame, &parts)) {
    case BL_TEXTLINE_BLANK:
        return BL_OK;
    case BL_TEXTLINE_COMMENT:
        return bl_textread_comment(text, line);
    case BL_TEXTLINE_XL:
        text->context->info.other_packets++;
        (void)bl_textread_time(text, &frame->time_ns);
        return bl_note(&text->context->info.notes, "can-xl", line->number,
                       line->offset,
                       "CAN XL frames are counted as other packets");
    case BL_TEXTLINE_BAD:
        return bl_textread_bad(text, line, parts.part.expected, parts.part.at,
                               error);
    case BL_TEXTLINE_FRAME:
        break;
    }
    if (!reader->begun && begin(reader, &parts) != BL_OK) {
        return bl_fail_memory(error);
    }
    if (parts.stamp != reader->stamp) {
        return bl_textread_bad(text, line, expected_stamp(reader->stamp), 0,
                               error);
    }
    if (!bl_textread_time(text, &frame->time_ns)) {
        return bl_textread_bad(text, line, "a time in range", 0, error);
    }
    if (bl_textread_unended(text, line) != BL_OK) {
        return bl_fail_memory(error);
    }
    set_time(reader, &parts, frame);
    reader->frames++;
    *taken = true;
    return bl_bus_index(text->context, parts.part.bus, parts.part.bus_length, 0,
                        &frame->bus, error);
}

static enum bl_status open_reader(void **out, struct bl_bus_context *context,
                                  struct bl_error *error)
{
    static const struct bl_textread_ways ways = {sizeof(struct terminal_reader),
                                                 bl_textread_decide, read_line};
    return bl_textread_open(out, &ways, context, error);
}

const struct bl_bus_format bl_format_terminal = {
    .name = "terminal",
    .called = "terminal text",
    .probe = probe,
    .open = open_reader,
    .next = bl_textread_next,
    .close = bl_textread_close,
};
