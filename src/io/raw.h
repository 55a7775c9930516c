/* SPDX-License-Identifier: MIT */
/*
 * Bytes as stored: from a file descriptor, memory or a function. Feeds the
 * inflating layer (gzip.h) or the window (bytes.c) and hashes what passes.
 */
#ifndef BRAKELAG_SRC_IO_RAW_H
#define BRAKELAG_SRC_IO_RAW_H

#include "io/bytes.h"
#include "io/hash.h"

enum bl_raw_kind { BL_RAW_FILE, BL_RAW_MEMORY, BL_RAW_FUNCTION };

struct bl_raw {
    enum bl_raw_kind kind;
    int fd;
    bool close_fd;
    const uint8_t *memory;
    size_t memory_size, memory_at;
    bl_bytes_fill *fill;
    void *context;
    struct bl_hash *hash;
    uint64_t stored; /* bytes read so far */
    bool ended;
};

/* Read up to `size` bytes, at least one unless at the end (*got 0). */
enum bl_status bl_raw_read(struct bl_raw *raw, const char *name, void *buffer,
                           size_t size, size_t *got, struct bl_error *error);
void bl_raw_close(struct bl_raw *raw);

#endif
