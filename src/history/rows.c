/* SPDX-License-Identifier: MIT */
/*
 * What is kept of a result: of each unit that has an id what makes its visits
 * comparable (life.h), of each application what it was, of each figure its
 * value with its uncertainty in four parts: what differs from application to
 * application, what they share, and of the latter what the output's transducer
 * and what the tie of the clocks brings.
 */
#include "base/alloc.h"
#include "base/limits.h"
#include "base/number.h"
#include "base/strbuf.h"
#include "history/take.h"

#include "brakelag/budget.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* No measurement of the kind is larger; life.h refuses such numbers. */
static const double most_s = 1000;

/* "B" of "B.1"; a plain number is combination A. */
static char combination_of(const char *unit)
{
    return unit[0] >= 'A' && unit[0] <= 'Z' && unit[1] == '.' ? unit[0] : 'A';
}

/* -1: it is not as '2' or 'B.1'. */
static int64_t number_of(const char *unit)
{
    const bool lettered = unit[0] >= 'A' && unit[0] <= 'Z' && unit[1] == '.';
    const char *digits = lettered ? unit + 2 : unit;
    const size_t length = strlen(digits);
    int64_t number = 0;
    return length > 0 && strspn(digits, "0123456789") == length &&
                   bl_integer_parse(digits, length, &number)
               ? number
               : -1;
}

/* The channel of that name; NULL: a signal of the bus. */
static const json_t *channel_named(const struct bl_take *take, const char *name)
{
    size_t index;
    json_t *channel;
    json_array_foreach(json_object_get(take->trial, "channels"), index, channel)
    {
        const char *known =
            json_string_value(json_object_get(channel, "channel"));
        if (known != NULL && strcmp(known, name) == 0) {
            return channel;
        }
    }
    return NULL;
}

/* Which transducer stands behind an input: a channel's instrument by its own
   number, false where that is not stated; of a bus signal the unit's own,
   whatever address and bus it had that day. */
static bool add_transducer(struct bl_take *take, struct bl_strbuf *to,
                           const char *input)
{
    const json_t *channel = channel_named(take, input);
    const char *instrument =
        channel == NULL ? NULL : bl_take_text(take, channel, "instrument");
    if (to->length > 0) {
        bl_strbuf_text(to, ", ");
    }
    if (channel == NULL) {
        bl_strbuf_add(to, input, strcspn(input, "@/"));
        return true;
    }
    bl_strbuf_text(to, instrument == NULL ? "" : instrument);
    return instrument != NULL;
}

/* Text of a buffer, NULL where it is not known. */
static const char *known(const struct bl_strbuf *text, bool is_known)
{
    return is_known && text->length > 0 ? bl_strbuf_get(text) : NULL;
}

struct described {
    struct bl_strbuf position, transducer, command, command_transducer, kinds;
    bool has_position, has_transducer, has_command, has_command_transducer,
        has_kinds;
    int64_t in_front;
};

static void describe_outputs(struct bl_take *take, struct described *d,
                             const json_t *unit)
{
    size_t index;
    json_t *output;
    d->has_position = d->has_transducer = true;
    json_array_foreach(bl_take_array(take, unit, "outputs"), index, output)
    {
        const char *label = bl_take_text(take, output, "label");
        const char *from = bl_take_text(take, output, "from");
        d->has_position = d->has_position && label != NULL;
        bl_strbuf_text(&d->position, index > 0 ? ", " : "");
        bl_strbuf_text(&d->position, label == NULL ? "" : label);
        if (!add_transducer(take, &d->transducer, from == NULL ? "" : from)) {
            d->has_transducer = false;
        }
    }
    const char *name = json_string_value(json_object_get(unit, "unit"));
    if (index > 0 && !d->has_position) {
        (void)bl_note_each(
            &take->added->notes, "output-without-label", -1,
            "unit %s: its output has no label, so that no visit can be "
            "compared with another; write where it is measured, such as "
            "'output.rear = ..'",
            name);
    }
}

/* What the command was read from: its kind and level; of a signal of the bus
   that too. A channel's name is only a name. */
static void describe_command(struct bl_take *take, struct described *d,
                             const json_t *front)
{
    const char *from = bl_take_text(take, front, "command");
    const char *kind = bl_take_text(take, front, "command_kind");
    const char *at = bl_take_text(take, front, "command_at");
    d->has_command = from != NULL && kind != NULL && at != NULL;
    if (d->has_command) {
        bl_strbuf_format(&d->command, "%s at %s", kind, at);
        if (channel_named(take, from) == NULL) {
            bl_strbuf_text(&d->command, ", ");
            bl_strbuf_add(&d->command, from, strcspn(from, "@/"));
        }
        d->has_command_transducer =
            add_transducer(take, &d->command_transducer, from);
    }
}

