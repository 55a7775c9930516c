/* SPDX-License-Identifier: MIT */
#include "bus/mdf_frame.h"

#include "bus/packet.h"

#include <inttypes.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

enum {
    CLASSIC_BYTES = 8,
    FD_BYTES = 64,
    LENGTH_BYTES = 4,
    /* An unfinished file in which offsets into records of variable length were
       not yet set: they are in order. */
    UNDONE_OFFSETS = 64
};

/* Bytes by length code (ISO 11898-1). */
static const uint8_t fd_bytes[] = {0, 1,  2,  3,  4,  5,  6,  7,
                                   8, 12, 16, 20, 24, 32, 48, 64};

static const struct {
    const char *name;
    size_t at; /* in the plan */
} members[] = {
    {"BusChannel", offsetof(struct bl_mdf_plan, bus)},
    {"ID", offsetof(struct bl_mdf_plan, id)},
    {"IDE", offsetof(struct bl_mdf_plan, extended)},
    {"DLC", offsetof(struct bl_mdf_plan, dlc)},
    {"DataLength", offsetof(struct bl_mdf_plan, length)},
    {"DataBytes", offsetof(struct bl_mdf_plan, data)},
    {"Dir", offsetof(struct bl_mdf_plan, direction)},
    {"EDL", offsetof(struct bl_mdf_plan, fd)},
    {"BRS", offsetof(struct bl_mdf_plan, fast)},
    {"ESI", offsetof(struct bl_mdf_plan, error_state)},
    {"ErrorType", offsetof(struct bl_mdf_plan, error_type)},
};

static bool is_number(const struct bl_mdf_channel *channel)
{
    return channel->field.type == BL_MDF_UNSIGNED ||
           channel->field.type == BL_MDF_SIGNED;
}

static void find_members(struct bl_mdf_plan *plan)
{
    const struct bl_mdf *mdf = plan->mdf;
    const struct bl_mdf_group *group = plan->group;
    for (size_t c = group->first; c < group->first + group->channels; c++) {
        const struct bl_mdf_channel *channel = &mdf->channel[c];
        const char *dot = strrchr(channel->name, '.');
        const char *name = dot == NULL ? channel->name : dot + 1;
        for (size_t m = 0; m < sizeof(members) / sizeof(members[0]); m++) {
            const struct bl_mdf_channel **place =
                (const struct bl_mdf_channel **)(void *)((char *)plan +
                                                         members[m].at);
            const bool bytes =
                members[m].at == offsetof(struct bl_mdf_plan, data);
            if (*place == NULL && channel->used && !channel->composed &&
                channel->kind != BL_MDF_MASTER && channel->field.bytes > 0 &&
                bytes != is_number(channel) &&
                strcmp(name, members[m].name) == 0) {
                *place = channel;
            }
        }
    }
}

static uint64_t number(const struct bl_mdf_channel *channel,
                       const uint8_t *record)
{
    return channel == NULL ? 0 : bl_mdf_raw(&channel->field, record);
}

static enum bl_status note(struct bl_bus_context *context,
                           const struct bl_mdf_plan *plan, const char *code,
                           const char *text, uint64_t found)
{
    return bl_note(&context->info.notes, code, -1, (int64_t)plan->group->at,
                   "%s, found %" PRIu64 "; frame left out", text, found);
}

/* Opened at the first frame: the data of a group may be of no use. */
static enum bl_status open_bytes(struct bl_mdf_plan *plan,
                                 struct bl_error *error)
{
    struct bl_mdf_bytes *bytes = &plan->bytes;
    struct bl_mdf *mdf = plan->mdf;
    bytes->open = true;
    for (size_t g = 0; g < mdf->groups; g++) {
        if (mdf->group[g].at == plan->data->data &&
            mdf->group[g].holds == BL_MDF_HOLDS_BYTES) {
            bytes->records = true;
            bytes->group = g;
            bytes->in_order =
                mdf->unfinished && (mdf->left_undone & UNDONE_OFFSETS) != 0;
            return bl_mdf_cursor_open(&bytes->cursor, mdf, mdf->group[g].set,
                                      error);
        }
    }
    return bl_mdf_stream_open(&bytes->stream, mdf, plan->data->data, "SD",
                              error);
}

