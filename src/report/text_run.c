/* SPDX-License-Identifier: MIT */
/*
 * One run in text: every application with what each unit made of it. Nothing
 * is judged here except where the figures themselves justify it: a unit that
 * did not respond, and one that answers later than a unit behind it by more
 * than both uncertainties (k = 2).
 */
#include "report/text.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

struct column {
    const char *key; /* of the figure in a unit's entry; NULL: the end */
    enum bl_figure_name figure;
};
enum { MOST_COLUMNS = BL_FIGURES + 1 }; /* and the end */

/* Figures of one side that the output gives after the command (or, `early`,
   what comes before its response), by the list. */
static void columns_of(struct column to[MOST_COLUMNS], enum bl_figure_side side,
                       bool early)
{
    size_t count = 0;
    for (enum bl_figure_name i = 0; i < BL_FIGURES; i++) {
        const struct bl_figure_entry *entry = bl_figure_entry(i);
        const bool before =
            entry->at == BL_AT_COMMAND_AT || entry->at == BL_AT_REST;
        /* Stagger is shown beside the apply that it is of. */
        const bool here =
            entry->side == side ||
            (entry->since == BL_SINCE_FIRST_UNIT && side == BL_SIDE_APPLY);
        if (here && before == early && entry->at != BL_AT_LEVEL) {
            to[count++] = (struct column){entry->name, i};
        }
    }
    to[count].key = NULL;
}

static double figure_s(const json_t *unit, const char *key)
{
    return bl_tree_get_number(json_object_get(unit, key), "s");
}

/* The longest of a figure, but not so short that a bar would show what lies
   within the uncertainty: U is at most a twelfth. */
static double longest(const json_t *units, const char *key)
{
    double found = 0;
    for (size_t i = 0; i < json_array_size(units); i++) {
        const json_t *figure = json_object_get(json_array_get(units, i), key);
        const double s = bl_tree_get_number(figure, "s");
        const double u = bl_tree_get_number(figure, "u_s");
        found = s > found ? s : found;
        found = 24 * u > found ? 24 * u : found;
    }
    return found;
}

static bool column_known(const json_t *units, const char *key)
{
    for (size_t i = 0; i < json_array_size(units); i++) {
        if (bl_text_known(json_object_get(json_array_get(units, i), key))) {
            return true;
        }
    }
    return false;
}

static bool any_known(const json_t *units, const struct column *column)
{
    for (; column->key != NULL; column++) {
        if (column_known(units, column->key)) {
            return true;
        }
    }
    return false;
}

static bool did_not_respond(const json_t *unit)
{
    return json_is_false(json_object_get(unit, "responded"));
}

/* No output at all, as of a unit that only commands. */
static bool has_no_output(const struct bl_text *to, const json_t *unit)
{
    return json_is_null(json_object_get(unit, "responded")) &&
           bl_text_is(to, json_object_get(unit, "response"), "reason",
                      BL_REASON_NO_CHANNEL);
}

static void silent_row(struct bl_text *to, struct bl_table *table,
                       const json_t *unit)
{
    char peak[BL_TEXT_CELL];
    char control[BL_TEXT_CELL];
    bl_text_level(to, json_object_get(unit, "peak"), peak);
    bl_text_level(to, json_object_get(unit, "control_peak"), control);
    if (strcmp(control, "-") == 0) {
        bl_table_span(table, "did not respond: output peaked at %s", peak);
    } else {
        bl_table_span(table,
                      "did not respond: output peaked at %s while its control "
                      "pressure reached %s",
                      peak, control);
    }
}

/* What a table of one application shows. With `main` every column and unit is
   there, and words stand where a unit has nothing to show. */
struct layout {
    const struct column *column;
    const char *first, *bar; /* figures of the bar: until `first` '-', then
                                '=' until `bar`; NULL: none */
    bool main;
};

