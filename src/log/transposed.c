/* SPDX-License-Identifier: MIT */
/*
 * Logs that hold each channel in one long row: a row of times, then rows of
 * values, each perhaps opened by a name and a unit. They are read whole, since
 * the first sample of the last channel stands at the end of the file.
 */
#include "log/form.h"
#include "log/reader.h"

#include "base/alloc.h"
#include "base/limits.h"
#include "base/number.h"

#include <math.h>
#include <string.h>

enum { LEAST_CELLS = 200, MOST_LINES = 64, CELLS_LOOKED_AT = 250 };
enum { NAME_BYTES = 512, UNIT_BYTES = 64 };
#define MOST_CELLS (UINT64_C(1) << 26)

/* Name and unit in front of the values, and where those begin. */
struct lead {
    char name[NAME_BYTES], unit[UNIT_BYTES];
    size_t cells;
};

static struct lead read_lead(const struct log_line *line, char delimiter)
{
    struct lead lead = {{0}, {0}, 0};
    struct log_cursor cursor;
    struct log_cell cell;
    bl_log_cursor_start(&cursor, line->text, line->length, delimiter);
    while (lead.cells < 2 && bl_log_cell_next(&cursor, &cell)) {
        double value;
        if (bl_log_looks_number(cell.text, cell.length) ||
            bl_log_value(&cell, '.', &value) != LOG_TEXT ||
            bl_log_cell_is_time(&cell)) {
            break;
        }
        if (lead.cells == 0) {
            bl_log_clean(cell.text, cell.length, lead.name, sizeof(lead.name));
        } else {
            bl_log_clean(cell.text, cell.length, lead.unit, sizeof(lead.unit));
        }
        lead.cells++;
    }
    size_t from;
    size_t length;
    if (lead.unit[0] == '\0' &&
        bl_log_unit_in_name(lead.name, &from, &length)) {
        bl_log_clean(lead.name + from, length, lead.unit, sizeof(lead.unit));
    }
    return lead;
}

/* Steps of the first numbers of a row. */
struct row_steps {
    size_t up, down, numbers;
    double first, last, step;
    bool whole;
};

static struct row_steps look_at(const struct log_line *line, char delimiter,
                                char decimal, size_t skip)
{
    struct row_steps look = {.whole = true};
    double steps[CELLS_LOOKED_AT];
    size_t count = 0;
    struct log_cursor cursor;
    struct log_cell cell;
    bl_log_cursor_start(&cursor, line->text, line->length, delimiter);
    for (size_t i = 0; i < skip + CELLS_LOOKED_AT; i++) {
        double value;
        if (!bl_log_cell_next(&cursor, &cell) || i < skip ||
            bl_log_value(&cell, decimal, &value) > LOG_GROUPED) {
            continue;
        }
        if (look.numbers == 0) {
            look.first = value;
        } else {
            look.up += value > look.last;
            look.down += value < look.last;
            if (value > look.last) {
                steps[count++] = value - look.last;
            }
        }
        look.whole = look.whole && value == floor(value);
        look.last = value;
        look.numbers++;
    }
    look.step = count > 0 ? bl_median(steps, count) : 0;
    return look;
}

bool bl_log_is_transposed(const struct log_head *head,
                          const struct log_dialect *dialect)
{
    if (!head->whole || dialect->columns < LEAST_CELLS ||
        head->count > MOST_LINES) {
        return false;
    }
    size_t lines = 0;
    bool advances = false;
    for (size_t i = 0; i < head->count; i++) {
        if (bl_log_head_blank(head, i)) {
            continue;
        }
        const struct log_line line = bl_log_head_line(head, i);
        size_t cells;
        if (bl_log_row_quality(&line, dialect->delimiter, &cells) <= 0.5) {
            return false;
        }
        if (lines++ == 0) {
            const struct lead lead = read_lead(&line, dialect->delimiter);
            const char decimal = dialect->delimiter == ',' ? '.' : ',';
            struct row_steps look =
                look_at(&line, dialect->delimiter, decimal, lead.cells);
            if (look.numbers * 2 < CELLS_LOOKED_AT) {
                look = look_at(&line, dialect->delimiter, '.', lead.cells);
            }
            advances =
                look.up > look.numbers / 4 && look.down * 10 <= look.numbers;
        }
    }
    return advances && lines > 1 && lines * 8 <= dialect->columns;
}

