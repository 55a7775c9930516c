/* SPDX-License-Identifier: MIT */
/*
 * Records of one set in the order of the file. Where a set has one group they
 * follow each other; else an identifier in front of each tells its group, and
 * records of variable length tell theirs.
 */
#include "mdf/block.h"

#include "base/alloc.h"
#include "base/limits.h"

#include <inttypes.h>
#include <string.h>

enum { LENGTH_BYTES = 4 };

enum bl_status bl_mdf_cursor_open(struct bl_mdf_cursor *cursor,
                                  struct bl_mdf *mdf, size_t set,
                                  struct bl_error *error)
{
    memset(cursor, 0, sizeof(*cursor));
    cursor->mdf = mdf;
    cursor->set = set;
    cursor->group = mdf->set[set].first;
    cursor->records = bl_alloc(mdf->set[set].groups, sizeof(*cursor->records));
    if (cursor->records == NULL) {
        return bl_fail_memory(error);
    }
    return bl_mdf_stream_open(&cursor->stream, mdf, mdf->set[set].data, "DT",
                              error);
}

void bl_mdf_cursor_close(struct bl_mdf_cursor *cursor)
{
    bl_mdf_stream_close(&cursor->stream);
    bl_free(cursor->records);
    cursor->records = NULL;
}

static enum bl_status damaged(struct bl_mdf_cursor *cursor, const char *what,
                              uint64_t found, struct bl_error *error)
{
    struct bl_error why;
    struct bl_mdf *mdf = cursor->mdf;
    bl_error_clear(&why);
    cursor->lost = true;
    cursor->ended = true;
    (void)bl_fail_offset(&why, BL_FORMAT, bl_bytes_name(mdf->source),
                         (int64_t)mdf->set[cursor->set].at,
                         "%s, found %" PRIu64 ", behind %" PRIu64
                         " bytes of data",
                         what, found, cursor->stream.offset);
    return bl_mdf_damaged(mdf, BL_FORMAT, &why, error);
}

/* Were there as many records as the groups say? */
static enum bl_status count_records(struct bl_mdf_cursor *cursor,
                                    struct bl_error *error)
{
    struct bl_mdf *mdf = cursor->mdf;
    const struct bl_mdf_set *set = &mdf->set[cursor->set];
    enum bl_status status = BL_OK;
    if (mdf->unfinished || cursor->lost) {
        return BL_OK;
    }
    for (size_t i = 0; i < set->groups && status == BL_OK; i++) {
        const struct bl_mdf_group *group = &mdf->group[set->first + i];
        struct bl_error why;
        if (group->holds == BL_MDF_HOLDS_BYTES ||
            cursor->records[i] >= group->cycles) {
            continue;
        }
        cursor->lost = true;
        bl_error_clear(&why);
        (void)bl_fail_offset(&why, BL_TRUNCATED, bl_bytes_name(mdf->source),
                             (int64_t)group->at,
                             "expected %" PRIu64 " records, found %" PRIu64,
                             group->cycles, cursor->records[i]);
        status = bl_mdf_damaged(mdf, BL_TRUNCATED, &why, error);
    }
    return status;
}

/* Fewer bytes than a record: the end, or what is lost. */
static enum bl_status ended(struct bl_mdf_cursor *cursor, size_t available,
                            struct bl_error *error)
{
    cursor->ended = true;
    cursor->lost = cursor->lost || cursor->stream.pieces.open_end;
    if (available > 0) {
        cursor->cut = true;
        if (bl_note(cursor->mdf->notes, "cut-last-record", -1, -1,
                    "the last record is cut: %zu bytes of it are there",
                    available) != BL_OK) {
            return bl_fail_memory(error);
        }
    }
    return count_records(cursor, error);
}

/* Bytes are lost in front of the next record. Records of one length are found
   again behind the gap, others are not. */
static enum bl_status behind_gap(struct bl_mdf_cursor *cursor, size_t record,
                                 struct bl_error *error)
{
    struct bl_mdf_stream *stream = &cursor->stream;
    cursor->lost = true;
    if (record == 0) {
        cursor->ended = true;
        return BL_OK; /* the damage was remembered where it was seen */
    }
    bl_mdf_stream_skip_lost(stream);
    const uint64_t over = stream->offset % record;
    enum bl_status status = BL_OK;
    bool found;
    if (over > 0) {
        status = bl_mdf_stream_seek(stream, stream->offset + (record - over),
                                    &found, error);
    }
    cursor->records[0] = stream->offset / record;
    return status;
}

