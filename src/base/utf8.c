/* SPDX-License-Identifier: MIT */
/* UTF-8 by the table of RFC 3629, section 4. */
#include "base/utf8.h"

#include <string.h>

static bool continues(unsigned char byte)
{
    return (byte & 0xC0) == 0x80;
}

size_t bl_utf8_length(const char *text, size_t length)
{
    static const struct {
        unsigned char first, last, low, high, length;
    } forms[] = {
        {0xC2, 0xDF, 0x80, 0xBF, 2}, {0xE0, 0xE0, 0xA0, 0xBF, 3},
        {0xE1, 0xEC, 0x80, 0xBF, 3}, {0xED, 0xED, 0x80, 0x9F, 3},
        {0xEE, 0xEF, 0x80, 0xBF, 3}, {0xF0, 0xF0, 0x90, 0xBF, 4},
        {0xF1, 0xF3, 0x80, 0xBF, 4}, {0xF4, 0xF4, 0x80, 0x8F, 4},
    };
    const unsigned char *c = (const unsigned char *)text;
    if (length == 0 || c[0] < 0x80) {
        return length > 0;
    }
    for (size_t i = 0; i < sizeof(forms) / sizeof(forms[0]); i++) {
        if (c[0] < forms[i].first || c[0] > forms[i].last) {
            continue;
        }
        if (forms[i].length > length || c[1] < forms[i].low ||
            c[1] > forms[i].high) {
            return 0;
        }
        for (size_t k = 2; k < forms[i].length; k++) {
            if (!continues(c[k])) {
                return 0;
            }
        }
        return forms[i].length;
    }
    return 0;
}

bool bl_utf8_good(const char *text, size_t length)
{
    for (size_t at = 0; at < length;) {
        const size_t step = bl_utf8_length(text + at, length - at);
        if (step == 0) {
            return false;
        }
        at += step;
    }
    return true;
}

size_t bl_utf8_whole(const char *text, size_t length)
{
    size_t start = length;
    while (start > 0 && length - start < 3 &&
           continues((unsigned char)text[start - 1])) {
        start--;
    }
    if (start == 0 || (unsigned char)text[start - 1] < 0xC0) {
        return length;
    }
    start--;
    return bl_utf8_length(text + start, length - start) == 0 ? start : length;
}

const char *bl_utf8_brief(char *out, size_t size, const char *text)
{
    size_t length = strlen(text);
    if (length < size) {
        memcpy(out, text, length + 1);
        return out;
    }
    length = bl_utf8_whole(text, size - 4);
    memcpy(out, text, length);
    memcpy(out + length, "...", 4);
    return out;
}

void bl_utf8_add_latin1(struct bl_strbuf *buffer, const char *text)
{
    for (const unsigned char *at = (const unsigned char *)text; *at != 0;
         at++) {
        if (*at >= 0x80) {
            bl_strbuf_char(buffer, (char)(0xC0 | (*at >> 6)));
            bl_strbuf_char(buffer, (char)(0x80 | (*at & 0x3F)));
        } else {
            bl_strbuf_char(buffer, (char)*at);
        }
    }
}

const char *bl_utf8_text(const char *text, struct bl_strbuf *made)
{
    if (bl_utf8_good(text, strlen(text))) {
        return text;
    }
    bl_utf8_add_latin1(made, text);
    return made->failed ? NULL : bl_strbuf_get(made);
}
