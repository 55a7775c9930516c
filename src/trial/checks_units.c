/* SPDX-License-Identifier: MIT */
/*
 * Units against each other: numbers without a gap, one command in front, no
 * address and no id twice, and inputs that measure what their key says.
 */
#include "base/alloc.h"
#include "base/limits.h"
#include "trial/reading.h"

#include <string.h>

static const struct trial_section *section_of(const struct reading *r,
                                              const struct bl_trial_unit *unit)
{
    return bl_trial_section_at(r, SECTION_UNIT, unit->line);
}

static void check_numbers(struct reading *r)
{
    const struct bl_trial *t = r->trial;
    int expected = 0;
    if (t->units == 0) {
        bl_trial_mistake(r, "missing-section", 1,
                         "expected a section [unit 0], found none");
    }
    for (size_t i = 0; i < t->units; i++) {
        const struct bl_trial_unit *unit = &t->unit[i];
        char found[16];
        char wanted[16];
        if (i == 0 || t->unit[i - 1].combination != unit->combination) {
            expected = 0;
        }
        if (unit->number != expected) {
            struct bl_trial_unit missing = *unit;
            missing.number = expected;
            bl_trial_mistake(
                r, "missing-section", unit->line,
                "expected [unit %s] too, since units count from 0 at the "
                "front to the rear, found [unit %s] without it",
                bl_trial_unit_label(&missing, wanted, sizeof(wanted)),
                bl_trial_unit_label(unit, found, sizeof(found)));
        }
        expected = unit->number + 1;
    }
}

/* On links of their own the same pair of addresses may serve on each. */
static bool own_links(const struct bl_trial_unit *a,
                      const struct bl_trial_unit *b)
{
    return a->number > 0 && b->number > 0 && a->bus != NULL && b->bus != NULL &&
           strcmp(a->bus, b->bus) != 0;
}

static void check_addresses(struct reading *r)
{
    const struct bl_trial *t = r->trial;
    for (size_t i = 0; i < t->units; i++) {
        const struct bl_trial_unit *unit = &t->unit[i];
        for (size_t k = 0; k < i && unit->address >= 0; k++) {
            const struct bl_trial_unit *other = &t->unit[k];
            if (other->combination == unit->combination &&
                other->address == unit->address && !own_links(unit, other)) {
                const struct trial_entry *entry =
                    bl_trial_entry(section_of(r, unit), "address");
                bl_trial_mistake(r, "same-address", entry->line,
                                 "expected an address of its own, found 0x%X "
                                 "of the unit on line %d",
                                 (unsigned)unit->address, other->line);
            }
        }
    }
}

static void check_ids(struct reading *r)
{
    const struct bl_trial *t = r->trial;
    for (size_t i = 0; i < t->units; i++) {
        const struct bl_trial_unit *unit = &t->unit[i];
        for (size_t k = 0; k < i && unit->id != NULL; k++) {
            const struct bl_trial_unit *other = &t->unit[k];
            if (other->id != NULL && strcmp(other->id, unit->id) == 0) {
                const struct trial_entry *entry = bl_trial_entry(
                    bl_trial_section_at(r, SECTION_UNIT, unit->line), "id");
                char quote[QUOTE_MAX];
                bl_trial_mistake(r, "same-id", entry->line,
                                 "expected an id of its own, found '%s' of the "
                                 "unit on line %d",
                                 bl_trial_quote(unit->id, quote), other->line);
                break;
            }
        }
    }
}

/* Each name is a column of every CSV: their number is bounded. */
static void check_labels(struct reading *r)
{
    const char *name[BL_LIMIT_TRIAL_LABELS];
    size_t names = 0;
    for (size_t i = 0; i < r->trial->units; i++) {
        const struct bl_trial_unit *unit = &r->trial->unit[i];
        for (size_t k = 0; k < unit->labels; k++) {
            size_t at = 0;
            while (at < names && strcmp(name[at], unit->label[k].key) != 0) {
                at++;
            }
            if (at == BL_LIMIT_TRIAL_LABELS) {
                bl_trial_mistake(r, "limit", unit->label[k].line,
                                 "expected at most %u names of labels, found "
                                 "one more",
                                 BL_LIMIT_TRIAL_LABELS);
                return;
            }
            name[at] = unit->label[k].key;
            names = at == names ? names + 1 : names;
        }
    }
}

