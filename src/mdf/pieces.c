/* SPDX-License-Identifier: MIT */
/*
 * The data blocks of one set or channel as one list: a block DT or SD alone, or
 * packed (DZ), or a chain of lists (DL), perhaps under a head (HL). A block
 * that is damaged but whose length is known leaves a gap of that length.
 */
#include "mdf/block.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"

#include <inttypes.h>
#include <string.h>

/* Places and numbers; from memory. */
enum {
    DZ_BYTES = 24,
    DZ_DEFLATE = 0,
    DZ_TURNED = 1,
    DL_BYTES = 8,
    DL_EQUAL = 1,
    /* No stream of deflate holds more than 1032 bytes per byte (zlib.net,
       technical details). */
    DEFLATE_MOST = 1032
};

struct list {
    struct bl_mdf_pieces *pieces;
    struct bl_mdf *mdf;
    const char *id;
    uint64_t expected; /* length of the block at hand, as its list says */
    bool known;        /* it does */
    /* Lists so far, and how many pieces there were before each. */
    uint64_t *at;
    size_t *before;
    size_t lists, at_capacity, before_capacity;
};

static enum bl_status add_piece(struct list *list, struct bl_mdf_piece piece,
                                struct bl_error *error)
{
    struct bl_mdf_pieces *pieces = list->pieces;
    if (pieces->count >= BL_LIMIT_MDF_PIECES) {
        return bl_fail(error, BL_LIMIT, bl_bytes_name(list->mdf->source),
                       "expected at most %u data blocks in a list, found more",
                       BL_LIMIT_MDF_PIECES);
    }
    if (!bl_grow(&pieces->piece, &pieces->capacity, pieces->count + 1,
                 sizeof(*pieces->piece), BL_LIMIT_MDF_PIECES)) {
        return bl_fail_memory(error);
    }
    piece.from = pieces->size;
    pieces->size += piece.size;
    pieces->piece[pieces->count++] = piece;
    return BL_OK;
}

static enum bl_status not_read(const struct list *list,
                               const struct bl_mdf_block *block,
                               const char *what, unsigned number,
                               struct bl_error *error)
{
    return bl_fail_offset(error, BL_UNSUPPORTED,
                          bl_bytes_name(list->mdf->source), (int64_t)block->at,
                          "data in %s %s%.0u is not read", what, block->id,
                          number);
}

/* Data that lies there as it is. */
static enum bl_status add_plain(struct list *list,
                                const struct bl_mdf_block *block,
                                struct bl_error *error)
{
    const struct bl_mdf *mdf = list->mdf;
    struct bl_mdf_piece piece = {.at = block->data, .size = block->data_bytes};
    const uint64_t left = block->data < mdf->size ? mdf->size - block->data : 0;
    if (piece.size == 0 && mdf->unfinished &&
        (mdf->left_undone & BL_MDF_UNDONE_LAST_LENGTH) != 0) {
        piece.size = left;
    }
    const bool cut = piece.size > left;
    const uint64_t wanted = piece.size;
    piece.size = cut ? left : piece.size;
    piece.stored = piece.size;
    const enum bl_status status = add_piece(list, piece, error);
    if (status != BL_OK || !cut || mdf->unfinished) {
        list->pieces->open_end = list->pieces->open_end || cut;
        return status;
    }
    return bl_fail_offset(
        error, BL_TRUNCATED, bl_bytes_name(mdf->source), (int64_t)block->at,
        "expected %" PRIu64 " bytes of data, found %" PRIu64 ": the file ends",
        wanted, left);
}

