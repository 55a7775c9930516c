/* SPDX-License-Identifier: MIT */
#include "io/gzip.h"

#include "base/alloc.h"

#include <limits.h>
#include <string.h>
#include <zlib.h>

enum { METHOD_DEFLATE = 8, RESERVED_FLAGS = 0xE0, WINDOW_GZIP_ONLY = 15 + 16 };

struct bl_gzip {
    struct bl_raw *raw;
    const char *name; /* borrowed from the byte source */
    uint8_t *in;
    size_t at, end, capacity;
    z_stream stream;
    bool stream_ready;
    bool between; /* between two members, or after the last */
};

/* zlib allocates through the library's own functions, so that tests can make
   it fail. */
static voidpf z_alloc(voidpf opaque, uInt items, uInt size)
{
    (void)opaque;
    return bl_alloc(items, size);
}

static void z_free(voidpf opaque, voidpf memory)
{
    (void)opaque;
    bl_free(memory);
}

bool bl_gzip_recognised(const uint8_t *data, size_t size)
{
    return size >= 2 && data[0] == 0x1F && data[1] == 0x8B;
}

/* Byte offset, as stored, of the next byte to inflate. */
static int64_t stored_at(const struct bl_gzip *gzip)
{
    return (int64_t)(gzip->raw->stored - (gzip->end - gzip->at));
}

enum bl_status bl_gzip_new(struct bl_gzip **out, struct bl_raw *raw,
                           const char *name, struct bl_gzip_first first,
                           struct bl_error *error)
{
    *out = NULL;
    if ((first.size > 2 && first.data[2] != METHOD_DEFLATE) ||
        (first.size > 3 && (first.data[3] & RESERVED_FLAGS) != 0)) {
        bl_free(first.data);
        return bl_fail_offset(error, BL_FORMAT, name, 2,
                              "starts as gzip, but its header is damaged");
    }
    struct bl_gzip *gzip = bl_alloc(1, sizeof(*gzip));
    if (gzip == NULL) {
        bl_free(first.data);
        return bl_fail_memory(error);
    }
    gzip->raw = raw;
    gzip->name = name;
    gzip->in = first.data;
    gzip->end = first.size;
    gzip->capacity = first.capacity;
    gzip->stream.zalloc = z_alloc;
    gzip->stream.zfree = z_free;
    if (inflateInit2(&gzip->stream, WINDOW_GZIP_ONLY) != Z_OK) {
        bl_gzip_free(gzip);
        return bl_fail_memory(error);
    }
    gzip->stream_ready = true;
    *out = gzip;
    return BL_OK;
}

/* More stored bytes, when all were used. */
static enum bl_status refill(struct bl_gzip *gzip, struct bl_error *error)
{
    if (gzip->at < gzip->end) {
        return BL_OK;
    }
    gzip->at = 0;
    gzip->end = 0;
    return bl_raw_read(gzip->raw, gzip->name, gzip->in, gzip->capacity,
                       &gzip->end, error);
}

/* After a member: padding, another member, or the end (*ended). */
static enum bl_status next_member(struct bl_gzip *gzip, bool *ended,
                                  struct bl_error *error)
{
    *ended = false;
    for (;;) {
        const enum bl_status status = refill(gzip, error);
        if (status != BL_OK) {
            return status;
        }
        if (gzip->at == gzip->end) {
            *ended = true;
            return BL_OK;
        }
        if (gzip->in[gzip->at] != 0) {
            break;
        }
        gzip->at++;
    }
    if (gzip->in[gzip->at] != 0x1F) {
        return bl_fail_offset(
            error, BL_FORMAT, gzip->name, stored_at(gzip),
            "expected the end or another gzip member, found byte 0x%02x",
            gzip->in[gzip->at]);
    }
    if (inflateReset(&gzip->stream) != Z_OK) {
        return bl_fail(error, BL_SYSTEM, gzip->name, "zlib cannot reset");
    }
    gzip->between = false;
    return BL_OK;
}

/* One call of inflate; advances both sides. */
static enum bl_status step(struct bl_gzip *gzip, uint8_t *buffer, size_t size,
                           size_t *got, struct bl_error *error)
{
    z_stream *z = &gzip->stream;
    const size_t in = gzip->end - gzip->at;
    z->next_in = gzip->in + gzip->at;
    z->avail_in = in < UINT_MAX ? (uInt)in : UINT_MAX;
    z->next_out = buffer + *got;
    const size_t room = size - *got;
    z->avail_out = room < UINT_MAX ? (uInt)room : UINT_MAX;
    const uInt in_before = z->avail_in;
    const uInt out_before = z->avail_out;
    const int code = inflate(z, Z_NO_FLUSH);
    gzip->at += in_before - z->avail_in;
    *got += out_before - z->avail_out;
    switch (code) {
    case Z_STREAM_END:
        gzip->between = true;
        return BL_OK;
    case Z_OK:
    case Z_BUF_ERROR: /* no progress possible without more input */
        return BL_OK;
    case Z_MEM_ERROR:
        return bl_fail_memory(error);
    default:
        return bl_fail_offset(error, BL_FORMAT, gzip->name, stored_at(gzip),
                              "damaged gzip data: %s",
                              z->msg == NULL ? "unknown kind of damage"
                                             : z->msg);
    }
}

enum bl_status bl_gzip_read(struct bl_gzip *gzip, uint8_t *buffer, size_t size,
                            size_t *got, struct bl_error *error)
{
    *got = 0;
    while (*got < size) {
        enum bl_status status;
        if (gzip->between) {
            bool ended;
            status = next_member(gzip, &ended, error);
            if (status != BL_OK || ended) {
                return status;
            }
        }
        status = refill(gzip, error);
        if (status != BL_OK) {
            return status;
        }
        if (gzip->at == gzip->end) {
            return bl_fail_offset(error, BL_TRUNCATED, gzip->name,
                                  (int64_t)gzip->raw->stored,
                                  "the gzip data are cut: expected more "
                                  "compressed bytes, found the end");
        }
        status = step(gzip, buffer, size, got, error);
        if (status != BL_OK) {
            return status;
        }
        if (*got > 0 && gzip->at == gzip->end) {
            /* Hand on what is there before waiting for a slow pipe. */
            return BL_OK;
        }
    }
    return BL_OK;
}

void bl_gzip_free(struct bl_gzip *gzip)
{
    if (gzip != NULL) {
        if (gzip->stream_ready) {
            (void)inflateEnd(&gzip->stream);
        }
        bl_free(gzip->in);
        bl_free(gzip);
    }
}
