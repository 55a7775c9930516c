/* SPDX-License-Identifier: MIT */
/*
 * Inflating gzip (RFC 1952, by zlib): several members in a row are one stream,
 * as the RFC says. Zero bytes after the last member are padding (tape blocks);
 * anything else there is damage.
 */
#ifndef BRAKELAG_SRC_IO_GZIP_H
#define BRAKELAG_SRC_IO_GZIP_H

#include "io/raw.h"

struct bl_gzip;

enum { BL_GZIP_HEADER = 4 };

/* Do these first bytes begin a gzip stream? */
bool bl_gzip_recognised(const uint8_t *data, size_t size);
/* What was read of the stored bytes so far. */
struct bl_gzip_first {
    uint8_t *data;
    size_t size, capacity;
};
/* `first.data` is taken over (bl_free), also after a failure. */
enum bl_status bl_gzip_new(struct bl_gzip **out, struct bl_raw *raw,
                           const char *name, struct bl_gzip_first first,
                           struct bl_error *error);
/* As bl_raw_read. *got can be above 0 together with a failure. */
enum bl_status bl_gzip_read(struct bl_gzip *gzip, uint8_t *buffer, size_t size,
                            size_t *got, struct bl_error *error);
void bl_gzip_free(struct bl_gzip *gzip);

#endif