static enum bl_status add_packed(struct list *list,
                                 const struct bl_mdf_block *block,
                                 struct bl_error *error)
{
    uint8_t data[DZ_BYTES];
    struct bl_mdf *mdf = list->mdf;
    const enum bl_status status =
        bl_mdf_data(mdf, block, data, sizeof(data), error);
    if (status != BL_OK) {
        return status;
    }
    struct bl_mdf_piece piece = {.at = block->data + DZ_BYTES, .packed = true};
    piece.size = bl_mdf_u64(data + 8);
    piece.stored = bl_mdf_u64(data + 16);
    const char *name = bl_bytes_name(mdf->source);
    if (memcmp(data, list->id, 2) != 0) {
        return bl_fail_offset(error, BL_FORMAT, name, (int64_t)block->at,
                              "expected a packed block %s, found one of "
                              "another kind",
                              list->id);
    }
    if (data[2] > DZ_TURNED) {
        return not_read(list, block, "the packing of a block", data[2], error);
    }
    if (block->data_bytes < DZ_BYTES ||
        piece.stored > block->data_bytes - DZ_BYTES || piece.at > mdf->size ||
        piece.stored > mdf->size - piece.at) {
        return bl_fail_offset(error, BL_TRUNCATED, name, (int64_t)block->at,
                              "a packed block says %" PRIu64
                              " bytes and has fewer",
                              piece.stored);
    }
    if (piece.size > BL_LIMIT_MDF_PACKED ||
        piece.size > DEFLATE_MOST * (piece.stored + 1)) {
        return bl_fail_offset(error, BL_FORMAT, name, (int64_t)block->at,
                              "expected a packed block of at most %u bytes, "
                              "and of what %" PRIu64
                              " packed ones can hold, found %" PRIu64,
                              BL_LIMIT_MDF_PACKED, piece.stored, piece.size);
    }
    if (data[2] == DZ_TURNED) {
        piece.columns = bl_mdf_u32(data + 4);
    }
    if (piece.columns > BL_LIMIT_MDF_RECORD) {
        return bl_fail_offset(error, BL_FORMAT, name, (int64_t)block->at,
                              "expected records of at most %u bytes in a "
                              "packed block, found %" PRIu32,
                              BL_LIMIT_MDF_RECORD, piece.columns);
    }
    return add_piece(list, piece, error);
}

static enum bl_status add_block(struct list *list,
                                const struct bl_mdf_block *block,
                                struct bl_error *error)
{
    if (memcmp(block->id + 2, list->id, 2) == 0) {
        return add_plain(list, block, error);
    }
    return strcmp(block->id, "##DZ") == 0
               ? add_packed(list, block, error)
               : not_read(list, block, "a block", 0, error);
}

/* A block of a list. What is damaged leaves a gap, or ends the list. */
static enum bl_status add_linked(struct list *list, uint64_t at, bool *ended,
                                 struct bl_error *error)
{
    struct bl_mdf_block block;
    struct bl_error why;
    bl_error_clear(&why);
    const size_t before = list->pieces->count;
    enum bl_status status = bl_mdf_block(list->mdf, at, NULL, &block, &why);
    if (status == BL_OK) {
        status = add_block(list, &block, &why);
    }
    if (status == BL_OK) {
        return BL_OK;
    }
    status = bl_mdf_damaged(list->mdf, status, &why, error);
    if (status != BL_OK || list->pieces->count > before) {
        *ended = true; /* a block that the end of the file cuts */
        list->pieces->open_end = true;
        return status;
    }
    *ended = !list->known;
    list->pieces->open_end = list->pieces->open_end || *ended;
    const struct bl_mdf_piece gap = {.size = list->expected, .lost = true};
    return *ended ? BL_OK : add_piece(list, gap, error);
}

/* How long block number `index` of a list is, as far as the list tells. */
static enum bl_status expect(struct list *list,
                             const struct bl_mdf_block *block,
                             const uint8_t head[DL_BYTES], uint64_t index,
                             struct bl_error *error)
{
    uint8_t bytes[16];
    const uint64_t places = block->data + DL_BYTES;
    const bool equal = (head[0] & DL_EQUAL) != 0;
    const uint64_t end = DL_BYTES + 8 * (equal ? 1 : index + 2);
    list->known = end <= block->data_bytes;
    if (!list->known) {
        return BL_OK;
    }
    const enum bl_status status =
        bl_mdf_read(list->mdf, places + (equal ? 0 : 8 * index), bytes,
                    equal ? 8 : 16, error);
    const uint64_t first = bl_mdf_u64(bytes);
    list->expected = equal ? first : bl_mdf_u64(bytes + 8) - first;
    list->known = status == BL_OK && list->expected <= BL_LIMIT_MDF_GAP;
    return status;
}

