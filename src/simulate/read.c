/* SPDX-License-Identifier: MIT */
/*
 * Reads a scenario file. A section makes an object with every default in place;
 * an entry sets one field. Mistakes are collected, the rest is read on.
 */
#include "simulate/read.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "base/number.h"
#include "io/ini.h"

static bool stopped(const struct sim_reading *r)
{
    return r->status != BL_OK && r->status != BL_TRIAL;
}

/* Defaults, and "" for texts without one; numbers without one become NaN. */
static void set_defaults(struct sim_reading *r)
{
    const struct sim_key *key;
    for (size_t i = 0; (key = bl_sim_key_at(i)) != NULL; i++) {
        char expected[128];
        bool memory;
        if (key->section != r->section || key->usual == NULL) {
            continue;
        }
        if (key->kind == KEY_NUMBER && key->usual[0] == '\0') {
            const double none = (double)NAN;
            memcpy((char *)r->object + key->offset, &none, sizeof(none));
        } else if (!bl_sim_key_set(key, r->object, key->usual, expected,
                                   &memory) &&
                   memory) {
            bl_sim_no_memory(r);
        }
    }
}

struct slot {
    void *array; /* address of the pointer */
    size_t *count, *capacity, size;
};

static struct slot slot_of(struct bl_scenario *s, enum sim_section section)
{
    switch (section) {
    case SIM_UNIT:
        return (struct slot){&s->unit, &s->units, &s->unit_capacity,
                             sizeof(*s->unit)};
    case SIM_APPLICATION:
        return (struct slot){&s->profile, &s->profiles, &s->profile_capacity,
                             sizeof(*s->profile)};
    case SIM_MESSAGE:
        return (struct slot){&s->message, &s->messages, &s->message_capacity,
                             sizeof(*s->message)};
    case SIM_RUN:
        return (struct slot){&s->run, &s->runs, &s->run_capacity,
                             sizeof(*s->run)};
    case SIM_FAULT:
        return (struct slot){&s->fault, &s->faults, &s->fault_capacity,
                             sizeof(*s->fault)};
    case SIM_SCENARIO:
    case SIM_SENSORS:
    case SIM_CLOCKS:
    case SIM_DEMAND:
    case SIM_SECTIONS:
        break;
    }
    return (struct slot){NULL, NULL, NULL, 0};
}

static void *new_object(struct sim_reading *r, int line)
{
    const struct slot slot = slot_of(r->scenario, r->section);
    if (slot.array == NULL) {
        return r->section == SIM_DEMAND ? (void *)&r->scenario->demand
                                        : (void *)r->scenario;
    }
    if (*slot.count >= BL_LIMIT_TRIAL_ITEMS) {
        bl_sim_mistake(r, line, "more than %u sections of one kind",
                       BL_LIMIT_TRIAL_ITEMS);
        return NULL;
    }
    if (!bl_grow(slot.array, slot.capacity, *slot.count + 1, slot.size,
                 BL_LIMIT_TRIAL_ITEMS)) {
        bl_sim_no_memory(r);
        return NULL;
    }
    char *base;
    memcpy(&base, slot.array, sizeof(base));
    void *object = base + *slot.count * slot.size;
    memset(object, 0, slot.size);
    (*slot.count)++;
    return object;
}

/* Units are numbered in order; all others keep their name. */
static void keep_name(struct sim_reading *r, const char *name, int line)
{
    struct bl_scenario *s = r->scenario;
    char **field = NULL;
    int *at = NULL;
    int64_t number;
    switch (r->section) {
    case SIM_UNIT:
        s->unit[s->units - 1].line = line;
        if (!bl_integer_parse(name, strlen(name), &number) ||
            number != (int64_t)s->units - 1) {
            bl_sim_mistake(r, line, "expected [unit %zu] next, found '%s'",
                           s->units - 1, name);
        }
        return;
    case SIM_APPLICATION:
        field = &s->profile[s->profiles - 1].name;
        at = &s->profile[s->profiles - 1].line;
        break;
    case SIM_MESSAGE:
        field = &s->message[s->messages - 1].name;
        at = &s->message[s->messages - 1].line;
        break;
    case SIM_RUN:
        field = &s->run[s->runs - 1].name;
        at = &s->run[s->runs - 1].line;
        break;
    case SIM_FAULT:
        s->fault[s->faults - 1].line = line;
        return;
    case SIM_DEMAND:
        s->demand.line = line;
        return;
    case SIM_SCENARIO:
    case SIM_SENSORS:
    case SIM_CLOCKS:
    case SIM_SECTIONS:
        return;
    }
    *at = line;
    *field = bl_strdup(name);
    if (*field == NULL) {
        bl_sim_no_memory(r);
    }
}

/* What the section before had to give. */
static void finish_section(struct sim_reading *r)
{
    const struct sim_key *key;
    for (size_t i = 0; r->in_section && (key = bl_sim_key_at(i)) != NULL; i++) {
        if (key->section == r->section && key->usual == NULL && !r->seen[i]) {
            bl_sim_mistake(r, r->section_line, "expected a key '%s' in [%s]",
                           key->key, bl_sim_section_word(r->section));
        }
    }
    memset(r->seen, 0, sizeof(r->seen));
    r->in_section = false;
}

