/* SPDX-License-Identifier: MIT */
/* What a trial holds by name, and what its parts are called. */
#include "trial/reading.h"

#include "base/utf8.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* Least voltage under load: docs/methods/causes.md, "Voltage". */
static const double PUBLISHED_V = 10;

long bl_trial_unit_index(const struct bl_trial *trial, char combination,
                         int number)
{
    for (size_t i = 0; i < trial->units; i++) {
        if (trial->unit[i].combination == combination &&
            trial->unit[i].number == number) {
            return (long)i;
        }
    }
    return -1;
}

enum bl_control_line bl_trial_unit_control_line(const struct bl_trial *trial,
                                                size_t unit)
{
    const enum bl_control_line own = trial->unit[unit].control_line;
    return own == BL_CONTROL_LINE_UNKNOWN ? trial->control_line : own;
}

double bl_trial_voltage_least(const struct bl_trial *trial)
{
    const struct bl_trial_expect *expect = &trial->expect;
    return expect->line > 0 && !isnan(expect->voltage_min_v)
               ? expect->voltage_min_v
               : PUBLISHED_V;
}

long bl_trial_channel_index(const struct bl_trial *trial, const char *name)
{
    for (size_t i = 0; i < trial->channels; i++) {
        if (strcmp(trial->channel[i].name, name) == 0) {
            return (long)i;
        }
    }
    return -1;
}

long bl_trial_run_index(const struct bl_trial *trial, const char *name)
{
    for (size_t i = 0; i < trial->runs; i++) {
        if (strcmp(trial->run[i].name, name) == 0) {
            return (long)i;
        }
    }
    return -1;
}

const char *bl_trial_unit_called(const struct bl_trial *trial, size_t index,
                                 char *text, size_t size)
{
    char label[32];
    const struct bl_trial_unit *unit = &trial->unit[index];
    bool alike = unit->name != NULL &&
                 strspn(unit->name, "0123456789.") == strlen(unit->name);
    (void)bl_trial_unit_label(unit, label, sizeof(label));
    for (size_t i = 0; i < trial->units; i++) {
        const char *name = trial->unit[i].name;
        alike = alike || (i != index && unit->name != NULL && name != NULL &&
                          strcmp(name, unit->name) == 0);
    }
    if (unit->name == NULL) {
        (void)snprintf(text, size, "unit %s", label);
    } else if (!alike && strlen(unit->name) < size) {
        (void)snprintf(text, size, "%s", unit->name);
    } else {
        /* Names that were cut may look alike. */
        const size_t behind = strlen(" (unit )") + strlen(label);
        const size_t room = size > behind + 4 ? size - behind : 4;
        (void)bl_utf8_brief(text, room, unit->name);
        const size_t at = strlen(text);
        (void)snprintf(text + at, size - at, " (unit %s)", label);
    }
    return text;
}

const char *bl_trial_unit_begins(const struct bl_trial *trial, size_t index,
                                 char *text, size_t size)
{
    (void)bl_trial_unit_called(trial, index, text, size);
    text[0] = (char)(text[0] >= 'a' && text[0] <= 'z' ? text[0] - 'a' + 'A'
                                                      : text[0]);
    return text;
}

const char *bl_trial_units_called(const struct bl_trial *trial, const bool *in,
                                  char *text, size_t size)
{
    size_t count = 0;
    size_t said = 0;
    size_t at = 0;
    for (size_t i = 0; i < trial->units; i++) {
        count += in[i];
    }
    text[0] = '\0';
    for (size_t i = 0; i < trial->units && at < size; i++) {
        char label[32];
        if (!in[i]) {
            continue;
        }
        if (count == 1) {
            return bl_trial_unit_called(trial, i, text, size);
        }
        const int wrote =
            snprintf(text + at, size - at, "%s%s",
                     said == 0          ? "units "
                     : said + 1 < count ? ", "
                                        : " and ",
                     bl_trial_unit_label(&trial->unit[i], label, 32));
        at += wrote > 0 ? (size_t)wrote : 0;
        said++;
    }
    return text;
}

const char *bl_trial_unit_label(const struct bl_trial_unit *unit, char *text,
                                size_t size)
{
    if (unit->combination == 'A') {
        (void)snprintf(text, size, "%d", unit->number);
    } else {
        (void)snprintf(text, size, "%c.%d", unit->combination, unit->number);
    }
    return text;
}

bool bl_trial_recording_is(const struct bl_trial_recording *recording,
                           const char *pattern)
{
    bool found = bl_trial_matches(pattern, recording->name);
    for (size_t i = 0; i < recording->files && !found; i++) {
        found = bl_trial_matches(pattern, recording->file[i]);
    }
    return found;
}

bool bl_trial_channel_in(const struct bl_trial_channel *channel,
                         const struct bl_trial_recording *recording)
{
    return recording->kind == BL_RECORDING_LOG &&
           (channel->log == NULL ||
            bl_trial_recording_is(recording, channel->log));
}

bool bl_trial_channel_elsewhere(const struct bl_trial *trial,
                                const struct bl_trial_channel *channel,
                                size_t run)
{
    bool elsewhere = false;
    for (size_t i = 0; channel->log != NULL && i < trial->recordings; i++) {
        if (bl_trial_channel_in(channel, &trial->recording[i])) {
            if (trial->recording[i].run == run) {
                return false;
            }
            elsewhere = true;
        }
    }
    return elsewhere;
}

const struct bl_trial_log *
bl_trial_log_for(const struct bl_trial *trial,
                 const struct bl_trial_recording *recording)
{
    const struct bl_trial_log *best = NULL;
    for (size_t i = 0; i < trial->logs; i++) {
        const struct bl_trial_log *log = &trial->log[i];
        /* The plain name goes before a name with '*'. */
        if (bl_trial_recording_is(recording, log->name) &&
            (best == NULL || strchr(log->name, '*') == NULL)) {
            best = log;
        }
    }
    return best;
}
