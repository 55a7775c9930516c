/* SPDX-License-Identifier: MIT */
/* A scenario's lists, look-ups and end. */
#include "simulate/scenario.h"

#include <stdlib.h>
#include <string.h>

#include "base/alloc.h"

static const struct bl_fault_info faults[] = {
#define X(id, code, usual, meaning) {code, usual, meaning},
    BL_FAULT_LIST(X)
#undef X
};
static const char *const sources[] = {
#define X(id, name, meaning) name,
    BL_SOURCE_LIST(X)
#undef X
};

bool bl_fault_at(size_t index, struct bl_fault_info *out)
{
    if (index >= FAULTS) {
        return false;
    }
    *out = faults[index];
    return true;
}

const char *bl_sim_source_name(enum sim_source source)
{
    return sources[source];
}

bool bl_sim_list_holds(const char *list, const char *name)
{
    if (strcmp(list, "*") == 0) {
        return true;
    }
    const size_t wanted = strlen(name);
    while (*list != '\0') {
        list += strspn(list, " \t,");
        const size_t length = strcspn(list, " \t,");
        if (length == wanted && strncmp(list, name, length) == 0) {
            return true;
        }
        list += length;
    }
    return false;
}

bool bl_sim_units_hold(const char *units, size_t unit)
{
    char number[16];
    if (strcmp(units, "all") == 0) {
        return true;
    }
    if (strcmp(units, "towed") == 0) {
        return unit > 0;
    }
    size_t at = sizeof(number) - 1;
    number[at] = '\0';
    do {
        number[--at] = (char)('0' + unit % 10);
        unit /= 10;
    } while (unit > 0 && at > 0);
    return bl_sim_list_holds(units, number + at);
}

const struct sim_fault *bl_sim_fault(const struct bl_scenario *scenario,
                                     size_t run, size_t unit,
                                     enum fault_code code)
{
    for (size_t i = 0; i < scenario->faults; i++) {
        const struct sim_fault *fault = &scenario->fault[i];
        if (fault->code == code && (size_t)fault->unit == unit &&
            bl_sim_list_holds(fault->runs, scenario->run[run].name)) {
            return fault;
        }
    }
    return NULL;
}

double bl_sim_amount(const struct bl_scenario *scenario, size_t run,
                     size_t unit, enum fault_code code, double without)
{
    const struct sim_fault *fault = bl_sim_fault(scenario, run, unit, code);
    return fault == NULL ? without : fault->amount;
}

static void message_finish(struct sim_message *m)
{
    for (size_t i = 0; i < m->sets; i++) {
        bl_free(m->set[i].name);
        bl_free(m->set[i].text);
    }
    bl_free(m->set);
    bl_free(m->name);
    bl_free(m->message_name);
    bl_free(m->units);
}

static void unit_finish(struct sim_unit *unit)
{
    bl_free(unit->name);
    bl_free(unit->bus);
    bl_free(unit->words.kind);
    bl_free(unit->words.load);
    bl_free(unit->words.mass);
    bl_free(unit->words.force);
    bl_free(unit->words.threshold);
    bl_free(unit->words.id);
    bl_free(unit->words.measured_at);
}

static void run_finish(struct sim_run *run)
{
    bl_free(run->name);
    bl_free(run->condition);
    bl_free(run->block);
    bl_free(run->applications);
    bl_free(run->clock);
    bl_free(run->profile);
}

void bl_scenario_destroy(struct bl_scenario *s)
{
    if (s == NULL) {
        return;
    }
    for (size_t i = 0; i < s->units; i++) {
        unit_finish(&s->unit[i]);
    }
    bl_free(s->date);
    bl_free(s->place);
    for (size_t i = 0; i < s->profiles; i++) {
        bl_free(s->profile[i].name);
    }
    for (size_t i = 0; i < s->messages; i++) {
        message_finish(&s->message[i]);
    }
    message_finish(&s->demand);
    for (size_t i = 0; i < s->runs; i++) {
        run_finish(&s->run[i]);
    }
    for (size_t i = 0; i < s->faults; i++) {
        bl_free(s->fault[i].code_name);
        bl_free(s->fault[i].runs);
    }
    bl_free(s->unit);
    bl_free(s->profile);
    bl_free(s->message);
    bl_free(s->run);
    bl_free(s->fault);
    bl_free(s->source);
    bl_free(s->name);
    bl_free(s->table_words);
    bl_free(s->levels_text);
    bl_free(s->speeds_text);
    bl_free(s->log_unit);
    bl_free(s->level_kpa);
    bl_tables_destroy(s->tables);
    bl_free(s);
}

void bl_scenario_set_seed(struct bl_scenario *scenario, uint64_t seed)
{
    scenario->seed = seed;
}

const char *bl_sim_capture_ending(const struct bl_scenario *scenario)
{
    static const char *const endings[] = {"pcapng", "pcap", "txt"};
    return endings[scenario->capture_format];
}