/* Records of variable length, until the one at `place`. */
static enum bl_status find_record(struct bl_mdf_bytes *bytes, uint64_t place,
                                  const uint8_t **data, size_t *size,
                                  struct bl_error *error)
{
    while (bytes->in_order || bytes->next <= place) {
        struct bl_mdf_record record;
        bool got;
        const enum bl_status status =
            bl_mdf_cursor_next(&bytes->cursor, &record, &got, error);
        if (status != BL_OK || !got) {
            return status;
        }
        if (record.group != bytes->group) {
            continue;
        }
        const uint64_t at = bytes->next;
        bytes->next += LENGTH_BYTES + record.bytes;
        if (bytes->in_order || at == place) {
            *data = record.data;
            *size = record.bytes;
            return BL_OK;
        }
    }
    return BL_OK;
}

/* *data NULL: there is nothing at that place, or it is lost. */
static enum bl_status find_bytes(struct bl_mdf_plan *plan, uint64_t place,
                                 const uint8_t **data, size_t *size,
                                 struct bl_error *error)
{
    struct bl_mdf_bytes *bytes = &plan->bytes;
    enum bl_status status = bytes->open ? BL_OK : open_bytes(plan, error);
    *data = NULL;
    if (status != BL_OK) {
        return status;
    }
    if (bytes->records) {
        return find_record(bytes, place, data, size, error);
    }
    bool found;
    const uint8_t *at;
    size_t available = 0;
    status = bl_mdf_stream_seek(&bytes->stream, place, &found, error);
    if (status == BL_OK && found) {
        status = bl_mdf_stream_window(&bytes->stream, LENGTH_BYTES + FD_BYTES,
                                      &at, &available, error);
    }
    if (status != BL_OK || available < LENGTH_BYTES) {
        return status;
    }
    const uint64_t length = bl_mdf_low_first(at, LENGTH_BYTES);
    if (length <= available - LENGTH_BYTES) {
        *data = at + LENGTH_BYTES;
        *size = (size_t)length;
    }
    return BL_OK;
}

/* The frame's bytes and how many there are at most. */
static enum bl_status locate(struct bl_mdf_plan *plan, const uint8_t *record,
                             const uint8_t **data, size_t *room,
                             struct bl_error *error)
{
    const struct bl_mdf_channel *channel = plan->data;
    if (channel->kind == BL_MDF_VARIABLE) {
        return find_bytes(plan, bl_mdf_raw(&channel->field, record), data, room,
                          error);
    }
    *data = record + channel->field.byte;
    *room = channel->field.bytes;
    return BL_OK;
}

static uint64_t length_of(const struct bl_mdf_plan *plan, const uint8_t *record,
                          bool fd, size_t room)
{
    if (plan->length != NULL) {
        return number(plan->length, record);
    }
    const uint64_t code = number(plan->dlc, record);
    if (plan->dlc == NULL || plan->data->kind == BL_MDF_VARIABLE) {
        return room;
    }
    return !fd && code > CLASSIC_BYTES ? CLASSIC_BYTES
           : code < sizeof(fd_bytes)   ? fd_bytes[code]
                                       : code;
}

static enum bl_status decode_data(struct bl_bus_context *context,
                                  struct bl_mdf_plan *plan,
                                  const uint8_t *record, struct bl_frame *frame,
                                  bool *taken, struct bl_error *error)
{
    const uint8_t *data = NULL;
    size_t room = 0;
    enum bl_status status = locate(plan, record, &data, &room, error);
    if (status != BL_OK) {
        return status;
    }
    if (data == NULL) {
        return note(context, plan, "data-not-found",
                    "expected the bytes of a frame at their place in the data "
                    "of variable length",
                    number(plan->data, record));
    }
    const bool says_fd = number(plan->fd, record) != 0;
    const uint64_t length = length_of(plan, record, says_fd, room);
    const bool fd = says_fd || (plan->fd == NULL && length > CLASSIC_BYTES);
    if (length > (fd ? FD_BYTES : CLASSIC_BYTES) || length > room) {
        return note(context, plan, "impossible-length",
                    "expected a length that fits the frame and its record",
                    length);
    }
    frame->kind = fd ? BL_FRAME_FD : BL_FRAME_CLASSIC;
    frame->length = (uint8_t)length;
    if (fd && number(plan->fast, record) != 0) {
        frame->flags |= BL_FRAME_BIT_RATE_SWITCH;
    }
    if (fd && number(plan->error_state, record) != 0) {
        frame->flags |= BL_FRAME_ERROR_STATE;
    }
    memset(frame->data, 0, sizeof(frame->data));
    memcpy(frame->data, data, (size_t)length);
    *taken = true;
    return BL_OK;
}