static void begin_section(struct sim_reading *r, const char *heading, int line)
{
    finish_section(r);
    const size_t word = strcspn(heading, " \t");
    const char *name = heading + word;
    name += strspn(name, " \t");
    for (int i = 0; i < SIM_SECTIONS; i++) {
        const char *known = bl_sim_section_word((enum sim_section)i);
        if (strlen(known) != word || strncmp(known, heading, word) != 0) {
            continue;
        }
        if (bl_sim_section_named((enum sim_section)i) != (name[0] != '\0')) {
            bl_sim_mistake(r, line, "expected [%s%s], found [%s]", known,
                           name[0] == '\0' ? " NAME" : "", heading);
            return;
        }
        r->section = (enum sim_section)i;
        r->section_line = line;
        r->object = new_object(r, line);
        r->in_section = r->object != NULL;
        if (r->in_section) {
            keep_name(r, name, line);
            if (slot_of(r->scenario, r->section).array != NULL) {
                set_defaults(r);
            }
        }
        return;
    }
    bl_sim_mistake(r, line, "expected a known section, found [%s]", heading);
}

/* set.SIGNAL = source, in [demand] and [message ...]. */
static void add_set(struct sim_reading *r, const char *signal,
                    const char *value, int line)
{
    struct sim_message *m = r->object;
    if (m->sets >= BL_LIMIT_TRIAL_ITEMS ||
        !bl_grow(&m->set, &m->set_capacity, m->sets + 1, sizeof(*m->set),
                 BL_LIMIT_TRIAL_ITEMS)) {
        bl_sim_no_memory(r);
        return;
    }
    struct sim_set *set = &m->set[m->sets++];
    *set = (struct sim_set){.line = line};
    set->name = bl_strdup(signal);
    set->text = bl_strdup(value);
    if (set->name == NULL || set->text == NULL) {
        bl_sim_no_memory(r);
    }
}

static void entry(struct sim_reading *r, const char *name, const char *value,
                  int line)
{
    if ((r->section == SIM_DEMAND || r->section == SIM_MESSAGE) &&
        strncmp(name, "set.", 4) == 0) {
        add_set(r, name + 4, value, line);
        return;
    }
    const struct sim_key *key = bl_sim_key_find(r->section, name);
    if (key == NULL) {
        bl_sim_mistake(r, line, "expected a key of [%s], found '%s'",
                       bl_sim_section_word(r->section), name);
        return;
    }
    r->seen[key - bl_sim_key_at(0)] = true;
    r->given[key - bl_sim_key_at(0)] = line;
    char expected[128];
    bool memory;
    if (!bl_sim_key_set(key, r->object, value, expected, &memory)) {
        if (memory) {
            bl_sim_no_memory(r);
        } else {
            bl_sim_mistake(r, line, "%s: expected %s, found '%.60s'", name,
                           expected, value);
        }
    }
}

static bool take_section(void *user, const char *heading, int line)
{
    begin_section(user, heading, line);
    return !stopped(user);
}

static bool take_entry(void *user, const char *key, const char *value, int line)
{
    struct sim_reading *r = user;
    if (r->in_section) {
        entry(r, key, value, line);
    }
    return !stopped(r);
}

static bool take_mistake(void *user, const char *code, int line,
                         const char *text)
{
    (void)code;
    bl_sim_mistake(user, line, "%s", text);
    return !stopped(user);
}

static void read_sections(struct sim_reading *r, struct bl_bytes *source)
{
    static const struct bl_ini_events events = {.section = take_section,
                                                .entry = take_entry,
                                                .mistake = take_mistake,
                                                .what = "scenario file",
                                                .first = "[scenario]",
                                                .example = "[unit 0]"};
    struct bl_error error;
    const enum bl_status status = bl_ini_read(source, &events, r, &error);
    if (status != BL_OK && !stopped(r)) {
        r->status = status;
        if (r->error != NULL) {
            *r->error = error;
        }
        return;
    }
    finish_section(r);
}

/* Defaults of the sections that are one object each. */
static void whole_defaults(struct sim_reading *r)
{
    static const enum sim_section whole[] = {SIM_SCENARIO, SIM_SENSORS,
                                             SIM_CLOCKS, SIM_DEMAND};
    for (size_t i = 0; i < sizeof(whole) / sizeof(whole[0]); i++) {
        r->section = whole[i];
        r->object = new_object(r, 0);
        set_defaults(r);
    }
    r->scenario->demand.address = -1;
}

/* The folder of a path, "." where it has none; NULL: out of memory. */
static char *folder_of(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash == NULL   ? bl_strdup(".")
           : slash == path ? bl_strdup("/")
                           : bl_strndup(path, (size_t)(slash - path));
}

enum bl_status bl_scenario_read(struct bl_scenario **out,
                                struct bl_bytes *source, const char *folder,
                                struct bl_notes *mistakes,
                                struct bl_error *error)
{
    struct sim_reading r = {.mistakes = mistakes, .error = error};
    r.scenario = bl_alloc(1, sizeof(*r.scenario));
    if (r.scenario == NULL) {
        return bl_fail_memory(error);
    }
    r.scenario->source = bl_strdup(bl_bytes_name(source));
    if (r.scenario->source == NULL) {
        bl_sim_no_memory(&r);
    } else {
        whole_defaults(&r);
        read_sections(&r, source);
    }
    char *own = folder == NULL ? folder_of(bl_bytes_name(source)) : NULL;
    if (folder == NULL && own == NULL) {
        bl_sim_no_memory(&r);
    }
    if (!stopped(&r)) {
        bl_sim_check(&r, folder == NULL ? own : folder);
    }
    bl_free(own);
    if (r.status != BL_OK) {
        bl_scenario_destroy(r.scenario);
        return r.status;
    }
    *out = r.scenario;
    return BL_OK;
}

enum bl_status bl_scenario_read_file(struct bl_scenario **out, const char *path,
                                     struct bl_notes *mistakes,
                                     struct bl_error *error)
{
    struct bl_bytes *source;
    enum bl_status status = bl_bytes_open(&source, path, error);
    if (status != BL_OK) {
        return status;
    }
    status = bl_scenario_read(out, source, NULL, mistakes, error);
    bl_bytes_close(source);
    return status;
}
