/* SPDX-License-Identifier: MIT */
/*
 * Bytes ahead of the reader, on a thread of its own: read from a file and
 * hashed, or inflated from a gzip stream. They come in a few blocks, in order,
 * so that what is read does not depend on how the threads run. While it runs,
 * the gzip stream and the bytes as stored belong to the thread.
 */
#ifndef BRAKELAG_SRC_IO_AHEAD_H
#define BRAKELAG_SRC_IO_AHEAD_H

#include "io/gzip.h"

/* The most bytes of a block, and in front of it the room for bytes of the one
   before. */
enum { BL_AHEAD_BLOCK = 256 * 1024, BL_AHEAD_FRONT = 8192 };

struct bl_ahead;

/* `gzip`, or where that is NULL `raw`, called `name` in errors; all outlive
   the result. NULL where a thread or its memory cannot be had: read them
   yourself. */
struct bl_ahead *bl_ahead_start(struct bl_gzip *gzip, struct bl_raw *raw,
                                const char *name);
/*
 * The next block, valid until the next call: *got bytes at *data. The `kept`
 * bytes at `keep` (at most BL_AHEAD_FRONT; they may be of the block before) are
 * put right in front of it. Failures come with the block that they end, *got 0
 * and OK is the end; after either no call is allowed.
 */
enum bl_status bl_ahead_next(struct bl_ahead *ahead, const uint8_t *keep,
                             size_t kept, uint8_t **data, size_t *got,
                             struct bl_error *error);
/* Ends the thread and frees; what it had made is dropped. NULL is fine. */
void bl_ahead_stop(struct bl_ahead *ahead);

#endif