static enum bl_status decode_remote(struct bl_bus_context *context,
                                    struct bl_mdf_plan *plan,
                                    const uint8_t *record,
                                    struct bl_frame *frame, bool *taken,
                                    struct bl_error *error)
{
    const struct bl_mdf_channel *from =
        plan->dlc != NULL ? plan->dlc : plan->length;
    const uint64_t length = number(from, record);
    (void)error;
    if (length > CLASSIC_BYTES) {
        return note(context, plan, "impossible-length",
                    "expected a remote frame that asks for up to 8 bytes",
                    length);
    }
    frame->kind = BL_FRAME_REMOTE;
    frame->length = (uint8_t)length;
    memset(frame->data, 0, sizeof(frame->data));
    *taken = true;
    return BL_OK;
}

/* Kinds of errors to the classes of linux/can/error.h. */
static enum bl_status decode_error(struct bl_bus_context *context,
                                   struct bl_mdf_plan *plan,
                                   const uint8_t *record,
                                   struct bl_frame *frame, bool *taken,
                                   struct bl_error *error)
{
    enum { PROTOCOL = 0x08, NO_ANSWER = 0x20, IN_CHECKSUM = 0x08 };
    enum { BIT = 1, FORM = 2, STUFF = 3, CHECKSUM = 4, ANSWER = 5 };
    static const uint8_t type_of[] = {0, 0x01, 0x02, 0x04};
    const uint64_t type = number(plan->error_type, record);
    (void)context;
    (void)error;
    memset(frame->data, 0, sizeof(frame->data));
    frame->kind = BL_FRAME_ERROR;
    frame->flags = 0;
    frame->length = CLASSIC_BYTES;
    frame->id = type == ANSWER ? NO_ANSWER : PROTOCOL;
    if (type <= STUFF) {
        frame->data[2] = type_of[type];
    } else if (type == CHECKSUM) {
        frame->data[3] = IN_CHECKSUM;
    }
    *taken = true;
    return BL_OK;
}

static bool doubtful(const struct bl_mdf_channel *channel)
{
    return channel != NULL && (channel->never_valid || channel->may_be_invalid);
}

enum bl_status bl_mdf_plan(struct bl_mdf_plan *plan, struct bl_mdf *mdf,
                           size_t group, struct bl_error *error)
{
    memset(plan, 0, sizeof(*plan));
    plan->mdf = mdf;
    plan->group = &mdf->group[group];
    plan->number = group;
    find_members(plan);
    const char *lacks = NULL;
    switch (plan->group->holds) {
    case BL_MDF_HOLDS_DATA_FRAMES:
        plan->decode = decode_data;
        lacks = plan->id == NULL     ? "ID"
                : plan->data == NULL ? "DataBytes"
                                     : NULL;
        break;
    case BL_MDF_HOLDS_REMOTE_FRAMES:
        plan->decode = decode_remote;
        lacks = plan->id == NULL ? "ID" : NULL;
        break;
    case BL_MDF_HOLDS_ERROR_FRAMES:
        plan->decode = decode_error;
        break;
    case BL_MDF_HOLDS_NOTHING:
    case BL_MDF_HOLDS_VALUES:
    case BL_MDF_HOLDS_OTHER_FRAMES:
    case BL_MDF_HOLDS_BYTES:
        return BL_OK;
    }
    if (lacks == NULL) {
        plan->may_be_invalid = doubtful(plan->id) || doubtful(plan->data);
        return BL_OK;
    }
    plan->decode = NULL;
    mdf->frames_left_out = true;
    return bl_note(mdf->notes, "group-not-read", -1, (int64_t)plan->group->at,
                   "group %zu of CAN frames has no member '%s' that can be "
                   "read; its %" PRIu64 " records are left out",
                   group + 1, lacks, plan->group->cycles) == BL_OK
               ? BL_OK
               : bl_fail_memory(error);
}

