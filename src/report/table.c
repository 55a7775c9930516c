/* SPDX-License-Identifier: MIT */
#include "report/table.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/strbuf.h"
#include "report/wrap.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

/* More cells than any trial of sensible size prints in one table. */
enum { CELLS_MAX = 1 << 20, GAP = 2 };
/* Text beside its row takes at least this much; else it stands below, so much
   deeper. */
enum { LEAST_TEXT = 24, BELOW = 4 };

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

/* What may go on below: words that reach to the end of the row. */
static bool is_text(const struct bl_table *table,
                    const struct bl_table_cell *cell, size_t columns)
{
    return strchr(cell->text + cell->lower, ' ') != NULL &&
           (cell->spans ||
            (cell->column + 1 == columns && !table->right[cell->column]));
}

static size_t columns_of(const struct bl_table *table)
{
    size_t columns = 0;
    for (size_t i = 0; i < table->count; i++) {
        const size_t end = table->cell[i].column + 1;
        columns = end > columns ? end : columns;
    }
    return columns;
}

/* Widths of the columns without the first `skip` cells; 0 of a column of
   text. */
static void widen(const struct bl_table *table, size_t skip,
                  size_t width[BL_TABLE_COLUMNS])
{
    const size_t columns = columns_of(table);
    for (size_t i = skip; i < table->count; i++) {
        const struct bl_table_cell *cell = &table->cell[i];
        const size_t upper = bl_text_width(cell->text);
        const size_t lower = bl_text_width(cell->text + cell->lower);
        const size_t own = upper > lower ? upper : lower;
        if (!is_text(table, cell, columns) && own > width[cell->column]) {
            width[cell->column] = own;
        }
    }
}

static size_t count_heads(const struct bl_table *table)
{
    size_t heads = 0;
    while (table->heading && heads < table->count &&
           table->cell[heads].row == 0) {
        heads++;
    }
    return heads;
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

/* How a table is written: what is kept while its rows are. */
struct lines {
    const struct bl_table *table;
    struct bl_output *output;
    size_t indent, columns, heads, all; /* all: its columns */
    size_t width[BL_TABLE_COLUMNS];
    size_t from, end; /* the columns of this block, besides the keys */
    struct bl_strbuf line;
};

static void blanks(struct lines *l, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        bl_strbuf_char(&l->line, ' ');
    }
}

static void put_line(struct lines *l)
{
    size_t length = l->line.length;
    while (length > 0 && l->line.text[length - 1] == ' ') {
        length--;
    }
    bl_output_write(l->output, bl_strbuf_get(&l->line), length);
    bl_output_text(l->output, "\n");
    l->line.length = 0;
}

/* Text at the end of a row: beside it, or below where too little is left. */
static void put_text(struct lines *l, const char *text)
{
    size_t size = strlen(text);
    size_t at = bl_text_width(bl_strbuf_get(&l->line));
    const size_t left = l->columns > at ? l->columns - at : 0;
    if (bl_text_width(text) > left && left < LEAST_TEXT) {
        const char *before = bl_strbuf_get(&l->line);
        if (before[strspn(before, " ")] != '\0') {
            put_line(l);
        }
        l->line.length = 0;
        at = l->indent + BELOW;
        blanks(l, at);
    }
    for (;;) {
        const size_t length =
            bl_wrap_length(text, size, l->columns > at ? l->columns - at : 0);
        bl_strbuf_add(&l->line, text, length);
        text += length;
        size -= length;
        if (size == 0) {
            return;
        }
        put_line(l);
        blanks(l, at);
        text += strspn(text, " ");
        size = strlen(text);
    }
}

static void put_cell(struct lines *l, const struct bl_table_cell *cell,
                     const char *text)
{
    const size_t own = bl_text_width(text);
    const size_t width = l->width[cell->column];
    const size_t pad = own < width ? width - own : 0;
    if (cell->column > 0) {
        blanks(l, GAP);
    }
    if (is_text(l->table, cell, l->all)) {
        put_text(l, text);
        return;
    }
    blanks(l, l->table->right[cell->column] ? pad : 0);
    bl_strbuf_text(&l->line, text);
    blanks(l, l->table->right[cell->column] ? 0 : pad);
}

