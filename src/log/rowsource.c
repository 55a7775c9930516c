/* SPDX-License-Identifier: MIT */
/* Byte source in any encoding to bounded lines of UTF-8. */
#include "log/rowsource.h"

#include "base/alloc.h"
#include "base/digits.h"
#include "base/limits.h"

#include <string.h>

enum { RAW_BYTES = 65536, START_BYTES = 4 * RAW_BYTES };

static enum bl_status look(struct log_source *source, const char *encoding,
                           struct bl_error *error)
{
    const uint8_t *data;
    size_t size;
    enum bl_status status =
        bl_bytes_peek(source->bytes, BL_PEEK_MAX, &data, &size, error);
    if (status != BL_OK) {
        return status;
    }
    if (size > BL_PEEK_MAX) {
        size = BL_PEEK_MAX; /* the same decision whatever is buffered */
    }
    size_t mark;
    source->encoding = bl_log_encoding_guess(data, size, &mark);
    if (encoding != NULL) {
        if (!bl_log_encoding_by_name(encoding, &source->encoding)) {
            return bl_fail(error, BL_ARG, bl_bytes_name(source->bytes),
                           "expected encoding utf-8, latin-1, utf-16le or "
                           "utf-16be, found '%s'",
                           encoding);
        }
        mark = bl_log_encoding_mark(source->encoding, data, size);
    }
    source->marked = mark > 0;
    source->line_end = '\n';
    if (memchr(data, '\n', size) == NULL && memchr(data, '\r', size) != NULL) {
        source->line_end = '\r';
    }
    uint8_t skipped[4];
    for (size_t taken = 0; taken < mark;) {
        size_t got;
        status =
            bl_bytes_read(source->bytes, skipped, mark - taken, &got, error);
        if (status != BL_OK || got == 0) {
            return status;
        }
        taken += got;
    }
    return BL_OK;
}

enum bl_status bl_log_source_open(struct log_source *source,
                                  struct bl_bytes *bytes, const char *encoding,
                                  struct bl_error *error)
{
    source->bytes = bytes;
    const enum bl_status status = look(source, encoding, error);
    if (status != BL_OK) {
        return status;
    }
    source->raw = bl_alloc(RAW_BYTES, 1);
    source->buffer = bl_alloc(START_BYTES, 1);
    source->capacity = START_BYTES;
    return source->raw == NULL || source->buffer == NULL ? bl_fail_memory(error)
                                                         : BL_OK;
}

/* Room for one more chunk behind `end`; the open line moves to the front. */
static bool make_room(struct log_source *source)
{
    const size_t open = source->end - source->start;
    memmove(source->buffer, source->buffer + source->start, open);
    source->scanned -= source->start;
    source->start = 0;
    source->end = open;
    const size_t wanted = open + 2 * (size_t)RAW_BYTES + 4 + BL_DIGITS_SLACK;
    if (wanted <= source->capacity) {
        return true;
    }
    /* At most a line, a chunk and half as much again: bounded by `skip`. */
    const size_t larger = wanted + wanted / 2;
    char *grown = bl_realloc(source->buffer, larger, 1);
    if (grown == NULL) {
        return false;
    }
    source->buffer = grown;
    source->capacity = larger;
    return true;
}

static enum bl_status fill(struct log_source *source, struct bl_error *error)
{
    if (!make_room(source)) {
        return bl_fail_memory(error);
    }
    size_t got = 0;
    /* UTF-8 is taken as it is. */
    const bool as_is = source->encoding == LOG_UTF8;
    uint8_t *to = as_is ? (uint8_t *)source->buffer + source->end
                        : source->raw + source->raw_count;
    const enum bl_status status =
        bl_bytes_read(source->bytes, to, RAW_BYTES - source->raw_count, &got,
                      &source->failure);
    if (status < 0 || got == 0) {
        source->failed = status < 0 ? status : BL_OK;
        source->ended = true;
        return BL_OK;
    }
    if (as_is) {
        source->end += got;
        return BL_OK;
    }
    const size_t count = source->raw_count + got;
    size_t used;
    source->end += bl_log_transcode(source->encoding, source->raw, count, &used,
                                    source->buffer + source->end);
    source->raw_count = count - used;
    memmove(source->raw, source->raw + used, source->raw_count);
    return BL_OK;
}

static void give(struct log_source *source, size_t length, bool ended,
                 struct log_line *line)
{
    line->text = source->buffer + source->start;
    line->length = length;
    line->ended = ended;
    line->number = ++source->line;
    line->too_long = source->skipping || length > BL_LIMIT_LINE_BYTES;
    source->skipping = false;
    source->start += length + ended;
    source->scanned = source->start;
    if (line->too_long) {
        line->length = 0;
    } else if (length > 0 && line->text[length - 1] == '\r') {
        line->length--;
    }
}

enum bl_status bl_log_source_next(struct log_source *source,
                                  struct log_line *line, bool *got,
                                  struct bl_error *error)
{
    *got = true;
    for (;;) {
        const char *from = source->buffer + source->scanned;
        const char *found =
            memchr(from, source->line_end, source->end - source->scanned);
        if (found != NULL) {
            const size_t at = (size_t)(found - source->buffer);
            give(source, at - source->start, true, line);
            return BL_OK;
        }
        source->scanned = source->end;
        if (source->ended) {
            if (source->start == source->end && !source->skipping) {
                *got = false;
                return BL_OK;
            }
            give(source, source->end - source->start, false, line);
            return BL_OK;
        }
        if (source->end - source->start > BL_LIMIT_LINE_BYTES) {
            source->skipping = true;
            source->start = source->scanned = source->end = 0;
        }
        const enum bl_status status = fill(source, error);
        if (status != BL_OK) {
            return status;
        }
    }
}

void bl_log_source_finish(struct log_source *source)
{
    bl_free(source->raw);
    bl_free(source->buffer);
    source->raw = NULL;
    source->buffer = NULL;
}
