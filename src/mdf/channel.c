/* SPDX-License-Identifier: MIT */
/*
 * One channel: where its value is in a record, and whether it is one that
 * can be read. What is refused is named.
 */
#include "mdf/block.h"

#include "base/alloc.h"

#include <stdio.h>

/* Places in the data of a CN block, and of its links; from memory. */
enum {
    CN_NAME = 2,
    CN_CONVERSION = 4,
    CN_DATA = 5,
    CN_UNIT = 6,
    CN_SIZE = 24, /* as far as it is used */
    FLAG_NEVER_VALID = 1,
    FLAG_MAY_BE_INVALID = 2,
    SYNC_TIME = 1,
    MOST_BITS = 64
};

/* Data types as the standard numbers them. */
enum {
    DT_UNSIGNED = 0,
    DT_UNSIGNED_BIG = 1,
    DT_SIGNED = 2,
    DT_SIGNED_BIG = 3,
    DT_FLOAT = 4,
    DT_FLOAT_BIG = 5,
    DT_TEXT_FIRST = 6,
    DT_TEXT_LAST = 9,
    DT_BYTES = 10,
    DT_STREAM = 12, /* MIME */
    DT_DATE = 13,
    DT_TIME = 14
};

static const char *const kinds[] = {
    "fixed length",    "variable length", "master",  "virtual master",
    "synchronisation", "a most length",   "virtual",
};

static enum bl_status refuse(struct bl_mdf *mdf, const char *code,
                             struct bl_mdf_channel *channel, const char *why,
                             struct bl_error *error)
{
    char name[80];
    channel->used = false;
    channel->value = false;
    return bl_note(mdf->notes, code, -1, -1,
                   "channel '%s': %s; the channel is left out",
                   bl_plain_line(channel->name, name, sizeof(name)),
                   why) == BL_OK
               ? BL_OK
               : bl_fail_memory(error);
}

static bool set_type(struct bl_mdf_field *field, unsigned type)
{
    field->big = type == DT_UNSIGNED_BIG || type == DT_SIGNED_BIG ||
                 type == DT_FLOAT_BIG;
    if (type <= DT_UNSIGNED_BIG) {
        field->type = BL_MDF_UNSIGNED;
    } else if (type <= DT_SIGNED_BIG) {
        field->type = BL_MDF_SIGNED;
    } else if (type <= DT_FLOAT_BIG) {
        field->type = BL_MDF_FLOAT;
    } else if (type <= DT_TEXT_LAST) {
        field->type = BL_MDF_TEXT;
    } else if (type <= DT_STREAM) {
        field->type = BL_MDF_BYTES;
    } else {
        return false;
    }
    return true;
}

/* Does it lie in the record? Of numbers, are there so many bits? */
static bool set_place(struct bl_mdf_field *field, const uint8_t *data,
                      const struct bl_mdf_group *group)
{
    const uint64_t bits = bl_mdf_u32(data + 8);
    field->shift = data[3];
    field->byte = bl_mdf_u32(data + 4);
    field->bits = (uint32_t)bits;
    field->mask = bits >= MOST_BITS ? UINT64_MAX : (UINT64_C(1) << bits) - 1;
    const uint64_t bytes = (field->shift + bits + 7) / 8;
    field->bytes = (uint32_t)bytes;
    const bool number =
        field->type != BL_MDF_BYTES && field->type != BL_MDF_TEXT;
    return bits > 0 && field->shift < 8 && (!number || bits <= MOST_BITS) &&
           (uint64_t)field->byte + bytes <= group->data_bytes;
}

static enum bl_status outside(struct bl_mdf *mdf,
                              const struct bl_mdf_block *block,
                              struct bl_mdf_channel *channel,
                              struct bl_error *error)
{
    struct bl_error why;
    char name[80];
    bl_error_clear(&why);
    channel->used = false;
    channel->value = false;
    (void)bl_fail_offset(&why, BL_FORMAT, bl_bytes_name(mdf->source),
                         (int64_t)block->at,
                         "channel '%s' lies outside its record",
                         bl_plain_line(channel->name, name, sizeof(name)));
    return bl_mdf_damaged(mdf, BL_FORMAT, &why, error);
}

