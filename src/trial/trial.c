/* SPDX-License-Identifier: MIT */
/* Reading a trial file from end to end, and its defaults. */
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
