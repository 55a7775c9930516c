/* SPDX-License-Identifier: MIT */
/*
 * From sections to objects: which kind a section is, one object for each, and
 * every key parsed into it in the order of the key table.
 */
#include "base/alloc.h"
#include "base/limits.h"
#include "trial/reading.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { UNIT_NUMBER_MAX = 99 };

const struct trial_section *
bl_trial_section_at(const struct reading *r, enum section_kind kind, int line)
{
    for (size_t i = 0; i < r->sections; i++) {
        if (r->section[i].kind == kind && r->section[i].line == line) {
            return &r->section[i];
        }
    }
    return NULL;
}

bool bl_trial_unit_name(const char *text, char *combination, int *number)
{
    *combination = 'A';
    if (text[0] >= 'A' && text[0] <= 'Z' && text[1] == '.') {
        *combination = text[0];
        text += 2;
    }
    const size_t length = strlen(text);
    if (length == 0 || strspn(text, "0123456789") != length || length > 2 ||
        (length == 2 && text[0] == '0')) {
        return false;
    }
    *number = text[0] - '0';
    if (length == 2) {
        *number = *number * 10 + (text[1] - '0');
    }
    return *number <= UNIT_NUMBER_MAX;
}

static void unknown_section(struct reading *r,
                            const struct trial_section *section,
                            const char *word)
{
    struct bl_nearest nearest = {.wanted = bl_trial_hintable(r, word)};
    char hint[HINT_MAX];
    char quote[QUOTE_MAX];
    for (int i = 0; i < SECTION_KINDS; i++) {
        bl_nearest_offer(&nearest, bl_trial_section_word((enum section_kind)i));
    }
    bl_trial_mistake(r, "unknown-section", section->line,
                     "expected trial, unit, channel, recording, run, "
                     "characteristic, expect, limit, log or record in "
                     "brackets, found '%s'%s",
                     bl_trial_quote(section->heading, quote),
                     bl_trial_nearest_hint(&nearest, hint));
}

static bool name_fits(struct reading *r, const struct trial_section *section,
                      enum section_kind kind)
{
    const char *word = bl_trial_section_word(kind);
    char combination;
    int number;
    if (bl_trial_section_named(kind) && section->name[0] == '\0') {
        bl_trial_mistake(r, "wrong-section", section->line,
                         "expected a name after '%s', such as '[%s %s]', found "
                         "none",
                         word, word, kind == SECTION_UNIT ? "0" : "P1");
        return false;
    }
    if (!bl_trial_section_named(kind) && section->name[0] != '\0') {
        bl_trial_mistake(r, "wrong-section", section->line,
                         "expected '[%s]' without a name, found '%s'", word,
                         section->heading);
        return false;
    }
    if (kind == SECTION_UNIT &&
        !bl_trial_unit_name(section->name, &combination, &number)) {
        bl_trial_mistake(r, "wrong-section", section->line,
                         "expected a unit's number such as '[unit 0]' or "
                         "'[unit B.1]', found '%s'",
                         section->heading);
        return false;
    }
    if ((kind == SECTION_CHANNEL && strpbrk(section->name, " \t,") != NULL) ||
        strchr(section->name, ',') != NULL) {
        bl_trial_mistake(r, "wrong-section", section->line,
                         "expected a name without %scomma, found '%s'",
                         kind == SECTION_CHANNEL ? "blank and " : "",
                         section->name);
        return false;
    }
    return true;
}

static bool same_section(const struct trial_section *a,
                         const struct trial_section *b)
{
    char letter_a;
    char letter_b;
    int number_a;
    int number_b;
    if (a->kind != b->kind) {
        return false;
    }
    if (a->kind == SECTION_UNIT) {
        return bl_trial_unit_name(a->name, &letter_a, &number_a) &&
               bl_trial_unit_name(b->name, &letter_b, &number_b) &&
               letter_a == letter_b && number_a == number_b;
    }
    return strcmp(a->name, b->name) == 0;
}

