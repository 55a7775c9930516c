/* SPDX-License-Identifier: MIT */
/* One line of the table to one row of values; what is wrong with it, counted
   and named. */
#include "log/form.h"
#include "log/reader.h"

#include "base/number.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { EXCERPT = 48, STRAY_ROWS = 16 };

static const char *excerpt(const char *text, size_t length, char *out)
{
    return bl_log_clean(text, length, out, EXCERPT);
}

/* "column 2 'P'", "row 2". */
static const char *place(const struct bl_log_reader *reader, size_t channel,
                         char *out, size_t size)
{
    const struct bl_log_column *column = &reader->info.column[channel];
    const char *kind = reader->dialect.transposed ? "row" : "column";
    char name[EXCERPT];
    if (column->name[0] == '\0') {
        (void)snprintf(out, size, "%s %zu", kind, column->index + 1);
    } else {
        (void)snprintf(out, size, "%s %zu '%s'", kind, column->index + 1,
                       excerpt(column->name, strlen(column->name), name));
    }
    return out;
}

static unsigned places_of(const struct bl_log_reader *reader, size_t channel)
{
    return reader->places == NULL
               ? 0
               : reader->places[reader->info.column[channel].index];
}

/* A number under the other decimal sign; else it has signs of thousands that
   the rest of the file has not. */
static bool is_other_decimal(const struct log_cell *cell, char decimal)
{
    double value;
    size_t used;
    return bl_log_looks_number(cell->text, cell->length) &&
           bl_number_scan(cell->text, cell->length, decimal == ',' ? '.' : ',',
                          &value, &used) &&
           used == cell->length;
}

enum bl_status bl_log_note_text(struct bl_log_reader *reader,
                                const struct log_cell *cell, size_t channel,
                                int64_t line)
{
    struct bl_notes *notes = &reader->info.notes;
    const char decimal = reader->dialect.decimal;
    char text[EXCERPT];
    char where[2 * EXCERPT];
    place(reader, channel, where, sizeof(where));
    if (memchr(cell->text, '\0', cell->length) != NULL) {
        return bl_note(notes, "nul-bytes", line, -1,
                       "expected a number in %s, found NUL bytes", where);
    }
    excerpt(cell->text, cell->length, text);
    if (bl_log_cut_short(cell, decimal, places_of(reader, channel))) {
        return bl_note(notes, "cut-cell", line, -1,
                       "expected %u decimals in %s, as in the other rows, "
                       "found '%s'",
                       places_of(reader, channel), where, text);
    }
    if (is_other_decimal(cell, decimal)) {
        return bl_note(notes, "other-decimal-sign", line, -1,
                       "expected '%c' as decimal sign in %s, found '%s'",
                       decimal, where, text);
    }
    if (bl_log_looks_number(cell->text, cell->length)) {
        return bl_note(notes, "odd-separator", line, -1,
                       "expected a number in %s without such separators, as in "
                       "the other rows, found '%s'",
                       where, text);
    }
    return bl_note(notes, "not-a-number", line, -1,
                   "expected a number in %s, found '%s'", where, text);
}

static enum log_row bad_row(struct bl_log_reader *reader, enum bl_status status)
{
    reader->info.bad_rows++;
    reader->info.after_damage = true;
    reader->index++; /* it had its time all the same */
    return status == BL_OK ? LOG_ROW_SKIPPED : LOG_ROW_FAILED;
}

/* The end of the log, not damage within it. */
static enum log_row cut_row(struct bl_log_reader *reader, enum bl_status status)
{
    reader->info.bad_rows++;
    return status == BL_OK ? LOG_ROW_SKIPPED : LOG_ROW_FAILED;
}

static bool same_line(const struct bl_log_reader *reader, int64_t row,
                      const struct log_line *line)
{
    if (row < 1 || (size_t)row > reader->head.count) {
        return false;
    }
    const struct log_line header =
        bl_log_head_line(&reader->head, (size_t)row - 1);
    return header.length == line->length && line->length > 0 &&
           memcmp(header.text, line->text, line->length) == 0;
}

