/* SPDX-License-Identifier: MIT */
#include "base/strbuf.h"

#include "base/alloc.h"
#include "base/array.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

enum { DEFAULT_LIMIT = 64 * 1024 * 1024 };

static bool room_for(struct bl_strbuf *buffer, size_t more)
{
    const size_t limit = buffer->limit == 0 ? DEFAULT_LIMIT : buffer->limit;
    if (buffer->failed || more >= limit ||
        !bl_grow(&buffer->text, &buffer->capacity, buffer->length + more + 1, 1,
                 limit)) {
        buffer->failed = true;
        return false;
    }
    return true;
}

void bl_strbuf_add(struct bl_strbuf *buffer, const char *data, size_t length)
{
    if (length == 0 || !room_for(buffer, length)) {
        return;
    }
    memcpy(buffer->text + buffer->length, data, length);
    buffer->length += length;
    buffer->text[buffer->length] = '\0';
}

void bl_strbuf_text(struct bl_strbuf *buffer, const char *text)
{
    bl_strbuf_add(buffer, text, strlen(text));
}

void bl_strbuf_char(struct bl_strbuf *buffer, char c)
{
    bl_strbuf_add(buffer, &c, 1);
}

void bl_strbuf_format(struct bl_strbuf *buffer, const char *format, ...)
{
    va_list first;
    va_start(first, format);
    va_list second;
    va_copy(second, first);
    const int length = vsnprintf(NULL, 0, format, first);
    va_end(first);
    if (length < 0) {
        buffer->failed = true;
    } else if (length > 0 && room_for(buffer, (size_t)length)) {
        (void)vsnprintf(buffer->text + buffer->length, (size_t)length + 1,
                        format, second);
        buffer->length += (size_t)length;
    }
    va_end(second);
}

const char *bl_strbuf_get(const struct bl_strbuf *buffer)
{
    return buffer->text == NULL || buffer->length == 0 ? "" : buffer->text;
}

void bl_strbuf_finish(struct bl_strbuf *buffer)
{
    bl_free(buffer->text);
    const size_t limit = buffer->limit;
    *buffer = (struct bl_strbuf){.limit = limit};
}