static enum bl_status read_times(struct bl_log_reader *reader,
                                 const struct log_line *line,
                                 const struct lead *lead,
                                 const struct bl_log_options *options,
                                 struct bl_error *error)
{
    struct log_dialect *d = &reader->dialect;
    const struct row_steps look =
        look_at(line, d->delimiter, d->decimal, lead->cells);
    d->form =
        options->time_form != NULL
            ? bl_log_form_by_name(options->time_form)
            : bl_log_numeric_form(lead->unit, look.first, look.last, look.step,
                                  look.whole, &d->unit_guessed);
    if (options->time_form == NULL && look.numbers == 0) {
        d->form = LOG_FORM_ISO;
    }
    d->absolute = d->form == LOG_FORM_ISO ||
                  (d->form >= LOG_FORM_EPOCH_S && d->form <= LOG_FORM_EPOCH_NS);
    if (d->form == LOG_FORM_INDEX && !(d->rate_hz > 0)) {
        return bl_fail_line(error, BL_FORMAT,
                            bl_bytes_name(reader->source.bytes), line->number,
                            "expected a rate for sample numbers, found none");
    }
    reader->row_ns = bl_alloc(reader->cells, sizeof(*reader->row_ns));
    reader->row_good = bl_alloc(reader->cells, sizeof(*reader->row_good));
    reader->row_doubt = bl_alloc(reader->cells, sizeof(*reader->row_doubt));
    if (reader->row_ns == NULL || reader->row_good == NULL ||
        reader->row_doubt == NULL) {
        return bl_fail_memory(error);
    }
    struct log_cursor cursor;
    struct log_cell cell;
    bl_log_cursor_start(&cursor, line->text, line->length, d->delimiter);
    for (size_t i = 0; bl_log_cell_next(&cursor, &cell); i++) {
        int64_t resolution;
        const size_t at = i - lead->cells;
        if (i < lead->cells || at >= reader->cells) {
            continue;
        }
        reader->row_good[at] =
            bl_log_stamp(d, &cell, NULL, &reader->row_ns[at], &resolution);
        if (reader->row_good[at] &&
            (d->resolution_ns == 0 || resolution < d->resolution_ns)) {
            d->resolution_ns = resolution;
        }
    }
    return BL_OK;
}

static void measure(struct bl_log_reader *reader)
{
    double steps[CELLS_LOOKED_AT];
    size_t count = 0;
    for (size_t i = 1; i < reader->cells && count < CELLS_LOOKED_AT; i++) {
        if (reader->row_good[i] && reader->row_good[i - 1] &&
            reader->row_ns[i] > reader->row_ns[i - 1]) {
            steps[count++] =
                (double)(reader->row_ns[i] - reader->row_ns[i - 1]);
        }
    }
    reader->dialect.interval_ns =
        count > 0 ? (int64_t)bl_median(steps, count) : 0;
}

/* A channel's values; cells without one are counted here. */
static enum bl_status read_values(struct bl_log_reader *reader,
                                  const struct log_line *line, size_t skip,
                                  struct bl_error *error)
{
    const struct log_dialect *d = &reader->dialect;
    const size_t channel = reader->info.columns - 1;
    struct bl_log_column *column = &reader->info.column[channel];
    double *values = bl_alloc(reader->cells, sizeof(*values));
    if (values == NULL) {
        return bl_fail_memory(error);
    }
    reader->row[reader->rows++] = values;
    struct log_cursor cursor;
    struct log_cell cell;
    size_t at = 0;
    enum bl_status status = BL_OK;
    bl_log_cursor_start(&cursor, line->text, line->length, d->delimiter);
    for (size_t i = 0; bl_log_cell_next(&cursor, &cell) && status == BL_OK;
         i++) {
        if (i < skip || at >= reader->cells) {
            at += i >= skip && cell.length > 0;
            continue;
        }
        enum log_kind kind = bl_log_value(&cell, d->decimal, &values[at]);
        if (kind == LOG_GROUPED && !bl_log_group_fits(d, &cell, 0)) {
            kind = LOG_TEXT;
            values[at] = NAN;
        }
        at++;
        column->missing += kind == LOG_MISSING;
        column->overflows += kind == LOG_OVERFLOW;
        column->not_numbers += kind == LOG_TEXT;
        if (kind == LOG_TEXT) {
            reader->row_doubt[at - 1] = true;
            status = bl_log_note_text(reader, &cell, channel, line->number);
        }
    }
    if (at > reader->cells && status == BL_OK) {
        reader->row_doubt[reader->cells - 1] = true;
        status = bl_note(&reader->info.notes, "long-row", line->number, -1,
                         "expected %zu values, as there are times, found %zu; "
                         "the others are left out",
                         reader->cells, at);
    }
    if (at < reader->cells && status == BL_OK) {
        column->missing += reader->cells - at;
        status =
            bl_note(&reader->info.notes,
                    line->ended ? "short-row" : "cut-last-row", line->number,
                    -1, "expected %zu values, as there are times, found %zu",
                    reader->cells, at);
    }
    for (; at < reader->cells; at++) {
        values[at] = NAN;
    }
    return status == BL_OK ? BL_OK : bl_fail_memory(error);
}