/* Any line above the data, again: also of a file that was appended whole. */
static bool is_header(const struct bl_log_reader *reader,
                      const struct log_line *line)
{
    static const char mark[] = "\xEF\xBB\xBF";
    struct log_line bare = *line;
    if (bare.length > 3 && memcmp(bare.text, mark, 3) == 0) {
        bare.text += 3;
        bare.length -= 3;
    }
    for (int64_t row = 1; row < reader->dialect.first_row; row++) {
        if (same_line(reader, row, &bare)) {
            return true;
        }
    }
    return false;
}

/* A row whose time cannot be read: perhaps the header again. */
static enum log_row no_time(struct bl_log_reader *reader,
                            const struct log_line *line,
                            const struct log_cell *time, bool has_time)
{
    const struct log_dialect *d = &reader->dialect;
    struct bl_notes *notes = &reader->info.notes;
    char text[EXCERPT];
    if (is_header(reader, line)) {
        return bl_note(notes, "repeated-header", line->number, -1,
                       "the header is repeated inside the data; skipped") ==
                       BL_OK
                   ? LOG_ROW_SKIPPED
                   : LOG_ROW_FAILED;
    }
    if (!line->ended) {
        return cut_row(reader, bl_note(notes, "cut-last-row", line->number, -1,
                                       "the last row is cut; left out"));
    }
    if (memchr(line->text, '\0', line->length) != NULL) {
        return bad_row(reader, bl_note(notes, "nul-bytes", line->number, -1,
                                       "expected a row of data, found NUL "
                                       "bytes; row left out"));
    }
    excerpt(has_time ? time->text : line->text,
            has_time ? time->length : line->length, text);
    return bad_row(reader,
                   bl_note(notes, "bad-row", line->number, -1,
                           "expected a time in column %lld, found '%s'; row "
                           "left out",
                           (long long)d->time_column + 1, text));
}

struct cells {
    struct log_cell time, date;
    bool has_time, has_date, unbalanced, trailing, extra, any;
    size_t count;
};

static void take_value(struct bl_log_reader *reader, size_t channel,
                       const struct log_cell *cell)
{
    const struct log_dialect *d = &reader->dialect;
    struct log_channel *to = &reader->channel[channel];
    double *value = &to->values[reader->count];
    const unsigned places = places_of(reader, channel);
    to->kind = bl_log_value(cell, d->decimal, value);
    if ((to->kind == LOG_GROUPED && !bl_log_group_fits(d, cell, places)) ||
        (to->kind == LOG_NUMBER &&
         bl_log_cut_short(cell, d->decimal, places))) {
        to->kind = LOG_TEXT;
        *value = NAN;
    }
}

/*
 * A bare number up to the next delimiter or the end, in one pass; the cursor
 * goes behind it. False: any other cell, and the cursor stays.
 */
static bool take_plain(struct bl_log_reader *reader, struct log_channel *to,
                       struct log_cursor *cursor, unsigned places)
{
    double value;
    const char *stop = bl_number_plain(cursor->at, cursor->end,
                                       reader->dialect.decimal, &value);
    if (stop == NULL || (stop < cursor->end && *stop != cursor->delimiter)) {
        return false;
    }
    const struct log_cell cell = {.text = cursor->at,
                                  .length = (size_t)(stop - cursor->at)};
    if (places > 0 &&
        bl_log_cut_short(&cell, reader->dialect.decimal, places)) {
        return false;
    }
    to->values[reader->count] = value;
    to->kind = LOG_NUMBER;
    cursor->more = stop < cursor->end;
    cursor->at = cursor->more ? stop + 1 : stop;
    return true;
}

