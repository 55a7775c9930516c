/* SPDX-License-Identifier: MIT */
/*
 * CAN frames inside captured packets: link types 227 (CAN_SOCKETCAN), 113
 * (LINUX_SLL) and 276 (LINUX_SLL2), as registered at tcpdump.org/linktypes.
 * Shared by the pcap and the pcapng reader.
 */
#ifndef BRAKELAG_SRC_BUS_PACKET_H
#define BRAKELAG_SRC_BUS_PACKET_H

#include "bus/format.h"

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
    BL_FD_FLAG_BRS = 1,
    BL_FD_FLAG_ESI = 2,
    BL_FD_FLAG_FDF = 4
};
#define BL_CAN_EXTENDED 0x80000000u
#define BL_CAN_REMOTE 0x40000000u
#define BL_CAN_ERROR 0x20000000u
#define BL_CAN_ID 0x1FFFFFFFu
#define BL_CAN_STANDARD_ID 0x7FFu

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

/* After the last packet: says when ids seem to stand in the other order. */
enum bl_status bl_packet_check_order(struct bl_bus_context *context);

#endif
