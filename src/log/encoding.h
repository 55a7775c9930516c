/* SPDX-License-Identifier: MIT */
/*
 * Character encodings of analog logs: recognise UTF-8, Latin-1 and UTF-16 of
 * both orders, and turn all of them into UTF-8 at entry.
 */
#ifndef BRAKELAG_SRC_LOG_ENCODING_H
#define BRAKELAG_SRC_LOG_ENCODING_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum log_encoding { LOG_UTF8, LOG_LATIN1, LOG_UTF16LE, LOG_UTF16BE };

const char *bl_log_encoding_name(enum log_encoding encoding);
bool bl_log_encoding_by_name(const char *name, enum log_encoding *encoding);

/* Decide from the first bytes; *bom is the length of a byte order mark. */
enum log_encoding bl_log_encoding_guess(const uint8_t *data, size_t size,
                                        size_t *bom);
/* Length of the byte order mark of this encoding at the start, or 0. */
size_t bl_log_encoding_mark(enum log_encoding encoding, const uint8_t *data,
                            size_t size);
/*
 * Transcode in[0..size) to UTF-8. `out` has room for 2 * size + 4 bytes; *used
 * is what was taken (a character that is cut in two stays). Returns bytes
 * written. Half a surrogate pair becomes U+FFFD.
 */
size_t bl_log_transcode(enum log_encoding encoding, const uint8_t *in,
                        size_t size, size_t *used, char *out);

/* A clean copy of at most size - 1 bytes: what is not UTF-8 is taken as
   Latin-1, control characters become blanks. Returns `out`. */
char *bl_log_clean(const char *text, size_t length, char *out, size_t size);

#endif
