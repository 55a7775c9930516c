/* SPDX-License-Identifier: MIT */
/*
 * The list of mistakes: each with its line, what was expected and what was
 * found, and the nearest right word where one is close.
 */
#include "trial/reading.h"

#include "base/utf8.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* A file with more mistakes than this is no trial file; the rest is counted. */
enum { MISTAKES_MAX = 500, HINTS_MAX = 64 };

void bl_trial_no_memory(struct reading *r)
{
    if (r->status == BL_OK) {
        r->status = bl_fail_memory(r->error);
    }
}

void bl_trial_mistake(struct reading *r, const char *code, int line,
                      const char *format, ...)
{
    if (r->found.count >= MISTAKES_MAX) {
        r->unlisted++;
        return;
    }
    char text[BL_MESSAGE_MAX];
    va_list arguments;
    va_start(arguments, format);
    (void)vsnprintf(text, sizeof(text), format, arguments);
    va_end(arguments);
    if (bl_note_each(&r->found, code, line, "%s", text) != BL_OK) {
        bl_trial_no_memory(r);
    }
}

void bl_trial_wrong(struct reading *r, int line, const char *expected,
                    const char *found, const char *hint)
{
    char quote[QUOTE_MAX];
    bl_trial_mistake(r, "wrong-value", line, "expected %s, found '%s'%s",
                     expected, bl_trial_quote(found, quote),
                     hint == NULL ? "" : hint);
}

void bl_trial_remark(struct reading *r, const char *code, int line,
                     const char *format, ...)
{
    char text[BL_MESSAGE_MAX];
    va_list arguments;
    va_start(arguments, format);
    (void)vsnprintf(text, sizeof(text), format, arguments);
    va_end(arguments);
    if (bl_note_each(&r->trial->notes, code, line, "%s", text) != BL_OK) {
        bl_trial_no_memory(r);
    }
}

const char *bl_trial_quote(const char *text, char out[QUOTE_MAX])
{
    return bl_utf8_brief(out, QUOTE_MAX, text);
}

const char *bl_trial_hintable(const struct reading *r, const char *text)
{
    return r->found.count < HINTS_MAX ? text : NULL;
}

const char *bl_trial_nearest_hint(const struct bl_nearest *nearest,
                                  char text[HINT_MAX])
{
    const char *word = bl_nearest_word(nearest);
    text[0] = '\0';
    if (word != NULL) {
        (void)snprintf(text, HINT_MAX, " (did you mean '%s'?)", word);
    }
    return text;
}

static int by_line(const void *a, const void *b)
{
    const int64_t first = ((const struct bl_note *)a)->first_line;
    const int64_t second = ((const struct bl_note *)b)->first_line;
    return (first > second) - (first < second);
}

/* Order by lines; mistakes of one line stay in the order of their finding,
   so they are numbered by first_offset before qsort, which is not stable. */
static int by_line_then_number(const void *a, const void *b)
{
    const int lines = by_line(a, b);
    const int64_t first = ((const struct bl_note *)a)->first_offset;
    const int64_t second = ((const struct bl_note *)b)->first_offset;
    return lines != 0 ? lines : (first > second) - (first < second);
}

enum bl_status bl_trial_settle(struct reading *r, struct bl_notes *mistakes)
{
    struct bl_note *item = r->found.item;
    const size_t count = r->found.count;
    for (size_t i = 0; i < count; i++) {
        item[i].first_offset = (int64_t)i;
    }
    if (count > 0) {
        qsort(item, count, sizeof(*item), by_line_then_number);
    }
    for (size_t i = 0; i < count && mistakes != NULL; i++) {
        if (bl_note_each(mistakes, item[i].code, item[i].first_line, "%s",
                         item[i].text) != BL_OK) {
            bl_trial_no_memory(r);
        }
    }
    if (r->unlisted > 0 && mistakes != NULL &&
        bl_note_each(mistakes, "more-mistakes", -1,
                     "%llu more mistakes were found and are not listed",
                     (unsigned long long)r->unlisted) != BL_OK) {
        bl_trial_no_memory(r);
    }
    if (r->status == BL_OK && count > 0) {
        return bl_fail_line(r->error, BL_TRIAL, r->source, item[0].first_line,
                            "%s", item[0].text);
    }
    return r->status;
}