/* The units in front of `unit`, and the command, which unit 0 has. */
static void describe_front(struct bl_take *take, struct described *d,
                           const char *name)
{
    const char combination = combination_of(name);
    size_t index;
    json_t *unit;
    d->has_kinds = true;
    json_array_foreach(json_object_get(take->trial, "units"), index, unit)
    {
        const char *other = take->unit[index].unit;
        if (combination_of(other) != combination) {
            continue;
        }
        if (number_of(other) == 0) {
            describe_command(take, d, unit);
        }
        if (number_of(other) < number_of(name)) {
            const char *kind = bl_take_text(take, unit, "kind");
            const char *line = bl_take_text(take, unit, "control_line");
            d->has_kinds =
                d->has_kinds && line != NULL && strcmp(line, "unknown") != 0;
            bl_strbuf_format(
                &d->kinds, "%s%s %s", d->in_front > 0 ? ", " : "",
                kind != NULL && strcmp(kind, "dolly") == 0 ? "dolly" : "unit",
                line == NULL ? "" : line);
            d->in_front++;
        }
    }
}

static void put_labels(struct bl_take *take, const json_t *unit, int64_t member)
{
    size_t index;
    json_t *label;
    sqlite3_stmt *statement;
    const json_t *labels = bl_take_array(take, unit, "labels");
    bl_take_prepare(take, &statement, "INSERT INTO label VALUES (?1, ?2, ?3)");
    json_array_foreach(labels, index, label)
    {
        const char *name = bl_take_text(take, label, "label");
        for (size_t i = 0; name != NULL && i < index; i++) {
            const char *other = json_string_value(
                json_object_get(json_array_get(labels, i), "label"));
            if (other != NULL && strcmp(other, name) == 0) {
                bl_take_fail(take, BL_FORMAT, "the label '%.80s' twice", name);
            }
        }
        if (name == NULL) {
            bl_take_fail(take, BL_FORMAT, "a label without a name");
        }
        bl_take_put(take, statement, "itt", member, name,
                    bl_take_text(take, label, "value"));
    }
    (void)sqlite3_finalize(statement);
}

static void put_member(struct bl_take *take, const json_t *unit,
                       struct bl_taken_unit *taken)
{
    struct described d = {.in_front = 0};
    sqlite3_stmt *statement;
    describe_outputs(take, &d, unit);
    describe_front(take, &d, taken->unit);
    bl_take_prepare(take, &statement,
                    "INSERT INTO member VALUES (NULL, ?1, ?2, ?3, ?4, ?5, ?6, "
                    "?7, ?8, ?9, ?10)");
    if (d.position.failed || d.transducer.failed || d.kinds.failed ||
        d.command.failed || d.command_transducer.failed) {
        bl_take_fail(take, BL_NOMEM, "out of memory");
    }
    bl_take_put(take, statement, "itttittttt", take->visit, taken->id,
                taken->unit, bl_take_text(take, unit, "name"), d.in_front,
                d.in_front == 0 ? "none" : known(&d.kinds, d.has_kinds),
                known(&d.command, d.has_command),
                known(&d.command_transducer, d.has_command_transducer),
                known(&d.position, d.has_position),
                known(&d.transducer, d.has_transducer));
    taken->member = sqlite3_last_insert_rowid(take->history->db);
    take->added->units++;
    put_labels(take, unit, taken->member);
    (void)sqlite3_finalize(statement);
    bl_strbuf_finish(&d.position);
    bl_strbuf_finish(&d.transducer);
    bl_strbuf_finish(&d.command);
    bl_strbuf_finish(&d.command_transducer);
    bl_strbuf_finish(&d.kinds);
}

/* Its number and its id; neither may be another unit's. */
static void name_unit(struct bl_take *take, const json_t *unit, size_t index)
{
    struct bl_taken_unit *taken = &take->unit[index];
    taken->unit = bl_take_text(take, unit, "unit");
    taken->id = bl_take_text(take, unit, "id");
    if (taken->unit == NULL) {
        bl_take_fail(take, BL_FORMAT, "expected a unit with its number");
    } else if (number_of(taken->unit) < 0) {
        bl_take_fail(take, BL_FORMAT,
                     "expected a unit's number, such as '2' or 'B.1', found "
                     "'%.80s'",
                     taken->unit);
    }
    for (size_t i = 0; take->status == BL_OK && i < index; i++) {
        const struct bl_taken_unit *other = &take->unit[i];
        if (strcmp(other->unit, taken->unit) == 0 ||
            (other->id != NULL && taken->id != NULL &&
             strcmp(other->id, taken->id) == 0)) {
            bl_take_fail(take, BL_FORMAT,
                         "its number or id is that of another unit, too");
        }
    }
}

