/* SPDX-License-Identifier: MIT */
/*
 * pcapng by our own block reader, because the interface that a packet came
 * from matters here. Feeds packet.c. Any number of sections, each in its own
 * byte order; blocks of other kinds are skipped. Behind a damaged block reading
 * goes on where that is safe (pcapng_resync.c); its error is given at the end.
 */
#include "bus/pcapng.h"
#include "bus/packet.h"

#include "base/alloc.h"
#include "base/limits.h"

#include <inttypes.h>
#include <string.h>

/* Packets are looked at up to here; the rest of a longer one is skipped. */
enum { LOOK_BYTES = 65536, PACKET_HEADER = 28 };

static enum bl_bus_answer probe(const uint8_t *data, size_t size, bool all,
                                struct bl_error *why)
{
    if (size < 4) {
        return all ? BL_BUS_NOT_MINE : BL_BUS_NEED_MORE;
    }
    if (memcmp(data, "\x0A\x0D\x0D\x0A", 4) != 0) {
        return BL_BUS_NOT_MINE;
    }
    bool big;
    if (size >= BL_NG_FRAME && !bl_ng_byte_order(data + 8, &big)) {
        (void)bl_fail_offset(why, BL_FORMAT, NULL, 8,
                             "expected the pcapng byte-order magic, found "
                             "other bytes");
        return BL_BUS_BROKEN;
    }
    if (size >= BL_NG_SECTION) {
        return BL_BUS_MINE;
    }
    if (!all) {
        return BL_BUS_NEED_MORE;
    }
    (void)bl_fail_offset(why, BL_TRUNCATED, NULL, (int64_t)size,
                         "expected a pcapng section header of %d bytes, found "
                         "%zu",
                         BL_NG_SECTION, size);
    return BL_BUS_BROKEN;
}

static const char *name_of(const struct bl_ng_reader *reader)
{
    return bl_bytes_name(reader->context->source);
}

static enum bl_status note_cut(struct bl_ng_reader *reader, int64_t place)
{
    return bl_note(&reader->context->info.notes, "cut-last-record", -1, place,
                   "the last block is cut");
}

/* Type and size of the next block; size 0 at the end. */
static enum bl_status read_head(struct bl_ng_reader *reader,
                                struct bl_ng_block *block,
                                struct bl_error *error)
{
    struct bl_bytes *source = reader->context->source;
    memset(block, 0, sizeof(*block));
    block->place = bl_bytes_offset(source);
    const enum bl_status status =
        bl_bytes_window(source, BL_NG_FRAME, &block->data, &block->seen, error);
    if (status != BL_OK || block->seen == 0) {
        return status;
    }
    if (block->seen < BL_NG_FRAME) {
        return note_cut(reader, block->place);
    }
    block->type = bl_ng_32(reader, block->data);
    if (block->type == BL_NG_SECTION_TYPE &&
        !bl_ng_byte_order(block->data + 8, &reader->big)) {
        return bl_fail_offset(error, BL_FORMAT, name_of(reader),
                              block->place + 8,
                              "expected the pcapng byte-order magic, found "
                              "other bytes");
    }
    const uint32_t size = bl_ng_32(reader, block->data + 4);
    const uint32_t least =
        block->type == BL_NG_SECTION_TYPE ? BL_NG_SECTION : BL_NG_FRAME;
    if (size < least || size % 4 != 0) {
        return bl_fail_offset(error, BL_FORMAT, name_of(reader),
                              block->place + 4,
                              "expected a block length of %" PRIu32
                              " or more in steps of 4, found %" PRIu32,
                              least, size);
    }
    block->size = size;
    return BL_OK;
}

/* Interfaces are numbered by their place in a section: behind a lost section
   all numbers are others, behind a lost interface those of later ones. */
static bool may_go_on(const struct bl_ng_reader *reader,
                      const struct bl_ng_block *block)
{
    return block->type != BL_NG_SECTION_TYPE && !reader->section_lost &&
           (block->type != BL_NG_INTERFACE || !reader->read_on);
}

/* The file ends inside the block, or its length is damaged: then whole blocks
   stand where it should be. */
