/* SPDX-License-Identifier: MIT */
/*
 * Opening and stepping through an analog log. The shape is decided from the
 * head; rows then flow through fixed arrays, without memory taken per row.
 */
#include "log/frames.h"

#include "brakelag/bus.h"
#include "log/reader.h"

#include "base/alloc.h"
#include "base/limits.h"
#include "base/number.h"
#include "mdf/mdf.h"

#include <stdio.h>
#include <string.h>

/* Lines looked at, and rows held at a time: a narrow log some thousand, a wide
   one as many as 32 MiB hold. */
enum { HEAD_LINES = 330, MOST_ROWS = 8192, MOST_VALUES = 4 << 20 };

static const struct bl_log_options all_by_looking;

/* Factors as written; the hint is the one number that all of them are. */
static enum bl_status read_factors(struct bl_log_reader *reader,
                                   struct bl_error *error)
{
    struct bl_log_info *info = &reader->info;
    bool one = true;
    for (size_t i = 0; i < info->columns && reader->dialect.factor_row > 0;
         i++) {
        char text[64];
        bl_log_header_text(&reader->head, &reader->dialect,
                           reader->dialect.factor_row, info->column[i].index,
                           text, sizeof(text));
        if (text[0] == '\0') {
            continue;
        }
        info->column[i].factor = bl_strdup(text);
        if (info->column[i].factor == NULL) {
            return bl_fail_memory(error);
        }
        const struct log_cell cell = {.text = text, .length = strlen(text)};
        double value;
        one = one &&
              bl_log_value(&cell, reader->dialect.decimal, &value) <=
                  LOG_GROUPED &&
              (info->scale_hint == 0 || info->scale_hint == value);
        info->scale_hint = one ? value : 0;
    }
    return BL_OK;
}

static enum bl_status fill_info(struct bl_log_reader *reader,
                                const struct bl_log_options *options,
                                struct bl_error *error)
{
    const struct log_dialect *d = &reader->dialect;
    struct bl_log_info *info = &reader->info;
    info->format = "csv";
    info->delimiter = bl_log_delimiter_name(d->delimiter);
    info->decimal = d->decimal == ',' ? "," : ".";
    info->encoding = bl_log_encoding_name(reader->source.encoding);
    info->time_form = bl_log_form_name(d->form);
    info->layout = d->transposed ? "rows" : "columns";
    info->names_row = (int)d->names_row;
    info->units_row = (int)d->units_row;
    info->first_row = (int)d->first_row;
    info->time_column = d->time_column;
    info->rate_hz = d->rate_hz;
    info->absolute_time = d->absolute;
    info->interval_ns = d->interval_ns;
    info->resolution_ns = d->resolution_ns;
    if (read_factors(reader, error) != BL_OK) {
        return BL_NOMEM;
    }
    struct bl_strbuf text = {0};
    bl_log_dialect_describe(d, &reader->source, options, &text);
    bl_strbuf_format(&text, "; %zu value column%s", info->columns,
                     info->columns == 1 ? "" : "s");
    info->decided = text.failed ? NULL : bl_strdup(bl_strbuf_get(&text));
    bl_strbuf_finish(&text);
    if (info->decided == NULL) {
        return bl_fail_memory(error);
    }
    if (d->unit_guessed && options->time_form == NULL &&
        d->form != LOG_FORM_S &&
        bl_note(&info->notes, "time-unit-guessed", d->first_row, -1,
                "no unit of time is written; its step suggests %s",
                bl_log_form_name(d->form)) != BL_OK) {
        return bl_fail_memory(error);
    }
    return BL_OK;
}

