/* SPDX-License-Identifier: MIT */
/* What is in a file: sets of data, groups of records, channels. */
#include "mdf/block.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

/* Places of links and data; from memory. */
enum {
    ID_VERSION = 28,
    ID_LEFT_UNDONE = 60,
    ID_LEFT_UNDONE_OWN = 62,
    HD_FIRST_SET = 0,
    DG_NEXT = 0,
    DG_FIRST_GROUP = 1,
    DG_DATA = 2,
    CG_NEXT = 0,
    CG_FIRST_CHANNEL = 1,
    CG_NAME = 2,
    CG_SIZE = 32,
    CN_NEXT = 0,
    CN_PARTS = 1,
    FLAG_VARIABLE = 1,
    FLAG_LOCAL_TIME = 1,
    DEPTH_MOST = 4
};

static const char finished[] = "MDF     ";
static const char unfinished[] = "UnFinMF ";

bool bl_mdf_recognised(const uint8_t *data, size_t size)
{
    return size >= BL_MDF_ID_BYTES &&
           (memcmp(data, finished, 8) == 0 ||
            memcmp(data, unfinished, 8) == 0) &&
           bl_mdf_u16(data + ID_VERSION) / 100 == 4;
}

static enum bl_status over_limit(const struct bl_mdf *mdf, const char *what,
                                 unsigned most, struct bl_error *error)
{
    return bl_fail(error, BL_LIMIT, bl_bytes_name(mdf->source),
                   "expected at most %u %s, found more", most, what);
}

/* One channel, and its block for what follows. */
static enum bl_status add_channel(struct bl_mdf *mdf, uint64_t at,
                                  struct bl_mdf_block *block,
                                  struct bl_error *error)
{
    enum bl_status status = bl_mdf_block(mdf, at, "CN", block, error);
    if (status != BL_OK) {
        return status;
    }
    if (mdf->channels >= BL_LIMIT_LOG_COLUMNS) {
        return over_limit(mdf, "channels", BL_LIMIT_LOG_COLUMNS, error);
    }
    if (!bl_grow(&mdf->channel, &mdf->channel_capacity, mdf->channels + 1,
                 sizeof(*mdf->channel), BL_LIMIT_LOG_COLUMNS)) {
        return bl_fail_memory(error);
    }
    struct bl_mdf_channel *channel = &mdf->channel[mdf->channels];
    memset(channel, 0, sizeof(*channel));
    struct bl_mdf_group *group = &mdf->group[mdf->groups - 1];
    struct bl_error why;
    bl_error_clear(&why);
    status = bl_mdf_channel_read(mdf, block, group, channel, &why);
    if (status != BL_OK) {
        channel->used = false;
        channel->value = false;
        status = bl_mdf_damaged(mdf, status, &why, error);
    }
    if (channel->name == NULL) {
        channel->name = bl_strdup("");
    }
    if (channel->unit == NULL) {
        channel->unit = bl_strdup("");
    }
    if (status == BL_OK && (channel->name == NULL || channel->unit == NULL)) {
        status = bl_fail_memory(error);
    }
    if (status != BL_OK) {
        bl_mdf_channel_finish(channel);
        return status;
    }
    channel->at = at;
    mdf->channels++;
    group->channels++;
    return BL_OK;
}

static enum bl_status note_array(struct bl_mdf *mdf,
                                 struct bl_mdf_channel *channel,
                                 const char *block, struct bl_error *error)
{
    char name[80];
    channel->used = false;
    channel->value = false;
    return bl_note(mdf->notes, "array-not-read", -1, -1,
                   "channel '%s' is composed in a block %s: arrays are not "
                   "read; the channel is left out",
                   bl_plain_line(channel->name, name, sizeof(name)),
                   block) == BL_OK
               ? BL_OK
               : bl_fail_memory(error);
}

/* Blocks that were used are not used again: a chain that comes back to itself,
   or to another one, ends. */
static bool channel_known(const struct bl_mdf *mdf, uint64_t at)
{
    for (size_t i = mdf->group[mdf->groups - 1].first; i < mdf->channels; i++) {
        if (mdf->channel[i].at == at) {
            return true;
        }
    }
    return false;
}

