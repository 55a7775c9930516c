/* SPDX-License-Identifier: MIT */
/*
 * An INI file by inih. The inih that distributions ship gives no line numbers,
 * cuts what is longer than its buffers and takes an indented key as a
 * continuation of the one above. So it is fed line by line: what is handed over
 * has no comment, no leading blank and fits, and the present line is known
 * whenever inih calls back.
 */
#include "io/ini.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "base/utf8.h"
#include "io/lines.h"

#include <ini.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

enum {
    /* inih keeps 50 bytes of a section's name, and of its line buffer three
       bytes go to the line end. */
    HEADING_MAX = 49,
    LINE_END = 3,
    QUOTE_MAX = 64
};

struct seen {
    char *key;
    int line;
};

struct feeder {
    const struct bl_ini_events *events;
    void *user;
    struct bl_error *error;
    enum bl_status status;
    struct bl_lines lines;
    int line;
    char heading[HEADING_MAX + 1]; /* of the present section */
    bool begun;                    /* a heading has been seen */
    bool skipping;                 /* the last one was no good */
    bool stopped;
    struct seen *seen; /* keys of this section */
    size_t keys, capacity;
};

static void BL_PRINTF(3, 4)
    mistake(struct feeder *f, const char *code, const char *format, ...)
{
    char text[BL_NOTE_TEXT_MAX];
    va_list arguments;
    va_start(arguments, format);
    (void)vsnprintf(text, sizeof(text), format, arguments);
    va_end(arguments);
    if (!f->stopped && !f->events->mistake(f->user, code, f->line, text)) {
        f->stopped = true;
    }
}

static void no_memory(struct feeder *f)
{
    f->status = bl_fail_memory(f->error);
}

static void forget_keys(struct feeder *f)
{
    for (size_t i = 0; i < f->keys; i++) {
        bl_free(f->seen[i].key);
    }
    f->keys = 0;
}

/* "[unit 0]" to a new section; false when it is no heading. */
static bool take_heading(struct feeder *f, char *text)
{
    char quote[QUOTE_MAX];
    char *end = strchr(text, ']');
    f->skipping = true;
    if (end == NULL || end[1] != '\0') {
        mistake(f, "line-form", "expected a section such as '%s', found '%s'",
                f->events->example, bl_utf8_brief(quote, sizeof(quote), text));
        return false;
    }
    *end = '\0';
    text++;
    text += strspn(text, " \t");
    while (end > text && (end[-1] == ' ' || end[-1] == '\t')) {
        *--end = '\0';
    }
    if (strlen(text) > HEADING_MAX) {
        mistake(f, "limit",
                "expected a section name of at most %d bytes, found %zu",
                HEADING_MAX, strlen(text));
        return false;
    }
    forget_keys(f);
    memcpy(f->heading, text, strlen(text) + 1);
    f->begun = true;
    f->skipping = false;
    f->stopped = !f->events->section(f->user, text, f->line);
    return !f->stopped;
}

static bool pair_good(struct feeder *f, const char *text)
{
    char quote[QUOTE_MAX];
    const size_t at = strcspn(text, "=:");
    if (text[at] == '=' && at > 0) {
        return true;
    }
    mistake(f, "line-form",
            "expected 'key = value' or a section in brackets, found '%s'",
            bl_utf8_brief(quote, sizeof(quote), text));
    return false;
}

/* UTF-8 without control characters. */
static bool is_text(const char *text, size_t length)
{
    const unsigned char *byte = (const unsigned char *)text;
    for (size_t i = 0; i < length;) {
        const size_t size = bl_utf8_length(text + i, length - i);
        const bool control =
            (byte[i] < 0x20 && byte[i] != '\t') || byte[i] == 0x7F ||
            (size == 2 && byte[i] == 0xC2 && byte[i + 1] < 0xA0);
        if (size == 0 || control) {
            return false;
        }
        i += size;
    }
    return true;
}

/* Cut a comment off: a line that starts with ';' or '#', or what follows a
   blank and ';'. */
static size_t without_comment(const char *text, size_t length)
{
    if (length > 0 && (text[0] == ';' || text[0] == '#')) {
        return 0;
    }
    for (size_t i = 1; i < length; i++) {
        if (text[i] == ';' && (text[i - 1] == ' ' || text[i - 1] == '\t')) {
            return i;
        }
    }
    return length;
}

/* One line into out[0..room); an empty line for what inih must not see. */
static void prepare(struct feeder *f, const struct bl_text_line *line,
                    char *out, size_t room)
{
    out[0] = '\0';
    if (!f->begun && memchr(line->text, '\0', line->length) != NULL) {
        mistake(f, "binary",
                "expected a %s, which is UTF-8 text, found bytes of 0: this is "
                "a recording, or text that was saved as UTF-16",
                f->events->what);
        f->stopped = true;
        return;
    }
    if (!is_text(line->text, line->length)) {
        mistake(f, "not-text",
                "expected UTF-8 text without control characters, found other "
                "bytes");
        return;
    }
    const char *text = line->text;
    size_t length = line->length;
    while (length > 0 && (*text == ' ' || *text == '\t')) {
        text++;
        length--;
    }
    length = without_comment(text, length);
    while (length > 0 &&
           (text[length - 1] == ' ' || text[length - 1] == '\t')) {
        length--;
    }
    if (length > room) {
        mistake(f, "limit",
                "expected at most %zu bytes on a line, comment left out, found "
                "%zu",
                room, length);
        return;
    }
    memcpy(out, text, length);
    out[length] = '\0';
}

