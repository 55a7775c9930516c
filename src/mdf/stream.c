/* SPDX-License-Identifier: MIT */
/*
 * The data of one set or channel as a stream of bytes, through zlib where it is
 * packed. Recorders turn packed records so that equal bytes of neighbours stand
 * together (first byte of all records, second byte of all ...): they are turned
 * back here.
 */
#include "mdf/block.h"

#include "base/alloc.h"
#include "base/limits.h"

#include <string.h>
#include <zlib.h>

enum {
    CHUNK = 256 * 1024,      /* of plain data, read at a time */
    SMALL_CHUNK = 32 * 1024, /* where many sets are read side by side */
    MANY_SETS = 16,
    PACKED_CHUNK = 64 * 1024
};

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

enum bl_status bl_mdf_stream_open(struct bl_mdf_stream *stream,
                                  struct bl_mdf *mdf, uint64_t data,
                                  const char *id, struct bl_error *error)
{
    memset(stream, 0, sizeof(*stream));
    stream->mdf = mdf;
    return bl_mdf_pieces_find(&stream->pieces, mdf, data, id, error);
}

void bl_mdf_stream_close(struct bl_mdf_stream *stream)
{
    if (stream->inflater != NULL) {
        (void)inflateEnd(stream->inflater);
    }
    bl_free(stream->inflater);
    bl_free(stream->buffer);
    bl_free(stream->packed);
    bl_free(stream->turned);
    bl_free(stream->pieces.piece);
    if (stream->mdf != NULL) {
        stream->mdf->held -= stream->held;
    }
    memset(stream, 0, sizeof(*stream));
}

/* More memory for this stream: all of them together have a limit. */
static enum bl_status hold(struct bl_mdf_stream *stream, uint8_t **memory,
                           size_t *capacity, size_t wanted,
                           struct bl_error *error)
{
    struct bl_mdf *mdf = stream->mdf;
    if (wanted <= *capacity) {
        return BL_OK;
    }
    const size_t more = wanted - *capacity;
    if (mdf->held + more > BL_LIMIT_MDF_HELD) {
        return bl_fail(error, BL_LIMIT, bl_bytes_name(mdf->source),
                       "expected to hold at most %u bytes of data at a time, "
                       "needed more",
                       BL_LIMIT_MDF_HELD);
    }
    uint8_t *grown = bl_realloc(*memory, wanted + BL_MDF_SLACK, 1);
    if (grown == NULL) {
        return bl_fail_memory(error);
    }
    *memory = grown;
    *capacity = wanted;
    mdf->held += more;
    stream->held += more;
    return BL_OK;
}

/* What is at hand goes to the front, with room for `more` behind it. */
static enum bl_status make_room(struct bl_mdf_stream *stream, size_t more,
                                struct bl_error *error)
{
    const size_t left = stream->end - stream->at;
    if (stream->at > 0 && left > 0) {
        memmove(stream->buffer, stream->buffer + stream->at, left);
    }
    stream->at = 0;
    stream->end = left;
    return hold(stream, &stream->buffer, &stream->capacity, left + more, error);
}

static enum bl_status fill_plain(struct bl_mdf_stream *stream,
                                 const struct bl_mdf_piece *piece,
                                 struct bl_error *error)
{
    const uint64_t left = piece->size - stream->next_at;
    const size_t chunk = stream->mdf->sets > MANY_SETS ? SMALL_CHUNK : CHUNK;
    const size_t size = left < chunk ? (size_t)left : chunk;
    enum bl_status status = make_room(stream, chunk, error);
    if (status == BL_OK) {
        status = bl_mdf_read(stream->mdf, piece->at + stream->next_at,
                             stream->buffer + stream->end, size, error);
    }
    if (status != BL_OK) {
        return status;
    }
    stream->end += size;
    stream->next_at += size;
    if (stream->next_at == piece->size) {
        stream->next++;
        stream->next_at = 0;
    }
    return BL_OK;
}

