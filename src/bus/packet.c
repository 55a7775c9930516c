/* SPDX-License-Identifier: MIT */
#include "bus/packet.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

enum {
    CLASSIC_BYTES = 8,
    FD_BYTES = 64,
    XL_FLAG = 0x80, /* where other frames have their length */
    XL_MASK = 0xFC  /* without the two flags that may stand beside it */
};

static uint16_t big16(const uint8_t *data)
{
    return (uint16_t)(data[0] << 8 | data[1]);
}

static uint32_t turned(uint32_t value)
{
    return value >> 24 | (value >> 8 & 0xFF00u) | (value << 8 & 0xFF0000u) |
           value << 24;
}

bool bl_packet_known(int link_type)
{
    return link_type == BL_LINK_CAN || link_type == BL_LINK_SLL ||
           link_type == BL_LINK_SLL2;
}

/* What is in front of the SocketCAN header. */
struct cooked {
    size_t header;
    unsigned protocol, type;
    uint32_t interface;
};

/* False: too short for its own header. */
static bool read_cooked(const struct bl_packet *packet, struct cooked *cooked)
{
    const uint8_t *data = packet->data;
    memset(cooked, 0, sizeof(*cooked));
    if (packet->link_type == BL_LINK_SLL) {
        cooked->header = BL_SLL_BYTES;
        if (packet->size < BL_SLL_BYTES) {
            return false;
        }
        cooked->type = big16(data);
        cooked->protocol = big16(data + 14);
    } else if (packet->link_type == BL_LINK_SLL2) {
        cooked->header = BL_SLL2_BYTES;
        if (packet->size < BL_SLL2_BYTES) {
            return false;
        }
        cooked->protocol = big16(data);
        cooked->interface = bl_packet_32(true, data + 4);
        cooked->type = data[10];
    } else {
        cooked->protocol = BL_PROTOCOL_CAN;
    }
    return true;
}

/* Cannot be on a bus: ids wider than 11 bits without the extended flag,
   error frames of no known class or length, remote frames with data. */
static bool impossible(uint32_t id, const uint8_t *header, size_t size)
{
    const unsigned length = header[4];
    if ((id & BL_CAN_ERROR) != 0) {
        return (id & (BL_CAN_EXTENDED | BL_CAN_REMOTE)) != 0 ||
               (id & BL_CAN_ID) > BL_ERROR_CLASSES_ALL ||
               length != CLASSIC_BYTES;
    }
    if ((id & BL_CAN_EXTENDED) == 0 && (id & BL_CAN_ID) > BL_CAN_STANDARD_ID) {
        return true;
    }
    if ((id & BL_CAN_REMOTE) == 0) {
        return false;
    }
    for (size_t i = 0; i < length && BL_CAN_HEADER + i < size; i++) {
        if (header[BL_CAN_HEADER + i] != 0) {
            return true;
        }
    }
    return length > CLASSIC_BYTES;
}

/* The 32 bits of id and flags, in the order that applies. */
static uint32_t read_id(struct bl_bus_context *context,
                        const struct bl_packet *packet, const uint8_t *header,
                        size_t size)
{
    enum bl_id_order order = context->id_order;
    bool little = order == BL_ID_ORDER_LITTLE;
    if (packet->link_type != BL_LINK_CAN) {
        /* A library that turned the id has put it into data_order. */
        if (order == BL_ID_ORDER_AUTO) {
            order = packet->file_order;
        }
        little = (packet->data_order == BL_ID_ORDER_LITTLE) ==
                 (order == packet->file_order);
    }
    const uint32_t big = bl_packet_32(true, header);
    const uint32_t id = little ? turned(big) : big;
    struct bl_id_check *check = &context->id_check;
    check->frames++;
    check->impossible += impossible(id, header, size);
    check->impossible_other += impossible(turned(id), header, size);
    return id;
}

static enum bl_status exclude(struct bl_bus_context *context,
                              const struct bl_packet *packet, const char *code,
                              const char *text)
{
    context->info.after_damage = true;
    return bl_note(&context->info.notes, code, -1, packet->place, "%s", text);
}

/* Length and data; false and a reason when the frame cannot be used. */
static bool read_data(const uint8_t *header, size_t size, bool fd,
                      struct bl_frame *frame, const char **code,
                      const char **text)
{
    const size_t length = header[4];
    if (length > (fd ? FD_BYTES : CLASSIC_BYTES)) {
        *code = "impossible-length";
        *text = "a frame states more bytes than a frame can have; excluded";
        return false;
    }
    frame->length = (uint8_t)length;
    if (frame->kind == BL_FRAME_REMOTE) {
        return true;
    }
    if (BL_CAN_HEADER + length > size) {
        *code = "cut-frame";
        *text = "a frame was captured in part only; excluded";
        return false;
    }
    memcpy(frame->data, header + BL_CAN_HEADER, length);
    return true;
}

/*
 * Classic or FD, of `size` bytes from the CAN header on. Where the kernel's
 * protocol is in front, it decides: ETH_P_CAN and ETH_P_CANFD. Else the
 * size of the kernel's own structures does, CAN_MTU and CANFD_MTU (Linux
 * Documentation/networking/can.rst): a classic frame is padded to 16 bytes, and
 * the three bytes behind its length are padding, reserved, and the raw length
 * code, which a sender may leave unset. So the mark of FD
 * (pcap/can_socketcan.h) counts only where no other byte or bit contradicts it.
 */
