/* SPDX-License-Identifier: MIT */
/* Keys of [characteristic], [limit], [expect], [log] and [record]. */
#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "trial/reading.h"

#include <stdio.h>
#include <string.h>
#include <strings.h>

static void take_message(struct reading *r, const struct trial_entry *entry,
                         struct bl_trial_characteristic *characteristic,
                         const char *name)
{
    struct bl_nearest nearest = {.wanted = bl_trial_hintable(r, name)};
    const struct bl_tables *tables = r->trial->tables;
    bl_trial_keep(r, &characteristic->when[characteristic->whens++], name);
    if (r->tables_failed || bl_tables_message_named(tables, name) != NULL) {
        return;
    }
    const size_t messages = bl_tables_messages(tables);
    for (size_t i = 0; i < messages; i++) {
        bl_nearest_offer(&nearest, bl_tables_message(tables, i)->name);
    }
    char quote[QUOTE_MAX];
    char hint[HINT_MAX];
    bl_trial_mistake(r, "unknown-name", entry->line,
                     "expected messages of the mapping tables, found '%s'%s",
                     bl_trial_quote(name, quote),
                     bl_trial_nearest_hint(&nearest, hint));
}

SETTER(when)
{
    struct bl_trial_characteristic *characteristic = object;
    (void)key;
    char *copy = NULL;
    char **part = NULL;
    if (strcmp(entry->value, "none") == 0) {
        characteristic->when_none = true;
        return;
    }
    const size_t count = bl_trial_split(r, entry, ',', &copy, &part);
    if (count > 0) {
        characteristic->when = bl_alloc(count, sizeof(*characteristic->when));
        if (characteristic->when == NULL) {
            bl_trial_no_memory(r);
        }
    }
    for (size_t i = 0; i < count && r->status == BL_OK; i++) {
        take_message(r, entry, characteristic, part[i]);
    }
    bl_free(part);
    bl_free(copy);
}

SETTER(figure)
{
    struct bl_trial_limit *limit = object;
    (void)key;
    if (bl_figure_from(entry->value, &limit->figure)) {
        return;
    }
    char words[256] = "one of";
    char hint[HINT_MAX];
    size_t at = strlen(words);
    struct bl_nearest nearest = {.wanted = bl_trial_hintable(r, entry->value)};
    for (int i = 0; i < (int)BL_FIGURES; i++) {
        const char *name = bl_figure_name_text((enum bl_figure_name)i);
        bl_nearest_offer(&nearest, name);
        const int wrote = snprintf(words + at, sizeof(words) - at, "%s %s",
                                   i == 0 ? "" : ",", name);
        at +=
            wrote > 0 && (size_t)wrote < sizeof(words) - at ? (size_t)wrote : 0;
    }
    bl_trial_wrong(r, entry->line, words, entry->value,
                   bl_trial_nearest_hint(&nearest, hint));
}

SETTER(limit_unit)
{
    struct bl_trial_limit *limit = object;
    (void)key;
    char combination;
    int number;
    if (strcmp(entry->value, "every") == 0) {
        limit->unit = -1;
        return;
    }
    if (bl_trial_unit_name(entry->value, &combination, &number)) {
        limit->unit = bl_trial_unit_index(r->trial, combination, number);
        if (limit->unit >= 0) {
            return;
        }
    }
    bl_trial_wrong(r, entry->line, "a unit of this file, or 'every'",
                   entry->value, NULL);
}

SETTER(reach)
{
    struct bl_trial_expect *expect = object;
    const int word = bl_trial_word(key->example, entry->value);
    if (word < 0) {
        bl_trial_wrong(r, entry->line, "'yes' or 'no'", entry->value, NULL);
        return;
    }
    expect->reach = word == 0;
}

SETTER(bus_split)
{
    struct bl_trial *trial = object;
    const int word = bl_trial_word(key->example, entry->value);
    if (word < 0) {
        bl_trial_wrong(r, entry->line, "'yes' or 'no'", entry->value, NULL);
        return;
    }
    trial->bus_split = word == 0;
}

static bool digits_at(const char *text, size_t from, size_t count)
{
    return strspn(text + from, "0123456789") >= count;
}

/* A date, else the name of a column: what looks like a date must be one. */
SETTER(date)
{
    struct bl_trial_log *log = object;
    (void)key;
    const char *text = entry->value;
    const bool date_like = strspn(text, "0123456789-/.") == strlen(text);
    const bool date =
        strlen(text) == 10 && digits_at(text, 0, 4) && text[4] == '-' &&
        digits_at(text, 5, 2) && text[7] == '-' && digits_at(text, 8, 2) &&
        strncmp(text + 5, "01", 2) >= 0 && strncmp(text + 5, "12", 2) <= 0 &&
        strcmp(text + 8, "01") >= 0 && strcmp(text + 8, "31") <= 0;
    if (date_like && !date) {
        bl_trial_wrong(r, entry->line,
                       "a date such as '2026-03-01' or the name of a column",
                       text, NULL);
        return;
    }
    bl_trial_keep(r, &log->options.date, text);
}

SETTER(timezone)
{
    struct bl_trial_log *log = object;
    (void)key;
    const char *text = entry->value;
    const bool offset =
        strlen(text) == 6 && (text[0] == '+' || text[0] == '-') &&
        digits_at(text, 1, 2) && text[3] == ':' && digits_at(text, 4, 2) &&
        strncmp(text + 1, "15", 2) < 0 && text[4] < '6';
    if (!offset && strcmp(text, "Z") != 0) {
        bl_trial_wrong(r, entry->line, "a zone such as '+10:00' or 'Z'", text,
                       NULL);
        return;
    }
    bl_trial_keep(r, &log->options.timezone, text);
}

/* [record] is free text, so the whole section is one list of pairs. What is
   read as more than text, but for its capitals, is meant. */
SETTER(record)
{
    struct bl_trial *trial = object;
    const struct trial_key *row;
    for (size_t i = 0; (row = bl_trial_key_at(i)) != NULL; i++) {
        if (row->section == key->section &&
            strcasecmp(row->key, entry->key) == 0) {
            bl_trial_remark(r, "record-key-in-capitals", entry->line,
                            "'%s' is kept as free text: did you mean '%s'?",
                            entry->key, row->key);
        }
    }
    (void)bl_trial_add_pair(r, &trial->record, &trial->records, entry->key,
                            entry);
}