static enum bl_status start_inflater(struct bl_mdf_stream *stream,
                                     struct bl_error *error)
{
    z_stream *z = stream->inflater;
    if (z != NULL) {
        return inflateReset(z) == Z_OK ? BL_OK : bl_fail_memory(error);
    }
    if (stream->packed == NULL) {
        stream->packed = bl_alloc(PACKED_CHUNK, 1);
    }
    z = bl_alloc(1, sizeof(*z));
    if (z == NULL || stream->packed == NULL) {
        bl_free(z);
        return bl_fail_memory(error);
    }
    z->zalloc = z_alloc;
    z->zfree = z_free;
    if (inflateInit(z) != Z_OK) {
        bl_free(z);
        return bl_fail_memory(error);
    }
    stream->inflater = z;
    return BL_OK;
}

static enum bl_status damaged_packing(const struct bl_mdf_stream *stream,
                                      const struct bl_mdf_piece *piece,
                                      const char *what, struct bl_error *error)
{
    return bl_fail_offset(error, BL_FORMAT, bl_bytes_name(stream->mdf->source),
                          (int64_t)piece->at, "damaged packed data: %s", what);
}

/* Exactly the bytes that the block promises. */
static enum bl_status unpack(struct bl_mdf_stream *stream,
                             const struct bl_mdf_piece *piece, uint8_t *to,
                             struct bl_error *error)
{
    enum bl_status status = start_inflater(stream, error);
    if (status != BL_OK) {
        return status;
    }
    z_stream *z = stream->inflater;
    uint64_t at = 0;
    int code = Z_OK;
    z->next_out = to;
    z->avail_out = (uInt)piece->size;
    z->avail_in = 0;
    while (code == Z_OK || (code == Z_BUF_ERROR && z->avail_in == 0)) {
        if (z->avail_in == 0) {
            const uint64_t left = piece->stored - at;
            const size_t size =
                left < PACKED_CHUNK ? (size_t)left : PACKED_CHUNK;
            if (size == 0) {
                return damaged_packing(stream, piece, "it ends too soon",
                                       error);
            }
            status = bl_mdf_read(stream->mdf, piece->at + at, stream->packed,
                                 size, error);
            if (status != BL_OK) {
                return status;
            }
            z->next_in = stream->packed;
            z->avail_in = (uInt)size;
            at += size;
        }
        code = inflate(z, Z_NO_FLUSH);
    }
    if (code == Z_MEM_ERROR) {
        return bl_fail_memory(error);
    }
    if (code != Z_STREAM_END) {
        return damaged_packing(stream, piece,
                               code == Z_BUF_ERROR ? "it holds more than stated"
                               : z->msg != NULL    ? z->msg
                                                   : "not deflate",
                               error);
    }
    return z->avail_out == 0
               ? BL_OK
               : damaged_packing(stream, piece, "it holds less than stated",
                                 error);
}

/* From columns back to records; what is no whole record stands behind them as
   it is. */
static void turn_back(uint8_t *to, const uint8_t *from, size_t size,
                      size_t columns)
{
    const size_t rows = size / columns;
    for (size_t c = 0; c < columns; c++) {
        const uint8_t *column = from + c * rows;
        for (size_t r = 0; r < rows; r++) {
            to[r * columns + c] = column[r];
        }
    }
    memcpy(to + rows * columns, from + rows * columns, size - rows * columns);
}

static enum bl_status fill_packed(struct bl_mdf_stream *stream,
                                  const struct bl_mdf_piece *piece,
                                  struct bl_error *error)
{
    const size_t size = (size_t)piece->size;
    enum bl_status status = make_room(stream, size, error);
    uint8_t *to = stream->buffer + stream->end;
    const bool turned = piece->columns > 1 && size >= piece->columns;
    if (status == BL_OK && turned) {
        status = hold(stream, &stream->turned, &stream->turned_capacity, size,
                      error);
    }
    if (status == BL_OK) {
        status = unpack(stream, piece, turned ? stream->turned : to, error);
    }
    if (status != BL_OK) {
        return status;
    }
    if (turned) {
        turn_back(to, stream->turned, size, piece->columns);
    }
    stream->end += size;
    stream->next++;
    return BL_OK;
}

