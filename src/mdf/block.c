/* SPDX-License-Identifier: MIT */
#include "mdf/block.h"

#include "base/alloc.h"
#include "base/limits.h"
#include "base/utf8.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

enum bl_status bl_mdf_read(struct bl_mdf *mdf, uint64_t at, void *buffer,
                           size_t size, struct bl_error *error)
{
    size_t got = 0;
    if (at < mdf->size) {
        const enum bl_status status =
            bl_bytes_at(mdf->source, at, buffer, size, &got, error);
        if (status != BL_OK) {
            return status;
        }
    }
    return got == size
               ? BL_OK
               : bl_fail_offset(error, BL_TRUNCATED, bl_bytes_name(mdf->source),
                                at > INT64_MAX ? -1 : (int64_t)at,
                                "expected %zu bytes, found %zu: a link leads "
                                "out of the file, or the file is cut",
                                size, got);
}

/* Two letters that may be shown. */
static const char *shown_id(const uint8_t *head, char text[16])
{
    for (size_t i = 0; i < 4; i++) {
        text[i] = head[i] >= ' ' && head[i] < 0x7f ? (char)head[i] : '?';
    }
    text[4] = '\0';
    return text;
}

enum bl_status bl_mdf_block(struct bl_mdf *mdf, uint64_t at, const char *id,
                            struct bl_mdf_block *block, struct bl_error *error)
{
    uint8_t head[BL_MDF_HEADER];
    char text[16];
    memset(block, 0, sizeof(*block));
    enum bl_status status = bl_mdf_read(mdf, at, head, sizeof(head), error);
    if (status != BL_OK) {
        return status;
    }
    const char *name = bl_bytes_name(mdf->source);
    if (head[0] != '#' || head[1] != '#' ||
        (id != NULL && memcmp(head + 2, id, 2) != 0)) {
        return bl_fail_offset(error, BL_FORMAT, name, (int64_t)at,
                              "expected a block %s%s, found '%s'",
                              id == NULL ? "of MDF" : "##",
                              id == NULL ? "" : id, shown_id(head, text));
    }
    memcpy(block->id, shown_id(head, text), sizeof(block->id));
    block->at = at;
    block->length = bl_mdf_u64(head + 8);
    block->links = bl_mdf_u64(head + 16);
    if (block->links > BL_LIMIT_MDF_LINKS) {
        return bl_fail_offset(error, BL_FORMAT, name, (int64_t)at,
                              "expected at most %u links in a block, found "
                              "%" PRIu64,
                              BL_LIMIT_MDF_LINKS, block->links);
    }
    const uint64_t least = BL_MDF_HEADER + 8 * block->links;
    if (block->length < least) {
        /* A data block that is still being written says 0. */
        if (!mdf->unfinished || block->links > 0) {
            return bl_fail_offset(error, BL_FORMAT, name, (int64_t)at,
                                  "expected at least %" PRIu64 " bytes in a "
                                  "block %s, found %" PRIu64,
                                  least, block->id, block->length);
        }
        block->length = least;
    }
    block->data = at + least;
    block->data_bytes = block->length - least;
    for (size_t i = 0; i < block->links && i < BL_MDF_LINKS_KEPT; i++) {
        status = bl_mdf_link(mdf, block, i, &block->link[i], error);
        if (status != BL_OK) {
            return status;
        }
    }
    return BL_OK;
}

enum bl_status bl_mdf_link(struct bl_mdf *mdf, const struct bl_mdf_block *block,
                           uint64_t index, uint64_t *link,
                           struct bl_error *error)
{
    uint8_t bytes[8];
    *link = 0;
    if (index >= block->links) {
        return BL_OK;
    }
    const enum bl_status status =
        bl_mdf_read(mdf, block->at + BL_MDF_HEADER + 8 * index, bytes,
                    sizeof(bytes), error);
    if (status == BL_OK) {
        *link = bl_mdf_u64(bytes);
    }
    return status;
}

enum bl_status bl_mdf_data(struct bl_mdf *mdf, const struct bl_mdf_block *block,
                           void *buffer, size_t size, struct bl_error *error)
{
    const size_t there =
        block->data_bytes < size ? (size_t)block->data_bytes : size;
    memset(buffer, 0, size);
    return bl_mdf_read(mdf, block->data, buffer, there, error);
}

/* What stands between <TX> and </TX>, the characters that XML hides as they
   are. */
