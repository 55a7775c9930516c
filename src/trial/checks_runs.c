/* SPDX-License-Identifier: MIT */
/*
 * Runs, their recordings and the ties between clocks: every run has files,
 * no file twice, and `same as` ends somewhere.
 */
#include "base/alloc.h"
#include "trial/reading.h"

#include <stdlib.h>
#include <string.h>

static void check_run(struct reading *r, size_t index)
{
    const struct bl_trial *t = r->trial;
    bool any = false;
    for (size_t i = 0; i < t->recordings; i++) {
        any = any || t->recording[i].run == index;
    }
    if (!any) {
        bl_trial_mistake(r, "run-without-recordings", t->run[index].line,
                         "expected 'captures', 'logs' or a [recording] for "
                         "run '%s', found none",
                         t->run[index].name);
    }
}

/* A path as the file wrote it. */
static const char *as_written(const struct bl_trial *t, const char *path)
{
    const size_t length = strlen(t->folder);
    return strncmp(path, t->folder, length) == 0 && path[length] == '/'
               ? path + length + 1
               : path;
}

struct file_at {
    size_t run;
    const char *path;
    int line;
    enum bl_recording_kind kind;
};

static int by_file(const void *a, const void *b)
{
    const struct file_at *first = a;
    const struct file_at *second = b;
    const int paths = strcmp(first->path, second->path);
    if (first->run != second->run) {
        return first->run < second->run ? -1 : 1;
    }
    if (paths == 0 && first->kind != second->kind) {
        return first->kind < second->kind ? -1 : 1;
    }
    return paths != 0
               ? paths
               : (first->line > second->line) - (first->line < second->line);
}

/* Where a recording's files are in the trial file. */
static int line_of_files(const struct reading *r,
                         const struct bl_trial_recording *recording)
{
    const struct trial_entry *file = bl_trial_entry(
        bl_trial_section_at(r, SECTION_RECORDING, recording->line), "file");
    return file == NULL ? recording->line : file->line;
}

/* A measurement file may be a capture and a log of one run. Sorted, so that the
 * time stays small whatever the number of files. */
static void check_files_once(struct reading *r)
{
    const struct bl_trial *t = r->trial;
    size_t count = 0;
    for (size_t i = 0; i < t->recordings; i++) {
        count += t->recording[i].files;
    }
    struct file_at *list = bl_alloc(count, sizeof(*list));
    if (list == NULL) {
        bl_trial_no_memory(r);
        return;
    }
    size_t at = 0;
    for (size_t i = 0; i < t->recordings; i++) {
        const struct bl_trial_recording *recording = &t->recording[i];
        const int line = line_of_files(r, recording);
        for (size_t k = 0; k < recording->files; k++) {
            list[at++] = (struct file_at){recording->run, recording->file[k],
                                          line, recording->kind};
        }
    }
    qsort(list, count, sizeof(*list), by_file);
    for (size_t i = 1; i < count; i++) {
        if (list[i].run == list[i - 1].run &&
            list[i].kind == list[i - 1].kind &&
            strcmp(list[i].path, list[i - 1].path) == 0) {
            char quote[QUOTE_MAX];
            bl_trial_mistake(
                r, "file-twice", list[i].line,
                "expected every file once in a run, found '%s' of line %d "
                "again",
                bl_trial_quote(as_written(t, list[i].path), quote),
                list[i - 1].line);
        }
    }
    bl_free(list);
}

/* A name twice in a run; the same file twice is found by check_files_once, so
   shorthand recordings, named by their file, are left to it. */
static void check_recording(struct reading *r, size_t index)
{
    const struct bl_trial *t = r->trial;
    const struct bl_trial_recording *recording = &t->recording[index];
    const struct trial_section *section =
        bl_trial_section_at(r, SECTION_RECORDING, recording->line);
    const struct trial_entry *file = bl_trial_entry(section, "file");
    if (file != NULL && bl_trial_entry(section, "kind") == NULL &&
        !bl_trial_kind_told(recording)) {
        bl_trial_mistake(r, "missing-key", file->line,
                         "expected 'kind = capture' or 'kind = log' beside a "
                         "file whose name does not tell, found none");
    }
    for (size_t k = 0; section != NULL && k < t->recordings; k++) {
        const struct bl_trial_recording *other = &t->recording[k];
        if (k != index && other->run == recording->run &&
            strcmp(other->name, recording->name) == 0) {
            bl_trial_mistake(r, "repeated-section", recording->line,
                             "expected a recording's name once in a run, "
                             "found it on line %d too",
                             other->line);
        }
    }
}

void bl_trial_check_runs(struct reading *r)
{
    const struct bl_trial *t = r->trial;
    if (t->runs == 0) {
        bl_trial_remark(r, "no-run", 1, "no run is described");
    }
    for (size_t i = 0; i < t->runs; i++) {
        check_run(r, i);
    }
    for (size_t i = 0; i < t->recordings; i++) {
        check_recording(r, i);
    }
    check_files_once(r);
}

enum { NO_TARGET = -1, ENDS_HERE = -2 };

/* The recording that each one's clock is the same as. */
static void find_targets(const struct bl_trial *t, long *target)
{
    for (size_t i = 0; i < t->recordings; i++) {
        const struct bl_trial_recording *recording = &t->recording[i];
        target[i] = ENDS_HERE;
        if (recording->clock.kind != BL_CLOCK_SAME_AS) {
            continue;
        }
        target[i] = NO_TARGET;
        for (size_t k = 0; k < t->recordings && target[i] < 0; k++) {
            if (t->recording[k].run == recording->run &&
                strcmp(t->recording[k].name, recording->clock.same_as) == 0) {
                target[i] = (long)k;
            }
        }
    }
}

static void no_target(struct reading *r, size_t index)
{
    const struct bl_trial *t = r->trial;
    const struct bl_trial_clock *clock = &t->recording[index].clock;
    struct bl_nearest nearest = {.wanted =
                                     bl_trial_hintable(r, clock->same_as)};
    for (size_t i = 0; i < t->recordings; i++) {
        if (t->recording[i].run == t->recording[index].run) {
            bl_nearest_offer(&nearest, t->recording[i].name);
        }
    }
    char quote[QUOTE_MAX];
    char hint[HINT_MAX];
    bl_trial_mistake(r, "unknown-name", clock->line,
                     "expected a recording of the same run after 'same as', "
                     "found '%s'%s",
                     bl_trial_quote(clock->same_as, quote),
                     bl_trial_nearest_hint(&nearest, hint));
}

/* Follow `same as` from one recording; back at it after at most as many steps
   as there are recordings is a circle. Told at the line of each member. */
static bool in_circle(const long *target, size_t count, size_t start)
{
    long at = target[start];
    for (size_t steps = 0; steps < count && at >= 0; steps++) {
        if ((size_t)at == start) {
            return true;
        }
        at = target[at];
    }
    return false;
}

void bl_trial_check_clocks(struct reading *r)
{
    const struct bl_trial *t = r->trial;
    long *target = bl_alloc(t->recordings, sizeof(*target));
    if (target == NULL) {
        bl_trial_no_memory(r);
        return;
    }
    find_targets(t, target);
    for (size_t i = 0; i < t->recordings; i++) {
        if (target[i] == NO_TARGET) {
            no_target(r, i);
        } else if (in_circle(target, t->recordings, i)) {
            bl_trial_mistake(r, "clock-circle", t->recording[i].clock.line,
                             "expected 'same as' to end at a recording with a "
                             "clock, found a circle back to '%s'",
                             t->recording[i].name);
        }
    }
    bl_free(target);
}
