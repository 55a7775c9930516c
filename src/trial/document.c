/* SPDX-License-Identifier: MIT */
/*
 * Lines of a trial file to sections and entries, by inih. The inih that
 * distributions ship gives no line numbers, cuts what is longer than its
 * buffers and takes an indented key as a continuation of the one above. So it
 * is fed line by line: what is handed over has no comment, no leading blank
 * and fits, and the present line is known whenever inih calls back.
 */
#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "io/lines.h"
#include "trial/reading.h"

#include <ini.h>
#include <stdio.h>
#include <string.h>

enum {
    /* inih keeps 50 bytes of a section's name, and of its line buffer three
       bytes go to the line end. */
    HEADING_MAX = 49,
    LINE_END = 3
};

struct feeder {
    struct reading *r;
    struct bl_lines lines;
    int line;
    bool skipping; /* in a section whose heading was no good */
};

static struct trial_section *open_section(struct feeder *f, const char *heading)
{
    struct reading *r = f->r;
    if (r->sections >= BL_LIMIT_TRIAL_ITEMS) {
        bl_trial_mistake(r, "limit", f->line,
                         "expected at most %u sections, found one more",
                         BL_LIMIT_TRIAL_ITEMS);
        return NULL;
    }
    if (!bl_grow(&r->section, &r->section_capacity, r->sections + 1,
                 sizeof(*r->section), BL_LIMIT_TRIAL_ITEMS)) {
        bl_trial_no_memory(r);
        return NULL;
    }
    struct trial_section *section = &r->section[r->sections];
    *section = (struct trial_section){.heading = bl_strdup(heading),
                                      .kind = SECTION_UNKNOWN,
                                      .name = "",
                                      .line = f->line};
    if (section->heading == NULL) {
        bl_trial_no_memory(r);
        return NULL;
    }
    r->sections++;
    return section;
}

/* "[unit 0]" to a new section; false when it is no heading. */
static bool take_heading(struct feeder *f, char *text)
{
    char quote[QUOTE_MAX];
    char *end = strchr(text, ']');
    f->skipping = true;
    if (end == NULL || end[1] != '\0') {
        bl_trial_mistake(f->r, "line-form", f->line,
                         "expected a section such as '[unit 0]', found '%s'",
                         bl_trial_quote(text, quote));
        return false;
    }
    *end = '\0';
    char *heading = bl_trial_trim(text + 1);
    if (strlen(heading) > HEADING_MAX) {
        bl_trial_mistake(f->r, "limit", f->line,
                         "expected a section name of at most %d bytes, found "
                         "%zu",
                         HEADING_MAX, strlen(heading));
        return false;
    }
    f->skipping = open_section(f, heading) == NULL;
    return !f->skipping;
}

