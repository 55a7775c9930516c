/* SPDX-License-Identifier: MIT */
/* The setters that many keys share: text, a quantity, one of several words. */
#include "base/number.h"
#include "trial/reading.h"

#include <stdio.h>
#include <string.h>
#include <strings.h>

static void *field_of(void *object, const struct trial_key *key)
{
    return (char *)object + key->offset;
}

void bl_trial_set_text(struct reading *r, void *object,
                       const struct trial_key *key,
                       const struct trial_entry *entry)
{
    bl_trial_keep(r, field_of(object, key), entry->value);
}

static void out_of_bounds(struct reading *r, const struct trial_key *key,
                          const struct trial_entry *entry)
{
    char words[192];
    char low[32];
    char high[32];
    const char *unit = bl_quantity_unit(key->quantity);
    (void)snprintf(words, sizeof(words), "a %s of %s to %s %s",
                   bl_quantity_name(key->quantity),
                   bl_number_format(key->low, 6, low, sizeof(low)),
                   bl_number_format(key->high, 6, high, sizeof(high)), unit);
    bl_trial_wrong(r, entry->line, words, entry->value, NULL);
}

void bl_trial_set_quantity(struct reading *r, void *object,
                           const struct trial_key *key,
                           const struct trial_entry *entry)
{
    double value;
    if (!bl_trial_quantity(r, entry->line, entry->value, key->quantity,
                           key->example, &value)) {
        return;
    }
    if (value < key->low || value > key->high) {
        out_of_bounds(r, key, entry);
        return;
    }
    *(double *)field_of(object, key) = value * key->scale;
}

/* "'on', 'off' or 'stop-lamp-only'" from "on|off|stop-lamp-only". */
static void list_words(const char *words, char *text, size_t size)
{
    size_t at = 0;
    text[0] = '\0';
    while (*words != '\0' && at < size) {
        const size_t length = strcspn(words, "|");
        const char *rest = words[length] == '|' ? words + length + 1 : "";
        if (length > 0) {
            const char *before = at == 0 ? "" : *rest == '\0' ? " or " : ", ";
            const int wrote = snprintf(text + at, size - at, "%s'%.*s'", before,
                                       (int)length, words);
            at += wrote < 0 ? 0 : (size_t)wrote;
        }
        words = rest;
    }
}

/* What people write for on and off. As letters go "no" is nearest to "on",
   which is its opposite. */
static const char *switch_word(const char *words, const char *value)
{
    static const struct {
        const char *said, *meant;
    } said[] = {{"no", "off"}, {"false", "off"}, {"0", "off"}, {"none", "off"},
                {"yes", "on"}, {"true", "on"},   {"1", "on"}};
    const bool is_switch =
        bl_trial_word(words, "on") >= 0 && bl_trial_word(words, "off") >= 0;
    for (size_t i = 0; is_switch && i < sizeof(said) / sizeof(said[0]); i++) {
        if (strcasecmp(value, said[i].said) == 0) {
            return said[i].meant;
        }
    }
    return NULL;
}

static int choose(struct reading *r, const struct trial_key *key,
                  const struct trial_entry *entry)
{
    const int index = bl_trial_word(key->example, entry->value);
    if (index >= 0 && entry->value[0] != '\0') {
        return index;
    }
    char words[200];
    char copy[200];
    char hint[HINT_MAX];
    struct bl_nearest nearest = {.wanted = bl_trial_hintable(r, entry->value)};
    (void)snprintf(copy, sizeof(copy), "%s", key->example);
    char *rest = copy;
    while (rest != NULL) {
        char *word = rest;
        rest = strchr(rest, '|');
        if (rest != NULL) {
            *rest++ = '\0';
        }
        bl_nearest_offer(&nearest, word);
    }
    list_words(key->example, words, sizeof(words));
    const char *meant = switch_word(key->example, entry->value);
    if (meant != NULL) {
        (void)snprintf(hint, sizeof(hint), " (did you mean '%s'?)", meant);
    } else {
        (void)bl_trial_nearest_hint(&nearest, hint);
    }
    bl_trial_wrong(r, entry->line, words, entry->value, hint);
    return -1;
}

/* Enumerations of the public header have the size of an int, and the words
   are in the order of their values. */
_Static_assert(sizeof(enum bl_switch_state) == sizeof(int), "enum size");

void bl_trial_set_choice(struct reading *r, void *object,
                         const struct trial_key *key,
                         const struct trial_entry *entry)
{
    const int index = choose(r, key, entry);
    if (index >= 0) {
        memcpy(field_of(object, key), &index, sizeof(index));
    }
}

void bl_trial_set_option(struct reading *r, void *object,
                         const struct trial_key *key,
                         const struct trial_entry *entry)
{
    /* Words for signs that would begin a comment or part a list. */
    static const struct {
        const char *word, *sign;
    } signs[] = {{"comma", ","}, {"semicolon", ";"}, {"point", "."}};
    if (choose(r, key, entry) < 0) {
        return;
    }
    const char *kept = entry->value;
    for (size_t i = 0; i < sizeof(signs) / sizeof(signs[0]); i++) {
        kept = strcmp(kept, signs[i].word) == 0 ? signs[i].sign : kept;
    }
    bl_trial_keep(r, field_of(object, key), kept);
}

void bl_trial_set_row(struct reading *r, void *object,
                      const struct trial_key *key,
                      const struct trial_entry *entry)
{
    int64_t number;
    int *field = field_of(object, key);
    if (key->low < 0 && strcmp(entry->value, "none") == 0) {
        *field = -1;
        return;
    }
    if (!bl_integer_parse(entry->value, strlen(entry->value), &number) ||
        number < 1 || number > (int64_t)key->high) {
        bl_trial_wrong(r, entry->line,
                       key->low < 0 ? "a row number from 1, or 'none'"
                                    : "a row number from 1",
                       entry->value, NULL);
        return;
    }
    *field = (int)number;
}
