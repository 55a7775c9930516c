/* SPDX-License-Identifier: MIT */
/* Value columns of a log: names made unique, units, what each one is for. */
#include "log/form.h"
#include "log/reader.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { NAME_BYTES = 512, UNIT_BYTES = 64 };

/* Names so far, in a table of places; open addressing. */
static size_t slot_of(const struct bl_log_reader *reader, const char *name)
{
    uint64_t hash = UINT64_C(14695981039346656037); /* FNV-1a */
    for (const char *c = name; *c != '\0'; c++) {
        hash = (hash ^ (unsigned char)*c) * UINT64_C(1099511628211);
    }
    size_t at = (size_t)(hash >> 32) % LOG_NAME_SLOTS;
    while (reader->name_at[at] != 0 &&
           strcmp(reader->info.column[reader->name_at[at] - 1].name, name) !=
               0) {
        at = (at + 1) % LOG_NAME_SLOTS;
    }
    return at;
}

/* "P" again becomes "P (2)". */
static enum bl_status make_unique(struct bl_log_reader *reader,
                                  const char *name, size_t index, char *out,
                                  size_t size)
{
    (void)snprintf(out, size, "%s", name);
    const uint32_t first = reader->name_at[slot_of(reader, out)];
    if (name[0] == '\0' || first == 0) {
        return BL_OK;
    }
    /* Numbers given to this name before are taken, too. */
    unsigned *number = &reader->channel[first - 1].same_name;
    do {
        *number = *number == 0 ? 2 : *number + 1;
        (void)snprintf(out, size, "%s (%u)", name, *number);
    } while (reader->name_at[slot_of(reader, out)] != 0 &&
             *number < BL_LIMIT_LOG_COLUMNS);
    char shown[80];
    bl_log_clean(name, strlen(name), shown, sizeof(shown));
    return bl_note(&reader->info.notes, "duplicate-column",
                   reader->dialect.names_row, -1,
                   "column %zu has the name '%s' of an earlier one; it is "
                   "called '%s (2)' or higher",
                   index + 1, shown, shown);
}

enum bl_status bl_log_add_column(struct bl_log_reader *reader, const char *name,
                                 const char *unit, size_t index,
                                 struct bl_error *error)
{
    char unique[NAME_BYTES + 16];
    struct bl_log_info *info = &reader->info;
    if (reader->name_at == NULL) {
        reader->name_at = bl_alloc(LOG_NAME_SLOTS, sizeof(*reader->name_at));
    }
    if (reader->name_at == NULL) {
        return bl_fail_memory(error);
    }
    if (make_unique(reader, name, index, unique, sizeof(unique)) != BL_OK) {
        return bl_fail_memory(error);
    }
    struct bl_log_column *column = &info->column[info->columns];
    column->name = bl_strdup(unique);
    column->unit = unit[0] == '\0' ? NULL : bl_strdup(unit);
    column->index = index;
    column->smallest = column->largest = NAN;
    /* Counted before the check: close frees what there is. */
    reader->channel[info->columns++].selected = true;
    if (column->name == NULL || (unit[0] != '\0' && column->unit == NULL)) {
        return bl_fail_memory(error);
    }
    reader->name_at[slot_of(reader, unique)] = (uint32_t)info->columns;
    return BL_OK;
}

/* A quote that nothing closes swallows the names behind it. */
static enum bl_status note_names(struct bl_log_reader *reader)
{
    const int64_t row = reader->dialect.names_row;
    if (row < 1 || (size_t)row > reader->head.count) {
        return BL_OK;
    }
    const struct log_line line =
        bl_log_head_line(&reader->head, (size_t)row - 1);
    struct log_cursor cursor;
    struct log_cell cell = {0};
    bl_log_cursor_start(&cursor, line.text, line.length,
                        reader->dialect.names_delimiter);
    while (bl_log_cell_next(&cursor, &cell)) {
        if (cell.unbalanced) {
            return bl_note(&reader->info.notes, "unbalanced-quote", row, -1,
                           "expected a closing quote in the names, found the "
                           "end of the line");
        }
    }
    return BL_OK;
}

enum bl_status bl_log_build_columns(struct bl_log_reader *reader,
                                    const char *source, struct bl_error *error)
{
    const struct log_dialect *d = &reader->dialect;
    if (d->columns > BL_LIMIT_LOG_COLUMNS) {
        return bl_fail_line(error, BL_LIMIT, source, d->first_row,
                            "expected at most %u columns, found %zu",
                            BL_LIMIT_LOG_COLUMNS, d->columns);
    }
    reader->info.column = bl_alloc(d->columns, sizeof(*reader->info.column));
    reader->channel = bl_alloc(d->columns, sizeof(*reader->channel));
    reader->channel_of = bl_alloc(d->columns, sizeof(*reader->channel_of));
    reader->places = bl_alloc(d->columns, sizeof(*reader->places));
    if (reader->info.column == NULL || reader->channel == NULL ||
        reader->channel_of == NULL || reader->places == NULL) {
        return bl_fail_memory(error);
    }
    if (note_names(reader) != BL_OK) {
        return bl_fail_memory(error);
    }
    for (size_t c = 0; c < d->columns; c++) {
        reader->channel_of[c] = -1;
        reader->places[c] = (uint8_t)bl_log_column_places(&reader->head, d, c);
        if ((int64_t)c == d->time_column || (int64_t)c == d->date_column) {
            continue;
        }
        char name[NAME_BYTES];
        char unit[UNIT_BYTES];
        bl_log_header_text(&reader->head, d, d->names_row, c, name,
                           sizeof(name));
        bl_log_column_unit(&reader->head, d, c, unit, sizeof(unit));
        reader->channel_of[c] = (int64_t)reader->info.columns;
        const enum bl_status status =
            bl_log_add_column(reader, name, unit, c, error);
        if (status != BL_OK) {
            return status;
        }
    }
    return BL_OK;
}
