/* SPDX-License-Identifier: MIT */
/*
 * Lines of a byte source, in place: no copy is made of a line. LF, CRLF and a
 * lone CR end a line, mixed too. A line has at most BL_LIMIT_LINE_BYTES.
 */
#ifndef BRAKELAG_SRC_IO_LINES_H
#define BRAKELAG_SRC_IO_LINES_H

#include "io/bytes.h"

/* A line without its end, not NUL-terminated; valid until the next call. */
struct bl_text_line {
    const char *text; /* NULL: there are no more lines */
    size_t length;
    int64_t number; /* counts from 1 */
    int64_t offset; /* of its first byte, after inflating */
    bool ended;     /* false: the input stopped before a line end */
    bool has_nul;   /* a zero byte is in it */
};

/* Next place of one byte value; every byte is looked at once. */
struct bl_line_finder {
    int64_t found; /* offset, at or before `searched`; -1: none up to there */
    int64_t searched;
};

struct bl_lines {
    struct bl_bytes *source;
    int64_t number; /* of the line given last */
    struct bl_line_finder lf, cr, nul;
    bool skip_lf; /* a CR ended the last line: a LF right after belongs to it */
    bool at_start, skip_bom;
};

/* Start at the source's present place; nothing to free. `skip_bom`: a UTF-8
   byte order mark at the start is not part of the first line. */
void bl_lines_start(struct bl_lines *lines, struct bl_bytes *source,
                    bool skip_bom);

/*
 * The next line. Errors: LIMIT (the line is too long; the next call goes on
 * behind it), and those of the source, after all lines before the damage have
 * been given (the line that the damage cuts is given with `ended` false).
 */
enum bl_status bl_lines_next(struct bl_lines *lines, struct bl_text_line *line,
                             struct bl_error *error);

#endif