static enum bl_status ends_inside(struct bl_ng_reader *reader,
                                  struct bl_ng_block *block,
                                  struct bl_error *error)
{
    bool found = false;
    size_t distance;
    if (may_go_on(reader, block)) {
        const enum bl_status status =
            bl_ng_find_next(reader, block->place, &found, &distance, error);
        if (status != BL_OK) {
            return status;
        }
    }
    if (found) {
        return bl_fail_offset(error, BL_FORMAT, name_of(reader),
                              block->place + 4,
                              "expected a block that ends within the file, "
                              "found a length of %" PRIu64,
                              block->size);
    }
    block->size = 0;
    return note_cut(reader, block->place);
}

/* Bring up to `most` bytes of the block into view; all of it when shorter.
   size 0 when it is cut. */
static enum bl_status look(struct bl_ng_reader *reader,
                           struct bl_ng_block *block, size_t most,
                           struct bl_error *error)
{
    const size_t wanted = block->size < most ? (size_t)block->size : most;
    if (block->seen < wanted) {
        const enum bl_status status = bl_bytes_window(
            reader->context->source, wanted, &block->data, &block->seen, error);
        if (status != BL_OK) {
            return status;
        }
        if (block->seen < wanted) {
            return ends_inside(reader, block, error);
        }
    }
    block->seen = wanted;
    return BL_OK;
}

static enum bl_status length_differs(const struct bl_ng_reader *reader,
                                     const struct bl_ng_block *block,
                                     uint32_t again, struct bl_error *error)
{
    return bl_fail_offset(error, BL_FORMAT, name_of(reader),
                          block->place + (int64_t)block->size - 4,
                          "expected the block's length %" PRIu64
                          " again, found %" PRIu32,
                          block->size, again);
}

/* Go behind the block; its length stands there again. *whole false: cut. A
   short block whose length differs is not taken. */
static enum bl_status leave(struct bl_ng_reader *reader,
                            const struct bl_ng_block *block, bool *whole,
                            struct bl_error *error)
{
    struct bl_bytes *source = reader->context->source;
    const uint8_t *end = block->data + block->seen - 4;
    *whole = true;
    if (block->seen < block->size) {
        uint64_t skipped;
        enum bl_status status =
            bl_bytes_skip(source, block->size - 4, &skipped, error);
        size_t available = 0;
        if (status == BL_OK) {
            status = bl_bytes_window(source, 4, &end, &available, error);
        }
        if (status != BL_OK) {
            return status;
        }
        *whole = available >= 4;
        if (!*whole) {
            return note_cut(reader, block->place);
        }
        bl_bytes_take(source, 4);
        const uint32_t again = bl_ng_32(reader, end);
        return again == block->size
                   ? BL_OK
                   : length_differs(reader, block, again, error);
    }
    const uint32_t again = bl_ng_32(reader, end);
    if (again != block->size) {
        return length_differs(reader, block, again, error);
    }
    bl_bytes_take(source, (size_t)block->size);
    return BL_OK;
}

/* The bus of a frame from this interface. */
static enum bl_status find_bus(struct bl_ng_reader *reader, size_t id,
                               struct bl_frame *frame, struct bl_error *error)
{
    struct bl_ng_interface *interface = &reader->interface[id];
    if (!interface->has_bus) {
        const enum bl_status status = bl_bus_index(
            reader->context, interface->name, strlen(interface->name),
            (uint32_t)id, &interface->bus, error);
        if (status != BL_OK) {
            return status;
        }
        interface->has_bus = true;
    }
    frame->bus = interface->bus;
    return BL_OK;
}

/* A packet as its block has it. */
struct stored {
    size_t id; /* of its interface */
    uint64_t stamp;
    const uint8_t *data;
    size_t size;
    int64_t place;
};

