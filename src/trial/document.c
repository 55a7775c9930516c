/* SPDX-License-Identifier: MIT */
/* Lines of a trial file to sections and entries, which are kept whole. */
#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "io/ini.h"
#include "trial/reading.h"

#include <string.h>

/* Entries go to the section opened last; over the limit there is none. */
static bool begin_section(void *user, const char *heading, int line)
{
    struct reading *r = user;
    r->passing = r->sections >= BL_LIMIT_TRIAL_ITEMS;
    if (r->passing) {
        bl_trial_mistake(r, "limit", line,
                         "expected at most %u sections, found one more",
                         BL_LIMIT_TRIAL_ITEMS);
        return r->status == BL_OK;
    }
    char *copy = bl_strdup(heading);
    if (copy == NULL ||
        !bl_grow(&r->section, &r->section_capacity, r->sections + 1,
                 sizeof(*r->section), BL_LIMIT_TRIAL_ITEMS)) {
        bl_free(copy);
        bl_trial_no_memory(r);
        return false;
    }
    r->section[r->sections++] = (struct trial_section){
        .heading = copy, .kind = SECTION_UNKNOWN, .name = "", .line = line};
    return true;
}

static bool add_entry(void *user, const char *key, const char *value, int line)
{
    struct reading *r = user;
    if (r->passing) {
        return true;
    }
    struct trial_section *section = &r->section[r->sections - 1];
    struct trial_entry entry = {
        .key = bl_strdup(key), .value = bl_strdup(value), .line = line};
    if (entry.key == NULL || entry.value == NULL ||
        !bl_grow(&section->entry, &section->capacity, section->entries + 1,
                 sizeof(*section->entry), BL_LIMIT_TRIAL_ITEMS)) {
        bl_free(entry.key);
        bl_free(entry.value);
        bl_trial_no_memory(r);
        return false;
    }
    section->entry[section->entries++] = entry;
    return true;
}

static bool take_mistake(void *user, const char *code, int line,
                         const char *text)
{
    struct reading *r = user;
    const bool binary = strcmp(code, "binary") == 0;
    r->binary = r->binary || binary;
    bl_trial_mistake(r, binary ? "not-text" : code, line, "%s", text);
    return r->status == BL_OK;
}

void bl_trial_read_document(struct reading *r, struct bl_bytes *source)
{
    static const struct bl_ini_events events = {.section = begin_section,
                                                .entry = add_entry,
                                                .mistake = take_mistake,
                                                .what = "trial file",
                                                .first = "[trial]",
                                                .example = "[unit 0]"};
    const enum bl_status status = bl_ini_read(source, &events, r, r->error);
    r->status = r->status == BL_OK ? status : r->status;
}

void bl_trial_free_document(struct reading *r)
{
    for (size_t i = 0; i < r->sections; i++) {
        struct trial_section *section = &r->section[i];
        for (size_t k = 0; k < section->entries; k++) {
            bl_free(section->entry[k].key);
            bl_free(section->entry[k].value);
        }
        bl_free(section->entry);
        bl_free(section->heading);
    }
    bl_free(r->section);
    r->section = NULL;
    r->sections = 0;
}
