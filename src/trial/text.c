/* SPDX-License-Identifier: MIT */
/* Small work on the text of a trial file: trimming, lists, choices. */
#include "base/alloc.h"
#include "base/limits.h"
#include "trial/reading.h"

#include <string.h>

static bool blank(char c)
{
    return c == ' ' || c == '\t';
}

char *bl_trial_trim(char *text)
{
    while (blank(*text)) {
        text++;
    }
    size_t length = strlen(text);
    while (length > 0 && blank(text[length - 1])) {
        length--;
    }
    text[length] = '\0';
    return text;
}

size_t bl_trial_split(struct reading *r, const struct trial_entry *entry,
                      char between, char **copy, char ***part)
{
    size_t count = 1;
    for (const char *c = entry->value; *c != '\0'; c++) {
        count += *c == between;
    }
    *part = NULL;
    *copy = NULL;
    if (count > BL_LIMIT_TRIAL_ITEMS) {
        bl_trial_mistake(r, "limit", entry->line,
                         "expected at most %u items, found %zu",
                         BL_LIMIT_TRIAL_ITEMS, count);
        return 0;
    }
    *copy = bl_strdup(entry->value);
    *part = bl_alloc(count, sizeof(**part));
    if (*copy == NULL || *part == NULL) {
        bl_trial_no_memory(r);
        return 0;
    }
    char *at = *copy;
    for (size_t i = 0; i < count; i++) {
        char *end = strchr(at, between);
        if (end != NULL) {
            *end = '\0';
        }
        (*part)[i] = bl_trial_trim(at);
        if ((*part)[i][0] == '\0') {
            bl_trial_mistake(r, "wrong-value", entry->line,
                             "expected something between the '%c' signs of "
                             "'%s', found an empty part",
                             between, entry->key);
            return 0;
        }
        at = end == NULL ? at : end + 1;
    }
    return count;
}

void bl_trial_keep(struct reading *r, void *field, const char *text)
{
    /* Copied as bytes: the field may be char * or const char *. */
    char *old;
    char *copy = bl_strdup(text);
    if (copy == NULL) {
        bl_trial_no_memory(r);
        return;
    }
    memcpy(&old, field, sizeof(old));
    bl_free(old);
    memcpy(field, &copy, sizeof(copy));
}

bool bl_trial_add_pair(struct reading *r, struct bl_trial_pair **list,
                       size_t *count, const char *key,
                       const struct trial_entry *entry)
{
    struct bl_trial_pair *grown = bl_realloc(*list, *count + 1, sizeof(**list));
    if (grown == NULL) {
        bl_trial_no_memory(r);
        return false;
    }
    *list = grown;
    struct bl_trial_pair *pair = &grown[(*count)++];
    *pair = (struct bl_trial_pair){.line = entry->line};
    bl_trial_keep(r, &pair->key, key);
    bl_trial_keep(r, &pair->value, entry->value);
    return r->status == BL_OK;
}

int bl_trial_word(const char *words, const char *word)
{
    const size_t length = strlen(word);
    int position = 0;
    for (const char *at = words;; position++) {
        const size_t size = strcspn(at, "|");
        if (size == length && memcmp(at, word, size) == 0) {
            return position;
        }
        if (at[size] == '\0') {
            return -1;
        }
        at += size + 1;
    }
}

/* '*' stands for any run of characters. Only the last '*' is ever tried
   again, which is enough and keeps the time at pattern times name. */
static bool matches(const char *pattern, const char *name)
{
    const char *star = NULL;
    const char *resume = NULL;
    while (*name != '\0') {
        if (*pattern == '*') {
            star = ++pattern;
            resume = name;
        } else if (*pattern == *name) {
            pattern++;
            name++;
        } else if (star != NULL) {
            pattern = star;
            name = ++resume;
        } else {
            return false;
        }
    }
    while (*pattern == '*') {
        pattern++;
    }
    return *pattern == '\0';
}

bool bl_trial_matches(const char *pattern, const char *name)
{
    const char *slash = strrchr(name, '/');
    return strcmp(pattern, name) == 0 || matches(pattern, name) ||
           (slash != NULL && matches(pattern, slash + 1));
}