/* What an input measures; NONE where a table gives no unit. */
static enum bl_quantity measured(const struct reading *r,
                                 const struct bl_trial_input *input)
{
    if (input->kind == BL_INPUT_CHANNEL) {
        return r->trial->channel[input->channel].quantity;
    }
    if (input->kind == BL_INPUT_SIGNAL) {
        const struct bl_signal *signal = input->signal.signal;
        if (signal->kind == BL_SIGNAL_STATE) {
            return BL_QUANTITY_SWITCH;
        }
        const struct bl_measurement_unit *unit =
            bl_measurement_unit_find(signal->unit);
        return unit == NULL ? BL_QUANTITY_NONE : unit->quantity;
    }
    return BL_QUANTITY_NONE;
}

static void check_input(struct reading *r, const struct bl_trial_input *input,
                        const char *key, enum bl_quantity quantity,
                        bool or_switch)
{
    const enum bl_quantity found = measured(r, input);
    if (found == BL_QUANTITY_NONE || found == quantity ||
        (or_switch && found == BL_QUANTITY_SWITCH)) {
        return;
    }
    char quote[QUOTE_MAX];
    bl_trial_mistake(
        r, "wrong-quantity", input->line,
        "expected for '%s' what measures %s%s, found '%s', which "
        "measures %s",
        key, bl_quantity_name(quantity), or_switch ? " or a switch" : "",
        bl_trial_quote(input->text, quote), bl_quantity_name(found));
}

static void check_outputs(struct reading *r, const struct bl_trial_unit *unit)
{
    const struct bl_trial *t = r->trial;
    for (size_t i = 0; i < unit->outputs; i++) {
        const struct bl_trial_input *input = &unit->output[i];
        check_input(r, input, "output", BL_QUANTITY_PRESSURE, true);
        if (input->kind == BL_INPUT_CHANNEL &&
            t->channel[input->channel].quantity == BL_QUANTITY_SWITCH &&
            !(t->channel[input->channel].trips_at_kpa >= 0)) {
            bl_trial_remark(r, "trip-point-missing", input->line,
                            "switch '%s' has no trips_at: no stagger can be "
                            "told from it",
                            t->channel[input->channel].name);
        }
    }
}

/* One remark for all of them. */
static void remark_without_output(struct reading *r)
{
    const struct bl_trial *t = r->trial;
    bool *without = bl_alloc(t->units + 1, sizeof(*without));
    char names[BL_UNIT_CALLED];
    size_t count = 0;
    int line = 0;
    for (size_t i = 0; without != NULL && i < t->units; i++) {
        without[i] = t->unit[i].outputs == 0 && t->unit[i].number > 0;
        line = without[i] && count == 0 ? t->unit[i].line : line;
        count += without[i];
    }
    if (without == NULL) {
        bl_trial_no_memory(r);
    } else if (count > 0) {
        bl_trial_remark(
            r, "unit-without-output", line,
            count == 1 ? "%s has no output wired: whether it "
                         "responded cannot be told"
                       : "%s have no output wired: whether they "
                         "responded cannot be told",
            bl_trial_units_called(t, without, names, sizeof(names)));
    }
    bl_free(without);
}

/* Is the kind that the file states one that the input can be? */
static void check_kind(struct reading *r, const struct bl_trial_unit *unit)
{
    const struct bl_trial_input *command = &unit->command;
    const enum bl_quantity found = measured(r, command);
    const char *wrong = NULL;
    switch (unit->command_kind) {
    case BL_COMMAND_ELECTRONIC_DEMAND:
        wrong =
            command->kind == BL_INPUT_CHANNEL ? "a signal of the bus" : NULL;
        break;
    case BL_COMMAND_TREADLE_PRESSURE:
        wrong = found != BL_QUANTITY_PRESSURE && found != BL_QUANTITY_SWITCH &&
                        found != BL_QUANTITY_NONE
                    ? "what measures pressure or a switch"
                    : NULL;
        break;
    case BL_COMMAND_CONTROL_MOVEMENT:
        wrong = found == BL_QUANTITY_PRESSURE
                    ? "what measures movement, or a switch"
                    : NULL;
        break;
    case BL_COMMAND_NONE:
        break;
    }
    if (wrong != NULL) {
        char quote[QUOTE_MAX];
        const struct trial_entry *entry =
            bl_trial_entry(section_of(r, unit), "command_kind");
        bl_trial_mistake(r, "wrong-quantity", entry->line,
                         "expected for command_kind '%s' %s, found '%s'",
                         entry->value, wrong,
                         bl_trial_quote(command->text, quote));
    }
}