static enum bl_status take_packet(struct bl_ng_reader *reader,
                                  const struct stored *stored,
                                  struct bl_frame *frame, bool *taken,
                                  struct bl_error *error)
{
    const size_t id = stored->id;
    const int64_t place = stored->place;
    struct bl_bus_context *context = reader->context;
    if (id >= reader->interfaces) {
        context->info.after_damage = true;
        return bl_note(&context->info.notes, "unknown-interface", -1, place,
                       "a packet names interface %zu, but the section "
                       "describes %zu; excluded",
                       id, reader->interfaces);
    }
    const struct bl_ng_interface *interface = &reader->interface[id];
    if (!interface->can) {
        context->info.other_packets++;
        return BL_OK;
    }
    const enum bl_id_order order =
        reader->big ? BL_ID_ORDER_BIG : BL_ID_ORDER_LITTLE;
    struct bl_packet packet = {.data = stored->data,
                               .size = stored->size,
                               .link_type = interface->link_type,
                               .file_order = order,
                               .data_order = order,
                               .place = place};
    if (!bl_ng_time(interface, stored->stamp, &packet.time_ns)) {
        context->info.after_damage = true;
        return bl_note(&context->info.notes, "impossible-stamp", -1, place,
                       "a packet has a stamp further than 146 years from "
                       "1970; excluded");
    }
    enum bl_status status =
        bl_packet_frame(context, &packet, frame, taken, error);
    if (status == BL_OK && *taken && interface->link_type != BL_LINK_SLL2) {
        status = find_bus(reader, id, frame, error);
    }
    return status;
}

/* Enhanced packets, and the older kind with its 16-bit interface number. */
static enum bl_status read_packet(struct bl_ng_reader *reader,
                                  const struct bl_ng_block *block,
                                  struct bl_frame *frame, bool *taken,
                                  struct bl_error *error)
{
    const uint8_t *data = block->data;
    if (block->size < PACKET_HEADER + 4) {
        return bl_fail_offset(error, BL_FORMAT, name_of(reader),
                              block->place + 4,
                              "expected a packet block of 32 bytes or more, "
                              "found %" PRIu64,
                              block->size);
    }
    const uint32_t captured = bl_ng_32(reader, data + 20);
    if (captured > block->size - PACKET_HEADER - 4) {
        return bl_fail_offset(error, BL_FORMAT, name_of(reader),
                              block->place + 20,
                              "expected at most the block's %" PRIu64
                              " bytes of packet, found %" PRIu32,
                              block->size - PACKET_HEADER - 4, captured);
    }
    /* No CAN frame is so long. */
    if (block->size > BL_PACKET_LONGEST_CAN &&
        bl_ng_hold_nothing(reader, block, error) != BL_OK) {
        return BL_FORMAT;
    }
    const size_t id = block->type == BL_NG_PACKET ? bl_ng_32(reader, data + 8)
                                                  : bl_ng_16(reader, data + 8);
    const uint64_t stamp = (uint64_t)bl_ng_32(reader, data + 12) << 32 |
                           bl_ng_32(reader, data + 16);
    size_t size = captured;
    if (size > block->seen - PACKET_HEADER) {
        size = block->seen - PACKET_HEADER;
    }
    const struct stored stored = {id, stamp, data + PACKET_HEADER, size,
                                  block->place};
    return take_packet(reader, &stored, frame, taken, error);
}

/* The block in view, by its type. */
static enum bl_status read_body(struct bl_ng_reader *reader,
                                const struct bl_ng_block *block,
                                struct bl_frame *frame, bool *taken,
                                struct bl_error *error)
{
    const size_t size = (size_t)block->size;
    switch (block->type) {
    case BL_NG_SECTION_TYPE:
        return bl_ng_read_section(reader, block->data, size, block->place,
                                  error);
    case BL_NG_INTERFACE:
        return bl_ng_read_interface(reader, block->data, size, block->place,
                                    error);
    case BL_NG_PACKET:
    case BL_NG_OLD_PACKET:
        return read_packet(reader, block, frame, taken, error);
    case BL_NG_SIMPLE_PACKET:
        return bl_ng_read_simple(reader, block, error);
    default:
        return bl_ng_read_other(reader, block, error);
    }
}

