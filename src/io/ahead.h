/* SPDX-License-Identifier: MIT */
/*
 * Inflating ahead of the reader, on a thread of its own: the inflated bytes
 * come through a few blocks, in order, so that what is read does not depend on
 * how the threads run. While it runs, the gzip stream and the bytes as stored
 * under it belong to the thread.
 */
#ifndef BRAKELAG_SRC_IO_AHEAD_H
#define BRAKELAG_SRC_IO_AHEAD_H

#include "io/gzip.h"

struct bl_ahead;

/* NULL where a thread or its memory cannot be had: read the stream itself. */
struct bl_ahead *bl_ahead_start(struct bl_gzip *gzip);
/* As bl_gzip_read, in pieces of any size; a failure comes after all bytes in
   front of it, and again on every further call. */
enum bl_status bl_ahead_read(struct bl_ahead *ahead, uint8_t *buffer,
                             size_t size, size_t *got, struct bl_error *error);
/* Ends the thread and frees; what it had inflated is dropped. NULL is fine. */
void bl_ahead_stop(struct bl_ahead *ahead);

#endif
