/* SPDX-License-Identifier: MIT */
#include "brakelag/status.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "base/utf8.h"

#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

const char *bl_status_name(enum bl_status status)
{
    switch (status) {
#define CASE(name, value, sentence)                                            \
    case BL_##name:                                                            \
        return #name;
        BL_STATUS_LIST(CASE)
#undef CASE
    }
    return "UNKNOWN";
}

void bl_error_clear(struct bl_error *error)
{
    error->status = BL_OK;
    error->line = -1;
    error->offset = -1;
    error->source[0] = '\0';
    error->message[0] = '\0';
}

/* vsnprintf may cut in the middle of a UTF-8 character, and what a file says
   may hold line breaks: mend both, a message is one line. */
static void tidy(char *text, size_t size, int wanted)
{
    size_t length = strlen(text);
    if (wanted >= 0 && (size_t)wanted >= size) {
        length = bl_utf8_whole(text, length);
        text[length] = '\0';
    }
    for (size_t i = 0; i < length; i++) {
        const unsigned char c = (unsigned char)text[i];
        if (c < 0x20 || c == 0x7F) {
            text[i] = '?';
        }
    }
}

static void BL_PRINTF(3, 0)
    put(char *text, size_t size, const char *format, va_list arguments)
{
    const int wanted = vsnprintf(text, size, format, arguments);
    tidy(text, size, wanted);
}

static enum bl_status BL_PRINTF(6, 0)
    fail(struct bl_error *error, enum bl_status status, const char *source,
         int64_t line, int64_t offset, const char *format, va_list arguments)
{
    if (error != NULL) {
        error->status = status;
        error->line = line;
        error->offset = offset;
        const int wanted = snprintf(error->source, sizeof(error->source), "%s",
                                    source == NULL ? "" : source);
        tidy(error->source, sizeof(error->source), wanted);
        put(error->message, sizeof(error->message), format, arguments);
    }
    return status;
}

enum bl_status bl_fail(struct bl_error *error, enum bl_status status,
                       const char *source, const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    (void)fail(error, status, source, -1, -1, format, arguments);
    va_end(arguments);
    return status;
}

enum bl_status bl_fail_line(struct bl_error *error, enum bl_status status,
                            const char *source, int64_t line,
                            const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    (void)fail(error, status, source, line, -1, format, arguments);
    va_end(arguments);
    return status;
}

enum bl_status bl_fail_offset(struct bl_error *error, enum bl_status status,
                              const char *source, int64_t offset,
                              const char *format, ...)
{
    va_list arguments;
    va_start(arguments, format);
    (void)fail(error, status, source, -1, offset, format, arguments);
    va_end(arguments);
    return status;
}

enum bl_status bl_fail_memory(struct bl_error *error)
{
    return bl_fail(error, BL_NOMEM, "", "out of memory");
}

const char *bl_error_line(const struct bl_error *error, char *text, size_t size)
{
    int wanted;
    const char *source = error->source;
    if (source[0] == '\0') {
        wanted = snprintf(text, size, "%s", error->message);
    } else if (error->line >= 0) {
        wanted = snprintf(text, size, "%s:%" PRId64 ": %s", source, error->line,
                          error->message);
    } else if (error->offset >= 0) {
        wanted = snprintf(text, size, "%s: byte %" PRId64 ": %s", source,
                          error->offset, error->message);
    } else {
        wanted = snprintf(text, size, "%s: %s", source, error->message);
    }
    tidy(text, size, wanted);
    return text;
}

const struct bl_note *bl_notes_find(const struct bl_notes *notes,
                                    const char *code)
{
    for (size_t i = 0; i < notes->count; i++) {
        if (strcmp(notes->item[i].code, code) == 0) {
            return &notes->item[i];
        }
    }
    return NULL;
}

static struct bl_note *new_note(struct bl_notes *notes, const char *code)
{
    if (!bl_grow(&notes->item, &notes->capacity, notes->count + 1,
                 sizeof(*notes->item), BL_LIMIT_NOTES)) {
        return NULL;
    }
    struct bl_note *note = &notes->item[notes->count++];
    *note = (struct bl_note){.first_line = -1, .first_offset = -1};
    (void)snprintf(note->code, sizeof(note->code), "%s", code);
    return note;
}

enum bl_status bl_note(struct bl_notes *notes, const char *code, int64_t line,
                       int64_t offset, const char *format, ...)
{
    for (size_t i = 0; i < notes->count; i++) {
        if (strcmp(notes->item[i].code, code) == 0) {
            notes->item[i].count++;
            return BL_OK;
        }
    }
    struct bl_note *note = new_note(notes, code);
    if (note == NULL) {
        return BL_NOMEM;
    }
    note->count = 1;
    note->first_line = line;
    note->first_offset = offset;
    va_list arguments;
    va_start(arguments, format);
    put(note->text, sizeof(note->text), format, arguments);
    va_end(arguments);
    return BL_OK;
}

enum bl_status bl_note_each(struct bl_notes *notes, const char *code,
                            int64_t line, const char *format, ...)
{
    struct bl_note *note = new_note(notes, code);
    if (note == NULL) {
        return BL_NOMEM;
    }
    note->count = 1;
    note->first_line = line;
    va_list arguments;
    va_start(arguments, format);
    put(note->text, sizeof(note->text), format, arguments);
    va_end(arguments);
    return BL_OK;
}

enum bl_status bl_notes_append(struct bl_notes *to, const struct bl_notes *from)
{
    for (size_t i = 0; i < from->count; i++) {
        const struct bl_note *note = &from->item[i];
        struct bl_note *mine = NULL;
        for (size_t k = 0; k < to->count && mine == NULL; k++) {
            if (strcmp(to->item[k].code, note->code) == 0) {
                mine = &to->item[k];
            }
        }
        if (mine != NULL) {
            mine->count += note->count;
            continue;
        }
        mine = new_note(to, note->code);
        if (mine == NULL) {
            return BL_NOMEM;
        }
        *mine = *note;
    }
    return BL_OK;
}

void bl_notes_finish(struct bl_notes *notes)
{
    bl_free(notes->item);
    *notes = (struct bl_notes){0};
}
