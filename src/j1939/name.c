/* SPDX-License-Identifier: MIT */
/*
 * NAME of a control unit, 64 bits sent least significant byte first. Source:
 * the field list of SAE J1939-81 in public address-claim implementations.
 */
#include "brakelag/j1939.h"

static unsigned field(uint64_t raw, unsigned start, unsigned bits)
{
    return (unsigned)(raw >> start) & ((1u << bits) - 1);
}

bool bl_claim_failed(uint8_t source)
{
    return source == BL_ADDRESS_NULL;
}

struct bl_name bl_name_split(const uint8_t bytes[8])
{
    uint64_t raw = 0;
    for (int i = 7; i >= 0; i--) {
        raw = raw << 8 | bytes[i];
    }
    return (struct bl_name){
        .identity = field(raw, 0, 21),
        .manufacturer = (uint16_t)field(raw, 21, 11),
        .ecu_instance = (uint8_t)field(raw, 32, 3),
        .function_instance = (uint8_t)field(raw, 35, 5),
        .function = (uint8_t)field(raw, 40, 8),
        .vehicle_system = (uint8_t)field(raw, 49, 7),
        .vehicle_system_instance = (uint8_t)field(raw, 56, 4),
        .industry_group = (uint8_t)field(raw, 60, 3),
        .arbitrary_address = field(raw, 63, 1) != 0,
        .raw = raw,
    };
}
