/* SPDX-License-Identifier: MIT */
/* Which recordings were made at once: one run of the draft each. */
#include "survey/draft.h"
#include "survey/internal.h"

#include <ctype.h>
#include <stdio.h>
#include <string.h>

#include "base/alloc.h"

/* The name of a file without its folder and what follows the first dot. */
static const char *stem(const char *path, size_t *length)
{
    const char *slash = strrchr(path, '/');
    const char *name = slash == NULL ? path : slash + 1;
    *length = strcspn(name, ".");
    return name;
}

/* One stem is the beginning of the other, and what follows is no letter or
   digit: P1 and P1-can0, not P1 and P10. */
static bool same_stem(const char *a, const char *b)
{
    size_t long_a;
    size_t long_b;
    const char *stem_a = stem(a, &long_a);
    const char *stem_b = stem(b, &long_b);
    const size_t least = long_a < long_b ? long_a : long_b;
    if (least == 0 || strncmp(stem_a, stem_b, least) != 0) {
        return false;
    }
    const char *longer = long_a > long_b ? stem_a : stem_b;
    return long_a == long_b || !isalnum((unsigned char)longer[least]);
}

/* By the clock of the world, at least half of the shorter one. */
static bool overlap(const struct bl_survey_file *a,
                    const struct bl_survey_file *b)
{
    if (!a->absolute_time || !b->absolute_time) {
        return false;
    }
    const int64_t from = a->first_ns > b->first_ns ? a->first_ns : b->first_ns;
    const int64_t to = a->last_ns < b->last_ns ? a->last_ns : b->last_ns;
    const double span_a = bl_survey_span_s(a->first_ns, a->last_ns);
    const double span_b = bl_survey_span_s(b->first_ns, b->last_ns);
    return bl_survey_span_s(from, to) >
           0.5 * (span_a < span_b ? span_a : span_b);
}

/* Frames and channels of one file are one run. Two logs of one name may be two
   runs, and so may two captures whose times lie apart; a log and a capture of
   one name are one run, since the clock of the one may be wrong. */
static bool one_run(const struct bl_survey_file *a,
                    const struct bl_survey_file *b)
{
    if (overlap(a, b) || strcmp(a->path, b->path) == 0) {
        return true;
    }
    if (a->kind == b->kind &&
        (a->kind == BL_SURVEY_LOG || (a->absolute_time && b->absolute_time))) {
        return false;
    }
    return same_stem(a->path, b->path);
}

static void join(size_t *run_of_file, size_t files, size_t a, size_t b)
{
    const size_t low = run_of_file[a] < run_of_file[b] ? a : b;
    const size_t high = low == a ? b : a;
    const size_t gone = run_of_file[high];
    for (size_t i = 0; i < files; i++) {
        if (run_of_file[i] == gone) {
            run_of_file[i] = run_of_file[low];
        }
    }
}

void bl_draft_name(const char *text, char name[BL_DRAFT_NAME])
{
    size_t used = 0;
    for (; *text != '\0' && used + 1 < BL_DRAFT_NAME; text++) {
        const unsigned char c = (unsigned char)*text;
        if (c < 0x80 && isalnum(c)) {
            name[used++] = (char)c;
        } else if (used > 0 && name[used - 1] != '_') {
            name[used++] = '_';
        }
    }
    while (used > 0 && name[used - 1] == '_') {
        used--;
    }
    name[used] = '\0';
}

static bool run_named(const struct bl_draft_runs *runs, const char *name)
{
    for (size_t i = 0; i < runs->runs; i++) {
        if (strcmp(runs->run[i].name, name) == 0) {
            return true;
        }
    }
    return false;
}

/* A single run is R1; several are called as their files. */
static void name_run(struct bl_draft_runs *runs, const char *path, bool single)
{
    char name[BL_DRAFT_NAME] = "";
    char text[BL_DRAFT_NAME];
    size_t length;
    const char *from = stem(path, &length);
    (void)snprintf(text, sizeof(text), "%.*s",
                   (int)(length < sizeof(text) ? length : sizeof(text) - 1),
                   from);
    bl_draft_name(text, name);
    if (single || name[0] == '\0' || run_named(runs, name)) {
        (void)snprintf(name, sizeof(name), "R%zu", runs->runs + 1);
    }
    memcpy(runs->run[runs->runs].name, name, sizeof(name));
}