static bool is_fd(const struct bl_packet *packet, unsigned protocol,
                  const uint8_t *header, size_t size)
{
    const size_t length = header[4];
    if (protocol == BL_PROTOCOL_FD || size == BL_FD_RECORD ||
        length > CLASSIC_BYTES) {
        return true;
    }
    if (packet->link_type != BL_LINK_CAN) {
        return false;
    }
    const bool padded =
        size == BL_CLASSIC_RECORD && BL_CAN_HEADER + length < size;
    const unsigned known = BL_FD_FLAG_BRS | BL_FD_FLAG_ESI | BL_FD_FLAG_FDF;
    return !padded && (header[5] & BL_FD_FLAG_FDF) != 0 &&
           (header[5] & ~known) == 0 && header[6] == 0 && header[7] == 0;
}

static enum bl_status decode(struct bl_bus_context *context,
                             const struct bl_packet *packet,
                             const struct cooked *cooked,
                             struct bl_frame *frame, bool *taken)
{
    const uint8_t *header = packet->data + cooked->header;
    const size_t size = packet->size - cooked->header;
    const uint32_t id = read_id(context, packet, header, size);
    const bool extended = (id & BL_CAN_EXTENDED) != 0;
    const bool fd = is_fd(packet, cooked->protocol, header, size);
    memset(frame, 0, sizeof(*frame));
    frame->time_ns = packet->time_ns;
    frame->bus = packet->bus;
    frame->id = id & BL_CAN_ID;
    frame->kind = fd ? BL_FRAME_FD : BL_FRAME_CLASSIC;
    frame->flags = extended ? BL_FRAME_EXTENDED : 0;
    if ((id & BL_CAN_ERROR) != 0) {
        frame->kind = BL_FRAME_ERROR;
    } else if ((id & BL_CAN_REMOTE) != 0) {
        frame->kind = BL_FRAME_REMOTE;
    } else if (fd) {
        frame->flags |=
            (header[5] & BL_FD_FLAG_BRS) != 0 ? BL_FRAME_BIT_RATE_SWITCH : 0;
        frame->flags |=
            (header[5] & BL_FD_FLAG_ESI) != 0 ? BL_FRAME_ERROR_STATE : 0;
    }
    if (cooked->type == BL_PACKET_OUTGOING) {
        frame->flags |= BL_FRAME_OUTGOING;
    }
    if (!extended && frame->kind != BL_FRAME_ERROR &&
        frame->id > BL_CAN_STANDARD_ID) {
        return exclude(context, packet, "impossible-id",
                       "a frame has an identifier wider than 11 bits without "
                       "the extended flag; excluded");
    }
    const char *code;
    const char *text;
    if (!read_data(header, size, frame->kind == BL_FRAME_FD, frame, &code,
                   &text)) {
        return exclude(context, packet, code, text);
    }
    *taken = true;
    return BL_OK;
}

enum bl_status bl_packet_frame(struct bl_bus_context *context,
                               const struct bl_packet *packet,
                               struct bl_frame *frame, bool *taken,
                               struct bl_error *error)
{
    struct cooked cooked;
    *taken =
        bl_packet_may_be_usual(context, packet->link_type) &&
        bl_packet_usual(&context->id_check, packet->data, packet->size, frame);
    if (*taken) {
        frame->time_ns = packet->time_ns;
        frame->bus = packet->bus;
        return BL_OK;
    }
    if (!bl_packet_known(packet->link_type)) {
        context->info.other_packets++;
        return BL_OK;
    }
    if (!read_cooked(packet, &cooked)) {
        return exclude(context, packet, "cut-frame",
                       "a packet is shorter than its link header; excluded");
    }
    /* The hardware type is not asked: converters leave it at Ethernet. */
    if (cooked.protocol != BL_PROTOCOL_CAN &&
        cooked.protocol != BL_PROTOCOL_FD) {
        context->info.other_packets++;
        return BL_OK;
    }
    if (packet->size < cooked.header + BL_CAN_HEADER) {
        return exclude(context, packet, "cut-frame",
                       "a packet is shorter than a CAN header; excluded");
    }
    if ((packet->data[cooked.header + 4] & XL_MASK) == XL_FLAG) {
        context->info.other_packets++;
        return bl_note(&context->info.notes, "can-xl", -1, packet->place,
                       "CAN XL frames are counted as other packets");
    }
    enum bl_status status = decode(context, packet, &cooked, frame, taken);
    if (status == BL_OK && *taken && packet->link_type == BL_LINK_SLL2) {
        char name[16];
        const int length =
            snprintf(name, sizeof(name), "if%" PRIu32, cooked.interface);
        status =
            bl_bus_index(context, name, (size_t)length, 0, &frame->bus, error);
    }
    return status;
}

enum bl_status bl_packet_check_order(struct bl_bus_context *context)
{
    const struct bl_id_check *check = &context->id_check;
    if (check->impossible * 2 <= check->frames ||
        check->impossible_other * 4 > check->impossible) {
        return BL_OK;
    }
    return bl_note(&context->info.notes, "can-id-order", -1, -1,
                   "%" PRIu64 " of %" PRIu64
                   " frames have identifiers or flags that cannot be, and "
                   "%" PRIu64 " have when the bytes of the identifier are "
                   "read in the other order: can_id_order in [recording], or "
                   "--id-order of survey, chooses",
                   check->impossible, check->frames, check->impossible_other);
}