/* Read the cells of a line into place; text cells are noted by the caller. */
static struct cells read_cells(struct bl_log_reader *reader,
                               const struct log_line *line)
{
    const struct log_dialect *d = &reader->dialect;
    struct cells found = {0};
    struct log_cursor cursor;
    struct log_cell cell;
    bl_log_cursor_start(&cursor, line->text, line->length, d->delimiter);
    const bool single = d->delimiter != ' ' && d->delimiter != LOG_WIDE_BLANKS;
    for (size_t c = 0;; c++) {
        const int64_t at = c < d->columns ? reader->channel_of[c] : -1;
        if (single && at >= 0 && cursor.more && reader->channel[at].selected &&
            take_plain(reader, &reader->channel[at], &cursor,
                       reader->places[c])) {
            found.any = true;
            found.count = c + 1;
            continue;
        }
        if (!bl_log_cell_next(&cursor, &cell)) {
            break;
        }
        found.unbalanced = found.unbalanced || cell.unbalanced;
        found.trailing = found.trailing || cell.trailing;
        found.any = found.any || cell.length > 0;
        if (c >= d->columns) {
            found.extra = found.extra || cell.length > 0;
            continue;
        }
        found.count = c + 1;
        const int64_t channel = reader->channel_of[c];
        if (channel >= 0) {
            if (reader->channel[channel].selected) {
                take_value(reader, (size_t)channel, &cell);
            }
        } else if ((int64_t)c == d->time_column) {
            found.time = cell;
            found.has_time = true;
        } else {
            found.date = cell;
            found.has_date = true;
        }
    }
    return found;
}

/* "1.234.000": read, but it deserves a word. */
static bool is_grouped(const struct log_cell *time)
{
    size_t signs = 0;
    for (size_t i = 0; i < time->length; i++) {
        signs += time->text[i] == '.' || time->text[i] == ',';
    }
    return signs > 1;
}

/* Clocks start again at midnight; a jump back by less is another matter. A
   stamp that lost its first digits looks like midnight too, until the next
   ones are late in the day again. */
static void unwrap(struct bl_log_reader *reader, int64_t *time_ns)
{
    const struct log_dialect *d = &reader->dialect;
    const bool wraps = d->form == LOG_FORM_CLOCK ||
                       (d->form == LOG_FORM_DAY && (!d->absolute || d->dated));
    if (!wraps || d->date_column >= 0) {
        return;
    }
    const int64_t clock_ns = *time_ns;
    reader->rows_of_day++;
    if (reader->has_clock && reader->wrap_ns > 0 &&
        reader->rows_of_day <= STRAY_ROWS &&
        clock_ns - reader->last_clock_ns > LOG_DAY_NS / 2) {
        reader->wrap_ns -= LOG_DAY_NS;
        reader->rows_of_day = STRAY_ROWS;
    } else if (reader->has_clock &&
               reader->last_clock_ns - clock_ns > LOG_DAY_NS / 2 &&
               reader->wrap_ns < 1000 * LOG_DAY_NS) {
        reader->wrap_ns += LOG_DAY_NS;
        reader->rows_of_day = 0;
    }
    reader->last_clock_ns = clock_ns;
    reader->has_clock = true;
    *time_ns += reader->wrap_ns;
}

static bool row_time(struct bl_log_reader *reader, const struct cells *found,
                     int64_t *time_ns)
{
    const struct log_dialect *d = &reader->dialect;
    int64_t resolution;
    if (d->time_column < 0) {
        return bl_log_index_ns(reader->index, d->rate_hz, time_ns);
    }
    if (d->once && reader->has_base) {
        return bl_log_index_ns(reader->index, d->rate_hz, time_ns) &&
               (*time_ns += reader->base_ns, true);
    }
    if (!found->has_time || (d->date_column >= 0 && !found->has_date) ||
        bl_log_cut_short(&found->time, d->decimal,
                         reader->places[d->time_column]) ||
        !bl_log_stamp(d, &found->time,
                      d->date_column >= 0 ? &found->date : NULL, time_ns,
                      &resolution)) {
        return false;
    }
    if (d->once) {
        reader->base_ns = *time_ns;
        reader->has_base = true;
    }
    unwrap(reader, time_ns);
    return true;
}