static void heading(const struct bl_text *to, struct bl_table *table,
                    const json_t *units, const struct layout *layout)
{
    char text[BL_TEXT_CELL];
    bl_table_cell(table, "unit");
    size_t at = 1;
    for (const struct column *c = layout->column; c->key != NULL; c++) {
        if (layout->main || column_known(units, c->key)) {
            table->right[at++] = true;
            bl_table_cell(table, "%s",
                          bl_text_figure(to, c->figure, true, text));
        }
    }
    if (layout->main) {
        table->right[at] = true;
        bl_table_cell(table, "settled pressure");
    }
    table->heading = true;
    bl_table_row(table);
}

static void figure_cells(struct bl_text *to, struct bl_table *table,
                         const json_t *units, const json_t *unit,
                         const struct layout *layout)
{
    char text[BL_TEXT_CELL];
    for (const struct column *c = layout->column; c->key != NULL; c++) {
        if (layout->main || column_known(units, c->key)) {
            bl_table_cell(table, "%s",
                          bl_text_seconds(json_object_get(unit, c->key), text));
        }
    }
    if (layout->main) {
        bl_table_cell(table, "%s",
                      bl_text_level(to, json_object_get(unit, "hold"), text));
    }
}

/* A row per unit; the bar makes a late unit visible. */
static void figures(struct bl_text *to, const json_t *units,
                    const struct layout *layout)
{
    struct bl_table table = {0};
    char text[BL_TEXT_CELL];
    const double scale =
        layout->bar == NULL
            ? 0
            : fmax(longest(units, layout->bar), longest(units, layout->first));
    heading(to, &table, units, layout);
    for (size_t i = 0; i < json_array_size(units); i++) {
        const json_t *unit = json_array_get(units, i);
        if (has_no_output(to, unit) && !layout->main &&
            !bl_text_known(json_object_get(unit, layout->column->key))) {
            continue;
        }
        bl_table_cell(&table, "%s", bl_text_unit(unit, text));
        if (layout->main && did_not_respond(unit)) {
            silent_row(to, &table, unit);
        } else if (layout->main && has_no_output(to, unit)) {
            bl_table_span(&table, "no output is wired");
        } else {
            figure_cells(to, &table, units, unit, layout);
            if (layout->bar != NULL) {
                bl_table_span(&table, "|%s",
                              bl_text_bar(figure_s(unit, layout->first),
                                          figure_s(unit, layout->bar), scale,
                                          bl_text_bar_width(to), text));
            }
        }
        bl_table_row(&table);
    }
    bl_text_table(to, &table, 4);
}

/* Crossings of the stated pressures, one column each. */
static void stated_levels(struct bl_text *to, const json_t *units)
{
    const json_t *first = json_object_get(json_array_get(units, 0), "levels");
    const size_t count = json_array_size(first);
    if (count == 0 || count + 1 > BL_TABLE_COLUMNS) {
        return;
    }
    struct bl_table table = {.heading = true};
    char text[BL_TEXT_CELL];
    bl_output_text(to->output,
                   "  Stated pressures, seconds after the command\n");
    bl_table_cell(&table, "unit");
    for (size_t k = 0; k < count; k++) {
        const double kpa = bl_tree_get_number(json_array_get(first, k), "kpa");
        table.right[k + 1] = true;
        bl_table_cell(&table, "%s", bl_text_stated(to, kpa, text));
    }
    bl_table_row(&table);
    for (size_t i = 0; i < json_array_size(units); i++) {
        const json_t *unit = json_array_get(units, i);
        const json_t *level = json_object_get(unit, "levels");
        if (has_no_output(to, unit)) {
            continue;
        }
        bl_table_cell(&table, "%s", bl_text_unit(unit, text));
        for (size_t k = 0; k < count; k++) {
            bl_table_cell(&table, "%s",
                          bl_text_seconds(json_array_get(level, k), text));
        }
        bl_table_row(&table);
    }
    bl_text_table(to, &table, 4);
}

