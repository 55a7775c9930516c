/* SPDX-License-Identifier: MIT */
/* Keeping the first lines of a log. */
#include "log/head.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"

#include <string.h>

/* Enough to hold some rows of a transposed log. */
enum { HEAD_BYTES = 4 << 20 };

static enum bl_status keep(struct log_head *head, const struct log_line *line,
                           struct bl_error *error)
{
    if (!bl_grow(&head->line, &head->line_capacity, head->count + 1,
                 sizeof(*head->line), BL_LIMIT_LOG_COLUMNS) ||
        !bl_grow(&head->text, &head->capacity, head->used + line->length + 1, 1,
                 HEAD_BYTES + 2 * (size_t)BL_LIMIT_LINE_BYTES)) {
        return bl_fail_memory(error);
    }
    struct bl_log_head_line *to = &head->line[head->count++];
    to->at = head->used;
    to->length = line->length;
    to->number = line->number;
    to->ended = line->ended;
    to->too_long = line->too_long;
    memcpy(head->text + head->used, line->text, line->length);
    head->used += line->length;
    return BL_OK;
}

enum bl_status bl_log_head_read(struct log_head *head,
                                struct log_source *source, size_t lines,
                                struct bl_error *error)
{
    if (head->place == NULL) {
        head->place = bl_alloc(LOG_HEAD_PLACES, sizeof(*head->place));
    }
    if (head->place == NULL) {
        return bl_fail_memory(error);
    }
    /* The text may move. */
    memset(head->place, 0, LOG_HEAD_PLACES * sizeof(*head->place));
    while (head->count < lines && head->used < HEAD_BYTES && !head->whole) {
        struct log_line line;
        bool got;
        enum bl_status status = bl_log_source_next(source, &line, &got, error);
        if (status == BL_OK && got) {
            status = keep(head, &line, error);
        }
        if (status != BL_OK) {
            return status;
        }
        head->whole = !got;
    }
    return BL_OK;
}

void bl_log_head_finish(struct log_head *head)
{
    bl_free(head->text);
    bl_free(head->line);
    bl_free(head->place);
    memset(head, 0, sizeof(*head));
}

struct log_line bl_log_head_line(const struct log_head *head, size_t index)
{
    const struct bl_log_head_line *from = &head->line[index];
    const struct log_line line = {head->text + from->at, from->length,
                                  from->number, from->ended, from->too_long};
    return line;
}

bool bl_log_head_cell(const struct log_head *head, size_t index, char delimiter,
                      size_t column, struct log_cell *cell)
{
    struct log_head_place *place = &head->place[index % LOG_HEAD_PLACES];
    if (!place->known || place->index != index || place->column > column + 1 ||
        place->cursor.delimiter != delimiter) {
        place->known = true;
        place->index = index;
        place->column = 0;
        bl_log_cursor_start(&place->cursor, head->text + head->line[index].at,
                            head->line[index].length, delimiter);
    }
    while (place->column <= column) {
        if (!bl_log_cell_next(&place->cursor, &place->cell)) {
            place->known = false;
            return false;
        }
        place->column++;
    }
    *cell = place->cell;
    return true;
}

size_t bl_log_head_cells(const struct log_head *head, size_t index,
                         char delimiter)
{
    return bl_log_cell_count(head->text + head->line[index].at,
                             head->line[index].length, delimiter);
}

bool bl_log_head_blank(const struct log_head *head, size_t index)
{
    return bl_log_blank_line(head->text + head->line[index].at,
                             head->line[index].length);
}