static void put_members(struct bl_take *take)
{
    const json_t *units = bl_take_array(take, take->trial, "units");
    take->units = json_array_size(units);
    take->unit = bl_alloc(take->units, sizeof(*take->unit));
    if (take->units > BL_LIMIT_TRIAL_ITEMS || take->unit == NULL) {
        bl_take_fail(take, take->unit == NULL ? BL_NOMEM : BL_LIMIT,
                     "%zu units, at most %u are kept", take->units,
                     BL_LIMIT_TRIAL_ITEMS);
    }
    for (size_t i = 0; take->status == BL_OK && i < take->units; i++) {
        const json_t *unit = json_array_get(units, i);
        (void)snprintf(take->place, sizeof(take->place), "trial.units[%zu]", i);
        name_unit(take, unit, i);
    }
    for (size_t i = 0; take->status == BL_OK && i < take->units; i++) {
        const json_t *unit = json_array_get(units, i);
        (void)snprintf(take->place, sizeof(take->place), "trial.units[%zu]", i);
        if (take->unit[i].id != NULL) {
            put_member(take, unit, &take->unit[i]);
            continue;
        }
        const char *name = bl_take_text(take, unit, "name");
        (void)bl_note_each(&take->added->notes, "unit-without-id", -1,
                           "unit %s%s%s%s has no id and is in no history; "
                           "write its own number, 'id = ..', in section "
                           "[unit %s]",
                           take->unit[i].unit, name == NULL ? "" : " (",
                           name == NULL ? "" : name, name == NULL ? "" : ")",
                           take->unit[i].unit);
    }
    take->place[0] = '\0';
    if (take->status == BL_OK && take->added->units == 0) {
        bl_take_fail(take, BL_TRIAL,
                     "no unit has an id; write its own number, such as 'id = "
                     "BT-0417', in its section [unit N] and measure again");
    }
}

static void put_figure(struct bl_take *take, const struct bl_taken_unit *unit,
                       const json_t *figure, const char *name, int64_t place)
{
    double part[BL_COMPONENTS];
    char flags[256] = "";
    const json_t *from = json_object_get(figure, "u_parts");
    const bool parted = json_is_object(from);
    double transducer = 0;
    double clock = 0;
    if (!json_is_object(figure)) {
        bl_take_fail(take, BL_FORMAT, "expected a figure in '%s'", name);
        return;
    }
    for (size_t i = 0; i < BL_COMPONENTS; i++) {
        const char *component = bl_component_name(i);
        part[i] = parted ? bl_take_number(take, from, component) : NAN;
        if (strcmp(component, "clock") == 0) {
            clock = part[i];
        } else if (bl_component_is_common(i)) {
            transducer = hypot(transducer, part[i]);
        }
    }
    const double value = bl_take_number(take, figure, "s");
    const double random_s = parted ? bl_component_sum(part, false) : NAN;
    const double common_s = parted ? bl_component_sum(part, true) : NAN;
    if (fabs(value) > most_s || random_s > most_s || common_s > most_s) {
        bl_take_fail(take, BL_FORMAT,
                     "'%s': expected a time and its uncertainty up to %g s",
                     name, most_s);
    }
    size_t index;
    json_t *flag;
    json_array_foreach(bl_take_array(take, figure, "flags"), index, flag)
    {
        const size_t length = strlen(flags);
        const char *text = json_string_value(flag);
        (void)snprintf(flags + length, sizeof(flags) - length, "%s%s",
                       length > 0 ? " " : "", text == NULL ? "" : text);
    }
    bl_take_put(take, take->figure, "iiitrrrrrrtt", unit->member, take->row,
                place, name, bl_take_number(take, figure, "kpa"), value,
                random_s, common_s, transducer, clock, flags,
                bl_take_text(take, figure, "reason"));
    take->added->figures++;
}

static const struct bl_taken_unit *unit_named(const struct bl_take *take,
                                              const char *name)
{
    for (size_t i = 0; name != NULL && i < take->units; i++) {
        if (strcmp(take->unit[i].unit, name) == 0) {
            return &take->unit[i];
        }
    }
    return NULL;
}

