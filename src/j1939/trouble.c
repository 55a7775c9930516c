/* SPDX-License-Identifier: MIT */
/*
 * Trouble codes of DM1 and DM2. Source: worked examples of SAE
 * J1939-73 quoted in public unit tests (docs/methods/bus.md).
 */
#include "brakelag/j1939.h"

#include <inttypes.h>
#include <stdio.h>

static struct bl_trouble code_split(const uint8_t b[4])
{
    const uint32_t low = b[2] >> 5;
    struct bl_trouble code = {
        .fmi = b[2] & 0x1F,
        .count = b[3] & 0x7F,
        .method = b[3] >> 7,
        .spn = b[0] | (uint32_t)b[1] << 8 | low << 16,
        .spn_v1 = ((uint32_t)b[0] << 8 | b[1]) << 3 | low,
        .spn_v2 = ((uint32_t)b[1] << 8 | b[0]) << 3 | low,
    };
    code.spn_v3 = code.spn;
    return code;
}

enum bl_status bl_trouble_read(const uint8_t *data, size_t size,
                               struct bl_trouble *codes, size_t room,
                               size_t *count)
{
    *count = 0;
    if (size < 6) {
        return BL_FORMAT;
    }
    for (size_t at = 2; at + 4 <= size; at += 4) {
        const uint8_t *b = data + at;
        const bool zero = (b[0] | b[1] | b[2] | b[3]) == 0;
        if (zero || (b[0] & b[1] & b[2] & b[3]) == 0xFF) {
            continue;
        }
        if (*count < room) {
            codes[*count] = code_split(b);
        }
        ++*count;
    }
    return BL_OK;
}

size_t bl_trouble_readings(const struct bl_trouble *code, uint32_t spn[3])
{
    spn[0] = code->method == 0 ? code->spn : code->spn_v1;
    spn[1] = code->spn_v2;
    spn[2] = code->spn_v3;
    return code->method == 0 ? 1 : 3;
}

const char *bl_trouble_spn_text(const struct bl_trouble *code, char *text,
                                size_t size)
{
    if (code->method == 0) {
        (void)snprintf(text, size, "SPN %" PRIu32, code->spn);
    } else {
        (void)snprintf(text, size,
                       "SPN %" PRIu32 ", %" PRIu32 " or %" PRIu32
                       " (conversion bit 1: version 1, 2 or 3)",
                       code->spn_v1, code->spn_v2, code->spn_v3);
    }
    return text;
}

const char *bl_fmi_text(unsigned fmi)
{
    static const char *const text[] = {
        "above normal, most severe",
        "below normal, most severe",
        "data erratic or incorrect",
        "voltage above normal or shorted high",
        "voltage below normal or shorted low",
        "current below normal or open circuit",
        "current above normal or grounded",
        "mechanical system not responding",
        "abnormal frequency or pulse width",
        "abnormal update rate",
        "abnormal rate of change",
        "root cause not known",
        "bad device or component",
        "out of calibration",
        "special instructions",
        "above normal, least severe",
        "above normal, moderately severe",
        "below normal, least severe",
        "below normal, moderately severe",
        "received network data in error",
        "data drifted high",
        "data drifted low",
    };
    if (fmi < sizeof(text) / sizeof(text[0])) {
        return text[fmi];
    }
    return fmi == 31 ? "condition exists" : "";
}