static enum bl_status take_line(struct bl_log_reader *reader,
                                const struct log_line *line,
                                const struct bl_log_options *options,
                                struct bl_error *error)
{
    struct log_dialect *d = &reader->dialect;
    const char *source = bl_bytes_name(reader->source.bytes);
    const struct lead lead = read_lead(line, d->delimiter);
    const size_t cells =
        bl_log_cell_count(line->text, line->length, d->delimiter) - lead.cells;
    if (reader->row_ns == NULL) {
        if (cells == 0) {
            return bl_fail_line(error, BL_FORMAT, source, line->number,
                                "expected a row of times, found no values");
        }
        reader->cells = cells;
        d->first_row = line->number;
        return read_times(reader, line, &lead, options, error);
    }
    if (reader->rows >= BL_LIMIT_LOG_COLUMNS ||
        (uint64_t)(reader->rows + 1) * reader->cells > MOST_CELLS) {
        return bl_fail_line(error, BL_LIMIT, source, line->number,
                            "expected at most %u rows and %llu values, found "
                            "more",
                            BL_LIMIT_LOG_COLUMNS,
                            (unsigned long long)MOST_CELLS);
    }
    const enum bl_status status = bl_log_add_column(
        reader, lead.name, lead.unit, (size_t)reader->rows + 1, error);
    return status == BL_OK ? read_values(reader, line, lead.cells, error)
                           : status;
}

enum bl_status bl_log_transposed_open(struct bl_log_reader *reader,
                                      const struct bl_log_options *options,
                                      struct bl_error *error)
{
    reader->dialect.time_column = 0;
    reader->dialect.date_column = -1;
    reader->info.column =
        bl_alloc(BL_LIMIT_LOG_COLUMNS, sizeof(*reader->info.column));
    reader->channel = bl_alloc(BL_LIMIT_LOG_COLUMNS, sizeof(*reader->channel));
    reader->row = bl_alloc(BL_LIMIT_LOG_COLUMNS, sizeof(*reader->row));
    if (reader->info.column == NULL || reader->channel == NULL ||
        reader->row == NULL) {
        return bl_fail_memory(error);
    }
    for (;;) {
        struct log_line line;
        bool got;
        enum bl_status status = bl_log_next_line(reader, &line, &got, error);
        if (status != BL_OK) {
            return status;
        }
        if (!got) {
            break;
        }
        if (line.too_long) {
            return bl_fail_line(
                error, BL_LIMIT, bl_bytes_name(reader->source.bytes),
                line.number, "expected a row of at most 1 MiB, found more");
        }
        if (!bl_log_blank_line(line.text, line.length)) {
            status = take_line(reader, &line, options, error);
        }
        if (status != BL_OK) {
            return status;
        }
    }
    if (reader->rows == 0) {
        return bl_fail(error, BL_FORMAT, bl_bytes_name(reader->source.bytes),
                       "expected a row of times and rows of values, found no "
                       "values");
    }
    measure(reader);
    return BL_OK;
}

bool bl_log_transposed_row(struct bl_log_reader *reader, int64_t *time_ns)
{
    while (reader->cell_at < reader->cells) {
        const size_t at = reader->cell_at++;
        reader->info.after_damage =
            reader->info.after_damage || reader->row_doubt[at];
        if (!reader->row_good[at]) {
            reader->info.bad_rows++;
            reader->info.after_damage = true;
            continue;
        }
        for (size_t i = 0; i < reader->info.columns; i++) {
            struct log_channel *channel = &reader->channel[i];
            if (channel->selected) {
                const double value = reader->row[i][at];
                channel->values[reader->count] = value;
                channel->kind = isnan(value) ? LOG_COUNTED : LOG_NUMBER;
            }
        }
        *time_ns = reader->row_ns[at];
        return true;
    }
    return false;
}

void bl_log_transposed_finish(struct bl_log_reader *reader)
{
    for (size_t i = 0; i < reader->rows; i++) {
        bl_free(reader->row[i]);
    }
    bl_free(reader->row);
    bl_free(reader->row_ns);
    bl_free(reader->row_good);
    bl_free(reader->row_doubt);
}
