/* SPDX-License-Identifier: MIT */
#include "base/plain.h"

#include "base/utf8.h"

#include <string.h>

/* C0 and C1, line separators, and all format characters (category Cf of
   Unicode 15: bidirectional controls, zero width characters, tags ...). */
static const struct {
    unsigned first, last;
} hidden[] = {{0x01, 0x1F},       {0x7F, 0x9F},       {0xAD, 0xAD},
              {0x600, 0x605},     {0x61C, 0x61C},     {0x6DD, 0x6DD},
              {0x70F, 0x70F},     {0x890, 0x891},     {0x8E2, 0x8E2},
              {0x180E, 0x180E},   {0x200B, 0x200F},   {0x2028, 0x202E},
              {0x2060, 0x206F},   {0xFEFF, 0xFEFF},   {0xFFF9, 0xFFFB},
              {0x110BD, 0x110BD}, {0x110CD, 0x110CD}, {0x13430, 0x1343F},
              {0x1BCA0, 0x1BCA3}, {0x1D173, 0x1D17A}, {0xE0001, 0xE0001},
              {0xE0020, 0xE007F}};

static bool continues(unsigned char byte)
{
    return (byte & 0xC0) == 0x80;
}

/* Bytes of the hidden character at `text`, 0: none. */
static size_t hidden_at(const char *text, unsigned *point)
{
    const unsigned char *c = (const unsigned char *)text;
    size_t length = 0;
    *point = 0;
    if (c[0] < 0x80) {
        length = 1;
        *point = c[0];
    } else if ((c[0] & 0xE0) == 0xC0 && continues(c[1])) {
        length = 2;
        *point = (c[0] & 0x1Fu) << 6 | (c[1] & 0x3Fu);
    } else if ((c[0] & 0xF0) == 0xE0 && continues(c[1]) && continues(c[2])) {
        length = 3;
        *point = (c[0] & 0x0Fu) << 12 | (c[1] & 0x3Fu) << 6 | (c[2] & 0x3Fu);
    } else if ((c[0] & 0xF8) == 0xF0 && continues(c[1]) && continues(c[2]) &&
               continues(c[3])) {
        length = 4;
        *point = (c[0] & 0x07u) << 18 | (c[1] & 0x3Fu) << 12 |
                 (c[2] & 0x3Fu) << 6 | (c[3] & 0x3Fu);
    }
    for (size_t i = 0; length > 0 && i < sizeof(hidden) / sizeof(hidden[0]);
         i++) {
        if (*point >= hidden[i].first && *point <= hidden[i].last) {
            return length;
        }
    }
    return 0;
}

bool bl_plain_is(const char *text)
{
    unsigned point;
    for (; *text != '\0'; text++) {
        if (((unsigned char)*text & 0xC0) != 0x80 &&
            hidden_at(text, &point) > 0) {
            return false;
        }
    }
    return true;
}

void bl_plain_add(struct bl_strbuf *buffer, const char *text)
{
    while (*text != '\0') {
        unsigned point;
        const size_t length =
            ((unsigned char)*text & 0xC0) == 0x80 ? 0 : hidden_at(text, &point);
        if (length > 0) {
            bl_strbuf_format(buffer, "\xE2\x80\xB9%04X\xE2\x80\xBA", point);
            text += length;
        } else {
            bl_strbuf_char(buffer, *text);
            text++;
        }
    }
}

const char *bl_plain_line(const char *text, char *line, size_t size)
{
    if (bl_plain_is(text)) {
        return text;
    }
    struct bl_strbuf made = {0};
    bl_plain_add(&made, text);
    size_t length = made.failed ? 0 : made.length;
    if (size > 0) {
        length = bl_utf8_whole(bl_strbuf_get(&made),
                               length < size ? length : size - 1);
        memcpy(line, bl_strbuf_get(&made), length);
        line[length] = '\0';
    }
    bl_strbuf_finish(&made);
    return size > 0 ? line : "";
}