/* The set's only group: records of one length. */
static enum bl_status next_alike(struct bl_mdf_cursor *cursor,
                                 const struct bl_mdf_group *group,
                                 struct bl_mdf_record *record, bool *got,
                                 struct bl_error *error)
{
    const size_t id_bytes = cursor->mdf->set[cursor->set].id_bytes;
    const size_t size = id_bytes + group->data_bytes + group->invalid_bytes;
    const bool counted = !cursor->mdf->unfinished && group->cycles > 0;
    if (size == 0) {
        cursor->ended = true;
        return BL_OK;
    }
    while (!cursor->ended) {
        const uint8_t *data;
        size_t available;
        const enum bl_status status = bl_mdf_stream_window(
            &cursor->stream, size, &data, &available, error);
        if (status != BL_OK) {
            return status;
        }
        if (counted && cursor->records[0] >= group->cycles) {
            cursor->ended = true;
            return available < size ||
                           bl_note(cursor->mdf->notes, "more-data-than-counted",
                                   -1, (int64_t)group->at,
                                   "a group says %" PRIu64
                                   " records; what stands behind them is not "
                                   "read",
                                   group->cycles) == BL_OK
                       ? BL_OK
                       : bl_fail_memory(error);
        }
        if (available >= size && id_bytes > 0 &&
            bl_mdf_low_first(data, id_bytes) != group->id) {
            return damaged(cursor, "expected the identifier of the group",
                           bl_mdf_low_first(data, id_bytes), error);
        }
        if (available >= size) {
            record->data = data + id_bytes;
            record->bytes = size - id_bytes;
            bl_mdf_stream_take(&cursor->stream, size);
            *got = true;
            return BL_OK;
        }
        const enum bl_status rest = cursor->stream.lost
                                        ? behind_gap(cursor, size, error)
                                        : ended(cursor, available, error);
        if (rest != BL_OK) {
            return rest;
        }
    }
    return BL_OK;
}

/* The group that an identifier names; most come as the one before. */
static bool find_group(struct bl_mdf_cursor *cursor, uint64_t id)
{
    const struct bl_mdf *mdf = cursor->mdf;
    const struct bl_mdf_set *set = &mdf->set[cursor->set];
    if (mdf->group[cursor->group].id == id) {
        return true;
    }
    for (size_t i = set->first; i < set->first + set->groups; i++) {
        if (mdf->group[i].id == id) {
            cursor->group = i;
            return true;
        }
    }
    return false;
}

/* Enough bytes for a record? If not, the end or a gap was dealt with. */
static enum bl_status enough(struct bl_mdf_cursor *cursor, size_t size,
                             const uint8_t **data, bool *all,
                             struct bl_error *error)
{
    size_t available;
    const enum bl_status status =
        bl_mdf_stream_window(&cursor->stream, size, data, &available, error);
    *all = status == BL_OK && available >= size;
    if (status != BL_OK || *all) {
        return status;
    }
    return cursor->stream.lost ? behind_gap(cursor, 0, error)
                               : ended(cursor, available, error);
}

static enum bl_status next_marked(struct bl_mdf_cursor *cursor,
                                  struct bl_mdf_record *record, bool *got,
                                  struct bl_error *error)
{
    const size_t id_bytes = cursor->mdf->set[cursor->set].id_bytes;
    const uint8_t *data;
    bool all;
    if (id_bytes == 0) {
        return damaged(cursor,
                       "expected identifiers of records in a set of several "
                       "groups",
                       0, error);
    }
    enum bl_status status = enough(cursor, id_bytes, &data, &all, error);
    if (status != BL_OK || !all) {
        return status;
    }
    const uint64_t id = bl_mdf_low_first(data, id_bytes);
    if (!find_group(cursor, id)) {
        return damaged(cursor, "expected the identifier of a group", id, error);
    }
    const struct bl_mdf_group *group = &cursor->mdf->group[cursor->group];
    size_t front = id_bytes;
    size_t size = (size_t)group->data_bytes + group->invalid_bytes;
    if (group->holds == BL_MDF_HOLDS_BYTES) {
        front += LENGTH_BYTES;
        status = enough(cursor, front, &data, &all, error);
        if (status != BL_OK || !all) {
            return status;
        }
        size = bl_mdf_u32(data + id_bytes);
        if (size > BL_LIMIT_MDF_RECORD) {
            return damaged(cursor, "expected a record of at most 1 MiB", size,
                           error);
        }
    }
    status = enough(cursor, front + size, &data, &all, error);
    if (status != BL_OK || !all) {
        return status;
    }
    record->data = data + front;
    record->bytes = size;
    bl_mdf_stream_take(&cursor->stream, front + size);
    *got = true;
    return BL_OK;
}

enum bl_status bl_mdf_cursor_next(struct bl_mdf_cursor *cursor,
                                  struct bl_mdf_record *record, bool *got,
                                  struct bl_error *error)
{
    *got = false;
    const struct bl_mdf_set *set = &cursor->mdf->set[cursor->set];
    if (cursor->ended || set->groups == 0) {
        cursor->ended = true;
        return BL_OK;
    }
    const struct bl_mdf_group *group = &cursor->mdf->group[set->first];
    const enum bl_status status =
        set->groups == 1 && group->holds != BL_MDF_HOLDS_BYTES
            ? next_alike(cursor, group, record, got, error)
            : next_marked(cursor, record, got, error);
    if (status != BL_OK) {
        cursor->ended = true;
        cursor->lost = true;
        return status;
    }
    if (*got) {
        record->group = cursor->group;
        record->after_loss = cursor->lost;
        record->number = cursor->records[cursor->group - set->first]++;
        cursor->lost = false;
    }
    return BL_OK;
}