/* How much of a block must be seen; 0: more than is allowed for its type. */
static size_t bytes_to_see(const struct bl_ng_block *block)
{
    switch (block->type) {
    case BL_NG_SECTION_TYPE:
    case BL_NG_INTERFACE:
        return block->size <= BL_LIMIT_PCAPNG_META ? (size_t)block->size : 0;
    case BL_NG_PACKET:
    case BL_NG_OLD_PACKET:
    case BL_NG_SIMPLE_PACKET:
        return block->size <= BL_LIMIT_PCAPNG_BLOCK ? LOOK_BYTES : 0;
    default:
        /* Enough to tell a wrong length from a long block. */
        return block->size <= BL_LIMIT_PCAPNG_BLOCK ? BL_LIMIT_PCAPNG_RESYNC
                                                    : 0;
    }
}

/* One block, whose start is left in *at. *more false at the end. */
static enum bl_status read_block(struct bl_ng_reader *reader,
                                 struct bl_frame *frame, struct bl_ng_block *at,
                                 bool *taken, bool *more,
                                 struct bl_error *error)
{
    struct bl_ng_block *block = at;
    *taken = false;
    *more = false;
    enum bl_status status = read_head(reader, block, error);
    if (status != BL_OK || block->size == 0) {
        return status;
    }
    if (block->type == BL_NG_INTERFACE && reader->read_on) {
        return bl_fail_offset(error, BL_FORMAT, name_of(reader), block->place,
                              "an interface is described behind damage, so "
                              "that its number is not certain");
    }
    const size_t most = bytes_to_see(block);
    if (most == 0) {
        return bl_fail_offset(error, BL_FORMAT, name_of(reader),
                              block->place + 4,
                              "expected a shorter block of type %" PRIu32
                              ", found %" PRIu64 " bytes",
                              block->type, block->size);
    }
    status = look(reader, block, most, error);
    if (status != BL_OK || block->size == 0) {
        return status;
    }
    status = read_body(reader, block, frame, taken, error);
    bool whole;
    if (status == BL_OK) {
        status = leave(reader, block, &whole, error);
        *more = status == BL_OK && whole;
    }
    *taken = *taken && *more;
    return status;
}

/* After a failure: on behind it, if that is safe. Keeps the first failure. */
static enum bl_status go_on(struct bl_ng_reader *reader,
                            const struct bl_ng_block *block,
                            enum bl_status status, const struct bl_error *why,
                            bool *more, struct bl_error *error)
{
    if (reader->failure.status == BL_OK) {
        reader->failure = *why;
    }
    *more = false;
    reader->context->info.after_damage = true;
    /* Wrongly inflated bytes look like whole blocks now and then. */
    if (status != BL_FORMAT || !may_go_on(reader, block) ||
        bl_bytes_is_gzip(reader->context->source)) {
        return BL_OK;
    }
    size_t distance;
    status = bl_ng_find_next(reader, block->place, more, &distance, error);
    if (status != BL_OK || !*more) {
        return status;
    }
    bl_bytes_take(reader->context->source, distance);
    reader->read_on = true;
    return bl_note(&reader->context->info.notes, "read-on", -1, block->place,
                   "a block is damaged; reading went on behind it at byte "
                   "%" PRId64,
                   bl_bytes_offset(reader->context->source));
}

/* The end: what was the first damage on the way there? */
static enum bl_status at_end(const struct bl_ng_reader *reader,
                             struct bl_error *error)
{
    if (reader->failure.status != BL_OK && error != NULL) {
        *error = reader->failure;
    }
    return reader->failure.status;
}

/*
 * Packet blocks at `data` for as long as they are as nearly all are: whole, of
 * a usual interface, with a packet for bl_packet_usual. The
 * bytes that they take; the first other block is left to read_block.
 */
