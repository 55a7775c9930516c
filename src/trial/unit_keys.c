/* SPDX-License-Identifier: MIT */
/*
 * Keys of [unit]: addresses, where its quantities come from, chambers.
 */
#include "base/alloc.h"
#include "base/number.h"
#include "trial/reading.h"

#include <stdio.h>
#include <string.h>

SETTER(address)
{
    struct bl_trial_unit *unit = object;
    uint64_t number;
    (void)key;
    if (!bl_unsigned_parse(entry->value, strlen(entry->value), &number) ||
        number > 253) {
        bl_trial_wrong(r, entry->line, "an address of 0 to 253 such as '0xC8'",
                       entry->value, NULL);
        return;
    }
    unit->address = (int)number;
}

static void not_known(struct reading *r, const struct trial_entry *entry,
                      const char *text)
{
    struct bl_nearest nearest = {.wanted = bl_trial_hintable(r, text)};
    char hint[HINT_MAX];
    for (size_t i = 0; i < r->trial->channels; i++) {
        bl_nearest_offer(&nearest, r->trial->channel[i].name);
    }
    char quote[QUOTE_MAX];
    bl_trial_mistake(r, "unknown-name", entry->line,
                     "expected for '%s' a channel of this file or "
                     "MESSAGE.signal, found '%s'%s",
                     entry->key, bl_trial_quote(text, quote),
                     bl_trial_nearest_hint(&nearest, hint));
}

/* The message is there, or a mistake is reported. */
static const struct bl_message *named_message(struct reading *r,
                                              const struct trial_entry *entry,
                                              const char *name)
{
    const struct bl_tables *tables = r->trial->tables;
    const struct bl_message *found = bl_tables_message_named(tables, name);
    struct bl_nearest nearest = {.wanted = bl_trial_hintable(r, name)};
    if (found != NULL) {
        return found;
    }
    const size_t messages = bl_tables_messages(tables);
    for (size_t i = 0; i < messages; i++) {
        bl_nearest_offer(&nearest, bl_tables_message(tables, i)->name);
    }
    char quote[QUOTE_MAX];
    char hint[HINT_MAX];
    bl_trial_mistake(r, "unknown-name", entry->line,
                     "expected a channel of this file or a message of the "
                     "mapping tables, found '%s'%s",
                     bl_trial_quote(name, quote),
                     bl_trial_nearest_hint(&nearest, hint));
    return NULL;
}

/* Say why a reference is no good, with the nearest name that would be. */
static void wrong_signal(struct reading *r, const struct trial_entry *entry,
                         const char *text, const struct bl_error *error)
{
    char copy[256];
    char hint[HINT_MAX];
    char quote[QUOTE_MAX];
    (void)snprintf(copy, sizeof(copy), "%s", text);
    copy[strcspn(copy, "@/")] = '\0';
    char *dot = strchr(copy, '.');
    if (dot == NULL || dot == copy || dot[1] == '\0') {
        bl_trial_wrong(r, entry->line, "a signal such as MESSAGE.signal", text,
                       NULL);
        return;
    }
    *dot = '\0';
    const struct bl_message *message = named_message(r, entry, copy);
    if (message == NULL) {
        return;
    }
    struct bl_nearest nearest = {.wanted = bl_trial_hintable(r, dot + 1)};
    for (size_t i = 0; i < message->signals; i++) {
        bl_nearest_offer(&nearest, message->signal[i].name);
    }
    if (nearest.best[0] == '\0' || nearest.distance == 0) {
        bl_trial_mistake(r, "unknown-name", entry->line, "%s", error->message);
        return;
    }
    bl_trial_mistake(r, "unknown-name", entry->line,
                     "expected a signal of message %s, found '%s'%s",
                     message->name, bl_trial_quote(dot + 1, quote),
                     bl_trial_nearest_hint(&nearest, hint));
}

bool bl_trial_signal(struct reading *r, const struct trial_entry *entry,
                     const char *text, struct bl_signal_ref *out)
{
    struct bl_error error;
    bl_error_clear(&error);
    const enum bl_status status =
        bl_signal_ref_parse(r->trial->tables, text, out, &error);
    if (status == BL_NOMEM) {
        bl_trial_no_memory(r);
    } else if (status != BL_OK && !r->tables_failed) {
        wrong_signal(r, entry, text, &error);
    }
    return status == BL_OK;
}

/* A channel's name goes before a signal of the same spelling. */
static void take_input(struct reading *r, struct bl_trial_input *input,
                       const struct trial_entry *entry)
{
    input->line = entry->line;
    bl_trial_keep(r, &input->text, entry->value);
    input->channel = bl_trial_channel_index(r->trial, entry->value);
    if (input->channel >= 0) {
        input->kind = BL_INPUT_CHANNEL;
    } else if (strchr(entry->value, '.') == NULL) {
        not_known(r, entry, entry->value);
    } else if (bl_trial_signal(r, entry, entry->value, &input->signal)) {
        input->kind = BL_INPUT_SIGNAL;
    }
}

SETTER(input)
{
    take_input(r,
               (struct bl_trial_input *)(void *)((char *)object + key->offset),
               entry);
}

SETTER(output)
{
    struct bl_trial_unit *unit = object;
    const size_t length = strlen(key->key);
    struct bl_trial_input *grown =
        bl_realloc(unit->output, unit->outputs + 1, sizeof(*unit->output));
    if (grown == NULL) {
        bl_trial_no_memory(r);
        return;
    }
    unit->output = grown;
    struct bl_trial_input *input = &grown[unit->outputs++];
    *input = (struct bl_trial_input){.channel = -1};
    if (entry->key[length] == '.') {
        bl_trial_keep(r, &input->label, entry->key + length + 1);
    }
    take_input(r, input, entry);
}