/* Files of other programs, by their first bytes, and bus recordings. */
static enum bl_status refuse_others(struct bl_bytes *bytes, bool *mdf,
                                    struct bl_error *error)
{
    const uint8_t *data;
    size_t size;
    const enum bl_status status =
        bl_bytes_peek(bytes, BL_MDF_ID_BYTES, &data, &size, error);
    *mdf = status == BL_OK && bl_mdf_recognised(data, size);
    if (*mdf) {
        return BL_OK;
    }
    const char *what =
        status == BL_OK ? bl_log_known_container(data, size) : NULL;
    if (what != NULL) {
        return bl_fail(error, BL_FORMAT, bl_bytes_name(bytes),
                       "expected a recording, found %s, which is not read: "
                       "have the program that wrote it export pressures as "
                       "CSV and frames as pcap",
                       what);
    }
    return status == BL_OK && bl_bus_recognised(bytes)
               ? bl_fail(error, BL_FORMAT, bl_bytes_name(bytes),
                         "expected a log of measurements, found a recording of "
                         "bus frames: its bytes are no pressures; name it "
                         "under captures")
               : status;
}

static enum bl_status open_reader(struct bl_log_reader *reader,
                                  const struct bl_log_options *options,
                                  struct bl_bytes *bytes,
                                  struct bl_error *error)
{
    const char *source = bl_bytes_name(bytes);
    bool mdf;
    enum bl_status status = refuse_others(bytes, &mdf, error);
    if (status == BL_OK && mdf) {
        return bl_log_mdf_open(reader, bytes, options, error);
    }
    if (status == BL_OK) {
        status = bl_log_source_open(&reader->source, bytes, options->encoding,
                                    error);
    }
    if (status != BL_OK) {
        return status;
    }
    size_t lines = HEAD_LINES;
    if (options->first_row > 0 && options->first_row < 9000) {
        lines += (size_t)options->first_row;
    }
    status = bl_log_head_read(&reader->head, &reader->source, lines, error);
    if (status != BL_OK) {
        return status;
    }
    if (bl_log_head_is_frames(&reader->head)) {
        return bl_fail(error, BL_FORMAT, source,
                       "expected a log of measurements, found lines of bus "
                       "frames without a header: their bytes are no pressures; "
                       "write a first line that names the columns, such as "
                       "'time (s),id,data', or pcap");
    }
    status = bl_log_dialect_decide(&reader->dialect, &reader->head, options,
                                   source, error);
    if (status == BL_FORMAT && reader->source.failed != BL_OK) {
        if (error != NULL) {
            *error = reader->source.failure; /* the reason behind it */
        }
        return reader->source.failed;
    }
    if (status != BL_OK) {
        return status;
    }
    reader->head_at = reader->dialect.first_read;
    status = reader->dialect.transposed
                 ? bl_log_transposed_open(reader, options, error)
                 : bl_log_build_columns(reader, source, error);
    return status == BL_OK ? fill_info(reader, options, error) : status;
}

struct bl_log_options bl_log_options_default(void)
{
    return (struct bl_log_options){.delimiter = NULL};
}

enum bl_status bl_log_open(struct bl_log_reader **out, struct bl_bytes *source,
                           const struct bl_log_options *options,
                           struct bl_error *error)
{
    *out = NULL;
    struct bl_log_reader *reader = bl_alloc(1, sizeof(*reader));
    if (reader == NULL) {
        return bl_fail_memory(error);
    }
    bl_error_clear(&reader->source.failure);
    const enum bl_status status = open_reader(
        reader, options != NULL ? options : &all_by_looking, source, error);
    if (status != BL_OK) {
        bl_log_close(reader);
        return status;
    }
    *out = reader;
    return BL_OK;
}

const struct bl_log_info *bl_log_info(const struct bl_log_reader *r)
{
    return &r->info;
}

enum bl_status bl_log_select(struct bl_log_reader *reader,
                             const size_t *columns, size_t count,
                             struct bl_error *error)
{
    const char *source = bl_bytes_name(reader->source.bytes);
    if (reader->started) {
        return bl_fail(error, BL_ARG, source,
                       "columns are selected before the first row is read");
    }
    for (size_t i = 0; i < count; i++) {
        if (columns[i] >= reader->info.columns) {
            return bl_fail(error, BL_ARG, source,
                           "expected a value column below %zu, found %zu",
                           reader->info.columns, columns[i]);
        }
    }
    for (size_t i = 0; i < reader->info.columns; i++) {
        reader->channel[i].selected = false;
    }
    for (size_t i = 0; i < count; i++) {
        reader->channel[columns[i]].selected = true;
    }
    return BL_OK;
}