/* Cells that the row does not have; NaN, counted as missing. */
static enum bl_status fill_short(struct bl_log_reader *reader,
                                 const struct log_line *line, size_t count)
{
    const struct log_dialect *d = &reader->dialect;
    for (size_t c = count; c < d->columns; c++) {
        const int64_t channel = reader->channel_of[c];
        if (channel >= 0 && reader->channel[channel].selected) {
            reader->channel[channel].values[reader->count] = NAN;
            reader->channel[channel].kind = LOG_MISSING;
        }
    }
    return bl_note(&reader->info.notes, "short-row", line->number, -1,
                   "expected %zu cells, found %zu; the others are missing",
                   d->columns, count);
}

static enum bl_status note_grouped(struct bl_log_reader *reader,
                                   const struct log_cell *cell, int64_t line)
{
    char text[EXCERPT];
    return bl_note(&reader->info.notes, "thousands-separator", line, -1,
                   "'%s' was read with thousands separators",
                   excerpt(cell->text, cell->length, text));
}

static enum bl_status note_texts(struct bl_log_reader *reader,
                                 const struct log_line *line)
{
    const struct log_dialect *d = &reader->dialect;
    struct log_cursor cursor;
    struct log_cell cell;
    enum bl_status status = BL_OK;
    bl_log_cursor_start(&cursor, line->text, line->length, d->delimiter);
    for (size_t c = 0; c < d->columns && bl_log_cell_next(&cursor, &cell);
         c++) {
        const int64_t channel = reader->channel_of[c];
        if (channel < 0 || !reader->channel[channel].selected) {
            continue;
        }
        const enum log_kind kind = reader->channel[channel].kind;
        if (kind == LOG_TEXT) {
            /* Whole rows may be lost inside such a cell. */
            reader->text_row = true;
            reader->info.after_damage = true;
            status =
                bl_log_note_text(reader, &cell, (size_t)channel, line->number);
        } else if (kind == LOG_GROUPED) {
            status = note_grouped(reader, &cell, line->number);
        }
        if (status != BL_OK) {
            return status;
        }
    }
    return BL_OK;
}

static bool any_text(const struct bl_log_reader *reader)
{
    for (size_t i = 0; i < reader->info.columns; i++) {
        const struct log_channel *channel = &reader->channel[i];
        if (channel->selected &&
            (channel->kind == LOG_TEXT || channel->kind == LOG_GROUPED)) {
            return true;
        }
    }
    return false;
}

static enum log_row check_shape(struct bl_log_reader *reader,
                                const struct log_line *line,
                                const struct cells *found)
{
    struct bl_notes *notes = &reader->info.notes;
    const size_t columns = reader->dialect.columns;
    if (found->unbalanced) {
        return bad_row(reader,
                       bl_note(notes, "unbalanced-quote", line->number, -1,
                               "expected a closing quote, found the end of "
                               "the line; row left out"));
    }
    /* Rows that have run together, of which the next cells are another's. */
    if (found->trailing) {
        return bad_row(reader,
                       bl_note(notes, "behind-quote", line->number, -1,
                               "expected the end of a cell behind its closing "
                               "quote, found more; row left out"));
    }
    if (found->extra) {
        return bad_row(reader, bl_note(notes, "long-row", line->number, -1,
                                       "expected %zu cells, found more; row "
                                       "left out",
                                       columns));
    }
    const int64_t last = reader->channel_of[columns - 1];
    if (!line->ended && last >= 0 && reader->channel[last].selected &&
        reader->channel[last].kind == LOG_TEXT &&
        reader->places[columns - 1] > 0) {
        return cut_row(reader, bl_note(notes, "cut-last-row", line->number, -1,
                                       "the last row is cut inside its last "
                                       "cell; left out"));
    }
    if (found->count < columns && !line->ended) {
        return cut_row(reader, bl_note(notes, "cut-last-row", line->number, -1,
                                       "the last row is cut: expected %zu "
                                       "cells, found %zu; left out",
                                       columns, found->count));
    }
    return LOG_ROW_GOOD;
}