static void identify(struct reading *r, struct trial_section *section)
{
    char *heading = section->heading;
    const size_t length = strcspn(heading, " \t");
    char word[16] = "";
    if (length < sizeof(word)) {
        memcpy(word, heading, length);
    }
    section->name = heading + length + strspn(heading + length, " \t");
    for (int i = 0; i < SECTION_KINDS; i++) {
        const enum section_kind kind = (enum section_kind)i;
        if (strcmp(word, bl_trial_section_word(kind)) == 0) {
            section->kind =
                name_fits(r, section, kind) ? kind : SECTION_UNKNOWN;
            return;
        }
    }
    unknown_section(r, section, word);
}

void bl_trial_name_sections(struct reading *r)
{
    for (size_t i = 0; i < r->sections; i++) {
        struct trial_section *section = &r->section[i];
        identify(r, section);
        for (size_t k = 0; k < i && section->kind != SECTION_UNKNOWN; k++) {
            if (same_section(&r->section[k], section)) {
                bl_trial_mistake(r, "repeated-section", section->line,
                                 "expected [%s] once, found it again: first "
                                 "on line %d",
                                 section->heading, r->section[k].line);
                section->kind = SECTION_UNKNOWN;
            }
        }
    }
}

static size_t count_of(const struct reading *r, enum section_kind kind)
{
    size_t count = 0;
    for (size_t i = 0; i < r->sections; i++) {
        count += r->section[i].kind == kind;
    }
    return count;
}

static void start_unit(struct bl_trial_unit *unit, const char *name)
{
    const struct bl_trial_input none = {.channel = -1};
    *unit = (struct bl_trial_unit){.address = -1,
                                   .command = none,
                                   .command_at = NAN,
                                   .control = none,
                                   .control_b = none,
                                   .control_out = none,
                                   .reservoir = none,
                                   .voltage = none,
                                   .pipe_m = NAN,
                                   .length_m = NAN,
                                   .bore_mm = NAN,
                                   .keeps_kpa = NAN,
                                   .valve_delay_s = NAN,
                                   .conductance = NAN,
                                   .stroke_percent = NAN,
                                   .crack_kpa = NAN,
                                   .volume_cm3 = NAN,
                                   .chambers_cm3 = NAN,
                                   .reservoir_volume_cm3 = NAN,
                                   .threshold_kpa = NAN,
                                   .gain = NAN,
                                   .load_kg = NAN,
                                   .mass_kg = NAN,
                                   .force_kn_per_kpa = NAN};
    (void)bl_trial_unit_name(name, &unit->combination, &unit->number);
}

static void start_channel(struct bl_trial_channel *channel)
{
    *channel = (struct bl_trial_channel){.scale = NAN,
                                         .zero = NAN,
                                         .accuracy_fraction = NAN,
                                         .accuracy_value = NAN,
                                         .u_zero = NAN,
                                         .u_gain_fraction = NAN,
                                         .resolution = NAN,
                                         .delay_s = NAN,
                                         .u_delay_s = NAN,
                                         .range_low = NAN,
                                         .range_high = NAN,
                                         .trips_at_kpa = NAN,
                                         .resets_at_kpa = NAN,
                                         .on_level = NAN};
}

/* One empty object for a section. Arrays have room for all sections. */
static void *start_object(struct reading *r,
                          const struct trial_section *section, char ***name,
                          int **line)
{
    struct bl_trial *t = r->trial;
    switch (section->kind) {
    case SECTION_UNIT:
        start_unit(&t->unit[t->units], section->name);
        *line = &t->unit[t->units].line;
        return &t->unit[t->units++];
    case SECTION_CHANNEL:
        start_channel(&t->channel[t->channels]);
        *name = &t->channel[t->channels].name;
        *line = &t->channel[t->channels].line;
        return &t->channel[t->channels++];
    case SECTION_RUN:
        bl_trial_clock_init(&t->run[t->runs].clock);
        *name = &t->run[t->runs].name;
        *line = &t->run[t->runs].line;
        return &t->run[t->runs++];
    case SECTION_CHARACTERISTIC: {
        struct bl_trial_characteristic *c =
            &t->characteristic[t->characteristics++];
        c->threshold_kpa = c->gain = c->within_s = NAN;
        *name = &c->name;
        *line = &c->line;
        return c;
    }
    case SECTION_LIMIT: {
        struct bl_trial_limit *limit = &t->limit[t->limits++];
        limit->level_kpa = limit->max_s = NAN;
        limit->unit = -1;
        *name = &limit->name;
        *line = &limit->line;
        return limit;
    }
    case SECTION_LOG:
        *name = &t->log[t->logs].name;
        *line = &t->log[t->logs].line;
        return &t->log[t->logs++];
    case SECTION_RECORDING: {
        struct bl_trial_recording *recording =
            bl_trial_add_recording(r, section->line);
        if (recording != NULL) {
            *name = &recording->name;
            *line = &recording->line;
        }
        return recording;
    }
    case SECTION_EXPECT:
        *line = &t->expect.line;
        return &t->expect;
    case SECTION_TRIAL:
    case SECTION_RECORD:
    case SECTION_UNKNOWN:
        break;
    }
    return NULL;
}

