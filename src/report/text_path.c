/* SPDX-License-Identifier: MIT */
/*
 * Where the response of each towed unit goes: a column per leg and a ladder of
 * marks. Legs that end at an event nobody saw are "-"; the next one counts from
 * the last event that was seen, so that a row still sums to the response.
 */
#include "report/text.h"

#include <math.h>
#include <string.h>

enum { LADDER = 24 };

static const struct leg_column {
    enum bl_path_event to;
    const char *title;
    char mark;
} columns[] = {{BL_PATH_DEMAND_SENT, "to 1st link", '.'},
               {BL_PATH_DEMAND_ARRIVAL, "to its link", ':'},
               {BL_PATH_UNIT_REPORT, "to its report", '-'},
               {BL_PATH_RESPONSE, "to its output", '='}};
enum { COLUMNS = sizeof(columns) / sizeof(columns[0]) };

static const json_t *leg_to(const struct bl_text *to, const json_t *unit,
                            enum bl_path_event end)
{
    const json_t *path = json_object_get(unit, "path");
    for (size_t i = 0; i < json_array_size(path); i++) {
        const json_t *leg = json_array_get(path, i);
        if (bl_text_is(to, leg, "to", (int)end)) {
            return leg;
        }
    }
    return NULL;
}

static bool shown(const struct bl_text *to, const json_t *units, size_t column)
{
    for (size_t i = 0; i < json_array_size(units); i++) {
        if (bl_text_known(
                leg_to(to, json_array_get(units, i), columns[column].to))) {
            return true;
        }
    }
    return false;
}

static double response_s(const json_t *unit)
{
    return bl_tree_get_number(json_object_get(unit, "response"), "s");
}

/* At every step of the ladder the mark of the leg that is then under way. */
static const char *ladder(const struct bl_text *to, const json_t *unit,
                          double longest, char *text)
{
    const double all = response_s(unit);
    size_t n = 0;
    while (n < LADDER && ((double)n + 0.5) * longest / LADDER < all) {
        double end = 0;
        char mark = columns[COLUMNS - 1].mark;
        for (size_t c = COLUMNS; c-- > 0;) {
            end = all;
            for (size_t later = c + 1; later < COLUMNS; later++) {
                const double s = bl_tree_get_number(
                    leg_to(to, unit, columns[later].to), "s");
                end -= isnan(s) ? 0 : s;
            }
            if (bl_text_known(leg_to(to, unit, columns[c].to)) &&
                ((double)n + 0.5) * longest / LADDER < end) {
                mark = columns[c].mark;
            }
        }
        text[n++] = mark;
    }
    text[n] = '\0';
    return text;
}

static void heading(const struct bl_text *to, struct bl_table *table,
                    const json_t *units)
{
    char text[BL_TEXT_CELL];
    size_t at = 1;
    bl_table_cell(table, "unit");
    for (size_t c = 0; c < COLUMNS; c++) {
        if (shown(to, units, c)) {
            table->right[at++] = true;
            bl_table_cell(table, "%s", columns[c].title);
        }
    }
    table->right[at] = true;
    table->heading = true;
    bl_table_cell(table, "%s",
                  bl_text_figure(to, BL_FIGURE_RESPONSE, true, text));
    bl_table_row(table);
}

/* Reasons of legs that no unit has, once. */
static void unseen(struct bl_text *to, const json_t *units)
{
    for (size_t c = 0; c + 1 < COLUMNS; c++) {
        const json_t *leg = NULL;
        for (size_t i = 0; i < json_array_size(units) && leg == NULL; i++) {
            leg = leg_to(to, json_array_get(units, i), columns[c].to);
        }
        if (leg != NULL && !shown(to, units, c)) {
            bl_output_format(to->output, "    no time %s: %s\n",
                             columns[c].title,
                             bl_text_reason(bl_tree_get_text(leg, "reason")));
        }
    }
}

/* A unit's report waits for its turn to be sent; its output does not. */
static void before_report(struct bl_text *to, const json_t *units)
{
    for (size_t i = 0; i < json_array_size(units); i++) {
        const json_t *leg =
            leg_to(to, json_array_get(units, i), BL_PATH_RESPONSE);
        if (bl_text_is(to, leg, "from", BL_PATH_UNIT_REPORT) &&
            bl_tree_get_number(leg, "s") < 0) {
            bl_output_text(to->output, "    below 0: the output came before "
                                       "the unit reported it\n");
            return;
        }
    }
}

void bl_text_path(struct bl_text *to, const json_t *units)
{
    struct bl_table table = {0};
    char text[BL_TEXT_CELL];
    double longest = 0;
    if (!shown(to, units, 0) && !shown(to, units, 1) && !shown(to, units, 2)) {
        return; /* nothing but the response itself */
    }
    bl_output_text(
        to->output,
        "  Where the time to first air goes, seconds: the legs sum to it; "
        "bar: . : - = in this order\n");
    heading(to, &table, units);
    for (size_t i = 0; i < json_array_size(units); i++) {
        longest = fmax(longest, response_s(json_array_get(units, i)));
    }
    for (size_t i = 0; i < json_array_size(units); i++) {
        const json_t *unit = json_array_get(units, i);
        if (json_array_size(json_object_get(unit, "path")) == 0) {
            continue;
        }
        bl_table_cell(&table, "%s", bl_text_unit(unit, text));
        for (size_t c = 0; c < COLUMNS; c++) {
            if (shown(to, units, c)) {
                bl_table_cell(
                    &table, "%s",
                    bl_text_seconds(leg_to(to, unit, columns[c].to), text));
            }
        }
        bl_table_cell(&table, "%s",
                      bl_text_seconds(json_object_get(unit, "response"), text));
        bl_table_span(&table, "|%s", ladder(to, unit, longest, text));
        bl_table_row(&table);
    }
    bl_text_table(to, &table, 4);
    unseen(to, units);
    before_report(to, units);
}