static bool pair_good(struct feeder *f, const char *text)
{
    char quote[QUOTE_MAX];
    const size_t at = strcspn(text, "=:");
    if (text[at] == '=' && at > 0) {
        return true;
    }
    bl_trial_mistake(f->r, "line-form", f->line,
                     "expected 'key = value' or a section in brackets, found "
                     "'%s'",
                     bl_trial_quote(text, quote));
    return false;
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
static void prepare(struct feeder *f, const struct bl_line *line, char *out,
                    size_t room)
{
    out[0] = '\0';
    if (f->r->sections == 0 && memchr(line->text, '\0', line->length) != NULL) {
        bl_trial_mistake(f->r, "not-text", f->line,
                         "expected a trial file, which is UTF-8 text, found "
                         "bytes of 0: this is a recording, or text that was "
                         "saved as UTF-16");
        f->r->binary = true;
        return;
    }
    if (!bl_trial_text_good(line->text, line->length)) {
        bl_trial_mistake(f->r, "not-text", f->line,
                         "expected UTF-8 text without control characters, "
                         "found other bytes");
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
        bl_trial_mistake(f->r, "limit", f->line,
                         "expected at most %zu bytes on a line, comment left "
                         "out, found %zu",
                         room, length);
        return;
    }
    memcpy(out, text, length);
    out[length] = '\0';
}

/* The reader callback of inih, in place of fgets. */
static char *feed(char *text, int size, void *user)
{
    struct feeder *f = user;
    struct reading *r = f->r;
    struct bl_line line;
    struct bl_error error;
    const enum bl_status status = r->status == BL_OK
                                      ? bl_lines_next(&f->lines, &line, &error)
                                      : r->status;
    if (r->status != BL_OK || r->binary || size <= LINE_END) {
        return NULL;
    }
    text[0] = '\0';
    f->line = (int)f->lines.number;
    if (status == BL_LIMIT) {
        bl_trial_mistake(r, "limit", f->line, "%s", error.message);
    } else if (status != BL_OK) {
        r->status = status;
        if (r->error != NULL) {
            *r->error = error;
        }
        return NULL;
    } else if (line.text == NULL) {
        return NULL;
    } else {
        prepare(f, &line, text, (size_t)size - LINE_END);
    }
    if ((unsigned)f->line > BL_LIMIT_TRIAL_LINES) {
        bl_trial_mistake(r, "limit", f->line,
                         "expected at most %u lines, found more",
                         BL_LIMIT_TRIAL_LINES);
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

static const struct trial_entry *earlier(const struct trial_section *section,
                                         const char *key)
{
    for (size_t i = 0; i < section->entries; i++) {
        if (strcmp(section->entry[i].key, key) == 0) {
            return &section->entry[i];
        }
    }
    return NULL;
}

static void add_entry(struct feeder *f, struct trial_section *section,
                      const char *key, const char *value)
{
    struct reading *r = f->r;
    if (section->entries >= BL_LIMIT_TRIAL_ITEMS) {
        bl_trial_mistake(r, "limit", f->line,
                         "expected at most %u keys in a section, found more",
                         BL_LIMIT_TRIAL_ITEMS);
        return;
    }
    if (!bl_grow(&section->entry, &section->capacity, section->entries + 1,
                 sizeof(*section->entry), BL_LIMIT_TRIAL_ITEMS)) {
        bl_trial_no_memory(r);
        return;
    }
    struct trial_entry entry = {
        .key = bl_strdup(key), .value = bl_strdup(value), .line = f->line};
    if (entry.key == NULL || entry.value == NULL) {
        bl_free(entry.key);
        bl_free(entry.value);
        bl_trial_no_memory(r);
        return;
    }
    section->entry[section->entries++] = entry;
}

/* The handler callback of inih: never fails, mistakes are collected. */
static int take_pair(void *user, const char *heading, const char *key,
                     const char *value)
{
    struct feeder *f = user;
    struct reading *r = f->r;
    char quote[QUOTE_MAX];
    (void)heading;
    if (f->skipping || r->status != BL_OK) {
        return 1;
    }
    if (r->sections == 0) {
        bl_trial_mistake(r, "line-form", f->line,
                         "expected a section such as '[trial]' first, found "
                         "'%s'",
                         bl_trial_quote(key, quote));
        return 1;
    }
    struct trial_section *section = &r->section[r->sections - 1];
    const struct trial_entry *before = earlier(section, key);
    if (before != NULL) {
        bl_trial_mistake(r, "repeated-key", f->line,
                         "expected '%s' once in [%s], found it again: first "
                         "on line %d",
                         bl_trial_quote(key, quote), section->heading,
                         before->line);
    } else if (value[0] == '\0') {
        bl_trial_mistake(r, "wrong-value", f->line,
                         "expected a value after '%s =', found nothing",
                         bl_trial_quote(key, quote));
    } else {
        add_entry(f, section, key, value);
    }
    return 1;
}

void bl_trial_read_document(struct reading *r, struct bl_bytes *source)
{
    struct feeder f = {.r = r};
    bl_lines_start(&f.lines, source, true);
    const int result = ini_parse_stream(feed, &f, take_pair, &f);
    /* What inih refuses has been refused before; anything else is a gap in
       the checks above and must not pass in silence. */
    if (result > 0 && r->status == BL_OK) {
        bl_trial_mistake(r, "line-form", result,
                         "expected 'key = value', found something else");
    } else if (result < 0) {
        bl_trial_no_memory(r);
    }
}

void bl_trial_free_document(struct reading *r)
{
    for (size_t i = 0; i < r->sections; i++) {
        struct trial_section *section = &r->section[i];
        for (size_t k = 0; k < section->entries; k++) {
            bl_free(section->entry[k].key);
            bl_free(section->entry[k].value);
        }
        bl_free(section->entry);
        bl_free(section->heading);
    }
    bl_free(r->section);
    r->section = NULL;
    r->sections = 0;
}