/* More bytes at hand. *more false: the end, or bytes that are lost. */
static enum bl_status fill(struct bl_mdf_stream *stream, bool *more,
                           struct bl_error *error)
{
    struct bl_mdf_pieces *pieces = &stream->pieces;
    *more = false;
    while (stream->next < pieces->count &&
           pieces->piece[stream->next].size == 0) {
        stream->next++;
    }
    if (stream->next == pieces->count) {
        return BL_OK;
    }
    struct bl_mdf_piece *piece = &pieces->piece[stream->next];
    struct bl_error why;
    bl_error_clear(&why);
    if (!piece->lost) {
        const enum bl_status status = piece->packed
                                          ? fill_packed(stream, piece, &why)
                                          : fill_plain(stream, piece, &why);
        *more = status == BL_OK;
        if (status == BL_OK) {
            return BL_OK;
        }
        piece->lost = true;
        const enum bl_status kept =
            bl_mdf_damaged(stream->mdf, status, &why, error);
        if (kept != BL_OK) {
            return kept;
        }
    }
    stream->lost = true;
    return BL_OK;
}

enum bl_status bl_mdf_stream_window(struct bl_mdf_stream *stream, size_t wanted,
                                    const uint8_t **data, size_t *available,
                                    struct bl_error *error)
{
    static const uint8_t nothing[BL_MDF_SLACK]; /* while there is no buffer */
    bool more = !stream->lost;
    enum bl_status status = BL_OK;
    while (stream->end - stream->at < wanted && more && status == BL_OK) {
        status = fill(stream, &more, error);
    }
    *data = stream->buffer != NULL ? stream->buffer + stream->at : nothing;
    *available = stream->end - stream->at;
    return status;
}

void bl_mdf_stream_skip_lost(struct bl_mdf_stream *stream)
{
    const struct bl_mdf_piece *piece = &stream->pieces.piece[stream->next];
    stream->at = stream->end;
    stream->offset = piece->from + piece->size;
    stream->next++;
    stream->next_at = 0;
    stream->lost = false;
}

enum bl_status bl_mdf_stream_seek(struct bl_mdf_stream *stream, uint64_t offset,
                                  bool *found, struct bl_error *error)
{
    const struct bl_mdf_pieces *pieces = &stream->pieces;
    *found = false;
    if (offset >= stream->offset - stream->at &&
        offset < stream->offset + (stream->end - stream->at)) {
        stream->at += (size_t)(offset - stream->offset); /* modulo 2^64 */
        stream->offset = offset;
        *found = true;
        return BL_OK;
    }
    if (offset < stream->offset || offset >= pieces->size) {
        return BL_OK;
    }
    size_t low = stream->next;
    size_t high = pieces->count;
    while (high - low > 1) {
        const size_t middle = low + (high - low) / 2;
        if (pieces->piece[middle].from <= offset) {
            low = middle;
        } else {
            high = middle;
        }
    }
    const struct bl_mdf_piece *piece = &pieces->piece[low];
    const uint64_t into = offset - piece->from;
    stream->lost = false;
    stream->at = stream->end = 0;
    if (low != stream->next || into > stream->next_at) {
        stream->next_at = piece->packed ? 0 : into;
    }
    stream->next = low;
    stream->offset = piece->from + stream->next_at;
    const uint8_t *data;
    size_t available;
    const size_t ahead = (size_t)(offset - stream->offset);
    const enum bl_status status =
        bl_mdf_stream_window(stream, ahead + 1, &data, &available, error);
    *found = status == BL_OK && available > ahead;
    if (*found) {
        bl_mdf_stream_take(stream, ahead);
    }
    return status;
}