static bool make_room(struct reading *r)
{
    struct bl_trial *t = r->trial;
    t->unit = bl_alloc(count_of(r, SECTION_UNIT), sizeof(*t->unit));
    t->channel = bl_alloc(count_of(r, SECTION_CHANNEL), sizeof(*t->channel));
    t->run = bl_alloc(count_of(r, SECTION_RUN), sizeof(*t->run));
    t->characteristic = bl_alloc(count_of(r, SECTION_CHARACTERISTIC),
                                 sizeof(*t->characteristic));
    t->limit = bl_alloc(count_of(r, SECTION_LIMIT), sizeof(*t->limit));
    t->log = bl_alloc(count_of(r, SECTION_LOG), sizeof(*t->log));
    if (t->unit == NULL || t->channel == NULL || t->run == NULL ||
        t->characteristic == NULL || t->limit == NULL || t->log == NULL) {
        bl_trial_no_memory(r);
        return false;
    }
    return true;
}

static void start_objects(struct reading *r)
{
    for (size_t i = 0; i < r->sections && r->status == BL_OK; i++) {
        const struct trial_section *section = &r->section[i];
        char **name = NULL;
        int *line = NULL;
        (void)start_object(r, section, &name, &line);
        if (line != NULL) {
            *line = section->line;
        }
        if (name != NULL) {
            bl_trial_keep(r, name, section->name);
        }
    }
}

static void *object_at(struct reading *r, enum section_kind kind, size_t index)
{
    struct bl_trial *t = r->trial;
    switch (kind) {
    case SECTION_UNIT:
        return &t->unit[index];
    case SECTION_CHANNEL:
        return &t->channel[index];
    case SECTION_RECORDING:
        return &t->recording[index];
    case SECTION_RUN:
        return &t->run[index];
    case SECTION_CHARACTERISTIC:
        return &t->characteristic[index];
    case SECTION_LIMIT:
        return &t->limit[index];
    case SECTION_LOG:
        return &t->log[index];
    case SECTION_EXPECT:
        return &t->expect;
    case SECTION_TRIAL:
    case SECTION_RECORD:
    case SECTION_UNKNOWN:
        break;
    }
    return t;
}

/* " (did you mean 'label.NAME'?)" of a key that takes a label, where there is a
   '.' or where it takes nothing else; else as of any word. */
static const char *key_hint(const struct bl_nearest *nearest,
                            enum section_kind section, bool dotted,
                            char hint[HINT_MAX])
{
    const char *near = bl_nearest_word(nearest);
    const char *word = near != NULL ? near : nearest->wanted;
    const struct trial_key *row =
        word == NULL ? NULL : bl_trial_key_find(section, word);
    if (row != NULL && row->labelled &&
        (dotted || row->set == bl_trial_set_label)) {
        (void)snprintf(hint, HINT_MAX, " (did you mean '%s.NAME'?)", row->key);
        return hint;
    }
    return bl_trial_nearest_hint(nearest, hint);
}

