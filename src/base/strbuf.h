/* SPDX-License-Identifier: MIT */
/*
 * Growing text. The first failure (memory or limit) sticks: later appends do
 * nothing, and the user checks once at the end.
 */
#ifndef BRAKELAG_SRC_BASE_STRBUF_H
#define BRAKELAG_SRC_BASE_STRBUF_H

#include "brakelag/status.h"

/* Zero-initialise, set `limit` (0: 64 MiB). `text` may be NULL while empty. */
struct bl_strbuf {
    char *text;
    size_t length, capacity, limit;
    bool failed;
};

void bl_strbuf_add(struct bl_strbuf *buffer, const char *data, size_t length);
void bl_strbuf_text(struct bl_strbuf *buffer, const char *text);
void bl_strbuf_char(struct bl_strbuf *buffer, char c);
void bl_strbuf_format(struct bl_strbuf *buffer, const char *format, ...)
    BL_PRINTF(2, 3);
/* Never NULL; "" when empty or failed before anything was added. */
const char *bl_strbuf_get(const struct bl_strbuf *buffer);
void bl_strbuf_finish(struct bl_strbuf *buffer);

#endif