/* A figure that no unit could have here has no column and needs no excuse. */
static bool not_wired_at_all(const struct bl_text *to, const json_t *units,
                             const char *key)
{
    for (size_t i = 0; i < json_array_size(units); i++) {
        const json_t *figure = json_object_get(json_array_get(units, i), key);
        if (!bl_text_is(to, figure, "reason", BL_REASON_NO_CHANNEL)) {
            return false;
        }
    }
    return true;
}

/* Which figures of a unit are missing, grouped by why. */
static void missing(struct bl_text *to, const json_t *units, const json_t *unit)
{
    char text[BL_TEXT_CELL];
    char title[BL_TEXT_CELL];
    for (int reason = 1; reason < BL_REASONS; reason++) {
        const char *between = "";
        for (enum bl_figure_name i = 0; i < BL_FIGURES; i++) {
            const char *name = bl_figure_name_text(i);
            const json_t *figure = json_object_get(unit, name);
            if (!bl_figure_of_unit(i) ||
                !bl_text_is(to, figure, "reason", reason) ||
                not_wired_at_all(to, units, name)) {
                continue;
            }
            if (between[0] == '\0') {
                bl_output_text(to->output, "    ");
                bl_text_plain(to, bl_text_called(to, unit));
                bl_output_text(to->output, ": not known: ");
            }
            bl_output_format(to->output, "%s%s", between,
                             bl_text_figure(to, i, false, title));
            if (!isnan(bl_tree_get_number(figure, "later_than_s"))) {
                bl_output_format(to->output, " (%s s)",
                                 bl_text_seconds(figure, text));
            }
            between = ", ";
        }
        if (between[0] != '\0') {
            bl_output_format(
                to->output, ": %s\n",
                bl_text_reason(bl_reason_name((enum bl_reason)reason)));
        }
    }
}

static void flags(struct bl_text *to, const json_t *object, const char *who)
{
    const json_t *names = json_object_get(object, "flags");
    for (size_t i = 0; i < json_array_size(names); i++) {
        const char *name = json_string_value(json_array_get(names, i));
        bl_output_text(to->output, "    ");
        bl_text_plain(to, who);
        bl_output_format(to->output, ": %s\n",
                         bl_text_flag(name == NULL ? "" : name));
    }
}

/* Units that come later than a unit behind them. */
static void late(struct bl_text *to, const json_t *application)
{
    const json_t *all = json_object_get(application, "overtaken");
    char by[BL_TEXT_CELL];
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *passed = json_array_get(all, i);
        bl_output_format(
            to->output, "    late: %s %s %s s after %s, which is behind it\n",
            bl_text_called(to, passed),
            bl_text_does((enum bl_figure_name)bl_tree_get_code(
                to->codes, passed, "figure", BL_FIGURE_RESPONSE)),
            bl_text_fixed(bl_tree_get_number(passed, "by_s"), 3, by),
            bl_text_called(to, json_object_get(passed, "behind")));
    }
}

/* What can be seen by comparing the units of one application. */
static void remarks(struct bl_text *to, const json_t *application)
{
    const json_t *units = json_object_get(application, "units");
    late(to, application);
    for (size_t i = 0; i < json_array_size(units); i++) {
        const json_t *unit = json_array_get(units, i);
        if (!has_no_output(to, unit)) {
            missing(to, units, unit);
        }
        flags(to, unit, bl_text_called(to, unit));
    }
}

static void command_line(struct bl_text *to, const json_t *application)
{
    static const struct bl_coded levels[] = {{"last", "not settled, last at"},
                                             {"peak", "not settled, peak"},
                                             {"settled", "settled at"},
                                             {NULL, "held at"}};
    char text[BL_TEXT_CELL];
    const json_t *command = json_object_get(application, "command");
    const json_t *hold = json_object_get(command, "hold");
    const double apply = bl_tree_get_number(command, "apply_s");
    const double release = bl_tree_get_number(command, "release_s");
    bl_output_text(to->output, "  command ");
    if (isnan(apply)) {
        bl_output_format(
            to->output, "without a time of its own (%s)",
            bl_text_reason(bl_tree_get_text(command, "apply_reason")));
    } else {
        bl_output_format(to->output, "at %s s",
                         bl_text_value(apply,
                                       bl_tree_get_number(command, "apply_u_s"),
                                       3, text));
    }
    bl_output_format(
        to->output, ", %s %s",
        bl_coded_words(levels, bl_tree_get_text(hold, "hold_from")),
        bl_text_level(to, hold, text));
    if (!isnan(release)) {
        bl_output_format(
            to->output, ", release at %s s",
            bl_text_value(release, bl_tree_get_number(command, "release_u_s"),
                          3, text));
    }
    bl_output_text(to->output, "\n");
}

