/* SPDX-License-Identifier: MIT */
/*
 * Lines of UTF-8 from a byte source in any encoding, bounded by
 * BL_LIMIT_LINE_BYTES. LF, CRLF and (when the file has nothing else) CR end a
 * line. Feeds the dialect (src/log/dialect.h) and the reader.
 */
#ifndef BRAKELAG_SRC_LOG_ROWSOURCE_H
#define BRAKELAG_SRC_LOG_ROWSOURCE_H

#include "brakelag/io.h"
#include "log/encoding.h"

struct log_source {
    struct bl_bytes *bytes; /* borrowed */
    enum log_encoding encoding;
    bool marked; /* a byte order mark was there */
    char line_end;
    uint8_t *raw; /* bytes not yet transcoded */
    size_t raw_count;
    char *buffer;
    size_t capacity, start, scanned, end;
    bool ended, skipping;
    int64_t line;
    enum bl_status failed; /* the byte source broke off: reported at the end */
    struct bl_error failure;
};

struct log_line {
    const char *text; /* without its end; valid until the next line */
    size_t length;
    int64_t number; /* from 1 */
    bool ended;     /* false: the file stops without a line end */
    bool too_long;  /* over the limit: text is empty */
};

/* `encoding` NULL: decide by looking. Zero-initialised `source`. */
enum bl_status bl_log_source_open(struct log_source *source,
                                  struct bl_bytes *bytes, const char *encoding,
                                  struct bl_error *error);
/* *got is false at the end; what broke the source is in source->failed. */
enum bl_status bl_log_source_next(struct log_source *source,
                                  struct log_line *line, bool *got,
                                  struct bl_error *error);
void bl_log_source_finish(struct log_source *source);

#endif
