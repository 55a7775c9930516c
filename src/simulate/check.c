/* SPDX-License-Identifier: MIT */
/* Checks a scenario against itself and resolves names into indices. */
#include "simulate/read.h"
#include "simulate/scenario.h"
#include "trial/identity.h"

#include <math.h>
#include <string.h>

#include "base/alloc.h"
#include "base/limits.h"
#include "base/number.h"

static struct sim_profile *profile_named(struct bl_scenario *s,
                                         const char *name, size_t length)
{
    for (size_t i = 0; i < s->profiles; i++) {
        if (strlen(s->profile[i].name) == length &&
            strncmp(s->profile[i].name, name, length) == 0) {
            return &s->profile[i];
        }
    }
    return NULL;
}

/* One part of "6 x full, light": how many, and of which profile. */
static bool add_applications(struct sim_reading *r, struct sim_run *run,
                             const char *part, size_t length)
{
    double many = 1;
    size_t used;
    if (bl_number_scan(part, length, '.', &many, &used)) {
        const char *rest = part + used;
        rest += strspn(rest, " \t");
        if (*rest != 'x' || many < 1 || many > 1000 || floor(many) != many) {
            return false;
        }
        rest++;
        rest += strspn(rest, " \t");
        length -= (size_t)(rest - part);
        part = rest;
    }
    while (length > 0 && strchr(" \t", part[length - 1]) != NULL) {
        length--;
    }
    struct bl_scenario *s = r->scenario;
    const struct sim_profile *profile = profile_named(s, part, length);
    if (profile == NULL ||
        run->profiles + (size_t)many > BL_LIMIT_TRIAL_ITEMS) {
        return false;
    }
    size_t *grown = bl_realloc(run->profile, run->profiles + (size_t)many,
                               sizeof(*run->profile));
    if (grown == NULL) {
        bl_sim_no_memory(r);
        return true;
    }
    run->profile = grown;
    for (int i = 0; i < (int)many; i++) {
        run->profile[run->profiles++] = (size_t)(profile - s->profile);
    }
    return true;
}

/* A run's name becomes file names: letters, digits, '-' and '_' only, and no
   other run's. */
static void check_run_name(struct sim_reading *r, const struct sim_run *run)
{
    static const char allowed[] = "abcdefghijklmnopqrstuvwxyz"
                                  "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_";
    if (run->name[strspn(run->name, allowed)] != '\0') {
        bl_sim_mistake(r, run->line,
                       "expected letters, digits, '-' and '_' in a run's "
                       "name, found '%.40s'",
                       run->name);
    }
    for (const struct sim_run *other = r->scenario->run; other < run; other++) {
        if (strcmp(other->name, run->name) == 0) {
            bl_sim_mistake(r, run->line,
                           "[run %.40s] is given again, first in line %d",
                           run->name, other->line);
        }
    }
}

static void check_run(struct sim_reading *r, struct sim_run *run)
{
    const char *at = run->applications;
    check_run_name(r, run);
    if (at == NULL) {
        return; /* reported already */
    }
    while (*at != '\0') {
        at += strspn(at, " \t");
        const size_t length = strcspn(at, ",");
        if (!add_applications(r, run, at, length)) {
            bl_sim_mistake(r, run->line,
                           "applications: expected 'N x NAME' of an "
                           "[application NAME], found '%.40s'",
                           at);
            return;
        }
        at += length + (at[length] == ',');
    }
    static const char *const clocks[] = {"offset", "auto", "own", "shared"};
    bool known = false;
    for (size_t i = 0; i < 4; i++) {
        known = known || strcmp(run->clock, clocks[i]) == 0;
    }
    /* What it names is the trial file's business. */
    if (!known && strncmp(run->clock, "sync ", 5) != 0) {
        bl_sim_mistake(r, run->line,
                       "clock: expected offset, auto, own, shared or sync "
                       "CHANNEL SIGNAL, found '%.40s'",
                       run->clock);
    }
}

static void check_fault(struct sim_reading *r, struct sim_fault *fault)
{
    struct bl_fault_info info;
    if (fault->code_name == NULL) {
        return;
    }
    for (size_t i = 0; bl_fault_at(i, &info); i++) {
        if (strcmp(info.code, fault->code_name) == 0) {
            fault->code = (enum fault_code)i;
            fault->amount = isnan(fault->amount) ? info.usual : fault->amount;
            break;
        }
        if (i + 1 == FAULTS) {
            bl_sim_mistake(r, fault->line, "code: unknown fault '%.40s'",
                           fault->code_name);
        }
    }
    if ((size_t)fault->unit >= r->scenario->units ||
        (fault->other >= 0 && (size_t)fault->other >= r->scenario->units)) {
        bl_sim_mistake(r, fault->line, "there is no unit %ld",
                       (size_t)fault->unit >= r->scenario->units
                           ? fault->unit
                           : fault->other);
    }
    if ((fault->code == FAULT_CHANNELS_SWAPPED ||
         fault->code == FAULT_WRONG_ORDER) &&
        fault->other < 0) {
        bl_sim_mistake(r, fault->line, "%s needs a key 'other'",
                       fault->code_name);
    }
}