static void application_title(struct bl_text *to, const json_t *application)
{
    bl_output_format(
        to->output, "\n  Application %llu",
        (unsigned long long)bl_tree_get_count(application, "number"));
    if (!bl_text_is(to, application, "combination", 'A')) {
        bl_output_format(to->output, " of combination %s",
                         bl_tree_get_text(application, "combination"));
    }
    bl_output_format(to->output, ": %s, %s", bl_text_kind(application),
                     bl_text_shape(application));
    if (bl_tree_get_bool(application, "begun_before")) {
        bl_output_text(to->output, ", begun before the recording");
    }
    if (bl_tree_get_bool(application, "unfinished")) {
        bl_output_text(to->output, ", unfinished at its end");
    }
    bl_output_text(to->output, "\n");
    if (bl_tree_get_bool(application, "excluded")) {
        bl_output_text(to->output, "  excluded from summaries: ");
        bl_text_plain(to, bl_tree_get_text(application, "excluded_why"));
        bl_output_text(to->output, "\n");
    }
}

/* Does figure b come before a, over the units that have both? */
static bool is_earlier(const json_t *units, const char *b, const char *a)
{
    double sum = 0;
    for (size_t i = 0; i < json_array_size(units); i++) {
        const json_t *unit = json_array_get(units, i);
        const double by = figure_s(unit, b) - figure_s(unit, a);
        sum += isnan(by) ? 0 : by;
    }
    return sum < 0;
}

/* The columns in the order of time. At light demand 10 % of the hold lie below
   response_at, and their places change. */
static void in_time(struct column columns[MOST_COLUMNS], const json_t *units)
{
    for (size_t i = 0; columns[i].key != NULL && columns[i + 1].key != NULL;
         i++) {
        const bool may_change = columns[i].figure == BL_FIGURE_RESPONSE ||
                                columns[i].figure == BL_FIGURE_RELEASE_10;
        if (may_change &&
            is_earlier(units, columns[i + 1].key, columns[i].key)) {
            const struct column later = columns[i];
            columns[i] = columns[i + 1];
            columns[i + 1] = later;
            break;
        }
    }
}

static void application(struct bl_text *to, const json_t *braking)
{
    const json_t *units = json_object_get(braking, "units");
    struct column pressed[MOST_COLUMNS];
    struct column let_go[MOST_COLUMNS];
    struct column before[MOST_COLUMNS];
    columns_of(pressed, BL_SIDE_APPLY, false);
    columns_of(let_go, BL_SIDE_RELEASE, false);
    columns_of(before, BL_SIDE_APPLY, true);
    in_time(pressed, units);
    in_time(let_go, units);
    const struct layout apply = {pressed, "response",
                                 bl_figure_name_text(BL_FIGURE_FILLED), true};
    const struct layout early = {before, NULL, NULL, false};
    const struct layout release = {
        let_go, "release_start", bl_figure_name_text(BL_FIGURE_EMPTIED), false};
    application_title(to, braking);
    command_line(to, braking);
    flags(to, braking, "command");
    bl_output_text(to->output,
                   "  Apply, seconds after the command; bar: --- to first air, "
                   "=== to 75 %\n");
    figures(to, units, &apply);
    if (any_known(units, before)) {
        bl_output_text(to->output,
                       "  Before first air, seconds after the command\n");
        figures(to, units, &early);
    }
    bl_text_path(to, units);
    stated_levels(to, units);
    if (any_known(units, let_go)) {
        bl_output_text(
            to->output,
            "  Release, seconds after the release; bar: --- to 90 %, === to "
            "10 %\n");
        figures(to, units, &release);
    }
    char text[BL_TEXT_CELL];
    const json_t *spread = json_object_get(braking, "spread");
    if (bl_text_known(spread)) {
        bl_output_format(to->output,
                         "  First to last unit, from first air to first air: "
                         "%s s\n",
                         bl_text_seconds(spread, text));
    }
    remarks(to, braking);
}

