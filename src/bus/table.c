/* SPDX-License-Identifier: MIT */
/*
 * Tables of frames, a row each (tablehead.h). A row that is not a frame is
 * counted and skipped; comment lines begin with #. Without a column of times,
 * order is all there is.
 */
#include "bus/tablehead.h"
#include "bus/textread.h"

struct table_reader {
    struct bl_textread text;
    struct bl_frametable_form form;
    struct bl_frametable_row row;
    uint64_t frames;
};

static enum bl_bus_answer probe(const uint8_t *data, size_t size, bool all,
                                struct bl_error *why)
{
    struct bl_frametable_form form;
    return bl_frametable_decide(&form, data, size, all, why);
}

/* What was decided and can be wrong. */
static enum bl_status say_form(struct table_reader *reader)
{
    const struct bl_frametable_form *form = &reader->form;
    struct bl_notes *notes = &reader->text.context->info.notes;
    if (form->time_form == LOG_FORM_UNKNOWN) {
        return bl_textread_untimed(&reader->text);
    }
    if (form->deltas && bl_textread_deltas(&reader->text) != BL_OK) {
        return BL_NOMEM;
    }
    if (form->time_form == LOG_FORM_ISO) {
        return bl_note(notes, "date-stamps", -1, -1,
                       "the stamps are dates: without a time zone they are "
                       "taken as UTC");
    }
    return !form->unit_guessed
               ? BL_OK
               : bl_note(notes, "time-unit-guessed", -1, -1,
                         "the time column states no unit: read as %s, in which "
                         "its rows make a possible number of frames a second",
                         bl_log_form_name(form->time_form));
}

static enum bl_status decide(void *state, struct bl_error *error)
{
    struct table_reader *reader = state;
    struct bl_bytes *source = reader->text.context->source;
    const uint8_t *data;
    size_t size;
    struct bl_error why;
    bl_error_clear(&why);
    const enum bl_status status =
        bl_bytes_peek(source, BL_PEEK_MAX, &data, &size, error);
    if (status != BL_OK) {
        return status;
    }
    if (bl_frametable_decide(&reader->form, data, size, true, &why) !=
        BL_BUS_MINE) {
        return bl_fail(error, BL_FORMAT, bl_bytes_name(source), "%s",
                       why.status == BL_OK ? "expected a table of frames"
                                           : why.message);
    }
    return say_form(reader) == BL_OK ? BL_OK : bl_fail_memory(error);
}

static void note_resolution(struct table_reader *reader)
{
    int64_t *known_ns = &reader->text.context->info.resolution_ns;
    const int64_t seen_ns = reader->row.resolution_ns;
    if (seen_ns > 0 && (*known_ns == 0 || seen_ns < *known_ns)) {
        *known_ns = seen_ns;
    }
}

/* A row that is not a frame takes its time all the same. */
static enum bl_status read_bad(struct table_reader *reader,
                               const struct bl_text_line *line,
                               struct bl_frame *frame, struct bl_error *error)
{
    struct bl_textread *text = &reader->text;
    const bool timed = reader->row.at != reader->form.at[BL_FRAMETABLE_TIME];
    if (text->deltas && line->ended &&
        !(timed && bl_textread_time(text, &frame->time_ns))) {
        return bl_textread_lost(text, line, error);
    }
    if (!line->ended) {
        return bl_textread_bad(text, line, reader->row.expected, 0, error);
    }
    text->context->info.after_damage = true;
    return bl_note(&text->context->info.notes, "bad-line", line->number,
                   line->offset, "expected %s in column %zu; row skipped",
                   reader->row.expected, reader->row.at + 1);
}

static enum bl_status read_row(void *state, const struct bl_text_line *line,
                               struct bl_frame *frame, bool *taken,
                               struct bl_error *error)
{
    struct table_reader *reader = state;
    struct bl_textread *text = &reader->text;
    if (line->length == 0 || line->number <= (int64_t)reader->form.head_lines) {
        return BL_OK;
    }
    if (line->text[0] == '#') {
        return bl_textread_comment(text, line);
    }
    if (!bl_frametable_row(&reader->row, &reader->form, line->text,
                           line->length, frame)) {
        return read_bad(reader, line, frame, error);
    }
    if (!bl_textread_time(text, &frame->time_ns)) {
        return bl_textread_lost(text, line, error);
    }
    if (bl_textread_unended(text, line) != BL_OK) {
        return bl_fail_memory(error);
    }
    if (reader->form.time_form == LOG_FORM_UNKNOWN) {
        frame->time_ns = (int64_t)reader->frames;
    }
    note_resolution(reader);
    reader->frames++;
    *taken = true;
    const struct bl_frametable_cell bus =
        bl_frametable_cell(&reader->row, &reader->form, BL_FRAMETABLE_BUS);
    return bl_bus_index(text->context, bus.text, bus.length, 0, &frame->bus,
                        error);
}

static enum bl_status open_reader(void **out, struct bl_bus_context *context,
                                  struct bl_error *error)
{
    static const struct bl_textread_ways ways = {sizeof(struct table_reader),
                                                 decide, read_row};
    return bl_textread_open(out, &ways, context, error);
}

const struct bl_bus_format bl_format_table = {
    .name = "table",
    .called = "frame table",
    .probe = probe,
    .open = open_reader,
    .next = bl_textread_next,
    .close = bl_textread_close,
};