/* Its bit among those behind the record's data. */
static bool set_validity(struct bl_mdf_channel *channel, const uint8_t *data,
                         const struct bl_mdf_group *group)
{
    const uint32_t flags = bl_mdf_u32(data + 12);
    channel->never_valid = (flags & FLAG_NEVER_VALID) != 0;
    channel->may_be_invalid = (flags & FLAG_MAY_BE_INVALID) != 0;
    channel->invalid_bit = bl_mdf_u32(data + 16);
    return !channel->may_be_invalid ||
           channel->invalid_bit / 8 < group->invalid_bytes;
}

/* What a log can hold is a number that is in the record. */
static enum bl_status judge(struct bl_mdf *mdf, unsigned sync,
                            struct bl_mdf_channel *channel,
                            struct bl_error *error)
{
    const struct bl_mdf_field *field = &channel->field;
    const bool master = channel->kind == BL_MDF_MASTER ||
                        channel->kind == BL_MDF_VIRTUAL_MASTER;
    if (master && sync != SYNC_TIME) {
        return refuse(mdf, "master-not-time", channel,
                      sync == 0 ? "it does not say that it counts time"
                                : "it counts angle, distance or records, not "
                                  "time",
                      error);
    }
    if (field->type == BL_MDF_FLOAT && field->bits != 32 && field->bits != 64 &&
        field->bytes > 0) {
        return refuse(mdf, "type-not-read", channel,
                      "a floating number of neither 32 nor 64 bits is not read",
                      error);
    }
    if (channel->kind == BL_MDF_SYNC || channel->kind == BL_MDF_VIRTUAL) {
        char why[64];
        (void)snprintf(why, sizeof(why), "a channel of kind '%s' is not read",
                       kinds[channel->kind]);
        return refuse(mdf, "channel-kind-not-read", channel, why, error);
    }
    channel->value = !master && channel->kind == BL_MDF_FIXED &&
                     field->type != BL_MDF_BYTES && field->type != BL_MDF_TEXT;
    return BL_OK;
}

/* The channel's own unit, else that of its conversion. */
static enum bl_status read_texts(struct bl_mdf *mdf,
                                 const struct bl_mdf_block *block,
                                 struct bl_mdf_channel *channel,
                                 struct bl_error *error)
{
    enum bl_status status =
        bl_mdf_text_or_none(mdf, block->link[CN_NAME], &channel->name, error);
    if (status == BL_OK) {
        status = bl_mdf_text_or_none(mdf, block->link[CN_UNIT], &channel->unit,
                                     error);
    }
    return status;
}

enum bl_status bl_mdf_channel_read(struct bl_mdf *mdf,
                                   const struct bl_mdf_block *block,
                                   const struct bl_mdf_group *group,
                                   struct bl_mdf_channel *channel,
                                   struct bl_error *error)
{
    uint8_t data[CN_SIZE];
    enum bl_status status = bl_mdf_data(mdf, block, data, sizeof(data), error);
    if (status == BL_OK) {
        status = read_texts(mdf, block, channel, error);
    }
    if (status != BL_OK) {
        return status;
    }
    channel->used = true;
    channel->kind = (enum bl_mdf_kind)data[0];
    channel->data = block->link[CN_DATA];
    if (data[0] > BL_MDF_VIRTUAL) {
        return refuse(mdf, "channel-kind-not-read", channel,
                      "a channel of a kind that is not known", error);
    }
    if (!set_type(&channel->field, data[2])) {
        return refuse(mdf, "type-not-read", channel,
                      data[2] <= DT_TIME ? "a date or time of CANopen is not "
                                           "read"
                                         : "its data type is not read",
                      error);
    }
    const bool is_virtual = channel->kind == BL_MDF_VIRTUAL_MASTER ||
                            channel->kind == BL_MDF_VIRTUAL;
    if (is_virtual) {
        channel->field.bytes = 0;
    } else if (!set_place(&channel->field, data, group)) {
        return outside(mdf, block, channel, error);
    }
    if (!set_validity(channel, data, group)) {
        return outside(mdf, block, channel, error);
    }
    status = judge(mdf, data[1], channel, error);
    if (status != BL_OK || !channel->used) {
        return status;
    }
    status =
        bl_mdf_conversion_read(mdf, block->link[CN_CONVERSION], channel, error);
    channel->value = channel->value && channel->used;
    channel->whole_ns = bl_mdf_whole_ns(channel);
    return status;
}

void bl_mdf_channel_finish(struct bl_mdf_channel *channel)
{
    bl_free(channel->name);
    bl_free(channel->unit);
    bl_free(channel->conversion.text_at);
}
