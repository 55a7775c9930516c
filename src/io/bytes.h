/* SPDX-License-Identifier: MIT */
/*
 * What readers inside the library use of a byte source beyond brakelag/io.h:
 * looking at the bytes ahead in place, without a copy, and sources over a
 * function (for transcoding).
 */
#ifndef BRAKELAG_SRC_IO_BYTES_H
#define BRAKELAG_SRC_IO_BYTES_H

#include "brakelag/io.h"

/* The widest look ahead: a line of BL_LIMIT_LINE_BYTES with its end. */
enum { BL_WINDOW_MAX = (1 << 20) + 4096 };

/*
 * All bytes that are at hand, at least `wanted` (at most BL_WINDOW_MAX) unless
 * the stream ends sooner. Short because of damage: the status of the damage,
 * with *data and *available still telling what is there. *data is valid until
 * the next call on this source other than bl_bytes_take.
 */
enum bl_status bl_bytes_window(struct bl_bytes *source, size_t wanted,
                               const uint8_t **data, size_t *available,
                               struct bl_error *error);
/* Take `count` of the bytes that the window showed. */
void bl_bytes_take(struct bl_bytes *source, size_t count);

/* Skip `count` bytes; *skipped is less only at the end or at damage. */
enum bl_status bl_bytes_skip(struct bl_bytes *source, uint64_t count,
                             uint64_t *skipped, struct bl_error *error);

/*
 * For formats whose links lead anywhere: how many bytes there are in all, after
 * inflating. A plain file and memory are looked at in place; anything else is
 * read to its end now and held, up to BL_LIMIT_HELD_BYTES. Nothing may have
 * been taken before. Where the source breaks off (FORMAT, TRUNCATED), that
 * status, with *size telling how many came.
 */
enum bl_status bl_bytes_size(struct bl_bytes *source, uint64_t *size,
                             struct bl_error *error);
/* Copy up to `size` of those bytes; *got is less only where they end. Takes
   nothing. */
enum bl_status bl_bytes_at(struct bl_bytes *source, uint64_t offset,
                           void *buffer, size_t size, size_t *got,
                           struct bl_error *error);

/* Fills `buffer` with up to `size` bytes; *got 0 only at the end. */
typedef enum bl_status bl_bytes_fill(void *context, uint8_t *buffer,
                                     size_t size, size_t *got,
                                     struct bl_error *error);

/* A source over a function: what `fill` gives is taken as it is (no gzip).
   `context` must outlive the source. */
enum bl_status bl_bytes_open_function(struct bl_bytes **out, const char *name,
                                      bl_bytes_fill *fill, void *context,
                                      struct bl_error *error);

#endif