/* Fewer cells than rows of this log have; perhaps the header again. */
static enum log_row short_row(struct bl_log_reader *reader,
                              const struct log_line *line,
                              const struct cells *found)
{
    const struct log_dialect *d = &reader->dialect;
    if (is_header(reader, line)) {
        return no_time(reader, line, &found->time, found->has_time);
    }
    return bad_row(reader,
                   bl_note(&reader->info.notes, "short-row", line->number, -1,
                           "expected %zu cells, found %zu; row left "
                           "out",
                           d->least_cells, found->count));
}

/* A row that was there before is no damage: files are appended to each other.
   One that differs amid such rows is. */
static enum log_row row_again(struct bl_log_reader *reader,
                              const struct log_line *line, int64_t time_ns)
{
    struct bl_notes *notes = &reader->info.notes;
    enum log_again_is again = LOG_AGAIN_NEW;
    if (reader->any && time_ns <= reader->newest_ns) {
        again = bl_log_again_look(&reader->again, line->text, line->length,
                                  time_ns, reader->newest_ns);
    }
    if (again == LOG_AGAIN_ODD) {
        return bad_row(reader, bl_note(notes, "copy-differs", line->number, -1,
                                       "expected the row that stands here in "
                                       "the first copy, found another; left "
                                       "out"));
    }
    if (again == LOG_AGAIN_SAME) {
        reader->info.repeated_rows++;
        return bl_note(notes, "repeated-row", line->number, -1,
                       "this row occurs earlier in the log; left out") == BL_OK
                   ? LOG_ROW_SKIPPED
                   : LOG_ROW_FAILED;
    }
    bl_log_again_add(&reader->again, line->text, line->length, time_ns);
    return LOG_ROW_GOOD;
}

enum log_row bl_log_parse_row(struct bl_log_reader *reader,
                              const struct log_line *line, int64_t *time_ns)
{
    if (line->too_long) {
        return bad_row(reader,
                       bl_note(&reader->info.notes, "line-too-long",
                               line->number, -1,
                               "expected at most 1 MiB in a line, found more; "
                               "row left out"));
    }
    if (bl_log_blank_line(line->text, line->length)) {
        return LOG_ROW_SKIPPED;
    }
    const struct cells found = read_cells(reader, line);
    enum log_row row = check_shape(reader, line, &found);
    if (row != LOG_ROW_GOOD) {
        return row;
    }
    if (found.count < reader->dialect.least_cells) {
        return short_row(reader, line, &found);
    }
    const bool header = reader->dialect.time_column < 0 &&
                        same_line(reader, reader->dialect.names_row, line);
    if (header || !row_time(reader, &found, time_ns)) {
        return no_time(reader, line, &found.time, found.has_time);
    }
    row = row_again(reader, line, *time_ns);
    if (row != LOG_ROW_GOOD) {
        return row;
    }
    reader->index++;
    if (bl_log_form_is_numeric(reader->dialect.form) &&
        is_grouped(&found.time) &&
        note_grouped(reader, &found.time, line->number) != BL_OK) {
        return LOG_ROW_FAILED;
    }
    if (found.count < reader->dialect.columns && found.count > 0 &&
        fill_short(reader, line, found.count) != BL_OK) {
        return LOG_ROW_FAILED;
    }
    if (any_text(reader) && note_texts(reader, line) != BL_OK) {
        return LOG_ROW_FAILED;
    }
    return LOG_ROW_GOOD;
}

enum bl_status bl_log_next_line(struct bl_log_reader *reader,
                                struct log_line *line, bool *got,
                                struct bl_error *error)
{
    if (reader->head_at < reader->head.count) {
        *line = bl_log_head_line(&reader->head, reader->head_at++);
        *got = true;
        return BL_OK;
    }
    return bl_log_source_next(&reader->source, line, got, error);
}
