/* SPDX-License-Identifier: MIT */
/*
 * How a raw field reads. Source: the transmitted signal ranges of SAE
 * J1939-71 as public signal-range tables restate them (docs/methods/bus.md).
 */
#include "brakelag/j1939.h"

const char *bl_value_state_name(enum bl_value_state state)
{
    switch (state) {
    case BL_VALUE_VALID:
        return "valid";
    case BL_VALUE_SPECIFIC:
        return "specific";
    case BL_VALUE_RESERVED:
        return "reserved";
    case BL_VALUE_ERROR:
        return "error";
    case BL_VALUE_NOT_AVAILABLE:
        return "not-available";
    case BL_VALUE_ABSENT:
        return "absent";
    }
    return "unknown";
}

/* What is not valid, in 8, 16 and 32 bits, by its most significant byte. */
static enum bl_value_state by_top_byte(unsigned top)
{
    switch (top) {
    case 0xFB:
        return BL_VALUE_SPECIFIC;
    case 0xFE:
        return BL_VALUE_ERROR;
    case 0xFF:
        return BL_VALUE_NOT_AVAILABLE;
    default:
        return BL_VALUE_RESERVED;
    }
}

uint64_t bl_value_most(unsigned bits)
{
    const uint64_t ones = bits >= 64 ? UINT64_MAX : (UINT64_C(1) << bits) - 1;
    switch (bits) {
    case 1: /* one bit has no room for "not available" */
        return ones;
    case 2:
    case 4:
        return ones - 2; /* error, not available */
    case 8:
    case 16:
    case 32:
        return (UINT64_C(0xFB) << (bits - 8)) - 1;
    default:
        return ones - 1;
    }
}

enum bl_value_state bl_value_range(uint64_t raw, unsigned bits)
{
    if (raw <= bl_value_most(bits)) {
        return BL_VALUE_VALID;
    }
    switch (bits) {
    case 2:
    case 4:
        return (raw & 1) == 0 ? BL_VALUE_ERROR : BL_VALUE_NOT_AVAILABLE;
    case 8:
    case 16:
    case 32:
        return by_top_byte((unsigned)(raw >> (bits - 8)) & 0xFF);
    default:
        return BL_VALUE_NOT_AVAILABLE;
    }
}
