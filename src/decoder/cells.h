/* SPDX-License-Identifier: MIT */
/* One line of comma-separated cells, quoted as in RFC 4180 (a cell does not
   span lines). */
#ifndef BRAKELAG_SRC_DECODER_CELLS_H
#define BRAKELAG_SRC_DECODER_CELLS_H

#include <stdbool.h>
#include <stddef.h>

enum { BL_CELLS_MOST = 64 };

/* Zero-initialise; bl_cells_finish frees. */
struct bl_cells {
    const char *cell[BL_CELLS_MOST]; /* NUL-terminated, blanks trimmed */
    size_t count;                    /* all cells, kept or not */
    char *buffer;
    size_t capacity;
};

enum bl_cells_result {
    BL_CELLS_OK,
    BL_CELLS_NOMEM,
    BL_CELLS_NOT_UTF8,
    BL_CELLS_OPEN_QUOTE,  /* a quoted cell does not end on its line */
    BL_CELLS_STRAY_QUOTE, /* a quote inside a cell, or text behind one */
    BL_CELLS_TOO_LONG     /* a cell is over BL_LIMIT_CELL_BYTES */
};

/* The cells stay valid until the next call. */
enum bl_cells_result bl_cells_split(struct bl_cells *cells, const char *text,
                                    size_t length);
void bl_cells_finish(struct bl_cells *cells);

#endif