static bool group_known(const struct bl_mdf *mdf, uint64_t at)
{
    for (size_t i = 0; i < mdf->groups; i++) {
        if (mdf->group[i].at == at) {
            return true;
        }
    }
    return false;
}

static bool set_known(const struct bl_mdf *mdf, uint64_t at)
{
    for (size_t i = 0; i < mdf->sets; i++) {
        if (mdf->set[i].at == at) {
            return true;
        }
    }
    return false;
}

/* A chain of channels, and what each is composed of behind it. */
static enum bl_status read_channels(struct bl_mdf *mdf, uint64_t at,
                                    unsigned depth, struct bl_error *error)
{
    enum bl_status status = BL_OK;
    while (at != 0 && status == BL_OK) {
        struct bl_mdf_block block;
        if (depth > DEPTH_MOST || channel_known(mdf, at)) {
            return bl_fail_offset(error, BL_FORMAT, bl_bytes_name(mdf->source),
                                  (int64_t)at,
                                  "the chain of channels comes back to itself");
        }
        status = add_channel(mdf, at, &block, error);
        if (status != BL_OK) {
            return status;
        }
        const uint64_t parts = block.link[CN_PARTS];
        at = block.link[CN_NEXT];
        if (parts == 0) {
            continue;
        }
        struct bl_mdf_channel *whole = &mdf->channel[mdf->channels - 1];
        status = bl_mdf_block(mdf, parts, NULL, &block, error);
        if (status == BL_OK && strcmp(block.id, "##CN") != 0) {
            status = note_array(mdf, whole, block.id, error);
        } else if (status == BL_OK) {
            whole->value = false;
            whole->composed = true;
            status = read_channels(mdf, parts, depth + 1, error);
        }
    }
    return status;
}

static enum bl_status read_group(struct bl_mdf *mdf,
                                 const struct bl_mdf_block *block,
                                 struct bl_error *error)
{
    uint8_t data[CG_SIZE];
    struct bl_mdf_group *group = &mdf->group[mdf->groups];
    memset(group, 0, sizeof(*group));
    enum bl_status status = bl_mdf_data(mdf, block, data, sizeof(data), error);
    if (status == BL_OK) {
        status =
            bl_mdf_text_or_none(mdf, block->link[CG_NAME], &group->name, error);
    }
    if (status != BL_OK) {
        return status;
    }
    group->at = block->at;
    group->id = bl_mdf_u64(data);
    group->cycles = bl_mdf_u64(data + 8);
    group->flags = bl_mdf_u16(data + 16);
    group->data_bytes = bl_mdf_u32(data + 24);
    group->invalid_bytes = bl_mdf_u32(data + 28);
    group->first = mdf->channels;
    group->set = mdf->sets - 1;
    group->time = SIZE_MAX;
    mdf->groups++; /* from here on it is freed with the others */
    mdf->set[group->set].groups++;
    if ((group->flags & FLAG_VARIABLE) != 0) {
        group->holds = BL_MDF_HOLDS_BYTES;
        return BL_OK;
    }
    if ((uint64_t)group->data_bytes + group->invalid_bytes >
        BL_LIMIT_MDF_RECORD) {
        mdf->set[group->set].data = 0; /* records cannot be told apart */
        return bl_fail_offset(
            error, BL_FORMAT, bl_bytes_name(mdf->source), (int64_t)block->at,
            "expected records of at most %u bytes, found "
            "%" PRIu64,
            BL_LIMIT_MDF_RECORD,
            (uint64_t)group->data_bytes + group->invalid_bytes);
    }
    struct bl_error why;
    bl_error_clear(&why);
    status = read_channels(mdf, block->link[CG_FIRST_CHANNEL], 0, &why);
    if (status != BL_OK) {
        status = bl_mdf_damaged(mdf, status, &why, error);
    }
    return status == BL_OK
               ? bl_mdf_group_judge(mdf, &mdf->group[mdf->groups - 1], error)
               : status;
}