/* Numbers of runs in the order of their first files. */
static void number_runs(const struct bl_survey *survey, bool by_file,
                        struct bl_draft_runs *runs)
{
    bool single = !by_file;
    for (size_t f = 1; f < survey->files; f++) {
        single = single && runs->run_of_file[f] == runs->run_of_file[0];
    }
    for (size_t f = 0; f < survey->files; f++) {
        size_t of_run = runs->run_of_file[f];
        if (of_run == f) {
            name_run(runs, survey->file[f].path, single);
            of_run = runs->runs++;
        } else {
            of_run = runs->run_of_file[of_run];
        }
        runs->run_of_file[f] = of_run;
        runs->run[of_run].captures += survey->file[f].kind == BL_SURVEY_BUS;
        runs->run[of_run].logs += survey->file[f].kind == BL_SURVEY_LOG;
    }
}

/* The only bus of a capture, without a name: several such captures of a run
   are called by their files. */
static void name_buses(const struct bl_survey *survey,
                       struct bl_draft_runs *runs)
{
    for (size_t f = 0; f < survey->files; f++) {
        const struct bl_survey_file *file = &survey->file[f];
        if (file->kind != BL_SURVEY_BUS || file->buses != 1 ||
            file->bus[0].name[0] != '\0' ||
            runs->run[runs->run_of_file[f]].captures < 2) {
            continue;
        }
        char text[BL_DRAFT_NAME];
        size_t length;
        const char *from = stem(file->path, &length);
        (void)snprintf(text, sizeof(text), "%.*s",
                       (int)(length < sizeof(text) ? length : sizeof(text) - 1),
                       from);
        bl_draft_name(text, runs->bus_name[f]);
        if (runs->bus_name[f][0] == '\0') {
            (void)snprintf(runs->bus_name[f], BL_DRAFT_NAME, "link_%zu", f + 1);
        }
    }
}

enum bl_status bl_draft_runs_find(const struct bl_survey *survey, bool by_file,
                                  struct bl_draft_runs *out)
{
    const size_t files = survey->files;
    size_t captures = 0;
    *out = (struct bl_draft_runs){
        .run_of_file = bl_alloc(files, sizeof(*out->run_of_file)),
        .run = bl_alloc(files, sizeof(*out->run)),
        .bus_name = bl_alloc(files, sizeof(*out->bus_name))};
    if (out->run_of_file == NULL || out->run == NULL || out->bus_name == NULL) {
        bl_draft_runs_finish(out);
        return BL_NOMEM;
    }
    for (size_t i = 0; i < files; i++) {
        out->run_of_file[i] = i;
        captures += survey->file[i].kind == BL_SURVEY_BUS;
    }
    for (size_t i = 0; i < files; i++) {
        for (size_t j = 0; j < i; j++) {
            const struct bl_survey_file *a = &survey->file[j];
            const struct bl_survey_file *b = &survey->file[i];
            if (one_run(a, b) || (files == 2 && captures == 1)) {
                join(out->run_of_file, files, j, i);
            }
        }
    }
    number_runs(survey, by_file, out);
    name_buses(survey, out);
    return BL_OK;
}

void bl_draft_runs_finish(struct bl_draft_runs *runs)
{
    bl_free(runs->run_of_file);
    bl_free(runs->run);
    bl_free(runs->bus_name);
}

const char *bl_draft_bus(const struct bl_survey *survey,
                         const struct bl_draft_runs *runs, size_t file,
                         size_t bus)
{
    const struct bl_survey_file *from = &survey->file[file];
    if (bus >= from->buses) {
        return "";
    }
    return from->bus[bus].name[0] != '\0' ? from->bus[bus].name
                                          : runs->bus_name[file];
}
