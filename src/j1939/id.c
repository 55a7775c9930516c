/* SPDX-License-Identifier: MIT */
/*
 * The 29-bit identifier of the J1939 family: bits 28-26 priority, 25 extended
 * data page, 24 data page, 23-16 format, 15-8 specific, 7-0 source.
 * Source: Linux Documentation/networking/j1939.rst.
 */
#include "brakelag/j1939.h"

enum { PDU2_FROM = 240 };

struct bl_id bl_id_split(uint32_t id)
{
    struct bl_id out = {
        .priority = (uint8_t)((id >> 26) & 7),
        .format = (uint8_t)(id >> 16),
        .specific = (uint8_t)(id >> 8),
        .source = (uint8_t)id,
        .extended_page = (id >> 25 & 1) != 0,
        .data_page = (id >> 24 & 1) != 0,
    };
    out.pdu1 = out.format < PDU2_FROM;
    out.pgn = (id >> 8) & (out.pdu1 ? 0x3FF00u : 0x3FFFFu);
    out.destination = out.pdu1 ? out.specific : BL_ADDRESS_GLOBAL;
    return out;
}

uint32_t bl_id_join(uint8_t priority, uint32_t pgn, uint8_t source,
                    uint8_t destination)
{
    uint32_t id = (uint32_t)(priority & 7) << 26;
    if (((pgn >> 8) & 0xFF) < PDU2_FROM) {
        id |= (pgn & 0x3FF00u) << 8 | (uint32_t)destination << 8;
    } else {
        id |= (pgn & 0x3FFFFu) << 8;
    }
    return id | source;
}