/* All figures of one unit in one application, in the order of their list. */
static void put_unit(struct bl_take *take, const json_t *unit)
{
    const char *name = bl_take_text(take, unit, "unit");
    const struct bl_taken_unit *taken = unit_named(take, name);
    if (taken == NULL) {
        bl_take_fail(take, BL_FORMAT, "no unit '%s' in trial.units",
                     name == NULL ? "" : name);
        return;
    }
    int64_t place = 0;
    for (enum bl_figure_name i = 0; taken->id != NULL && i < BL_FIGURES; i++) {
        const char *figure = bl_figure_name_text(i);
        if (bl_figure_of_unit(i)) {
            put_figure(take, taken, json_object_get(unit, figure), figure,
                       place++);
        }
    }
    size_t index;
    json_t *level;
    json_array_foreach(bl_take_array(take, unit, "levels"), index, level)
    {
        if (taken->id != NULL) {
            put_figure(take, taken, level, bl_figure_name_text(BL_FIGURE_LEVEL),
                       place++);
        }
    }
}

/* Of the command's own way: s from 10 to 75 % of its hold. NaN: a switch. */
static double rise_of(struct bl_take *take, const json_t *application)
{
    const json_t *own =
        json_object_get(json_object_get(application, "command"), "own");
    return bl_take_number(take, json_object_get(own, "apply_75"), "s") -
           bl_take_number(take, json_object_get(own, "apply_10"), "s");
}

static void put_application(struct bl_take *take, const json_t *run,
                            const json_t *application)
{
    const char *power = bl_take_text(take, run, "power");
    const char *data = bl_take_text(take, run, "data");
    const char *name = bl_take_text(take, run, "name");
    const char *condition = bl_take_text(take, run, "condition");
    const char *kind = bl_take_text(take, application, "kind");
    const char *shape = bl_take_text(take, application, "shape");
    const bool by_data = power != NULL && strcmp(power, "on") == 0 &&
                         data != NULL && strcmp(data, "on") == 0;
    const double number = bl_take_number(take, application, "number");
    const double rise_s = rise_of(take, application);
    if (name == NULL || condition == NULL || kind == NULL || shape == NULL ||
        !(number >= 1 && number <= BL_LIMIT_APPLICATIONS) || rise_s > most_s) {
        bl_take_fail(take, BL_FORMAT,
                     "expected an application with number, kind and shape, in "
                     "a run with name and condition");
        return;
    }
    bl_take_put(take, take->application, "itttiitttir", take->visit, name,
                bl_take_text(take, run, "block"), condition, (int64_t)by_data,
                (int64_t)number, bl_take_text(take, application, "combination"),
                kind, shape,
                (int64_t)json_is_true(json_object_get(application, "excluded")),
                rise_s < 0 ? NAN : rise_s);
    take->row = sqlite3_last_insert_rowid(take->history->db);
}

static void put_run(struct bl_take *take, const json_t *run, size_t number)
{
    size_t a;
    json_t *application;
    json_array_foreach(bl_take_array(take, run, "applications"), a, application)
    {
        size_t u;
        json_t *unit;
        (void)snprintf(take->place, sizeof(take->place),
                       "runs[%zu].applications[%zu]", number, a);
        put_application(take, run, application);
        json_array_foreach(bl_take_array(take, application, "units"), u, unit)
        {
            (void)snprintf(take->place, sizeof(take->place),
                           "runs[%zu].applications[%zu].units[%zu]", number, a,
                           u);
            put_unit(take, unit);
        }
        if (take->status != BL_OK) {
            return;
        }
    }
}

void bl_take_rows(struct bl_take *take)
{
    size_t index;
    json_t *run;
    put_members(take);
    bl_take_prepare(take, &take->application,
                    "INSERT INTO application VALUES (NULL, ?1, ?2, ?3, ?4, ?5, "
                    "?6, ?7, ?8, ?9, ?10, ?11)");
    bl_take_prepare(take, &take->figure,
                    "INSERT INTO figure VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, "
                    "?8, ?9, ?10, ?11, ?12)");
    json_array_foreach(bl_take_array(take, take->root, "runs"), index, run)
    {
        if (bl_take_is_reference(run)) {
            const char *name = bl_take_text(take, run, "name");
            (void)bl_note_each(&take->added->notes, "reference-left-out", -1,
                               "run %s is a reference run, which measures "
                               "transducers, not units: left out",
                               name == NULL ? "" : name);
        } else {
            put_run(take, run, index);
        }
    }
    (void)sqlite3_finalize(take->application);
    (void)sqlite3_finalize(take->figure);
    take->place[0] = '\0';
    if (take->status == BL_OK && take->added->figures == 0) {
        bl_take_fail(take, BL_NODATA,
                     "there are no figures in it; `brakelag measure TRIAL "
                     "--json` writes them");
    }
}