static void check_command_at(struct reading *r,
                             const struct bl_trial_unit *unit)
{
    const enum bl_quantity found = measured(r, &unit->command);
    const struct trial_entry *entry =
        bl_trial_entry(section_of(r, unit), "command_at");
    const char *wanted = NULL;
    if (entry == NULL || found == BL_QUANTITY_NONE) {
        return;
    }
    if (found == BL_QUANTITY_SWITCH) {
        wanted = unit->command_at_kind == BL_COMMAND_AT_EDGE ? NULL : "'edge'";
    } else if (found == BL_QUANTITY_PRESSURE) {
        wanted = unit->command_at_kind == BL_COMMAND_AT_PRESSURE
                     ? NULL
                     : "a pressure such as '20 kPa'";
    } else if (found == BL_QUANTITY_RATIO) {
        wanted = unit->command_at_kind == BL_COMMAND_AT_PERCENT
                     ? NULL
                     : "a share such as '5 %'";
    } else {
        wanted = "a command that measures pressure, a share or a switch";
    }
    if (wanted != NULL) {
        bl_trial_mistake(r, "wrong-quantity", entry->line,
                         "expected %s, since the command measures %s, found "
                         "'%s'",
                         wanted, bl_quantity_name(found), entry->value);
    }
}

static void check_command(struct reading *r, const struct bl_trial_unit *unit)
{
    static const char *const beside[] = {"command_kind", "command_at"};
    const struct trial_section *section = section_of(r, unit);
    const struct trial_entry *command = bl_trial_entry(section, "command");
    const bool none =
        command != NULL && strncmp(command->value, "none", 4) == 0;
    if (unit->number > 0) {
        for (size_t i = 0; i < 2; i++) {
            const struct trial_entry *entry =
                bl_trial_entry(section, i == 0 ? "command" : "command_at");
            if (entry != NULL) {
                bl_trial_mistake(r, "wrong-key", entry->line,
                                 "expected '%s' in unit 0 only, found it in "
                                 "[%s]",
                                 entry->key, section->heading);
            }
        }
        return;
    }
    if (command == NULL) {
        bl_trial_mistake(r, "missing-key", unit->line,
                         "expected 'command' in [%s], or 'command = none' and "
                         "the reason, found none",
                         section->heading);
        return;
    }
    for (size_t i = 0; i < 2; i++) {
        if (!none && bl_trial_entry(section, beside[i]) == NULL) {
            bl_trial_mistake(r, "missing-key", command->line,
                             "expected '%s' beside 'command', found none",
                             beside[i]);
        }
    }
    check_kind(r, unit);
    check_command_at(r, unit);
}

/* Unit 0 is the towing motor vehicle by its number. */
static void check_unit_kind(struct reading *r, const struct bl_trial_unit *unit)
{
    const struct trial_entry *entry =
        bl_trial_entry(section_of(r, unit), "kind");
    if (unit->number == 0 && entry != NULL) {
        bl_trial_mistake(r, "wrong-key", entry->line,
                         "expected 'kind' in towed units only, found it in "
                         "[%s]",
                         section_of(r, unit)->heading);
    }
}

void bl_trial_check_units(struct reading *r)
{
    const struct bl_trial *t = r->trial;
    check_numbers(r);
    check_addresses(r);
    check_ids(r);
    check_labels(r);
    for (size_t i = 0; i < t->units; i++) {
        const struct bl_trial_unit *unit = &t->unit[i];
        const enum bl_quantity pressure = BL_QUANTITY_PRESSURE;
        check_command(r, unit);
        check_unit_kind(r, unit);
        check_input(r, &unit->control, "control", pressure, true);
        check_input(r, &unit->control_b, "control_b", pressure, false);
        check_input(r, &unit->control_out, "control_out", pressure, true);
        check_input(r, &unit->reservoir, "reservoir", pressure, false);
        check_input(r, &unit->voltage, "voltage", BL_QUANTITY_VOLTAGE, false);
        check_outputs(r, unit);
        if (unit->control_b.kind != BL_INPUT_NONE &&
            unit->control.kind == BL_INPUT_NONE && unit->control.text == NULL) {
            bl_trial_mistake(r, "missing-key", unit->control_b.line,
                             "expected 'control' beside 'control_b', which "
                             "doubles it, found none");
        }
    }
    remark_without_output(r);
}