/* The next line into `text`; false: there is none, or nothing more is read. */
static bool next(struct feeder *f, char *text, int size)
{
    struct bl_text_line line;
    struct bl_error error;
    if (f->stopped || f->status != BL_OK || size <= LINE_END) {
        return false;
    }
    const enum bl_status status = bl_lines_next(&f->lines, &line, &error);
    text[0] = '\0';
    f->line = (int)f->lines.number;
    if (status == BL_LIMIT) {
        mistake(f, "limit", "%s", error.message);
    } else if (status != BL_OK) {
        f->status = status;
        if (f->error != NULL) {
            *f->error = error;
        }
        return false;
    } else if (line.text == NULL) {
        return false;
    } else {
        prepare(f, &line, text, (size_t)size - LINE_END);
    }
    if ((unsigned)f->line > BL_LIMIT_TRIAL_LINES) {
        mistake(f, "limit", "expected at most %u lines, found more",
                BL_LIMIT_TRIAL_LINES);
        return false;
    }
    return true;
}

/* The reader callback of inih, in place of fgets. */
static char *feed(char *text, int size, void *user)
{
    struct feeder *f = user;
    if (!next(f, text, size)) {
        return NULL;
    }
    if (text[0] == '[') {
        char copy[256];
        (void)snprintf(copy, sizeof(copy), "%s", text);
        if (!take_heading(f, copy)) {
            text[0] = '\0';
        }
    } else if (text[0] != '\0' && !pair_good(f, text)) {
        text[0] = '\0';
    }
    const size_t length = strlen(text);
    text[length] = '\n';
    text[length + 1] = '\0';
    return text;
}

/* Line on which the section has the key already; 0: nowhere, and from now on
   here. */
static int earlier(struct feeder *f, const char *key)
{
    for (size_t i = 0; i < f->keys; i++) {
        if (strcmp(f->seen[i].key, key) == 0) {
            return f->seen[i].line;
        }
    }
    char *copy = bl_strdup(key);
    if (copy == NULL || !bl_grow(&f->seen, &f->capacity, f->keys + 1,
                                 sizeof(*f->seen), BL_LIMIT_TRIAL_ITEMS)) {
        bl_free(copy);
        no_memory(f);
        return 0;
    }
    f->seen[f->keys++] = (struct seen){copy, f->line};
    return 0;
}

static void take_pair(struct feeder *f, const char *key, const char *value)
{
    char quote[QUOTE_MAX];
    if (!f->begun) {
        mistake(f, "line-form",
                "expected a section such as '%s' first, found '%s'",
                f->events->first, bl_utf8_brief(quote, sizeof(quote), key));
        return;
    }
    if (f->keys >= BL_LIMIT_TRIAL_ITEMS) {
        mistake(f, "limit", "expected at most %u keys in a section, found more",
                BL_LIMIT_TRIAL_ITEMS);
        return;
    }
    const int before = earlier(f, key);
    if (before != 0) {
        mistake(f, "repeated-key",
                "expected '%s' once in [%s], found it again: first on line %d",
                bl_utf8_brief(quote, sizeof(quote), key), f->heading, before);
    } else if (value[0] == '\0') {
        mistake(f, "wrong-value",
                "expected a value after '%s =', found nothing",
                bl_utf8_brief(quote, sizeof(quote), key));
    } else if (f->status == BL_OK) {
        f->stopped = !f->events->entry(f->user, key, value, f->line);
    }
}

/* The handler callback of inih: never fails, mistakes are collected. */
static int handle(void *user, const char *heading, const char *key,
                  const char *value)
{
    struct feeder *f = user;
    (void)heading;
    if (!f->skipping && !f->stopped && f->status == BL_OK) {
        take_pair(f, key, value);
    }
    return 1;
}

enum bl_status bl_ini_read(struct bl_bytes *source,
                           const struct bl_ini_events *events, void *user,
                           struct bl_error *error)
{
    struct feeder f = {.events = events, .user = user, .error = error};
    bl_lines_start(&f.lines, source, true);
    const int result = ini_parse_stream(feed, &f, handle, &f);
    /* What inih refuses has been refused before; anything else is a gap in
       the checks above and must not pass in silence. */
    if (result > 0 && f.status == BL_OK) {
        f.line = result;
        mistake(&f, "line-form",
                "expected 'key = value', found something else");
    } else if (result < 0) {
        no_memory(&f);
    }
    forget_keys(&f);
    bl_free(f.seen);
    return f.status;
}