void bl_text_definitions(struct bl_text *to)
{
    if (to->defined) {
        return;
    }
    to->defined = true;
    static const char level[] = "response_at";
    char text[BL_TEXT_CELL];
    bl_output_text(to->output, "\n  What the figures mean\n");
    struct bl_table table = {0};
    for (size_t i = 0; i < BL_FIGURES; i++) {
        const char *meaning = bl_figure_meaning((enum bl_figure_name)i);
        const char *at = strstr(meaning, level);
        bl_table_cell(&table, "%s",
                      bl_text_figure(to, (enum bl_figure_name)i, false, text));
        if (at == NULL) {
            bl_table_cell(&table, "%s", meaning);
        } else {
            bl_table_cell(&table, "%.*s%s%s", (int)(at - meaning), meaning,
                          bl_text_response_at(to, text), at + strlen(level));
        }
        bl_table_row(&table);
    }
    bl_table_cell(&table, "released, settled");
    bl_table_cell(&table, "the quiet level before an application, and the "
                          "steady level in it");
    bl_table_row(&table);
    bl_text_table(to, &table, 4);
}

static void stated(struct bl_text *to, const json_t *run, const char *key,
                   const char *words)
{
    const char *text = bl_tree_get_text(run, key);
    if (text[0] != '\0') {
        bl_output_format(to->output, ", %s ", words);
        bl_text_plain(to, text);
    }
}

bool bl_text_run_head(struct bl_text *to, const json_t *run)
{
    bl_output_text(to->output, "\nRun ");
    bl_text_plain(to, bl_tree_get_text(run, "name"));
    stated(to, run, "condition", "condition");
    stated(to, run, "power", "power");
    stated(to, run, "data", "data");
    stated(to, run, "control_air", "control air");
    bl_output_text(to->output, "\n");
    const json_t *failure = json_object_get(run, "failure");
    if (failure != NULL) {
        bl_output_text(to->output, "  not measured: ");
        bl_text_plain(to, bl_tree_get_text(failure, "text"));
        bl_output_text(to->output, "\n");
        return false;
    }
    if (json_array_size(json_object_get(run, "applications")) == 0) {
        bl_output_text(to->output, "  no application was found\n");
    }
    return true;
}

/* What zero the times of commands count from. */
static void zero(struct bl_text *to, const json_t *run)
{
    char text[BL_TEXT_CELL];
    const char *name = bl_tree_get_text(run, "t0_recording");
    const double u = bl_tree_get_number(run, "t0_u_s");
    if (name[0] == '\0') {
        return;
    }
    bl_output_text(to->output, "  times count from the first stamp of ");
    bl_text_plain(to, name);
    if (u > 0) {
        bl_output_format(to->output,
                         ", which is known to ± %s s against the other "
                         "recorder",
                         bl_text_fixed(2 * u, 3, text));
    }
    bl_output_text(to->output, "\n");
}

void bl_text_run(struct bl_text *to, const json_t *run)
{
    if (!bl_text_run_head(to, run)) {
        return;
    }
    zero(to, run);
    const json_t *applications = json_object_get(run, "applications");
    for (size_t i = 0; i < json_array_size(applications); i++) {
        application(to, json_array_get(applications, i));
        if (i == 0) {
            bl_text_definitions(to);
        }
        bl_text_flush(to);
    }
    bl_text_summary(to, run);
    bl_text_orders(to, json_object_get(run, "order"), BL_ORDER_OF_RUN);
}
