/* SPDX-License-Identifier: MIT */
/*
 * The first some hundred lines of a log, kept until everything about its shape
 * is decided, then read as data.
 */
#ifndef BRAKELAG_SRC_LOG_HEAD_H
#define BRAKELAG_SRC_LOG_HEAD_H

#include "log/cell.h"
#include "log/rowsource.h"

/* Behind which cell of a line the search stopped last: columns are asked for
   one after the other, and a wide line is not to be walked for each. */
struct log_head_place {
    size_t index, column; /* of the next cell */
    struct log_cursor cursor;
    struct log_cell cell; /* the one before it */
    bool known;
};
enum { LOG_HEAD_PLACES = 512 };

struct log_head {
    char *text;
    size_t used, capacity;
    struct bl_log_head_line {
        size_t at, length;
        int64_t number;
        bool ended, too_long;
    } * line;
    size_t count, line_capacity;
    bool whole;                   /* the source has no more */
    struct log_head_place *place; /* by line number modulo their number */
};

/* Read on until `lines` lines or some MiB are held. */
enum bl_status bl_log_head_read(struct log_head *head,
                                struct log_source *source, size_t lines,
                                struct bl_error *error);
void bl_log_head_finish(struct log_head *head);

struct log_line bl_log_head_line(const struct log_head *head, size_t index);
/* Cell `column` of a line; false: the line has fewer. */
bool bl_log_head_cell(const struct log_head *head, size_t index, char delimiter,
                      size_t column, struct log_cell *cell);
size_t bl_log_head_cells(const struct log_head *head, size_t index,
                         char delimiter);
bool bl_log_head_blank(const struct log_head *head, size_t index);

#endif
