/* SPDX-License-Identifier: MIT */
/* Bytes written as in a text log: "18FECA0B#00FF" or plain "00 FF". */
#ifndef BRAKELAG_TESTS_UNIT_J1939_HEX_H
#define BRAKELAG_TESTS_UNIT_J1939_HEX_H

#include "testing.h"

/* Blanks are skipped; returns the number of bytes. */
static inline size_t hex_bytes(const char *text, uint8_t *out, size_t room)
{
    size_t count = 0;
    while (*text != '\0') {
        if (*text == ' ') {
            text++;
            continue;
        }
        const char pair[3] = {text[0], text[1], '\0'};
        char *end;
        const unsigned long value = strtoul(pair, &end, 16);
        assert_true(end == pair + 2 && count < room);
        out[count++] = (uint8_t)value;
        text += 2;
    }
    return count;
}

static inline size_t hex_frame(const char *text, uint32_t *id, uint8_t *out,
                               size_t room)
{
    char *end;
    *id = (uint32_t)strtoul(text, &end, 16);
    assert_true(*end == '#');
    return hex_bytes(end + 1, out, room);
}

#endif
