/* SPDX-License-Identifier: MIT */
/*
 * A table of frames: a header that names an identifier and bytes, then a frame
 * a row. What the columns are is decided from the names, how their numbers are
 * written from the names and the first rows; what neither tells is refused
 * rather than guessed, but for the unit of a time column, which is said.
 */
#ifndef BRAKELAG_SRC_BUS_TABLEHEAD_H
#define BRAKELAG_SRC_BUS_TABLEHEAD_H

#include "base/logtime.h"
#include "bus/format.h"

enum { BL_FRAMETABLE_CELLS = 160, BL_FRAMETABLE_BYTES = 64 };

struct bl_frametable_cell {
    const char *text; /* into the line, without quotes and blanks around */
    size_t length;
};
/* Cells of a line, at most BL_FRAMETABLE_CELLS; quotes as in RFC 4180. */
size_t bl_frametable_split(struct bl_frametable_cell cell[BL_FRAMETABLE_CELLS],
                           const char *text, size_t length, char delimiter);

enum bl_frametable_column {
    BL_FRAMETABLE_ID,
    BL_FRAMETABLE_DATA, /* bytes in one cell, or from this one on */
    BL_FRAMETABLE_TIME,
    BL_FRAMETABLE_BUS,
    BL_FRAMETABLE_DIRECTION,
    BL_FRAMETABLE_LENGTH,
    BL_FRAMETABLE_TYPE,
    BL_FRAMETABLE_EXTENDED,
    BL_FRAMETABLE_REMOTE,
    BL_FRAMETABLE_COLUMNS
};

enum bl_frametable_base {
    BL_FRAMETABLE_BASE_UNKNOWN,
    BL_FRAMETABLE_HEX,
    BL_FRAMETABLE_DECIMAL
};

struct bl_frametable_form {
    char delimiter, decimal;
    size_t at[BL_FRAMETABLE_COLUMNS]; /* number of a column; SIZE_MAX: none */
    size_t byte[BL_FRAMETABLE_BYTES]; /* columns of one byte each */
    size_t bytes;
    size_t last; /* number of the header's last column */
    enum bl_frametable_base id_base, byte_base;
    enum log_form time_form; /* UNKNOWN: no time column */
    bool unit_guessed;       /* of the time */
    bool deltas;             /* times since the row before */
    size_t head_end;         /* offset behind the header */
    size_t head_lines;       /* lines up to and with the header */
};

/* Is it such a table? As a format's probe; `form` is set with MINE. */
enum bl_bus_answer bl_frametable_decide(struct bl_frametable_form *form,
                                        const uint8_t *data, size_t size,
                                        bool all, struct bl_error *why);

/* A row to a frame, all but bus and part; false: *expected says what should
   are in column *at (from 0). */
struct bl_frametable_row {
    struct bl_frametable_cell cell[BL_FRAMETABLE_CELLS];
    size_t cells;
    int64_t resolution_ns; /* of the time */
    const char *expected;
    size_t at;
};
bool bl_frametable_row(struct bl_frametable_row *row,
                       const struct bl_frametable_form *form, const char *text,
                       size_t length, struct bl_frame *frame);
/* The cell of a column; empty where the row or the table has none. */
struct bl_frametable_cell
bl_frametable_cell(const struct bl_frametable_row *row,
                   const struct bl_frametable_form *form,
                   enum bl_frametable_column column);

/* Bytes as written in one cell: together, or apart by blanks, dots, dashes,
   colons; each may have 0x before it. False: it is not one. */
struct bl_frametable_bytes {
    uint8_t byte[BL_FRAMETABLE_BYTES];
    size_t count;
};
bool bl_frametable_read_bytes(struct bl_frametable_bytes *bytes,
                              const struct bl_frametable_cell *cell,
                              enum bl_frametable_base base);

#endif