static const struct bl_signal *signal_named(const struct bl_message *message,
                                            const char *name)
{
    for (size_t i = 0; i < message->signals; i++) {
        if (strcmp(message->signal[i].name, name) == 0) {
            return &message->signal[i];
        }
    }
    return NULL;
}

static void check_set(struct sim_reading *r, struct sim_message *m,
                      struct sim_set *set)
{
    set->signal = signal_named(m->message, set->name);
    if (set->signal == NULL) {
        bl_sim_mistake(r, set->line, "message %s has no signal '%.40s'",
                       m->message_name, set->name);
        return;
    }
    for (int i = SOURCE_NUMBER + 1; i < SOURCES; i++) {
        if (strcmp(set->text, bl_sim_source_name((enum sim_source)i)) == 0) {
            set->source = (enum sim_source)i;
            return;
        }
    }
    set->source = SOURCE_NUMBER;
    if (!bl_number_parse(set->text, strlen(set->text), &set->number)) {
        bl_sim_mistake(r, set->line,
                       "expected a number or a source such as 'demand', "
                       "found '%.40s'",
                       set->text);
    }
}

static void check_message(struct sim_reading *r, struct sim_message *m)
{
    struct bl_scenario *s = r->scenario;
    if (m->message_name == NULL) {
        return;
    }
    m->message = bl_tables_message_named(s->tables, m->message_name);
    if (m->message == NULL) {
        bl_sim_mistake(r, m->line, "no table has a message '%.40s'",
                       m->message_name);
        return;
    }
    for (size_t i = 0; i < m->sets; i++) {
        check_set(r, m, &m->set[i]);
    }
}

/* The demand goes into the signal of that role without being told. */
static void check_demand(struct sim_reading *r)
{
    struct sim_message *m = &r->scenario->demand;
    check_message(r, m);
    if (m->message == NULL) {
        return;
    }
    m->place = PLACE_REAR;
    for (size_t i = 0; i < m->message->signals; i++) {
        if (m->message->signal[i].role == BL_ROLE_SERVICE_DEMAND) {
            return;
        }
    }
    bl_sim_mistake(r, m->line, "message %s has no signal of role %s",
                   m->message_name, bl_role_name(BL_ROLE_SERVICE_DEMAND));
}

/* One table by its name; what is wrong in it is one mistake here. */
static void load_table(struct sim_reading *r, const char *word, size_t length,
                       const char *folder)
{
    struct bl_error error;
    char *name = bl_strndup(word, length);
    if (name == NULL) {
        bl_sim_no_memory(r);
        return;
    }
    const enum bl_status status =
        bl_tables_add_named(r->scenario->tables, name, folder, NULL, &error);
    bl_free(name);
    if (status == BL_NOMEM) {
        bl_sim_no_memory(r);
    } else if (status != BL_OK) {
        bl_sim_mistake(r, bl_sim_line_of(r, "tables"), "tables: %.80s%s%.200s",
                       error.source, error.source[0] == '\0' ? "" : ": ",
                       error.message);
    }
}

static void load_tables(struct sim_reading *r, const char *folder)
{
    const enum bl_status status =
        bl_tables_create(&r->scenario->tables, r->error);
    if (status != BL_OK) {
        r->status = status;
        return;
    }
    const char *at = r->scenario->table_words;
    for (;;) {
        at += strspn(at, ", \t");
        const size_t length = strcspn(at, ", \t");
        if (length == 0) {
            return;
        }
        load_table(r, at, length, folder);
        at += length;
    }
}

static void read_levels(struct sim_reading *r)
{
    struct bl_scenario *s = r->scenario;
    const char *at = s->levels_text;
    while (*at != '\0') {
        double value;
        size_t used;
        at += strspn(at, " \t,");
        if (*at == '\0') {
            return;
        }
        if (s->levels >= 64 ||
            !bl_number_scan(at, strlen(at), '.', &value, &used)) {
            bl_sim_mistake(r, 0, "levels: expected '65 kPa, ...', found '%s'",
                           at);
            return;
        }
        at += used + strspn(at + used, " \t");
        const size_t length = strcspn(at, " \t,");
        if (length != 3 || strncmp(at, "kPa", 3) != 0) {
            bl_sim_mistake(r, 0, "levels: expected kPa, found '%.20s'", at);
            return;
        }
        at += length;
        s->level_kpa[s->levels++] = value;
    }
}

/* What only the trial file takes, which refuses what is not so. */
static void check_words(struct sim_reading *r, const struct sim_unit *unit)
{
    static const char allowed[] = "abcdefghijklmnopqrstuvwxyz"
                                  "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_";
    const char *label = unit->words.measured_at;
    if (strlen(label) > BL_SIM_LABEL_MAX ||
        label[strspn(label, allowed)] != '\0') {
        bl_sim_mistake(r, unit->line,
                       "measured_at: expected up to %d letters, digits, '-' "
                       "and '_' such as 'rear', found '%.40s'",
                       BL_SIM_LABEL_MAX, label);
    }
    if (strlen(unit->words.id) > BL_TRIAL_ID_MAX) {
        bl_sim_mistake(r, unit->line, "id: expected up to %d bytes",
                       BL_TRIAL_ID_MAX);
    }
}

