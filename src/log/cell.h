/* SPDX-License-Identifier: MIT */
/*
 * One line to cells, one cell to a value. No memory is taken here: this is the
 * path of every sample.
 */
#ifndef BRAKELAG_SRC_LOG_CELL_H
#define BRAKELAG_SRC_LOG_CELL_H

#include <stdbool.h>
#include <stddef.h>

/* A delimiter that stands for "two or more blanks": names may hold one. */
#define LOG_WIDE_BLANKS '\x02'

struct log_cell {
    const char *text; /* without outer blanks and quotes */
    size_t length;
    bool quoted;
    bool unbalanced; /* opened by a quote that nothing closes */
    bool trailing;   /* more than blanks stands behind the closing quote */
};

struct log_cursor {
    const char *at, *end;
    char delimiter;
    bool more;
};

void bl_log_cursor_start(struct log_cursor *cursor, const char *text,
                         size_t length, char delimiter);
bool bl_log_cell_next(struct log_cursor *cursor, struct log_cell *cell);
size_t bl_log_cell_count(const char *text, size_t length, char delimiter);
bool bl_log_blank_line(const char *text, size_t length);

enum log_kind {
    LOG_NUMBER,
    LOG_GROUPED, /* a number with thousands separators */
    LOG_SWITCH,  /* on, open, true, high: 1; off, closed, false, low: 0 */
    LOG_MISSING,
    LOG_OVERFLOW,
    LOG_TEXT,
    LOG_COUNTED /* a cell without a value that is counted already */
};

/* What a cell holds. *value is NaN for the last three. Thousands separators
   (the other of . and , or a blank or ') are passed over where groups of three
   digits stand between them. */
enum log_kind bl_log_value(const struct log_cell *cell, char decimal,
                           double *value);
/* Copy the digits without thousands separators; false: the grouping is not
   one, or it does not fit. `out` holds at least 64 bytes. */
bool bl_log_ungroup(const char *text, size_t length, char decimal, char *out,
                    size_t *out_length);
/* A number under some choice of decimal sign. */
bool bl_log_looks_number(const char *text, size_t length);

#endif
