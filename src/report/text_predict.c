/* SPDX-License-Identifier: MIT */
/* What air alone would take, as text: a table per run, what was not stated,
   and what could not be predicted. */
#include "report/text.h"

#include "brakelag/predict.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* The figures that every table shows; the others only where they stand out. */
static bool shown(const struct bl_text *to, const json_t *row)
{
    static const int always[] = {BL_FIGURE_RESPONSE, BL_FIGURE_FILLED,
                                 BL_PREDICT_FILL, BL_FIGURE_RELEASE_END};
    for (size_t i = 0; i < sizeof(always) / sizeof(always[0]); i++) {
        if (bl_text_is(to, row, "figure", always[i])) {
            return true;
        }
    }
    return bl_text_is(to, row, "verdict", BL_PREDICT_LATER) ||
           bl_text_is(to, row, "verdict", BL_PREDICT_EARLIER);
}

/* "later", "not decided (the band's edge is nearer than 2 u)" */
static void verdict_cell(const struct bl_text *to, struct bl_table *table,
                         const json_t *row)
{
    const char *reason = bl_tree_get_text(row, "reason");
    const uint64_t implausible = bl_tree_get_count(row, "implausible");
    if (implausible > 0) {
        bl_table_span(table, "implausible: sooner than any wave of air (%llu)",
                      (unsigned long long)implausible);
    } else if (bl_text_is(to, row, "verdict", BL_PREDICT_NOT_DECIDED)) {
        bl_table_span(table, "not decided: %s",
                      bl_words_of(&bl_words_predict, reason));
    } else {
        bl_table_span(table, "%s", bl_tree_get_text(row, "verdict"));
    }
}

/* Two of the figures are of a prediction only. */
static const char *figure_words(const struct bl_text *to, const json_t *row,
                                char *text)
{
    return bl_text_is(to, row, "figure", BL_PREDICT_FILL)
               ? "first air to 75 % of settled"
           : bl_text_is(to, row, "figure", BL_PREDICT_FALL)
               ? "release, 90 to 10 % of settled"
               : bl_text_figure_of(to, row, text);
}

static void head(struct bl_table *table)
{
    static const char *const titles[] = {"figure", "air alone, s",
                                         "measured, s", "n", ""};
    for (size_t i = 0; i < sizeof(titles) / sizeof(titles[0]); i++) {
        table->right[i] = i >= 1 && i <= 3;
        bl_table_cell(table, "%s", titles[i]);
    }
    bl_table_row(table);
}

static void row(const struct bl_text *to, struct bl_table *table,
                const json_t *row)
{
    char text[BL_TEXT_CELL];
    char a[BL_TEXT_CELL];
    char b[BL_TEXT_CELL];
    const double low = bl_tree_get_number(row, "low_s");
    bl_table_cell(table, "  %s", figure_words(to, row, text));
    if (isnan(low)) {
        bl_table_cell(table, "-");
    } else {
        bl_table_cell(table, "%s to %s", bl_text_fixed(low, 3, a),
                      bl_text_fixed(bl_tree_get_number(row, "high_s"), 3, b));
    }
    bl_table_cell(table, "%s%s",
                  bl_tree_get_count(row, "bounds") > 0 ? "later than " : "",
                  bl_text_value(bl_tree_get_number(row, "measured_s"),
                                bl_tree_get_number(row, "u_s"), 3, text));
    bl_table_cell(table, "%llu",
                  (unsigned long long)bl_tree_get_count(row, "n"));
    verdict_cell(to, table, row);
    bl_table_row(table);
}

/* Names of what is taken as usual for a unit: "bore, crack". */
static void usual_of(const struct bl_text *to, const json_t *unit, char *text,
                     size_t size)
{
    const json_t *all = json_object_get(unit, "inputs");
    size_t length = 0;
    text[0] = '\0';
    for (size_t i = 0; i < json_array_size(all) && length < size; i++) {
        const json_t *input = json_array_get(all, i);
        const char *what = bl_tree_get_text(input, "what");
        if (bl_text_is(to, input, "from", BL_PREDICT_FROM_USUAL) &&
            bl_predict_may_be_stated(what)) {
            const int more = snprintf(text + length, size - length, "%s%s",
                                      length == 0 ? "" : ", ", what);
            length += more > 0 ? (size_t)more : 0;
        }
    }
}

