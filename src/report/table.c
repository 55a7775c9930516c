/* SPDX-License-Identifier: MIT */
#include "report/table.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/strbuf.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

/* More cells than any trial of sensible size prints in one table. */
enum { CELLS_MAX = 1 << 20, GAP = 2 };

size_t bl_text_width(const char *text)
{
    size_t width = 0;
    for (; *text != '\0'; text++) {
        width += ((unsigned char)*text & 0xC0) != 0x80;
    }
    return width;
}

static void add(struct bl_table *table, bool spans, const char *format,
                va_list list)
{
    char text[512];
    const int length = vsnprintf(text, sizeof(text), format, list);
    if (table->failed || length < 0 || table->column >= BL_TABLE_COLUMNS ||
        !bl_grow(&table->cell, &table->capacity, table->count + 1,
                 sizeof(*table->cell), CELLS_MAX)) {
        table->failed = true;
        return;
    }
    struct bl_table_cell *cell = &table->cell[table->count];
    cell->text = bl_strdup(text);
    if (cell->text == NULL) {
        table->failed = true;
        return;
    }
    cell->lower = 0;
    cell->row = table->row;
    cell->column = table->column++;
    cell->spans = spans;
    table->count++;
}

void bl_table_cell(struct bl_table *table, const char *format, ...)
{
    va_list list;
    va_start(list, format);
    add(table, false, format, list);
    va_end(list);
}

void bl_table_span(struct bl_table *table, const char *format, ...)
{
    va_list list;
    va_start(list, format);
    add(table, true, format, list);
    va_end(list);
}

void bl_table_row(struct bl_table *table)
{
    table->row++;
    table->column = 0;
}

static void blanks(struct bl_strbuf *line, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        bl_strbuf_char(line, ' ');
    }
}

static void put_cell(struct bl_strbuf *line, const struct bl_table *table,
                     const struct bl_table_cell *cell, size_t width)
{
    const char *text = cell->text + cell->lower;
    const size_t own = bl_text_width(text);
    const size_t pad = own < width ? width - own : 0;
    const bool right = table->right[cell->column] && !cell->spans;
    if (cell->column > 0) {
        blanks(line, GAP);
    }
    if (right) {
        blanks(line, pad);
    }
    bl_strbuf_text(line, text);
    if (!right && !cell->spans) {
        blanks(line, pad);
    }
}

static void put_line(struct bl_output *output, struct bl_strbuf *line)
{
    size_t length = line->length;
    while (length > 0 && line->text[length - 1] == ' ') {
        length--;
    }
    bl_output_write(output, bl_strbuf_get(line), length);
    bl_output_text(output, "\n");
    line->length = 0;
}

/* The blank at which a heading is best cut in two, its halves' longer one the
   shortest; blanks inside brackets do not count. NULL: there is no blank. */
static char *best_cut(char *text)
{
    char *best = NULL;
    size_t shortest = SIZE_MAX;
    const size_t all = bl_text_width(text);
    size_t before = 0;
    bool bracket = false;
    for (char *at = text; *at != '\0'; at++) {
        bracket = *at == '(' || (bracket && *at != ')');
        const size_t after = *at == ' ' ? all - before - 1 : SIZE_MAX;
        const size_t longer = after > before ? after : before;
        if (!bracket && longer < shortest) {
            shortest = longer;
            best = at;
        }
        before += ((unsigned char)*at & 0xC0) != 0x80;
    }
    return best;
}

/* Widths of the columns without the first `skip` cells. */
static void widen(const struct bl_table *table, size_t skip,
                  size_t width[BL_TABLE_COLUMNS])
{
    for (size_t i = skip; i < table->count; i++) {
        const struct bl_table_cell *cell = &table->cell[i];
        const size_t upper = bl_text_width(cell->text);
        const size_t lower = bl_text_width(cell->text + cell->lower);
        const size_t own = upper > lower ? upper : lower;
        if (!cell->spans && own > width[cell->column]) {
            width[cell->column] = own;
        }
    }
}

/* Headings that are wider than what stands below them are cut in two; says
   whether any is. */
static bool cut_heads(struct bl_table *table, size_t heads)
{
    size_t width[BL_TABLE_COLUMNS] = {0};
    bool any = false;
    widen(table, heads, width);
    for (size_t i = 0; i < heads; i++) {
        struct bl_table_cell *cell = &table->cell[i];
        char *cut = bl_text_width(cell->text) > width[cell->column]
                        ? best_cut(cell->text)
                        : NULL;
        if (cut != NULL) {
            *cut = '\0';
            cell->lower = (size_t)(cut + 1 - cell->text);
            any = true;
        }
    }
    return any;
}

/* The upper halves of the headings that are cut. */
static bool upper_line(const struct bl_table *table, size_t heads,
                       struct bl_output *output,
                       const size_t width[BL_TABLE_COLUMNS], size_t indent)
{
    struct bl_strbuf line = {0};
    char none[] = "";
    blanks(&line, indent);
    for (size_t i = 0; i < heads; i++) {
        struct bl_table_cell cell = table->cell[i];
        cell.text = cell.lower > 0 ? cell.text : none;
        cell.lower = 0;
        put_cell(&line, table, &cell, width[cell.column]);
    }
    const bool failed = line.failed;
    if (!failed) {
        put_line(output, &line);
    }
    bl_strbuf_finish(&line);
    return !failed;
}

bool bl_table_write(struct bl_table *table, struct bl_output *output,
                    size_t indent)
{
    size_t width[BL_TABLE_COLUMNS] = {0};
    size_t heads = 0;
    while (table->heading && heads < table->count &&
           table->cell[heads].row == 0) {
        heads++;
    }
    const bool cut = cut_heads(table, heads);
    widen(table, 0, width);
    struct bl_strbuf line = {0};
    bool failed = table->failed ||
                  (cut && !upper_line(table, heads, output, width, indent));
    for (size_t i = 0; !failed && i < table->count; i++) {
        const struct bl_table_cell *cell = &table->cell[i];
        if (cell->column == 0) {
            blanks(&line, indent);
        }
        put_cell(&line, table, cell, width[cell->column]);
        failed = line.failed;
        if (!failed &&
            (i + 1 == table->count || table->cell[i + 1].row != cell->row)) {
            put_line(output, &line);
        }
    }
    bl_strbuf_finish(&line);
    for (size_t i = 0; i < table->count; i++) {
        bl_free(table->cell[i].text);
    }
    bl_free(table->cell);
    memset(table, 0, sizeof(*table));
    return !failed;
}
