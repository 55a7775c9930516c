/* SPDX-License-Identifier: MIT */
/*
 * A table of text whose columns line up. Cells are given row by row, widths
 * are found when it is written; width counts characters of UTF-8, not bytes.
 * A table that is wider than the lines may be is written in blocks of columns,
 * each with the columns that name the row; text at the end of a row goes on
 * below. The first failure sticks and is returned by bl_table_write.
 */
#ifndef BRAKELAG_SRC_REPORT_TABLE_H
#define BRAKELAG_SRC_REPORT_TABLE_H

#include "brakelag/io.h"

enum { BL_TABLE_COLUMNS = 24 };

struct bl_table_cell {
    char *text;
    size_t row, column;
    size_t lower; /* where a heading's second line begins in `text`; 0: none */
    bool spans;   /* reaches over the columns to its right */
};

/* Zero-initialise; `right[c]` true aligns column c to the right, `starts[c]`
   begins a block with it where there are several, `joins[c]` keeps it in the
   block of the column before it. */
struct bl_table {
    struct bl_table_cell *cell;
    size_t count, capacity, row, column;
    bool right[BL_TABLE_COLUMNS], starts[BL_TABLE_COLUMNS];
    bool joins[BL_TABLE_COLUMNS];
    size_t keys;  /* columns that name the row; 0: one */
    bool heading; /* the first row: in two lines where that is narrower */
    bool failed;
};

/* Next cell of the row. */
void bl_table_cell(struct bl_table *table, const char *format, ...)
    BL_PRINTF(2, 3);
/* A last cell that may reach beyond its column. */
void bl_table_span(struct bl_table *table, const char *format, ...)
    BL_PRINTF(2, 3);
void bl_table_row(struct bl_table *table);
/* Write with `indent` blanks before each row, in lines of `columns`, and free.
   False: out of memory; what was written then is not whole. */
bool bl_table_write(struct bl_table *table, struct bl_output *output,
                    size_t indent, size_t columns);

/* Characters of UTF-8 text. */
size_t bl_text_width(const char *text);

#endif