/* Units of one run that are not predicted, those of one reason together. */
static void refused(struct bl_text *to, const json_t *all, size_t from,
                    size_t end)
{
    for (size_t i = from; i < end; i++) {
        const char *reason = bl_tree_get_text(json_array_get(all, i), "reason");
        bool first = reason[0] != '\0';
        for (size_t k = from; first && k < i; k++) {
            first = !bl_tree_same_text(json_array_get(all, k),
                                       json_array_get(all, i), "reason");
        }
        json_t *alike = json_array();
        for (size_t k = i; first && k < end; k++) {
            json_t *unit = json_array_get(all, k);
            if (bl_tree_same_text(unit, json_array_get(all, i), "reason")) {
                bl_text_also(to, alike, unit);
            }
        }
        if (first) {
            bl_output_text(to->output, "    not predicted: ");
            bl_text_units(to, alike, false);
            bl_output_format(to->output, " (%s)\n",
                             bl_words_of(&bl_words_predict, reason));
        }
        json_decref(alike);
    }
}

/* What was taken as usual, units with the same list together. */
static void usual(struct bl_text *to, const json_t *all, size_t from,
                  size_t end)
{
    char text[512];
    char other[512];
    for (size_t i = from; i < end; i++) {
        usual_of(to, json_array_get(all, i), text, sizeof(text));
        bool first = text[0] != '\0';
        for (size_t k = from; first && k < i; k++) {
            usual_of(to, json_array_get(all, k), other, sizeof(other));
            first = strcmp(text, other) != 0;
        }
        json_t *alike = json_array();
        for (size_t k = i; first && k < end; k++) {
            usual_of(to, json_array_get(all, k), other, sizeof(other));
            if (strcmp(text, other) == 0) {
                bl_text_also(to, alike, json_array_get(all, k));
            }
        }
        if (first) {
            bl_output_text(to->output, "    not stated, so a usual range "
                                       "widens the band: ");
            bl_text_units(to, alike, false);
            bl_output_format(to->output, ": %s\n", text);
        }
        json_decref(alike);
    }
}

static void one_run(struct bl_text *to, const json_t *all, size_t from,
                    size_t end)
{
    struct bl_table table = {.heading = true};
    char text[BL_TEXT_SENTENCE];
    bool any = false;
    bl_output_text(to->output, "  Run ");
    bl_text_plain(to, bl_tree_get_text(json_array_get(all, from), "run"));
    bl_output_text(to->output, "\n");
    for (size_t u = from; u < end; u++) {
        const json_t *unit = json_array_get(all, u);
        const json_t *rows = json_object_get(unit, "figures");
        const json_t *before = NULL;
        for (size_t i = 0; i < json_array_size(rows); i++) {
            const json_t *one = json_array_get(rows, i);
            if (!shown(to, one)) {
                continue;
            }
            if (!any) {
                head(&table);
            }
            if (before == NULL || !bl_tree_same_text(one, before, "kind") ||
                !bl_tree_same_text(one, before, "shape")) {
                bl_table_span(&table, "%s, %s %s",
                              bl_text_unit_in_full(unit, text),
                              bl_text_kind(one), bl_text_shape(one));
                bl_table_row(&table);
            }
            any = true;
            before = one;
            row(to, &table, one);
        }
    }
    if (any) {
        bl_text_table(to, &table, 4);
    }
    bl_text_stages(to, all, from, end);
    refused(to, all, from, end);
    usual(to, all, from, end);
}

void bl_text_predict(struct bl_text *to)
{
    const json_t *all = json_object_get(to->root, "predict");
    if (json_array_size(all) == 0) {
        return;
    }
    bl_output_text(
        to->output,
        "\nWhat air alone would take: a model driven by the recorded command, "
        "100 times, with values drawn from what is known of the train; nine in "
        "ten results lie in the band. Not a limit\n");
    bl_text_said(to, BL_ANSWER_PREDICTED);
    for (size_t i = 0; i < json_array_size(all);) {
        size_t end = i + 1;
        while (end < json_array_size(all) &&
               bl_tree_same_text(json_array_get(all, i),
                                 json_array_get(all, end), "run")) {
            end++;
        }
        one_run(to, all, i, end);
        i = end;
    }
}
