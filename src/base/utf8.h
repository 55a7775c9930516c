/* SPDX-License-Identifier: MIT */
/* Text as UTF-8: JSON takes nothing else. */
#ifndef BRAKELAG_SRC_BASE_UTF8_H
#define BRAKELAG_SRC_BASE_UTF8_H

#include "base/strbuf.h"

/* Bytes of the character at `text`: well-formed as in RFC 3629, so no overlong
   form, no surrogate, up to U+10FFFF. 0: none, or `length` cuts it. A zero
   byte is a character like others. */
size_t bl_utf8_length(const char *text, size_t length);
bool bl_utf8_good(const char *text, size_t length);
/* `length`, less a last character that it cuts. */
size_t bl_utf8_whole(const char *text, size_t length);
/* `text` into out[0..size), "..." at its end where it does not fit; at least 4
   bytes. Returns `out`. */
const char *bl_utf8_brief(char *out, size_t size, const char *text);
/* Every byte as the character that ISO 8859-1 has for it: what other recorders
   write. */
void bl_utf8_add_latin1(struct bl_strbuf *buffer, const char *text);
/* `text` where it is UTF-8, else it read as ISO 8859-1, in `made`, which the
   caller finishes. NULL: out of memory. */
const char *bl_utf8_text(const char *text, struct bl_strbuf *made);

#endif