static enum bl_status read_groups(struct bl_mdf *mdf, uint64_t at,
                                  struct bl_error *error)
{
    while (at != 0) {
        struct bl_mdf_block block;
        if (group_known(mdf, at)) {
            return bl_fail_offset(error, BL_FORMAT, bl_bytes_name(mdf->source),
                                  (int64_t)at,
                                  "the chain of groups comes back to itself");
        }
        if (mdf->groups >= BL_LIMIT_MDF_GROUPS) {
            return over_limit(mdf, "channel groups", BL_LIMIT_MDF_GROUPS,
                              error);
        }
        enum bl_status status = bl_mdf_block(mdf, at, "CG", &block, error);
        if (status != BL_OK) {
            return status;
        }
        if (!bl_grow(&mdf->group, &mdf->group_capacity, mdf->groups + 1,
                     sizeof(*mdf->group), BL_LIMIT_MDF_GROUPS)) {
            return bl_fail_memory(error);
        }
        status = read_group(mdf, &block, error);
        if (status != BL_OK) {
            return status;
        }
        at = block.link[CG_NEXT];
    }
    return BL_OK;
}

static enum bl_status read_set(struct bl_mdf *mdf,
                               const struct bl_mdf_block *block,
                               struct bl_error *error)
{
    uint8_t id_bytes;
    if (!bl_grow(&mdf->set, &mdf->set_capacity, mdf->sets + 1,
                 sizeof(*mdf->set), BL_LIMIT_MDF_GROUPS)) {
        return mdf->sets >= BL_LIMIT_MDF_GROUPS
                   ? over_limit(mdf, "data groups", BL_LIMIT_MDF_GROUPS, error)
                   : bl_fail_memory(error);
    }
    enum bl_status status = bl_mdf_data(mdf, block, &id_bytes, 1, error);
    if (status != BL_OK) {
        return status;
    }
    if (id_bytes > 8 || (id_bytes & (id_bytes - 1)) != 0) {
        return bl_fail_offset(error, BL_FORMAT, bl_bytes_name(mdf->source),
                              (int64_t)block->at,
                              "expected a record identifier of 0, 1, 2, 4 or 8 "
                              "bytes, found %u",
                              (unsigned)id_bytes);
    }
    mdf->set[mdf->sets++] = (struct bl_mdf_set){.at = block->at,
                                                .data = block->link[DG_DATA],
                                                .id_bytes = id_bytes,
                                                .first = mdf->groups};
    return read_groups(mdf, block->link[DG_FIRST_GROUP], error);
}

/* What is broken in one set leaves the others. */
static enum bl_status read_sets(struct bl_mdf *mdf, uint64_t at,
                                struct bl_error *error)
{
    struct bl_error why;
    bl_error_clear(&why);
    while (at != 0) {
        struct bl_mdf_block block;
        enum bl_status status = BL_OK;
        if (set_known(mdf, at)) {
            status = bl_fail_offset(&why, BL_FORMAT, bl_bytes_name(mdf->source),
                                    (int64_t)at,
                                    "the chain of data groups comes back to "
                                    "itself");
            return bl_mdf_damaged(mdf, status, &why, error);
        }
        status = bl_mdf_block(mdf, at, "DG", &block, &why);
        if (status != BL_OK) {
            return bl_mdf_damaged(mdf, status, &why, error);
        }
        status = read_set(mdf, &block, &why);
        if (status != BL_OK) {
            status = bl_mdf_damaged(mdf, status, &why, error);
        }
        if (status != BL_OK) {
            return status;
        }
        at = block.link[DG_NEXT];
    }
    return BL_OK;
}

static enum bl_status read_start(struct bl_mdf *mdf,
                                 const struct bl_mdf_block *head,
                                 struct bl_error *error)
{
    uint8_t data[16];
    const enum bl_status status =
        bl_mdf_data(mdf, head, data, sizeof(data), error);
    if (status != BL_OK) {
        return status;
    }
    const uint64_t start = bl_mdf_u64(data);
    if (start > (uint64_t)(BL_LIMIT_TIME_NS / 2)) {
        return bl_fail_offset(error, BL_FORMAT, bl_bytes_name(mdf->source),
                              (int64_t)head->at,
                              "expected a start within 73 years of 1970, found "
                              "%" PRIu64 " ns",
                              start);
    }
    mdf->start_ns = (int64_t)start;
    mdf->absolute = start != 0;
    if (mdf->absolute && (data[12] & FLAG_LOCAL_TIME) != 0 &&
        bl_note(mdf->notes, "local-time", -1, -1,
                "the file counts from the recorder's local time and tells no "
                "zone: taken as UTC") != BL_OK) {
        return bl_fail_memory(error);
    }
    return BL_OK;
}