static enum bl_status start(struct bl_log_reader *reader,
                            struct bl_error *error)
{
    size_t selected = 0;
    for (size_t i = 0; i < reader->info.columns; i++) {
        selected += reader->channel[i].selected;
    }
    const size_t rows = MOST_VALUES / (selected + 1);
    reader->capacity = rows > MOST_ROWS ? MOST_ROWS : rows;
    reader->time_ns = bl_alloc(reader->capacity, sizeof(*reader->time_ns));
    reader->matrix =
        bl_alloc(selected * reader->capacity, sizeof(*reader->matrix));
    reader->value = bl_alloc(reader->info.columns, sizeof(*reader->value));
    if (reader->time_ns == NULL || reader->matrix == NULL ||
        reader->value == NULL) {
        return bl_fail_memory(error);
    }
    size_t at = 0;
    for (size_t i = 0; i < reader->info.columns; i++) {
        if (reader->channel[i].selected) {
            double *values = reader->matrix + at++ * reader->capacity;
            reader->channel[i].values = values;
            reader->value[i] = values;
        }
    }
    reader->started = true;
    if (reader->mdf == NULL) {
        bl_log_again_start(&reader->again, &reader->head, &reader->dialect);
    }
    reader->pace.resolution_ns = reader->info.resolution_ns;
    reader->far_ns = LOG_LATE_NS;
    if (reader->info.interval_ns > 0 &&
        reader->info.interval_ns < INT64_MAX / LOG_FAR_INTERVALS &&
        reader->info.interval_ns * LOG_FAR_INTERVALS > LOG_LATE_NS) {
        reader->far_ns = reader->info.interval_ns * LOG_FAR_INTERVALS;
    }
    if (reader->mdf != NULL) {
        return bl_log_mdf_start(reader, error);
    }
    return bl_log_fast_start(reader) == BL_OK ? BL_OK : bl_fail_memory(error);
}

/* The end of the text; UTF-16 may stop between the bytes of a character. */
static enum bl_status finish_text(struct bl_log_reader *reader,
                                  struct bl_error *error)
{
    reader->ended = true;
    if (reader->source.raw_count > 0 &&
        bl_note(&reader->info.notes, "cut-character", reader->source.line, -1,
                "the file ends inside a character; %zu byte%s left out",
                reader->source.raw_count,
                reader->source.raw_count == 1 ? "" : "s") != BL_OK) {
        return bl_fail_memory(error);
    }
    return BL_OK;
}

/* One more row into place. */
static enum bl_status step(struct bl_log_reader *reader, struct bl_error *error)
{
    int64_t time_ns;
    if (reader->dialect.transposed) {
        if (!bl_log_transposed_row(reader, &time_ns)) {
            reader->ended = true;
            return BL_OK;
        }
        return bl_log_place(reader, time_ns, reader->dialect.first_row) == BL_OK
                   ? BL_OK
                   : bl_fail_memory(error);
    }
    bool got;
    if (reader->mdf != NULL) {
        const enum bl_status read =
            bl_log_mdf_row(reader, &time_ns, &got, error);
        reader->ended = !got;
        return read != BL_OK || !got ||
                       bl_log_place(reader, time_ns, -1) == BL_OK
                   ? read
                   : bl_fail_memory(error);
    }
    struct log_line line;
    const enum bl_status status = bl_log_next_line(reader, &line, &got, error);
    if (status != BL_OK) {
        return status;
    }
    if (!got) {
        return finish_text(reader, error);
    }
    const enum log_row row = bl_log_parse_row(reader, &line, &time_ns);
    if (row == LOG_ROW_SKIPPED) {
        return BL_OK;
    }
    if (row != LOG_ROW_GOOD ||
        bl_log_place(reader, time_ns, line.number) != BL_OK) {
        return bl_fail_memory(error);
    }
    /* On both sides of such a row. */
    reader->info.after_damage = reader->info.after_damage || reader->text_row;
    reader->text_row = false;
    return BL_OK;
}

