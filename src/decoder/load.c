/* SPDX-License-Identifier: MIT */
/*
 * A mapping table from its file: header, then rows. Every mistake is listed
 * with its line; a table with a mistake is not used at all, because it steers
 * what is measured. Fed by io/lines.h; feeds row.c and place.c.
 */
#include "decoder/tables.h"

#include "base/alloc.h"
#include "base/limits.h"
#include "decoder/cells.h"
#include "io/lines.h"

#include <string.h>

static void check_header(struct bl_loader *loader, const struct bl_cells *cells)
{
    for (size_t i = 0; i < BL_COLUMNS; i++) {
        const char *want = bl_column_name((enum bl_column)i);
        if (i >= cells->count) {
            bl_loader_mistake(loader, loader->line,
                              "header: column %zu must be '%s', but is missing",
                              i + 1, want);
            return;
        }
        if (strcmp(cells->cell[i], want) != 0) {
            bl_loader_mistake(loader, loader->line,
                              "header: column %zu must be '%s', found '%s'",
                              i + 1, want, cells->cell[i]);
            return;
        }
    }
    if (cells->count > BL_COLUMNS) {
        bl_loader_mistake(loader, loader->line,
                          "header: expected %d columns, found %zu", BL_COLUMNS,
                          cells->count);
    }
}

static bool split(struct bl_loader *loader, struct bl_cells *cells,
                  const struct bl_text_line *line)
{
    const char *what = NULL;
    switch (bl_cells_split(cells, line->text, line->length)) {
    case BL_CELLS_OK:
        return true;
    case BL_CELLS_NOMEM:
        bl_loader_memory(loader);
        return false;
    case BL_CELLS_NOT_UTF8:
        what = "the line is not UTF-8";
        break;
    case BL_CELLS_OPEN_QUOTE:
        what = "a quoted cell does not end on its line";
        break;
    case BL_CELLS_STRAY_QUOTE:
        what = "a quote stands inside a cell; quote the whole cell and write "
               "\"\" for a quote";
        break;
    case BL_CELLS_TOO_LONG:
        what = "a cell has more than 4096 bytes";
        break;
    }
    bl_loader_mistake(loader, line->number, "%s", what);
    return false;
}

static bool to_skip(const struct bl_text_line *line)
{
    for (size_t i = 0; i < line->length; i++) {
        if (line->text[i] != ' ' && line->text[i] != '\t') {
            return line->text[i] == '#';
        }
    }
    return true;
}

static void take_line(struct bl_loader *loader, struct bl_cells *cells,
                      const struct bl_text_line *line, bool *has_header,
                      size_t *rows)
{
    loader->line = line->number;
    if (to_skip(line)) {
        return;
    }
    if (!split(loader, cells, line)) {
        *has_header = true; /* the header was tried: rows follow */
        return;
    }
    if (!*has_header) {
        *has_header = true;
        check_header(loader, cells);
        return;
    }
    if (++*rows > BL_LIMIT_TABLE_ROWS) {
        loader->status =
            bl_fail_line(loader->error, BL_LIMIT, loader->source, line->number,
                         "a table has at most %u rows", BL_LIMIT_TABLE_ROWS);
        return;
    }
    if (cells->count != BL_COLUMNS) {
        bl_loader_mistake(loader, line->number, "expected %d cells, found %zu",
                          BL_COLUMNS, cells->count);
        return;
    }
    struct bl_row row;
    if (bl_row_read(loader, cells->cell, &row)) {
        bl_loader_place(loader, &row);
    }
}

static bool goes_on(const struct bl_loader *loader)
{
    return loader->status == BL_OK || loader->status == BL_TRIAL;
}

static void read_lines(struct bl_loader *loader, struct bl_bytes *source)
{
    struct bl_cells cells = {0};
    struct bl_lines lines;
    bool has_header = false;
    size_t rows = 0;
    bl_lines_start(&lines, source, true);
    while (goes_on(loader)) {
        struct bl_text_line line;
        struct bl_error error;
        const enum bl_status status = bl_lines_next(&lines, &line, &error);
        if (status != BL_OK) {
            if (loader->error != NULL) {
                *loader->error = error;
            }
            loader->status = status;
            break;
        }
        if (line.text == NULL) {
            break;
        }
        take_line(loader, &cells, &line, &has_header, &rows);
    }
    bl_cells_finish(&cells);
    if (goes_on(loader) && !has_header) {
        bl_loader_mistake(loader, 1, "header: the table is empty");
    }
}

void bl_table_destroy(struct bl_table *table)
{
    if (table == NULL) {
        return;
    }
    for (size_t i = 0; i < table->texts; i++) {
        bl_free(table->text[i]);
    }
    bl_free(table->text);
    bl_free(table->signal);
    bl_free(table->message);
    bl_free((void *)(uintptr_t)table->info.name);
    bl_free((void *)(uintptr_t)table->info.file);
    bl_free(table);
}

enum bl_status bl_table_load(struct bl_table **out, struct bl_bytes *source,
                             const char *name, struct bl_notes *mistakes,
                             struct bl_error *error)
{
    *out = NULL;
    struct bl_table *table = bl_alloc(1, sizeof(*table));
    if (table == NULL) {
        return bl_fail_memory(error);
    }
    table->info.name = bl_strdup(name);
    table->info.file = bl_strdup(bl_bytes_name(source));
    if (table->info.name == NULL || table->info.file == NULL) {
        bl_table_destroy(table);
        return bl_fail_memory(error);
    }
    struct bl_loader loader = {.table = table,
                               .source = bl_bytes_name(source),
                               .mistakes = mistakes,
                               .error = error};
    read_lines(&loader, source);
    if (goes_on(&loader)) {
        bl_loader_end(&loader);
    }
    struct bl_stored stored;
    if (loader.status == BL_OK) {
        loader.status = bl_bytes_drain(source, &stored, error);
    }
    if (loader.status != BL_OK) {
        bl_table_destroy(table);
        return loader.status;
    }
    memcpy(table->info.sha256, stored.sha256, sizeof(table->info.sha256));
    *out = table;
    return BL_OK;
}