static void check_unit(struct sim_reading *r, struct sim_unit *unit, size_t k)
{
    struct bl_scenario *s = r->scenario;
    unit->relay.gain = unit->gain;
    unit->relay.most_kpa = s->supply_kpa;
    unit->rear.gain = 1;
    unit->rear.most_kpa = s->supply_kpa;
    unit->chamber.exponent = SIM_EXPONENT;
    if (unit->relay.differential_kpa > unit->relay.crack_kpa) {
        unit->relay.differential_kpa = unit->relay.crack_kpa;
    }
    if (unit->rear.differential_kpa > unit->rear.crack_kpa) {
        unit->rear.differential_kpa = unit->rear.crack_kpa;
    }
    if (unit->chamber.stroked_kpa <= unit->chamber.push_out_kpa) {
        bl_sim_mistake(r, unit->line, "stroked: expected above push_out");
    }
    if (s->demand.message != NULL && unit->address < 0) {
        bl_sim_mistake(r, unit->line, "unit %zu needs an address", k);
    }
    if (k > 0 && s->demand.message != NULL && unit->bus[0] == '\0') {
        bl_sim_mistake(r, unit->line, "unit %zu needs a bus", k);
    }
    if (strlen(unit->bus) >= BL_BUS_NAME_MAX) {
        bl_sim_mistake(r, unit->line, "bus: the name is too long");
    }
    check_words(r, unit);
}

static void check_written(struct sim_reading *r)
{
    struct bl_scenario *s = r->scenario;
    const struct bl_measurement_unit *unit =
        bl_measurement_unit_find(s->log_unit);
    if (unit == NULL || unit->quantity != BL_QUANTITY_PRESSURE) {
        bl_sim_mistake(r, 0,
                       "written_in: expected a unit of pressure, found "
                       "'%.20s'",
                       s->log_unit);
    }
    if (s->date[0] != '\0' && !bl_trial_is_date(s->date)) {
        bl_sim_mistake(r, bl_sim_line_of(r, "date"),
                       "date: expected a day of the calendar such as "
                       "'2026-05-04', found '%.40s'",
                       s->date);
    }
    if (s->units < 2) {
        bl_sim_mistake(r, 0, "expected [unit 0] and at least [unit 1]");
    }
    if (s->runs == 0) {
        bl_sim_mistake(r, 0, "expected at least one [run NAME]");
    }
    const int line = bl_sim_line_of(r, "command");
    if (s->command == COMMAND_PEDAL_SWITCH && !s->has_pedal) {
        bl_sim_mistake(r, line,
                       "command = pedal-switch needs pedal_switch = yes");
    }
    if (s->command == COMMAND_DEMAND && s->demand.message == NULL) {
        bl_sim_mistake(r, line, "command = demand needs a section [demand]");
    }
    if (s->command == COMMAND_TREADLE && !s->has_treadle) {
        bl_sim_mistake(r, line, "command = treadle needs treadle = yes");
    }
}

/* Classic pcap has no names for buses: what came from which link would be
   lost. */
static void check_format(struct sim_reading *r)
{
    const struct bl_scenario *s = r->scenario;
    const char *bus = NULL;
    if (s->capture_format != FORMAT_PCAP ||
        (s->demand.message_name == NULL && s->messages == 0)) {
        return;
    }
    for (size_t u = 0; u < s->units; u++) {
        const char *other = s->unit[u].bus;
        if (other == NULL || (u == 0 && other[0] == '\0')) {
            continue;
        }
        if (bus != NULL && strcmp(bus, other) != 0) {
            bl_sim_mistake(r, bl_sim_line_of(r, "capture_format"),
                           "capture_format: pcap holds one bus, the units are "
                           "on '%.30s' and '%.30s'; pcapng and textlog hold "
                           "several",
                           bus, other);
            return;
        }
        bus = other;
    }
}

void bl_sim_check(struct sim_reading *r, const char *folder)
{
    struct bl_scenario *s = r->scenario;
    s->seed = (uint64_t)s->seed_number;
    s->level_kpa = bl_alloc(64, sizeof(*s->level_kpa));
    if (s->level_kpa == NULL) {
        bl_sim_no_memory(r);
        return;
    }
    read_levels(r);
    const enum bl_status before = r->status;
    load_tables(r, folder);
    if (r->status != BL_OK && r->status != BL_TRIAL) {
        return;
    }
    if (r->status == before) { /* else no message would be known */
        check_demand(r);
        for (size_t i = 0; i < s->messages; i++) {
            check_message(r, &s->message[i]);
        }
    }
    for (size_t i = 0; i < s->units; i++) {
        check_unit(r, &s->unit[i], i);
    }
    for (size_t i = 0; i < s->runs; i++) {
        check_run(r, &s->run[i]);
    }
    for (size_t i = 0; i < s->faults; i++) {
        check_fault(r, &s->fault[i]);
    }
    check_format(r);
    check_written(r);
}
