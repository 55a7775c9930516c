/* SPDX-License-Identifier: MIT */
/* Text as UTF-8: JSON takes nothing else. */
#ifndef BRAKELAG_SRC_BASE_UTF8_H
#define BRAKELAG_SRC_BASE_UTF8_H

#include "base/strbuf.h"

/* Well-formed as in RFC 3629: no overlong form, no surrogate, up to U+10FFFF.
 */
bool bl_utf8_is(const char *text);
/* Every byte as the character that ISO 8859-1 has for it: what other recorders
   write. */
void bl_utf8_add_latin1(struct bl_strbuf *buffer, const char *text);
/* `text` where it is UTF-8, else it read as ISO 8859-1, in `made`, which the
   caller finishes. NULL: out of memory. */
const char *bl_utf8_text(const char *text, struct bl_strbuf *made);

#endif
