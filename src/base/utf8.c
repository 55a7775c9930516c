/* SPDX-License-Identifier: MIT */
/* UTF-8 by the table of RFC 3629, section 4. */
#include "base/utf8.h"

/* Length of the well-formed character at `text`, 0: none is there. */
static size_t utf8_length(const unsigned char *text)
{
    static const struct {
        unsigned char first, last, low, high, length;
    } forms[] = {
        {0x01, 0x7F, 0, 0, 1},       {0xC2, 0xDF, 0x80, 0xBF, 2},
        {0xE0, 0xE0, 0xA0, 0xBF, 3}, {0xE1, 0xEC, 0x80, 0xBF, 3},
        {0xED, 0xED, 0x80, 0x9F, 3}, {0xEE, 0xEF, 0x80, 0xBF, 3},
        {0xF0, 0xF0, 0x90, 0xBF, 4}, {0xF1, 0xF3, 0x80, 0xBF, 4},
        {0xF4, 0xF4, 0x80, 0x8F, 4},
    };
    for (size_t i = 0; i < sizeof(forms) / sizeof(forms[0]); i++) {
        if (text[0] < forms[i].first || text[0] > forms[i].last) {
            continue;
        }
        if (forms[i].length > 1 &&
            (text[1] < forms[i].low || text[1] > forms[i].high)) {
            return 0;
        }
        for (size_t k = 2; k < forms[i].length; k++) {
            if ((text[k] & 0xC0) != 0x80) {
                return 0;
            }
        }
        return forms[i].length;
    }
    return 0;
}

bool bl_utf8_is(const char *text)
{
    const unsigned char *at = (const unsigned char *)text;
    while (*at != 0) {
        const size_t length = utf8_length(at);
        if (length == 0) {
            return false;
        }
        at += length;
    }
    return true;
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
    if (bl_utf8_is(text)) {
        return text;
    }
    bl_utf8_add_latin1(made, text);
    return made->failed ? NULL : bl_strbuf_get(made);
}
