/* SPDX-License-Identifier: MIT */
/* Before and after as text: a table per unit, condition and kind. */
#include "report/text.h"

#include <math.h>
#include <stdio.h>

static const struct bl_coded verdicts[] = {{"no-change-shown", "none shown"},
                                           {NULL, NULL}};

static const struct bl_coded reasons[] = {{"only-then", "no value"},
                                          {"only-now", "none then"},
                                          {"not-comparable", "elsewhere"},
                                          {"not-recorded", "not stated"},
                                          {"by-chance", "by chance?"},
                                          {"no-power", "cannot tell"},
                                          {NULL, NULL}};

static enum bl_figure_side side_of(const json_t *row)
{
    enum bl_figure_name figure = BL_FIGURE_LEVEL;
    (void)bl_figure_from(bl_tree_get_text(row, "figure"), &figure);
    return bl_figure_entry(figure)->side;
}

/* In a table of its side. */
static const char *figure_text(const json_t *row, char *text)
{
    char number[BL_TEXT_CELL];
    enum bl_figure_name figure = BL_FIGURE_LEVEL;
    if (bl_figure_from(bl_tree_get_text(row, "figure"), &figure) &&
        figure != BL_FIGURE_LEVEL) {
        return bl_figure_entry(figure)->brief;
    }
    snprintf(text, BL_TEXT_CELL, "%.20s kPa",
             bl_text_fixed(bl_tree_get_number(row, "kpa"), 0, number));
    return text;
}

static bool same_table(const json_t *a, const json_t *b)
{
    return bl_tree_same_text(a, b, "condition") &&
           bl_tree_same_text(a, b, "kind") &&
           bl_tree_same_text(a, b, "shape") && side_of(a) == side_of(b);
}

static const char *seconds(const json_t *row, const char *key, char *text)
{
    return bl_text_seconds(json_object_get(row, key), text);
}

static void table_row(struct bl_table *table, const json_t *row)
{
    char text[BL_TEXT_CELL];
    char high[BL_TEXT_CELL];
    const json_t *difference = json_object_get(row, "difference");
    const char *reason = bl_tree_get_text(row, "reason");
    bl_table_cell(table, "%s", figure_text(row, text));
    bl_table_cell(table, "%s", seconds(row, "then", text));
    bl_table_cell(table, "%s", seconds(row, "now", text));
    if (bl_text_known(difference)) {
        bl_table_cell(
            table, "%.20s to %.20s",
            bl_text_fixed(bl_tree_get_number(difference, "low_s"), 3, text),
            bl_text_fixed(bl_tree_get_number(difference, "high_s"), 3, high));
    } else {
        bl_table_cell(table, "-");
    }
    bl_table_cell(
        table, "%s",
        reason[0] != '\0'
            ? bl_coded_words(reasons, reason)
            : bl_coded_words(verdicts, bl_tree_get_text(row, "verdict")));
    bl_table_row(table);
}

static void rows(struct bl_text *to, const json_t *all, double confidence)
{
    size_t i = 0;
    while (i < json_array_size(all)) {
        const json_t *first = json_array_get(all, i);
        struct bl_table table = {.right = {false, true, true, true}};
        char percent[BL_TEXT_CELL];
        bl_output_text(to->output, "    ");
        bl_text_plain(to, bl_tree_get_text(first, "condition"));
        bl_output_format(to->output, ", %s, %s, %s\n", bl_text_kind(first),
                         bl_text_shape(first),
                         side_of(first) == BL_SIDE_RELEASE ? "release"
                                                           : "apply");
        bl_table_cell(&table, "figure");
        bl_table_cell(&table, "then, s");
        bl_table_cell(&table, "now, s");
        bl_table_cell(&table, "change, s (%s %%)",
                      bl_text_fixed(100 * confidence, 0, percent));
        bl_table_cell(&table, "answer");
        bl_table_row(&table);
        while (i < json_array_size(all) &&
               same_table(first, json_array_get(all, i))) {
            table_row(&table, json_array_get(all, i++));
        }
        bl_text_table(to, &table, 4);
    }
}

/* What was known to be otherwise, and is in the change's u. */
static void differs(struct bl_text *to, const json_t *all)
{
    static const struct bl_coded facts[] = {
        {"supply", "supply pressure, kPa"},
        {"temperature", "temperature, degC"},
        {"units-in-front", "units in front"},
        {NULL, NULL}};
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *one = json_array_get(all, i);
        char then[BL_TEXT_CELL];
        char now[BL_TEXT_CELL];
        bl_output_format(
            to->output, "    %s: %s then, %s now, counted in the changes\n",
            bl_coded_words(facts, bl_tree_get_text(one, "fact")),
            bl_text_fixed(bl_tree_get_number(one, "then"), 0, then),
            bl_text_fixed(bl_tree_get_number(one, "now"), 0, now));
    }
}

static const char *date_of(const json_t *visits, size_t index)
{
    return bl_tree_get_text(json_array_get(visits, index), "date");
}

void bl_text_before_after(struct bl_text *to)
{
    const json_t *all = json_object_get(to->root, "before_after");
    const json_t *units = json_object_get(all, "units");
    const json_t *visits = json_object_get(all, "visits");
    char number[BL_TEXT_CELL];
    if (all == NULL) {
        return;
    }
    bl_output_format(to->output, "\nBefore and after: %s and %s\n",
                     date_of(visits, 0), date_of(visits, 1));
    bl_output_format(
        to->output,
        "  A change holds what sound visits differ by (usually %s s), "
        "transducers and clocks.\n",
        bl_text_fixed(bl_tree_get_number(all, "spread_s"), 3, number));
    for (size_t i = 0; i < json_array_size(units); i++) {
        const json_t *unit = json_array_get(units, i);
        char text[BL_TEXT_CELL];
        bl_output_text(to->output, "\n  ");
        bl_text_plain(to, bl_text_unit(unit, text));
        bl_output_text(to->output, ", id ");
        bl_text_plain(to, bl_tree_get_text(unit, "unit_id"));
        bl_output_text(to->output, "\n");
        differs(to, json_object_get(unit, "differs"));
        rows(to, json_object_get(unit, "rows"),
             bl_tree_get_number(all, "confidence"));
        bl_text_flush(to);
    }
}
