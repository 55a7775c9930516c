/* SPDX-License-Identifier: MIT */
/* Splits one line into cells; see cells.h. */
#include "decoder/cells.h"

#include "base/alloc.h"
#include "base/limits.h"
#include "base/utf8.h"

#include <string.h>

static bool blank(char c)
{
    return c == ' ' || c == '\t';
}

struct cursor {
    const char *text, *end;
    char *out;
};

static bool at_end_of_cell(const struct cursor *cursor)
{
    return cursor->text == cursor->end || *cursor->text == ',';
}

static void skip_blanks(struct cursor *cursor)
{
    while (cursor->text < cursor->end && blank(*cursor->text)) {
        cursor->text++;
    }
}

static enum bl_cells_result take_quoted(struct cursor *cursor)
{
    cursor->text++;
    for (;;) {
        if (cursor->text == cursor->end) {
            return BL_CELLS_OPEN_QUOTE;
        }
        const char c = *cursor->text++;
        if (c == '"') {
            if (cursor->text == cursor->end || *cursor->text != '"') {
                break;
            }
            cursor->text++;
        }
        *cursor->out++ = c;
    }
    skip_blanks(cursor);
    return at_end_of_cell(cursor) ? BL_CELLS_OK : BL_CELLS_STRAY_QUOTE;
}

static enum bl_cells_result take_plain(struct cursor *cursor)
{
    const char *start = cursor->out;
    while (!at_end_of_cell(cursor)) {
        if (*cursor->text == '"') {
            return BL_CELLS_STRAY_QUOTE;
        }
        *cursor->out++ = *cursor->text++;
    }
    while (cursor->out > start && blank(cursor->out[-1])) {
        cursor->out--;
    }
    return BL_CELLS_OK;
}

/* A cell takes no more room than its text and comma: the buffer is as long as
   the line and one more. */
static bool make_room(struct bl_cells *cells, size_t length)
{
    if (length < cells->capacity) {
        return true;
    }
    char *larger = bl_realloc(cells->buffer, length + 1, 1);
    if (larger == NULL) {
        return false;
    }
    cells->buffer = larger;
    cells->capacity = length + 1;
    return true;
}

enum bl_cells_result bl_cells_split(struct bl_cells *cells, const char *text,
                                    size_t length)
{
    cells->count = 0;
    if (!bl_utf8_good(text, length) || memchr(text, 0, length) != NULL) {
        return BL_CELLS_NOT_UTF8;
    }
    if (!make_room(cells, length)) {
        return BL_CELLS_NOMEM;
    }
    struct cursor cursor = {text, text + length, cells->buffer};
    for (;;) {
        char *start = cursor.out;
        skip_blanks(&cursor);
        const bool quoted = cursor.text < cursor.end && *cursor.text == '"';
        const enum bl_cells_result result =
            quoted ? take_quoted(&cursor) : take_plain(&cursor);
        if (result != BL_CELLS_OK) {
            return result;
        }
        if ((size_t)(cursor.out - start) > BL_LIMIT_CELL_BYTES) {
            return BL_CELLS_TOO_LONG;
        }
        *cursor.out++ = '\0';
        if (cells->count < BL_CELLS_MOST) {
            cells->cell[cells->count] = start;
        }
        cells->count++;
        if (cursor.text == cursor.end) {
            return BL_CELLS_OK;
        }
        cursor.text++;
    }
}

void bl_cells_finish(struct bl_cells *cells)
{
    bl_free(cells->buffer);
    *cells = (struct bl_cells){0};
}