static enum bl_status read_list(struct list *list,
                                const struct bl_mdf_block *block, bool *ended,
                                struct bl_error *error)
{
    uint8_t head[DL_BYTES];
    enum bl_status status =
        bl_mdf_data(list->mdf, block, head, sizeof(head), error);
    const uint64_t blocks = block->links > 0 ? block->links - 1 : 0;
    if (status == BL_OK && bl_mdf_u32(head + 4) > blocks) {
        return bl_fail_offset(
            error, BL_FORMAT, bl_bytes_name(list->mdf->source),
            (int64_t)block->at,
            "a list says %" PRIu32 " data blocks and links %" PRIu64,
            bl_mdf_u32(head + 4), blocks);
    }
    for (uint64_t i = 0; i < blocks && status == BL_OK && !*ended; i++) {
        uint64_t link;
        status = bl_mdf_link(list->mdf, block, i + 1, &link, error);
        if (status == BL_OK && link != 0) {
            status = expect(list, block, head, i, error);
        }
        if (status == BL_OK && link != 0) {
            status = add_linked(list, link, ended, error);
        }
    }
    return status;
}

/* The list at `at` was met before: what hangs on its second time is dropped.
   The length of the loop is the way back to it; the loop begins where lists so
   far apart are the same one. */
static void drop_loop(struct list *list, uint64_t at)
{
    size_t back = list->lists;
    while (back > 0 && list->at[back - 1] != at) {
        back--;
    }
    const size_t length = list->lists - (back - 1);
    size_t first = 0;
    while (first + length < list->lists &&
           list->at[first] != list->at[first + length]) {
        first++;
    }
    if (first + length < list->lists) {
        const size_t kept = list->before[first + length];
        struct bl_mdf_pieces *pieces = list->pieces;
        pieces->size =
            kept < pieces->count ? pieces->piece[kept].from : pieces->size;
        pieces->count = kept;
    }
}

static enum bl_status keep_list(struct list *list, uint64_t at,
                                struct bl_error *error)
{
    if (!bl_grow(&list->at, &list->at_capacity, list->lists + 1,
                 sizeof(*list->at), BL_LIMIT_MDF_PIECES) ||
        !bl_grow(&list->before, &list->before_capacity, list->lists + 1,
                 sizeof(*list->before), BL_LIMIT_MDF_PIECES)) {
        return list->lists >= BL_LIMIT_MDF_PIECES
                   ? bl_fail(error, BL_LIMIT, bl_bytes_name(list->mdf->source),
                             "expected at most %u lists of data blocks",
                             BL_LIMIT_MDF_PIECES)
                   : bl_fail_memory(error);
    }
    list->at[list->lists] = at;
    list->before[list->lists++] = list->pieces->count;
    return BL_OK;
}

static enum bl_status read_chain(struct list *list, uint64_t at,
                                 struct bl_error *error)
{
    struct bl_mdf_chain chain = {0};
    bool ended = false;
    while (at != 0 && !ended) {
        struct bl_mdf_block block;
        if (bl_mdf_chain_loops(&chain, at)) {
            drop_loop(list, at);
            return bl_fail_offset(error, BL_FORMAT,
                                  bl_bytes_name(list->mdf->source), (int64_t)at,
                                  "the chain of lists comes back to itself");
        }
        enum bl_status status = keep_list(list, at, error);
        if (status == BL_OK) {
            status = bl_mdf_block(list->mdf, at, "DL", &block, error);
        }
        if (status == BL_OK) {
            status = read_list(list, &block, &ended, error);
        }
        if (status != BL_OK) {
            return status;
        }
        at = block.link[0];
    }
    return BL_OK;
}

enum bl_status bl_mdf_pieces_find(struct bl_mdf_pieces *pieces,
                                  struct bl_mdf *mdf, uint64_t data,
                                  const char *id, struct bl_error *error)
{
    struct list list = {.pieces = pieces, .mdf = mdf, .id = id};
    struct bl_mdf_block block;
    struct bl_error why;
    bl_error_clear(&why);
    if (data == 0) {
        return BL_OK;
    }
    enum bl_status status = bl_mdf_block(mdf, data, NULL, &block, &why);
    if (status == BL_OK && strcmp(block.id, "##HL") == 0) {
        status = read_chain(&list, block.link[0], &why);
    } else if (status == BL_OK && strcmp(block.id, "##DL") == 0) {
        status = read_chain(&list, data, &why);
    } else if (status == BL_OK) {
        status = add_block(&list, &block, &why);
    }
    bl_free(list.at);
    bl_free(list.before);
    if (status == BL_OK) {
        return BL_OK;
    }
    pieces->open_end = true;
    return bl_mdf_damaged(mdf, status, &why, error);
}
