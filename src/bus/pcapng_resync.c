/* SPDX-License-Identifier: MIT */
/*
 * Reading on behind a damaged pcapng block. Blocks carry their length at both
 * ends, so the next whole one can be known with little doubt: a type that is
 * defined, both lengths alike, for a packet an interface that was described and
 * a length that fits, and behind it another such block or the end of the file.
 *
 * Not where an interface may have been lost: interfaces are numbered by their
 * place in the file, and frames would be given to the wrong bus.
 */
#include "bus/pcapng.h"

#include "base/limits.h"
#include "bus/packet.h"

enum {
    NAMES = 4,
    STATISTICS = 5,
    PACKET_LEAST = 32,
    SIMPLE_LEAST = 16,
    /* A longer block is not believed at once. */
    LONGEST = 65536,
    FIRST_LOOK = 4096
};

static bool packet_fits(const struct bl_ng_reader *reader, const uint8_t *data,
                        uint32_t size)
{
    const uint32_t captured = bl_ng_32(reader, data + 20);
    return size >= PACKET_LEAST &&
           bl_ng_32(reader, data + 8) < reader->interfaces &&
           captured <= size - PACKET_LEAST;
}

/* Reading ends at an interface behind damage. Where bytes are lost, the 1 of a
   packet's interface can come to stand before the next block's length, and look
   like the type of one; its options then are a stamp and a frame. */
static bool interface_fits(const struct bl_ng_reader *reader,
                           const uint8_t *data, uint32_t size)
{
    enum { OPTIONS = 16, TRAILER = 4 };
    return size >= BL_NG_INTERFACE_MIN &&
           bl_ng_options_fit(reader, data + OPTIONS, size - OPTIONS - TRAILER);
}

/* Other blocks do not look so: at the same places names have a type and a
   length, statistics a code of an option that is not 0, secrets and custom
   blocks a large number. */
enum bl_ng_likeness bl_ng_likeness(const struct bl_ng_reader *reader,
                                   const uint8_t *data, size_t size)
{
    enum { RESERVED = 10, BODY = 8 };
    bool big;
    if (size < BL_NG_INTERFACE_MIN) {
        return BL_NG_LIKE_NONE;
    }
    if (size >= BL_NG_SECTION && bl_ng_byte_order(data + BODY, &big)) {
        return BL_NG_LIKE_SECTION;
    }
    if (bl_packet_known(bl_ng_16(reader, data + BODY)) &&
        bl_ng_16(reader, data + RESERVED) == 0) {
        return BL_NG_LIKE_INTERFACE;
    }
    return size >= PACKET_LEAST && packet_fits(reader, data, (uint32_t)size)
               ? BL_NG_LIKE_PACKET
               : BL_NG_LIKE_NONE;
}

/* The length of a whole, likely block at `data`; 0: there is none. */
static size_t likely_block(const struct bl_ng_reader *reader,
                           const uint8_t *data, size_t available)
{
    if (available < BL_NG_FRAME) {
        return 0;
    }
    struct bl_ng_reader as = *reader;
    const uint32_t type = bl_ng_32(&as, data);
    if (type == BL_NG_SECTION_TYPE && !bl_ng_byte_order(data + 8, &as.big)) {
        return 0;
    }
    const uint32_t size = bl_ng_32(&as, data + 4);
    if (size < BL_NG_FRAME || size % 4 != 0 || size > LONGEST ||
        size > available || bl_ng_32(&as, data + size - 4) != size) {
        return 0;
    }
    switch (type) {
    case BL_NG_SECTION_TYPE:
        return size >= BL_NG_SECTION ? size : 0;
    case BL_NG_INTERFACE:
        return interface_fits(reader, data, size) ? size : 0;
    case BL_NG_PACKET:
        return packet_fits(reader, data, size) ? size : 0;
    case BL_NG_SIMPLE_PACKET:
        return size >= SIMPLE_LEAST ? size : 0;
    case NAMES:
    case STATISTICS:
        return size;
    default:
        return 0;
    }
}

bool bl_ng_holds_packets(const struct bl_ng_reader *reader, const uint8_t *data,
                         size_t size)
{
    for (size_t at = 1; at + 2 * (size_t)PACKET_LEAST <= size; at++) {
        const uint8_t *inside = data + at;
        const size_t first = bl_ng_32(reader, inside) == BL_NG_PACKET
                                 ? likely_block(reader, inside, size - at)
                                 : 0;
        if (first > 0 && first < size - at &&
            bl_ng_32(reader, inside + first) == BL_NG_PACKET &&
            likely_block(reader, inside + first, size - at - first) > 0) {
            return true;
        }
    }
    return false;
}

/* Two in a row, or one that ends the file. */
static bool likely_chain(const struct bl_ng_reader *reader, const uint8_t *data,
                         size_t available, bool all)
{
    const size_t first = likely_block(reader, data, available);
    if (first == 0) {
        return false;
    }
    if (first == available) {
        return all;
    }
    return likely_block(reader, data + first, available - first) > 0;
}

enum bl_status bl_ng_find_next(struct bl_ng_reader *reader, int64_t place,
                               bool *found, size_t *distance,
                               struct bl_error *error)
{
    struct bl_bytes *source = reader->context->source;
    const size_t start = bl_bytes_offset(source) == place ? 1 : 0;
    size_t at = start;
    *found = false;
    for (size_t look = FIRST_LOOK; look <= BL_LIMIT_PCAPNG_RESYNC; look *= 16) {
        const uint8_t *data;
        size_t seen;
        const enum bl_status status =
            bl_bytes_window(source, look, &data, &seen, error);
        if (status == BL_NOMEM || status == BL_IO) {
            return status;
        }
        const bool all = seen < look;
        while (at < seen && !likely_chain(reader, data + at, seen - at, all)) {
            at++;
        }
        *found = at < seen;
        if (*found || all) {
            break;
        }
        /* The blocks at the end of this look may have been cut by it. */
        at = seen > 2 * (size_t)LONGEST ? seen - 2 * (size_t)LONGEST : start;
    }
    *distance = at;
    return BL_OK;
}