static void unwrap(struct bl_strbuf *out, const char *text)
{
    static const struct {
        const char *hidden;
        char shown;
    } hidden[] = {{"&amp;", '&'},
                  {"&lt;", '<'},
                  {"&gt;", '>'},
                  {"&quot;", '"'},
                  {"&apos;", '\''}};
    const char *from = strstr(text, "<TX");
    from = from == NULL ? NULL : strchr(from, '>');
    const char *to = from == NULL ? NULL : strstr(from, "</TX>");
    if (to == NULL) {
        return;
    }
    for (from++; from < to;) {
        char c = *from;
        size_t step = 1;
        for (size_t i = 0; i < sizeof(hidden) / sizeof(hidden[0]); i++) {
            const size_t length = strlen(hidden[i].hidden);
            if (strncmp(from, hidden[i].hidden, length) == 0) {
                c = hidden[i].shown;
                step = length;
            }
        }
        bl_strbuf_char(out, c);
        from += step;
    }
}

/* `text` as UTF-8 of its own, out of its XML where it is an MD block. */
static char *make_text(const char *text, bool wrapped)
{
    struct bl_strbuf plain = {0};
    struct bl_strbuf made = {0};
    char *out = NULL;
    if (wrapped) {
        unwrap(&plain, text);
        text = bl_strbuf_get(&plain);
    }
    const char *good = plain.failed ? NULL : bl_utf8_text(text, &made);
    out = good == NULL ? NULL : bl_strdup(good);
    bl_strbuf_finish(&plain);
    bl_strbuf_finish(&made);
    return out;
}

enum bl_status bl_mdf_text(struct bl_mdf *mdf, uint64_t at, char **out,
                           struct bl_error *error)
{
    struct bl_mdf_block block = {.id = "##TX"};
    *out = NULL;
    if (at != 0) {
        enum bl_status status = bl_mdf_block(mdf, at, NULL, &block, error);
        if (status != BL_OK) {
            return status;
        }
    }
    const bool wrapped = strcmp(block.id, "##MD") == 0;
    if ((!wrapped && strcmp(block.id, "##TX") != 0) ||
        block.data_bytes > BL_LIMIT_MDF_TEXT) {
        return bl_fail_offset(error, BL_FORMAT, bl_bytes_name(mdf->source),
                              (int64_t)at,
                              "expected a text of at most %u bytes, found %s "
                              "with %" PRIu64,
                              BL_LIMIT_MDF_TEXT, block.id, block.data_bytes);
    }
    char *text = bl_alloc((size_t)block.data_bytes + 1, 1);
    if (text == NULL) {
        return bl_fail_memory(error);
    }
    const enum bl_status status =
        bl_mdf_data(mdf, &block, text, (size_t)block.data_bytes, error);
    if (status == BL_OK) {
        *out = make_text(text, wrapped);
    }
    bl_free(text);
    if (status != BL_OK) {
        return status;
    }
    return *out == NULL ? bl_fail_memory(error) : BL_OK;
}

enum bl_status bl_mdf_damaged(struct bl_mdf *mdf, enum bl_status status,
                              const struct bl_error *why,
                              struct bl_error *error)
{
    if (status != BL_FORMAT && status != BL_TRUNCATED &&
        status != BL_UNSUPPORTED) {
        if (error != NULL && why != error) {
            *error = *why;
        }
        return status;
    }
    if (mdf->failed == BL_OK) {
        mdf->failed = status;
        mdf->failure = *why;
    }
    return bl_note(mdf->notes, "damaged-block", -1, why->offset,
                   "%s; what hangs on it is left out", why->message) == BL_OK
               ? BL_OK
               : bl_fail_memory(error);
}

bool bl_mdf_chain_loops(struct bl_mdf_chain *chain, uint64_t at)
{
    if (chain->steps > 0 && at == chain->mark) {
        return true;
    }
    if (chain->steps++ >= chain->until) {
        chain->mark = at;
        chain->until = 2 * chain->steps;
    }
    return false;
}

enum bl_status bl_mdf_text_or_none(struct bl_mdf *mdf, uint64_t at, char **out,
                                   struct bl_error *error)
{
    struct bl_error why;
    bl_error_clear(&why);
    enum bl_status status = bl_mdf_text(mdf, at, out, &why);
    if (status == BL_OK) {
        return BL_OK;
    }
    status = bl_mdf_damaged(mdf, status, &why, error);
    return status == BL_OK ? bl_mdf_text(mdf, 0, out, error) : status;
}
