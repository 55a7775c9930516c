/* SPDX-License-Identifier: MIT */
/* Reading a trial file from end to end, looking things up, and freeing. */
#include "base/alloc.h"
#include "base/utf8.h"
#include "trial/reading.h"

#include "brakelag/io.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* First pneumatic response, and the push-out of usual chambers (5 psi): common
   practice, docs/trial-file.md. */
enum { RESPONSE_AT_KPA = 20, BRAKES_AT_KPA = 35 };
/* Least voltage under load: docs/methods/causes.md, "Voltage". */
static const double PUBLISHED_V = 10;

static void set_place(struct reading *r, const struct bl_bytes *source,
                      const char *folder)
{
    const char *name = bl_bytes_name(source);
    const char *slash = strrchr(name, '/');
    char *own = folder != NULL  ? bl_strdup(folder)
                : slash == NULL ? bl_strdup(".")
                : slash == name ? bl_strdup("/")
                                : bl_strndup(name, (size_t)(slash - name));
    r->trial->folder = own;
    r->trial->path = bl_strdup(name);
    if (own == NULL || r->trial->path == NULL) {
        bl_trial_no_memory(r);
    }
}

static void check_all(struct reading *r)
{
    bool trial = false;
    for (size_t i = 0; i < r->sections; i++) {
        trial = trial || r->section[i].kind == SECTION_TRIAL;
    }
    if (!trial) {
        bl_trial_mistake(r, "missing-section", 1,
                         "expected a section [trial], found none");
    }
    bl_trial_check_units(r);
    bl_trial_check_channels(r);
    bl_trial_check_runs(r);
    bl_trial_check_clocks(r);
    bl_trial_check_others(r);
}

static void read_all(struct reading *r, struct bl_bytes *source)
{
    struct bl_stored stored;
    if (r->status == BL_OK) {
        r->status = bl_tables_create(&r->trial->tables, r->error);
    }
    if (r->status == BL_OK) {
        bl_trial_read_document(r, source);
    }
    if (r->status == BL_OK) {
        r->status = bl_bytes_drain(source, &stored, r->error);
    }
    if (r->status != BL_OK || r->binary) {
        return;
    }
    memcpy(r->trial->sha256, stored.sha256, sizeof(r->trial->sha256));
    bl_trial_name_sections(r);
    bl_trial_fill(r);
    if (r->status == BL_OK) {
        check_all(r);
    }
}

enum bl_status bl_trial_read(struct bl_trial **out, struct bl_bytes *source,
                             const char *folder, struct bl_notes *mistakes,
                             struct bl_error *error)
{
    *out = NULL;
    struct reading r = {.source = bl_bytes_name(source), .error = error};
    r.trial = bl_alloc(1, sizeof(*r.trial));
    if (r.trial == NULL) {
        return bl_fail_memory(error);
    }
    r.trial->response_at_kpa = RESPONSE_AT_KPA;
    r.trial->supply_kpa = NAN;
    r.trial->brakes_at_kpa = BRAKES_AT_KPA;
    r.trial->expect.gap_max_s = r.trial->expect.coupling_delay_max_s = NAN;
    r.trial->expect.lost_max_fraction = r.trial->expect.interval_max_s = NAN;
    r.trial->expect.first_valid_max_s = r.trial->expect.voltage_min_v = NAN;
    set_place(&r, source, folder);
    read_all(&r, source);
    const enum bl_status status = bl_trial_settle(&r, mistakes);
    bl_trial_free_document(&r);
    bl_notes_finish(&r.found);
    if (status != BL_OK) {
        bl_trial_destroy(r.trial);
        return status;
    }
    *out = r.trial;
    return BL_OK;
}

enum bl_status bl_trial_read_file(struct bl_trial **out, const char *path,
                                  struct bl_notes *mistakes,
                                  struct bl_error *error)
{
    *out = NULL;
    struct bl_bytes *source = NULL;
    enum bl_status status = bl_bytes_open(&source, path, error);
    if (status == BL_OK) {
        status = bl_trial_read(out, source, NULL, mistakes, error);
    }
    bl_bytes_close(source);
    return status;
}

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