/* "none REASON" where a trial has no command on purpose. */
SETTER(command)
{
    struct bl_trial_unit *unit = object;
    (void)key;
    if (strncmp(entry->value, "none", 4) == 0 &&
        (entry->value[4] == ' ' || entry->value[4] == '\0')) {
        bl_trial_keep(r, &unit->command.text, entry->value);
        unit->command.line = entry->line;
        if (entry->value[4] == '\0') {
            bl_trial_wrong(r, entry->line,
                           "'none' and the reason why no command is needed",
                           entry->value, NULL);
        }
        return;
    }
    take_input(r, &unit->command, entry);
}

SETTER(command_at)
{
    struct bl_trial_unit *unit = object;
    (void)key;
    struct measure measure;
    char hint[HINT_MAX];
    if (strcmp(entry->value, "edge") == 0) {
        unit->command_at_kind = BL_COMMAND_AT_EDGE;
        unit->command_at = 0;
        return;
    }
    const bool good =
        bl_trial_measure_parse(entry->value, &measure) && measure.number > 0;
    if (good && measure.unit->quantity == BL_QUANTITY_PRESSURE) {
        unit->command_at_kind = BL_COMMAND_AT_PRESSURE;
    } else if (good && measure.unit->quantity == BL_QUANTITY_RATIO &&
               measure.number < 100) {
        unit->command_at_kind = BL_COMMAND_AT_PERCENT;
    } else {
        bl_trial_wrong(
            r, entry->line, "a rise such as '20 kPa', '5 %' or 'edge'",
            entry->value,
            bl_trial_unit_hint(entry->value, BL_QUANTITY_PRESSURE, hint));
        return;
    }
    unit->command_at = bl_trial_difference(&measure);
}

/* Rated volumes at full stroke, void before the stroke included, as trade
   tables of brake chambers state them (from memory, except type 30: 89 cubic
   inches, 49 CFR 571.121 and its interpretations). */
static const struct {
    const char *type;
    double in3;
} chambers[] = {{"12", 30}, {"16", 46}, {"20", 54},
                {"24", 67}, {"30", 89}, {"36", 135}};

static bool chambers_by_type(const char *text, double *cm3)
{
    double number;
    size_t used;
    if (!bl_number_scan(text, strlen(text), '.', &number, &used) ||
        number < 1 || number > 100 || number != (double)(int)number) {
        return false;
    }
    text += used;
    text += strspn(text, " \t");
    if (*text != 'x' && *text != 'X') {
        return false;
    }
    text++;
    text += strspn(text, " \t");
    if (strncmp(text, "type", 4) != 0) {
        return false;
    }
    text += 4;
    text += strspn(text, " \t");
    for (size_t i = 0; i < sizeof(chambers) / sizeof(chambers[0]); i++) {
        if (strcmp(text, chambers[i].type) == 0) {
            *cm3 = number * chambers[i].in3 *
                   bl_measurement_unit_find("in3")->factor;
            return true;
        }
    }
    return false;
}

SETTER(chambers)
{
    struct bl_trial_unit *unit = object;
    struct measure measure;
    (void)key;
    double cm3;
    if (bl_trial_measure_parse(entry->value, &measure) &&
        measure.unit->quantity == BL_QUANTITY_VOLUME) {
        cm3 = bl_trial_canonical(&measure);
    } else if (!chambers_by_type(entry->value, &cm3)) {
        cm3 = -1;
    }
    if (!(cm3 > 0 && cm3 < 1e6)) {
        bl_trial_wrong(r, entry->line,
                       "chambers such as '6 x type 24' (types 12, 16, 20, 24, "
                       "30, 36) or their volume such as '4.9 l'",
                       entry->value, NULL);
        return;
    }
    unit->chambers_cm3 = cm3;
    bl_trial_keep(r, &unit->chambers, entry->value);
}

static void take_gain(struct reading *r, const struct trial_entry *entry,
                      double *gain, bool *by_load)
{
    double number;
    if (strcmp(entry->value, "load") == 0) {
        *by_load = true;
    } else if (bl_number_parse(entry->value, strlen(entry->value), &number) &&
               number > 0 && number <= 100) {
        *gain = number;
    } else {
        bl_trial_wrong(r, entry->line,
                       "output per control pressure such as '1.0', or 'load'",
                       entry->value, NULL);
    }
}

SETTER(gain)
{
    struct bl_trial_unit *unit = object;
    (void)key;
    take_gain(r, entry, &unit->gain, &unit->gain_by_load);
}

SETTER(characteristic_gain)
{
    struct bl_trial_characteristic *characteristic = object;
    (void)key;
    take_gain(r, entry, &characteristic->gain, &characteristic->gain_by_load);
}

SETTER(load)
{
    struct bl_trial_unit *unit = object;
    (void)key;
    struct measure measure;
    if (strcmp(entry->value, "laden") == 0) {
        unit->load = BL_LOAD_LADEN;
    } else if (strcmp(entry->value, "empty") == 0) {
        unit->load = BL_LOAD_EMPTY;
    } else if (bl_trial_measure_parse(entry->value, &measure) &&
               measure.unit->quantity == BL_QUANTITY_MASS &&
               measure.number >= 0 && measure.number < 1e6) {
        unit->load = BL_LOAD_MASS;
        unit->load_kg = bl_trial_canonical(&measure);
    } else {
        bl_trial_wrong(r, entry->line,
                       "'laden', 'empty' or a mass such as '12 t'",
                       entry->value, NULL);
    }
}