static enum bl_status read_id(struct bl_mdf *mdf, struct bl_error *error)
{
    uint8_t id[BL_MDF_ID_BYTES];
    const enum bl_status status = bl_mdf_read(mdf, 0, id, sizeof(id), error);
    if (status != BL_OK) {
        return status;
    }
    if (!bl_mdf_recognised(id, sizeof(id))) {
        return bl_fail(error, BL_FORMAT, bl_bytes_name(mdf->source),
                       "expected a measurement file in MDF 4");
    }
    mdf->version = bl_mdf_u16(id + ID_VERSION);
    mdf->unfinished = memcmp(id, unfinished, 8) == 0;
    mdf->left_undone = mdf->unfinished ? bl_mdf_u16(id + ID_LEFT_UNDONE) : 0;
    if (!mdf->unfinished) {
        return BL_OK;
    }
    const unsigned own = bl_mdf_u16(id + ID_LEFT_UNDONE_OWN);
    return bl_note(mdf->notes, "unfinished-file", -1, -1,
                   "the recorder did not finish this file (flags %u and %u): "
                   "it is read as far as it goes",
                   (unsigned)mdf->left_undone, own) == BL_OK
               ? BL_OK
               : bl_fail_memory(error);
}

static enum bl_status describe(struct bl_mdf *mdf, struct bl_error *error)
{
    struct bl_error why;
    bl_error_clear(&why);
    enum bl_status status = bl_bytes_size(mdf->source, &mdf->size, &why);
    if (status != BL_OK) {
        status = bl_mdf_damaged(mdf, status, &why, error);
    }
    if (status == BL_OK) {
        status = read_id(mdf, error);
    }
    struct bl_mdf_block head = {0};
    if (status == BL_OK) {
        status = bl_mdf_block(mdf, BL_MDF_ID_BYTES, "HD", &head, error);
    }
    if (status == BL_OK) {
        status = read_start(mdf, &head, error);
    }
    return status == BL_OK ? read_sets(mdf, head.link[HD_FIRST_SET], error)
                           : status;
}

enum bl_status bl_mdf_open(struct bl_mdf **out, struct bl_bytes *source,
                           struct bl_notes *notes, struct bl_error *error)
{
    *out = NULL;
    struct bl_mdf *mdf = bl_alloc(1, sizeof(*mdf));
    if (mdf == NULL) {
        return bl_fail_memory(error);
    }
    bl_error_clear(&mdf->failure);
    mdf->source = source;
    mdf->notes = notes;
    const enum bl_status status = describe(mdf, error);
    if (status != BL_OK) {
        bl_mdf_close(mdf);
        return status;
    }
    *out = mdf;
    return BL_OK;
}

void bl_mdf_close(struct bl_mdf *mdf)
{
    if (mdf == NULL) {
        return;
    }
    for (size_t i = 0; i < mdf->channels; i++) {
        bl_mdf_channel_finish(&mdf->channel[i]);
    }
    for (size_t i = 0; i < mdf->groups; i++) {
        bl_free(mdf->group[i].name);
    }
    bl_free(mdf->channel);
    bl_free(mdf->group);
    bl_free(mdf->set);
    bl_free(mdf);
}

bool bl_mdf_has_frames(const struct bl_mdf *mdf)
{
    for (size_t i = 0; i < mdf->groups; i++) {
        const enum bl_mdf_holds holds = mdf->group[i].holds;
        if (holds == BL_MDF_HOLDS_DATA_FRAMES ||
            holds == BL_MDF_HOLDS_REMOTE_FRAMES ||
            holds == BL_MDF_HOLDS_ERROR_FRAMES ||
            holds == BL_MDF_HOLDS_OTHER_FRAMES) {
            return true;
        }
    }
    return false;
}

bool bl_mdf_has_values(const struct bl_mdf *mdf)
{
    for (size_t i = 0; i < mdf->groups; i++) {
        const struct bl_mdf_group *group = &mdf->group[i];
        for (size_t c = 0;
             group->holds == BL_MDF_HOLDS_VALUES && c < group->channels; c++) {
            if (mdf->channel[group->first + c].value) {
                return true;
            }
        }
    }
    return false;
}
