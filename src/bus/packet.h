/* SPDX-License-Identifier: MIT */
/*
 * CAN frames inside captured packets: link types 227 (CAN_SOCKETCAN), 113
 * (LINUX_SLL) and 276 (LINUX_SLL2), as registered at tcpdump.org/linktypes.
 * Shared by the pcap and the pcapng reader.
 */
#ifndef BRAKELAG_SRC_BUS_PACKET_H
#define BRAKELAG_SRC_BUS_PACKET_H

#include "bus/format.h"

#include <string.h>

enum {
    BL_LINK_SLL = 113,
    BL_LINK_CAN = 227,
    BL_LINK_SLL2 = 276,

    BL_SLL_BYTES = 16,
    BL_SLL2_BYTES = 20,
    BL_CAN_HEADER = 8,
    BL_ARPHRD_CAN = 280,
    BL_PROTOCOL_CAN = 0x000C,
    BL_PROTOCOL_FD = 0x000D,
    BL_PROTOCOL_XL = 0x000E,
    BL_PACKET_OUTGOING = 4,
    BL_PACKET_LONGEST_CAN = 2112, /* CAN XL: 12 + 2048 bytes, and a header */
    BL_FD_FLAG_BRS = 1,
    BL_FD_FLAG_ESI = 2,
    BL_FD_FLAG_FDF = 4,
    BL_CLASSIC_RECORD = 16, /* can_mtu and canfd_mtu of linux/can.h */
    BL_FD_RECORD = 72,
    BL_ERROR_CLASSES_ALL = 0x3FF /* all that linux/can/error.h defines */
};
#define BL_CAN_EXTENDED 0x80000000u
#define BL_CAN_REMOTE 0x40000000u
#define BL_CAN_ERROR 0x20000000u
#define BL_CAN_ID 0x1FFFFFFFu
#define BL_CAN_STANDARD_ID 0x7FFu

/* Where a reader's next frames go. */
struct bl_batch {
    struct bl_frame *frame;
    size_t room, count;
};

struct bl_packet {
    const uint8_t *data;
    size_t size;
    int link_type;
    /* Order of cooked ids where nobody asks for another: that of the file. */
    enum bl_id_order file_order;
    /* The library under the reader has turned `data` from file order into
       this; as file_order when it has not. */
    enum bl_id_order data_order;
    uint16_t bus; /* unless the packet names its own */
    int64_t time_ns;
    int64_t place; /* byte offset or -1, for notes */
};

/* Is this a link type that can carry CAN? */
bool bl_packet_known(int link_type);

/*
 * Decode one packet into `frame`. *taken false: the packet is no frame that
 * can be used, and was counted in context->info, as other packet or as note.
 */
enum bl_status bl_packet_frame(struct bl_bus_context *context,
                               const struct bl_packet *packet,
                               struct bl_frame *frame, bool *taken,
                               struct bl_error *error);

/* Four bytes as they stand, the first one the highest or the lowest: compilers
   make one load of this. */
static inline uint32_t bl_packet_32(bool big, const uint8_t *data)
{
    return big ? (uint32_t)data[0] << 24 | (uint32_t)data[1] << 16 |
                     (uint32_t)data[2] << 8 | data[3]
               : (uint32_t)data[3] << 24 | (uint32_t)data[2] << 16 |
                     (uint32_t)data[1] << 8 | data[0];
}

/* Can packets of this link be read by bl_packet_usual? */
static inline bool bl_packet_may_be_usual(const struct bl_bus_context *context,
                                          int link_type)
{
    return link_type == BL_LINK_CAN && context->id_order != BL_ID_ORDER_LITTLE;
}

/*
 * The packet that recordings are full of: an extended, classic, whole frame, of
 * link type 227 in its own order. Sets all of `frame` but its time and bus.
 * False: any other, for bl_packet_frame; `frame` is then as it was.
 */
static inline bool bl_packet_usual(struct bl_id_check *check,
                                   const uint8_t *data, size_t size,
                                   struct bl_frame *frame)
{
    if (size < BL_CAN_HEADER + 8 || size == BL_FD_RECORD ||
        data[0] >> 5 != BL_CAN_EXTENDED >> 29 || data[4] > 8 ||
        (data[5] & BL_FD_FLAG_FDF) != 0) {
        return false;
    }
    frame->id = bl_packet_32(true, data) & BL_CAN_ID;
    frame->part = 0;
    frame->kind = BL_FRAME_CLASSIC;
    frame->flags = BL_FRAME_EXTENDED;
    frame->length = data[4];
    memset(frame->data, 0, sizeof(frame->data));
    uint64_t word;
    memcpy(frame->data, data + BL_CAN_HEADER, 8);
    if (data[4] < 8) {
        /* What stands behind the stated length is not the frame's. */
        memset(frame->data + data[4], 0, (size_t)(8 - data[4]));
    }
    memcpy(&word, frame->data, 8);
    /* As packet.c tells what cannot be, of the id in the other order. */
    const uint32_t turned = bl_packet_32(false, data);
    const uint32_t id = turned & BL_CAN_ID;
    check->frames++;
    if ((turned & BL_CAN_ERROR) != 0) {
        check->impossible_other +=
            (turned & (BL_CAN_EXTENDED | BL_CAN_REMOTE)) != 0 ||
            id > BL_ERROR_CLASSES_ALL || data[4] != 8;
    } else {
        check->impossible_other +=
            ((turned & BL_CAN_EXTENDED) == 0 && id > BL_CAN_STANDARD_ID) ||
            ((turned & BL_CAN_REMOTE) != 0 && word != 0);
    }
    return true;
}

/* After the last packet: says when ids seem to stand in the other order. */
enum bl_status bl_packet_check_order(struct bl_bus_context *context);

#endif