static size_t keys_of(const struct bl_table *table)
{
    return table->keys == 0 ? 1 : table->keys;
}

static bool in_block(const struct lines *l, const struct bl_table_cell *cell)
{
    return cell->column < keys_of(l->table) ||
           (cell->column >= l->from && cell->column < l->end);
}

/* Cells `first` to `end` of a row as one line; of headings the upper halves.
   A row that has nothing in a later block is not named again there, but for one
   of words alone: it is the heading of those below it. */
static void put_row(struct lines *l, size_t first, size_t end, bool upper)
{
    const struct bl_table *table = l->table;
    const bool alone = first + 1 == end && table->cell[first].spans;
    bool any = alone || l->from <= keys_of(table);
    for (size_t i = first; i < end; i++) {
        any = any || (table->cell[i].column >= l->from &&
                      in_block(l, &table->cell[i]));
    }
    if (!any) {
        return;
    }
    blanks(l, l->indent);
    for (size_t i = first; i < end; i++) {
        const struct bl_table_cell *cell = &table->cell[i];
        if (in_block(l, cell)) {
            put_cell(l, cell,
                     !upper            ? cell->text + cell->lower
                     : cell->lower > 0 ? cell->text
                                       : "");
        }
    }
    put_line(l);
}

/* Is a heading of this block in two lines? */
static bool has_upper(const struct lines *l)
{
    for (size_t i = 0; i < l->heads; i++) {
        if (in_block(l, &l->table->cell[i]) && l->table->cell[i].lower > 0) {
            return true;
        }
    }
    return false;
}

/* Has any row something in this block besides its keys? */
static bool has_rows(const struct lines *l)
{
    for (size_t i = l->heads; i < l->table->count; i++) {
        const struct bl_table_cell *cell = &l->table->cell[i];
        if (cell->column >= l->from && in_block(l, cell) &&
            cell->text[0] != '\0') {
            return true;
        }
    }
    return false;
}

static void put_block(struct lines *l)
{
    const struct bl_table *table = l->table;
    if (l->from > keys_of(table) && !has_rows(l)) {
        return;
    }
    if (has_upper(l)) {
        put_row(l, 0, l->heads, true);
    }
    size_t end;
    for (size_t i = 0; i < table->count; i = end) {
        for (end = i + 1; end < table->count &&
                          table->cell[end].row == table->cell[i].row;) {
            end++;
        }
        put_row(l, i, end, false);
    }
}

static size_t width_from(const struct lines *l, size_t from, size_t end)
{
    size_t width = 0;
    for (size_t c = from; c < end; c++) {
        width += l->width[c] == 0 ? 0 : GAP + l->width[c];
    }
    return width;
}

/* Columns `from` to the end of the block that begins with it. */
static size_t block_end(const struct lines *l, size_t from)
{
    const size_t room = l->columns + GAP;
    const size_t taken = l->indent + width_from(l, 0, keys_of(l->table));
    if (l->indent + width_from(l, 0, l->all) <= room) {
        return l->all;
    }
    size_t end = from + 1;
    while (end < l->all && !l->table->starts[end] &&
           taken + width_from(l, from, end + 1) <= room) {
        end++;
    }
    /* What joins a column that would end this block takes it along; where that
       is all there is, the line is too long. */
    if (end < l->all && l->table->joins[end]) {
        end = end - 1 > from ? end - 1 : end + 1;
    }
    return end;
}

bool bl_table_write(struct bl_table *table, struct bl_output *output,
                    size_t indent, size_t columns)
{
    struct lines l = {.table = table,
                      .output = output,
                      .indent = indent,
                      .columns = columns,
                      .heads = count_heads(table),
                      .all = columns_of(table)};
    (void)cut_heads(table, l.heads);
    widen(table, 0, l.width);
    l.from = keys_of(table);
    do {
        l.end = block_end(&l, l.from);
        if (!table->failed && table->count > 0) {
            put_block(&l);
        }
        l.from = l.end;
    } while (l.end < l.all);
    const bool failed = table->failed || l.line.failed;
    bl_strbuf_finish(&l.line);
    for (size_t i = 0; i < table->count; i++) {
        bl_free(table->cell[i].text);
    }
    bl_free(table->cell);
    memset(table, 0, sizeof(*table));
    return !failed;
}