static void show(struct bl_log_reader *reader, size_t rows,
                 struct bl_log_block *block)
{
    struct bl_log_info *info = &reader->info;
    block->rows = rows;
    block->time_ns = reader->time_ns;
    block->value = reader->value;
    block->part = reader->part;
    if (rows > 0) {
        if (info->rows == 0) {
            info->first_ns = reader->time_ns[0];
        }
        info->last_ns = reader->time_ns[rows - 1];
        info->rows += rows;
    }
    reader->delivered = rows;
}

enum bl_status bl_log_next(struct bl_log_reader *reader,
                           struct bl_log_block *block, struct bl_error *error)
{
    block->rows = 0;
    enum bl_status status = BL_OK;
    if (!reader->started) {
        status = start(reader, error);
    }
    if (status != BL_OK) {
        return status;
    }
    bl_log_drop_delivered(reader);
    size_t ready = 0;
    while (ready == 0) {
        while (reader->count < reader->capacity && !reader->ended &&
               reader->next_rows == 0 && status == BL_OK) {
            bl_log_fast_rows(reader);
            if (reader->count < reader->capacity) {
                status = step(reader, error);
            }
            if (reader->again.failed) {
                status = bl_fail_memory(error);
            }
        }
        if (status != BL_OK) {
            return status;
        }
        ready = bl_log_ready(reader);
        if (ready == 0 && reader->doubtful > 0) {
            if (bl_log_place_doubtful(reader) != BL_OK) {
                return bl_fail_memory(error);
            }
            ready = bl_log_ready(reader);
        }
        if (ready == 0 && reader->next_rows > 0) {
            /* Nothing is left of the old part: all of it was delivered. */
            reader->next_rows = 0;
            reader->has_delivered = false;
            reader->part += reader->part < UINT16_MAX;
            continue;
        }
        if (reader->ended) {
            break;
        }
    }
    show(reader, ready, block);
    if (ready == 0 && !reader->paced) {
        reader->paced = true;
        if (reader->mdf != NULL && bl_log_mdf_ended(reader) != BL_OK) {
            return bl_fail_memory(error);
        }
        if (reader->mdf == NULL &&
            bl_pace_finish(&reader->pace, &reader->info.times) != BL_OK) {
            return bl_fail_memory(error);
        }
    }
    if (ready == 0 && reader->source.failed != BL_OK) {
        if (error != NULL) {
            *error = reader->source.failure;
        }
        return reader->source.failed;
    }
    return BL_OK;
}

void bl_log_close(struct bl_log_reader *reader)
{
    if (reader == NULL) {
        return;
    }
    struct bl_log_info *info = &reader->info;
    for (size_t i = 0; i < info->columns; i++) {
        bl_free(info->column[i].name);
        bl_free(info->column[i].unit);
        bl_free(info->column[i].factor);
    }
    bl_free(info->column);
    bl_free(info->decided);
    bl_free(info->damage);
    bl_free(info->times.place);
    bl_pace_free(&reader->pace);
    bl_notes_finish(&info->notes);
    bl_free(reader->channel);
    bl_free(reader->channel_of);
    bl_free(reader->places);
    bl_free(reader->name_at);
    bl_free(reader->matrix);
    bl_free((void *)reader->value);
    bl_free(reader->time_ns);
    bl_log_transposed_finish(reader);
    bl_log_fast_finish(reader);
    bl_log_again_finish(&reader->again);
    bl_log_mdf_finish(reader);
    bl_log_head_finish(&reader->head);
    bl_log_source_finish(&reader->source);
    bl_free(reader);
}
