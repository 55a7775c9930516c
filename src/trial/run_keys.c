/* SPDX-License-Identifier: MIT */
/*
 * Keys of [run] and [recording]: files, which run, what to leave out. Every
 * file of `captures` and `logs` is a recording of its own; parts of one stream
 * need a [recording].
 */
#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "base/number.h"
#include "base/strbuf.h"
#include "trial/reading.h"

#include <string.h>

char *bl_trial_join(const struct bl_trial *trial, const char *path)
{
    if (path[0] == '/' || strcmp(path, "-") == 0 ||
        strcmp(trial->folder, ".") == 0) {
        return bl_strdup(path);
    }
    struct bl_strbuf text = {0};
    const size_t length = strlen(trial->folder);
    bl_strbuf_text(&text, trial->folder);
    if (length == 0 || trial->folder[length - 1] != '/') {
        bl_strbuf_char(&text, '/');
    }
    bl_strbuf_text(&text, path);
    char *joined = text.failed ? NULL : bl_strdup(bl_strbuf_get(&text));
    bl_strbuf_finish(&text);
    return joined;
}

struct bl_trial_recording *bl_trial_add_recording(struct reading *r, int line)
{
    struct bl_trial *trial = r->trial;
    if (trial->recordings >= BL_LIMIT_TRIAL_ITEMS) {
        bl_trial_mistake(r, "limit", line,
                         "expected at most %u recordings, found more",
                         BL_LIMIT_TRIAL_ITEMS);
        return NULL;
    }
    if (!bl_grow(&trial->recording, &r->recording_capacity,
                 trial->recordings + 1, sizeof(*trial->recording),
                 BL_LIMIT_TRIAL_ITEMS)) {
        bl_trial_no_memory(r);
        return NULL;
    }
    struct bl_trial_recording *recording =
        &trial->recording[trial->recordings++];
    *recording = (struct bl_trial_recording){.line = line};
    bl_trial_clock_init(&recording->clock);
    return recording;
}

static void add_file(struct reading *r, struct bl_trial_recording *recording,
                     const char *path)
{
    char **grown = bl_realloc(recording->file, recording->files + 1,
                              sizeof(*recording->file));
    char *joined = bl_trial_join(r->trial, path);
    if (grown != NULL) {
        recording->file = grown;
    }
    if (grown == NULL || joined == NULL) {
        bl_free(joined);
        bl_trial_no_memory(r);
        return;
    }
    recording->file[recording->files++] = joined;
}

/* 0 capture, 1 log, -1 not told by the name. */
static int kind_by_name(const char *path)
{
    static const struct {
        const char *end;
        int kind;
    } ends[] = {
        {".pcap", 0}, {".pcapng", 0}, {".cap", 0}, {".csv", 1}, {".tsv", 1}};
    size_t length = strlen(path);
    if (length > 3 && strcmp(path + length - 3, ".gz") == 0) {
        length -= 3;
    }
    for (size_t i = 0; i < sizeof(ends) / sizeof(ends[0]); i++) {
        const size_t size = strlen(ends[i].end);
        if (length > size &&
            memcmp(path + length - size, ends[i].end, size) == 0) {
            return ends[i].kind;
        }
    }
    return -1;
}

/* After `kind` in the table would be too late: the name is looked at here and
   `kind`, if it is given, has the last word. */
SETTER(files)
{
    struct bl_trial_recording *recording = object;
    (void)key;
    char *copy;
    char **part;
    const size_t count = bl_trial_split(r, entry, ',', &copy, &part);
    for (size_t i = 0; i < count && r->status == BL_OK; i++) {
        add_file(r, recording, part[i]);
    }
    if (count > 0 && kind_by_name(part[0]) == 1) {
        recording->kind = BL_RECORDING_LOG;
    }
    bl_free(part);
    bl_free(copy);
}

bool bl_trial_kind_told(const struct bl_trial_recording *recording)
{
    return recording->files == 0 || kind_by_name(recording->file[0]) >= 0;
}

SETTER(recording_kind)
{
    struct bl_trial_recording *recording = object;
    const int word = bl_trial_word(key->example, entry->value);
    if (word < 0) {
        bl_trial_wrong(r, entry->line, "'capture' or 'log'", entry->value,
                       NULL);
        return;
    }
    recording->kind = word == 1 ? BL_RECORDING_LOG : BL_RECORDING_CAPTURE;
}

SETTER(run_files)
{
    const size_t run = (size_t)((struct bl_trial_run *)object - r->trial->run);
    const bool logs = strcmp(key->key, "logs") == 0;
    char *copy;
    char **part;
    const size_t count = bl_trial_split(r, entry, ',', &copy, &part);
    for (size_t i = 0; i < count && r->status == BL_OK; i++) {
        struct bl_trial_recording *recording =
            bl_trial_add_recording(r, entry->line);
        if (recording == NULL) {
            break;
        }
        recording->run = run;
        recording->kind = logs ? BL_RECORDING_LOG : BL_RECORDING_CAPTURE;
        bl_trial_keep(r, &recording->name, part[i]);
        add_file(r, recording, part[i]);
    }
    bl_free(part);
    bl_free(copy);
}

SETTER(run_of)
{
    struct bl_trial_recording *recording = object;
    (void)key;
    const long run = bl_trial_run_index(r->trial, entry->value);
    if (run >= 0) {
        recording->run = (size_t)run;
        return;
    }
    struct bl_nearest nearest = {.wanted = bl_trial_hintable(r, entry->value)};
    char hint[HINT_MAX];
    char quote[QUOTE_MAX];
    for (size_t i = 0; i < r->trial->runs; i++) {
        bl_nearest_offer(&nearest, r->trial->run[i].name);
    }
    bl_trial_mistake(r, "unknown-name", entry->line,
                     "expected the name of a [run] of this file, found '%s'%s",
                     bl_trial_quote(entry->value, quote),
                     bl_trial_nearest_hint(&nearest, hint));
}

static bool take_exclusion(struct reading *r, const struct trial_entry *entry,
                           const char *text, struct bl_trial_run *run)
{
    size_t used = strspn(text, "0123456789");
    int64_t value = 0;
    if (used == 0 || !bl_integer_parse(text, used, &value) || value < 1 ||
        value > (int64_t)BL_LIMIT_APPLICATIONS ||
        (text[used] != ' ' && text[used] != '\t')) {
        bl_trial_wrong(r, entry->line,
                       "the number of an application and the reason, such as "
                       "'3 pedal slipped'",
                       text, NULL);
        return false;
    }
    for (size_t i = 0; i < run->exclusions; i++) {
        if (run->exclude[i].application == (int)value) {
            bl_trial_wrong(r, entry->line, "every application once", text,
                           NULL);
            return false;
        }
    }
    struct bl_trial_exclusion *exclusion = &run->exclude[run->exclusions++];
    exclusion->application = (int)value;
    exclusion->line = entry->line;
    used += strspn(text + used, " \t");
    bl_trial_keep(r, &exclusion->why, text + used);
    return true;
}

SETTER(exclude)
{
    struct bl_trial_run *run = object;
    (void)key;
    char *copy;
    char **part;
    const size_t count = bl_trial_split(r, entry, '|', &copy, &part);
    if (count > 0) {
        run->exclude = bl_alloc(count, sizeof(*run->exclude));
        if (run->exclude == NULL) {
            bl_trial_no_memory(r);
        }
    }
    for (size_t i = 0; i < count && r->status == BL_OK; i++) {
        (void)take_exclusion(r, entry, part[i], run);
    }
    bl_free(part);
    bl_free(copy);
}
