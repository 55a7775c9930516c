/* SPDX-License-Identifier: MIT */
/*
 * What joins a trial to others: the day and place of [record], the id of a
 * unit and its labels. They are taken as written and never guessed: a wrong
 * id would mix the lives of two units without a sign of it.
 */
#include "base/logtime.h"
#include "trial/identity.h"
#include "trial/reading.h"

#include <stdio.h>
#include <string.h>

/* Own choice: a label's name becomes the name of a column. */
enum { LABEL_NAME_MAX = 32 };
/* Own choice: compressors cut out at 700 to 1300 kPa. */
enum { SUPPLY_LEAST_KPA = 100, SUPPLY_MOST_KPA = 2000 };

static bool clock_time(const char *text)
{
    int64_t time_ns;
    int64_t resolution_ns;
    const size_t length = strlen(text);
    return (length == 5 || (length == 8 && text[5] == ':')) && text[2] == ':' &&
           bl_log_time_clock(text, length, &time_ns, &resolution_ns) &&
           time_ns < LOG_DAY_NS;
}

bool bl_trial_is_date(const char *text)
{
    enum { DATE = 10 };
    int64_t days;
    const size_t length = strlen(text);
    if (length < DATE || text[4] != '-' || text[7] != '-' ||
        !bl_log_time_date(text, DATE, false, &days)) {
        return false;
    }
    return length == DATE || (text[DATE] == 'T' && clock_time(text + DATE + 1));
}

SETTER(record_date)
{
    struct bl_trial *trial = object;
    (void)key;
    if (!bl_trial_is_date(entry->value)) {
        bl_trial_wrong(r, entry->line,
                       "a day of the calendar such as '2026-05-04', or with "
                       "its time '2026-05-04T14:30'",
                       entry->value, NULL);
        return;
    }
    bl_trial_keep(r, &trial->date, entry->value);
    (void)bl_trial_add_pair(r, &trial->record, &trial->records, entry->key,
                            entry);
}

SETTER(record_place)
{
    struct bl_trial *trial = object;
    (void)key;
    bl_trial_keep(r, &trial->place, entry->value);
    (void)bl_trial_add_pair(r, &trial->record, &trial->records, entry->key,
                            entry);
}

SETTER(record_supply)
{
    struct bl_trial *trial = object;
    double kpa;
    if (!bl_trial_quantity(r, entry->line, entry->value, key->quantity,
                           key->example, &kpa)) {
        return;
    }
    if (!(kpa >= SUPPLY_LEAST_KPA && kpa <= SUPPLY_MOST_KPA)) {
        bl_trial_wrong(r, entry->line, "a supply pressure of 100 to 2000 kPa",
                       entry->value, NULL);
        return;
    }
    trial->supply_kpa = kpa;
    (void)bl_trial_add_pair(r, &trial->record, &trial->records, entry->key,
                            entry);
}

SETTER(id)
{
    struct bl_trial_unit *unit = object;
    (void)key;
    if (strlen(entry->value) > BL_TRIAL_ID_MAX) {
        char expected[64];
        (void)snprintf(expected, sizeof(expected), "an id of up to %d bytes",
                       BL_TRIAL_ID_MAX);
        bl_trial_wrong(r, entry->line, expected, entry->value, NULL);
        return;
    }
    bl_trial_keep(r, &unit->id, entry->value);
}

/* Engines that read CSV take names of columns without regard to case. */
static bool label_name(const char *name)
{
    const size_t length = strlen(name);
    return length <= LABEL_NAME_MAX && name[0] >= 'a' && name[0] <= 'z' &&
           strspn(name, "abcdefghijklmnopqrstuvwxyz0123456789_-") == length;
}

SETTER(label)
{
    struct bl_trial_unit *unit = object;
    const size_t length = strlen(key->key);
    const char *name = entry->key[length] == '.' ? entry->key + length + 1 : "";
    if (!label_name(name)) {
        bl_trial_wrong(r, entry->line,
                       "label.NAME, with a name of up to 32 lower-case letters "
                       "(a to z), digits, '-' and '_', such as 'label.valve'",
                       entry->key, NULL);
        return;
    }
    (void)bl_trial_add_pair(r, &unit->label, &unit->labels, name, entry);
}