void bl_mdf_plan_finish(struct bl_mdf_plan *plan)
{
    if (plan->bytes.open) {
        bl_mdf_stream_close(&plan->bytes.stream);
        bl_mdf_cursor_close(&plan->bytes.cursor);
    }
}

/* Buses are numbered: "can1". Frames without a number are of the bus that the
   group is named after. */
static enum bl_status find_bus(struct bl_bus_context *context,
                               struct bl_mdf_plan *plan, const uint8_t *record,
                               struct bl_frame *frame, struct bl_error *error)
{
    const uint64_t bus = number(plan->bus, record);
    if (!plan->bus_known || bus != plan->bus_number) {
        char name[BL_BUS_NAME_MAX];
        (void)snprintf(name, sizeof(name), "can%" PRIu64, bus);
        const char *called = plan->bus != NULL ? name : plan->group->name;
        const enum bl_status status =
            bl_bus_index(context, called, strlen(called),
                         (uint32_t)plan->number, &plan->bus_index, error);
        if (status != BL_OK) {
            return status;
        }
        plan->bus_known = true;
        plan->bus_number = bus;
    }
    frame->bus = plan->bus_index;
    return BL_OK;
}

/* Without a member that tells, the highest of 32 bits does (common practice),
   else the number itself. False: it cannot be. */
static bool set_id(const struct bl_mdf_plan *plan, const uint8_t *record,
                   struct bl_frame *frame)
{
    const uint64_t id = number(plan->id, record);
    bool extended = number(plan->extended, record) != 0;
    frame->id = (uint32_t)id & BL_CAN_ID;
    if (plan->extended == NULL) {
        extended =
            (id & BL_CAN_EXTENDED) != 0 || frame->id > BL_CAN_STANDARD_ID;
    }
    if (extended) {
        frame->flags |= BL_FRAME_EXTENDED;
    }
    return (id & ~(uint64_t)(BL_CAN_ID | BL_CAN_EXTENDED)) == 0 &&
           (extended || frame->id <= BL_CAN_STANDARD_ID);
}

static bool is_valid(const struct bl_mdf_plan *plan,
                     const struct bl_mdf_record *record)
{
    return (plan->id == NULL ||
            !bl_mdf_invalid(plan->group, plan->id, record->data)) &&
           (plan->data == NULL ||
            !bl_mdf_invalid(plan->group, plan->data, record->data));
}

enum bl_status bl_mdf_frame(struct bl_bus_context *context,
                            struct bl_mdf_plan *plan,
                            const struct bl_mdf_record *record,
                            struct bl_frame *frame, bool *taken,
                            struct bl_error *error)
{
    const uint8_t *data = record->data;
    frame->flags = 0;
    frame->part = 0;
    if (plan->may_be_invalid && !is_valid(plan, record)) {
        return note(context, plan, "invalid-frame",
                    "expected a frame that the recorder holds valid, record",
                    record->number);
    }
    if (!bl_mdf_time(plan->mdf, record, &frame->time_ns)) {
        return note(context, plan, "impossible-stamp",
                    "expected a time within 73 years of the start, record",
                    record->number);
    }
    if (!set_id(plan, data, frame) &&
        plan->group->holds != BL_MDF_HOLDS_ERROR_FRAMES) {
        return note(context, plan, "impossible-id",
                    "expected an identifier of 11 or 29 bits",
                    number(plan->id, data));
    }
    if (number(plan->direction, data) != 0) {
        frame->flags |= BL_FRAME_OUTGOING;
    }
    const enum bl_status status = find_bus(context, plan, data, frame, error);
    return status == BL_OK
               ? plan->decode(context, plan, data, frame, taken, error)
               : status;
}