static void unknown_key(struct reading *r, const struct trial_section *section,
                        const struct trial_entry *entry)
{
    /* Of "lable.valve" what names the key. */
    char wanted[QUOTE_MAX];
    (void)snprintf(wanted, sizeof(wanted), "%.*s",
                   (int)strcspn(entry->key, "."), entry->key);
    struct bl_nearest nearest = {.wanted = bl_trial_hintable(r, wanted)};
    char hint[HINT_MAX];
    char quote[QUOTE_MAX];
    const char *elsewhere = NULL;
    const struct trial_key *row;
    for (size_t i = 0; (row = bl_trial_key_at(i)) != NULL; i++) {
        if (row->section == section->kind) {
            bl_nearest_offer(&nearest, row->key);
        } else if (strcmp(row->key, entry->key) == 0) {
            elsewhere = bl_trial_section_word(row->section);
        }
    }
    (void)key_hint(&nearest, section->kind, strchr(entry->key, '.') != NULL,
                   hint);
    bl_trial_mistake(
        r, "unknown-key", entry->line,
        "expected a key of [%s], found '%s'%s%s%s",
        bl_trial_section_word(section->kind), bl_trial_quote(entry->key, quote),
        elsewhere == NULL ? hint : ", which belongs in [",
        elsewhere == NULL ? "" : elsewhere, elsewhere == NULL ? "" : "]");
}

static void fill_object(struct reading *r, const struct trial_section *section,
                        void *object)
{
    const struct trial_key *row;
    for (size_t i = 0; i < section->entries; i++) {
        if (bl_trial_key_find(section->kind, section->entry[i].key) == NULL) {
            unknown_key(r, section, &section->entry[i]);
        }
    }
    for (size_t i = 0; (row = bl_trial_key_at(i)) != NULL; i++) {
        if (row->section != section->kind) {
            continue;
        }
        bool given = false;
        for (size_t k = 0; k < section->entries && r->status == BL_OK; k++) {
            const struct trial_entry *entry = &section->entry[k];
            if (bl_trial_key_find(section->kind, entry->key) == row) {
                row->set(r, object, row, entry);
                given = true;
            }
        }
        if (row->needed && !given) {
            bl_trial_mistake(r, "missing-key", section->line,
                             "expected '%s' in [%s], found none", row->key,
                             section->heading);
        }
    }
}

static void fill_kind(struct reading *r, enum section_kind kind)
{
    size_t index = 0;
    for (size_t i = 0; i < r->sections && r->status == BL_OK; i++) {
        if (r->section[i].kind == kind) {
            void *object = object_at(r, kind, index++);
            fill_object(r, &r->section[i], object);
            if (kind == SECTION_CHANNEL && r->status == BL_OK) {
                bl_trial_finish_channel(r, object, &r->section[i]);
            }
        }
    }
}

static int by_place(const void *a, const void *b)
{
    const struct bl_trial_unit *first = a;
    const struct bl_trial_unit *second = b;
    return first->combination != second->combination
               ? first->combination - second->combination
               : first->number - second->number;
}

void bl_trial_fill(struct reading *r)
{
    /* Channels before what names them, units before limits, recordings with
       a section before the shorthand of runs. */
    static const enum section_kind rest[] = {
        SECTION_RECORDING, SECTION_RUN, SECTION_CHARACTERISTIC,
        SECTION_LIMIT,     SECTION_LOG, SECTION_EXPECT,
        SECTION_RECORD};
    struct bl_trial *t = r->trial;
    if (!make_room(r)) {
        return;
    }
    start_objects(r);
    fill_kind(r, SECTION_TRIAL);
    if (t->table == NULL && r->status == BL_OK) {
        const struct trial_section *first = NULL;
        for (size_t i = 0; i < r->sections && first == NULL; i++) {
            first = r->section[i].kind == SECTION_TRIAL ? &r->section[i] : NULL;
        }
        if (bl_trial_entry(first, "tables") == NULL) {
            bl_trial_load_shipped(r, first == NULL ? 1 : first->line);
        }
    }
    fill_kind(r, SECTION_CHANNEL);
    fill_kind(r, SECTION_UNIT);
    if (t->units > 0) {
        qsort(t->unit, t->units, sizeof(*t->unit), by_place);
    }
    for (size_t i = 0; i < sizeof(rest) / sizeof(rest[0]); i++) {
        fill_kind(r, rest[i]);
    }
}