static size_t take_usual(const struct bl_ng_reader *reader, bool big,
                         const uint8_t *data, size_t size,
                         struct bl_batch *into)
{
    struct bl_id_check check = reader->context->id_check;
    struct bl_frame *to = into->frame + into->count;
    struct bl_frame *const end = into->frame + into->room;
    size_t used = 0;
    while (to < end && size - used >= PACKET_HEADER + 4) {
        const uint8_t *block = data + used;
        const uint32_t length = bl_packet_32(big, block + 4);
        const uint32_t id = bl_packet_32(big, block + 8);
        const uint32_t captured = bl_packet_32(big, block + 20);
        if (bl_packet_32(big, block) != BL_NG_PACKET || length > size - used ||
            length > BL_PACKET_LONGEST_CAN || length < PACKET_HEADER + 4 ||
            length % 4 != 0 || captured > length - PACKET_HEADER - 4 ||
            bl_packet_32(big, block + length - 4) != length ||
            id >= reader->interfaces) {
            break;
        }
        const struct bl_ng_interface *interface = &reader->interface[id];
        const uint64_t stamp = (uint64_t)bl_packet_32(big, block + 12) << 32 |
                               bl_packet_32(big, block + 16);
        if (interface->usual_unit_ns == 0 || stamp > interface->usual_most ||
            !bl_packet_usual(&check, block + PACKET_HEADER, captured, to)) {
            break;
        }
        to->time_ns = (int64_t)(stamp * interface->usual_unit_ns);
        to->bus = interface->bus;
        used += length;
        to++;
    }
    reader->context->id_check = check;
    into->count = (size_t)(to - into->frame);
    return used;
}

/* Usual blocks at hand. */
static void read_usual(struct bl_ng_reader *reader, struct bl_batch *to)
{
    const uint8_t *data;
    size_t size;
    struct bl_error error;
    struct bl_bytes *source = reader->context->source;
    if (bl_bytes_window(source, 1, &data, &size, &error) != BL_OK) {
        return; /* a failure shows again when the block is read */
    }
    const size_t first = to->count;
    const size_t used = reader->big ? take_usual(reader, true, data, size, to)
                                    : take_usual(reader, false, data, size, to);
    (void)bl_bus_taken(reader->context, to->frame + first, to->count > first);
    bl_bytes_take(source, used);
}

static enum bl_status next(void *state, struct bl_frame *frame, size_t room,
                           size_t *count, struct bl_error *error)
{
    struct bl_ng_reader *reader = state;
    *count = 0;
    while (*count < room && !reader->done) {
        struct bl_batch to = {frame, room, *count};
        read_usual(reader, &to);
        *count = to.count;
        if (*count == room) {
            break;
        }
        struct bl_ng_block block;
        struct bl_error why;
        bool taken;
        bool more;
        bl_error_clear(&why);
        enum bl_status status =
            read_block(reader, frame + *count, &block, &taken, &more, &why);
        *count += bl_bus_taken(reader->context, frame + *count, taken);
        if (status == BL_NOMEM) {
            return bl_fail_memory(error);
        }
        if (status != BL_OK) {
            status = go_on(reader, &block, status, &why, &more, error);
        }
        reader->done = !more;
        if (status != BL_OK) {
            return status;
        }
    }
    return reader->done ? at_end(reader, error) : BL_OK;
}

static void close_reader(void *state)
{
    struct bl_ng_reader *reader = state;
    bl_free(reader->interface);
    bl_free(reader);
}

static enum bl_status open_reader(void **out, struct bl_bus_context *context,
                                  struct bl_error *error)
{
    struct bl_ng_reader *reader = bl_alloc(1, sizeof(*reader));
    if (reader == NULL) {
        return bl_fail_memory(error);
    }
    reader->context = context;
    bl_error_clear(&reader->failure);
    struct bl_frame none;
    struct bl_ng_block block;
    bool taken;
    bool more;
    enum bl_status status =
        read_block(reader, &none, &block, &taken, &more, error);
    if (status == BL_OK && !more) {
        status = bl_fail_offset(error, BL_TRUNCATED, name_of(reader), 0,
                                "expected a pcapng section header, found the "
                                "end inside it");
    }
    if (status != BL_OK) {
        close_reader(reader);
        return status;
    }
    *out = reader;
    return BL_OK;
}

const struct bl_bus_format bl_format_pcapng = {
    .name = "pcapng",
    .called = "pcapng",
    .probe = probe,
    .open = open_reader,
    .next = next,
    .close = close_reader,
};
