/* SPDX-License-Identifier: MIT */
#include "io/raw.h"

#include <errno.h>
#include <string.h>
#include <unistd.h>

static enum bl_status read_file(struct bl_raw *raw, const char *name,
                                void *buffer, size_t size, size_t *got,
                                struct bl_error *error)
{
    ssize_t length;
    do {
        length = read(raw->fd, buffer, size);
    } while (length < 0 && errno == EINTR);
    if (length < 0) {
        const int code = errno;
        return bl_fail_offset(error, BL_IO, name, (int64_t)raw->stored,
                              "cannot read on: %s", strerror(code));
    }
    *got = (size_t)length;
    return BL_OK;
}

static void read_memory(struct bl_raw *raw, void *buffer, size_t size,
                        size_t *got)
{
    const size_t left = raw->memory_size - raw->memory_at;
    *got = size < left ? size : left;
    if (*got > 0) {
        memcpy(buffer, raw->memory + raw->memory_at, *got);
        raw->memory_at += *got;
    }
}

enum bl_status bl_raw_read(struct bl_raw *raw, const char *name, void *buffer,
                           size_t size, size_t *got, struct bl_error *error)
{
    *got = 0;
    if (raw->ended || size == 0) {
        return BL_OK;
    }
    enum bl_status status = BL_OK;
    switch (raw->kind) {
    case BL_RAW_FILE:
        status = read_file(raw, name, buffer, size, got, error);
        break;
    case BL_RAW_MEMORY:
        read_memory(raw, buffer, size, got);
        break;
    case BL_RAW_FUNCTION:
        status = raw->fill(raw->context, buffer, size, got, error);
        break;
    }
    if (status != BL_OK) {
        return status;
    }
    raw->ended = *got == 0;
    raw->stored += *got;
    bl_hash_add(raw->hash, buffer, *got);
    return BL_OK;
}

void bl_raw_close(struct bl_raw *raw)
{
    if (raw->kind == BL_RAW_FILE && raw->close_fd) {
        /* Only read from: a failing close loses nothing. */
        (void)close(raw->fd);
    }
    bl_hash_free(raw->hash);
    raw->hash = NULL;
}
