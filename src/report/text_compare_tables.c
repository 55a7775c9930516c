/* SPDX-License-Identifier: MIT */
/* The tables of a comparison: every figure, distances, trends, orders, and how
   the trial was made. Kinds and shapes never share a table. */
#include "report/text.h"

#include <math.h>
#include <string.h>

static bool same(const json_t *a, const json_t *b, const char *key)
{
    return strcmp(bl_tree_get_text(a, key), bl_tree_get_text(b, key)) == 0;
}

static bool same_block(const json_t *a, const json_t *b)
{
    const double ka = bl_tree_get_number(a, "kpa");
    const double kb = bl_tree_get_number(b, "kpa");
    return same(a, b, "kind") && same(a, b, "shape") && same(a, b, "figure") &&
           ((isnan(ka) && isnan(kb)) || ka == kb);
}

static bool has_values(const json_t *row)
{
    return bl_tree_get_count(row, "n_base") +
               bl_tree_get_count(row, "n_against") >
           0;
}

static const char *verdict_words(const json_t *row, char *text)
{
    const char *verdict = bl_tree_get_text(row, "verdict");
    if (strcmp(verdict, "run-more") == 0) {
        snprintf(text, BL_TEXT_CELL, "too few: %llu more of each",
                 (unsigned long long)bl_tree_get_count(row, "more"));
        return text;
    }
    if (strcmp(verdict, "no-change-shown") == 0) {
        return "no difference shown";
    }
    return strcmp(verdict, "no-values") == 0 ? "cannot be compared" : verdict;
}

static void number(struct bl_table *table, const json_t *row, const char *key,
                   double factor, int decimals)
{
    char text[BL_TEXT_CELL];
    bl_table_cell(
        table, "%s",
        bl_text_fixed(bl_tree_get_number(row, key) * factor, decimals, text));
}

static void block_row(struct bl_table *table, const json_t *row)
{
    char text[BL_TEXT_CELL];
    bl_table_cell(table, "%s", bl_text_unit(row, text));
    number(table, row, "base_median_s", 1, 3);
    number(table, row, "against_median_s", 1, 3);
    number(table, row, "difference_s", 1, 3);
    number(table, row, "low_s", 1, 3);
    number(table, row, "high_s", 1, 3);
    number(table, row, "confidence", 100, 1);
    bl_table_cell(table, "%llu+%llu",
                  (unsigned long long)bl_tree_get_count(row, "n_base"),
                  (unsigned long long)bl_tree_get_count(row, "n_against"));
    bl_table_cell(
        table, "%llu+%llu",
        (unsigned long long)bl_tree_get_count(row, "without_base"),
        (unsigned long long)bl_tree_get_count(row, "without_against"));
    bl_table_cell(table, "%llu",
                  (unsigned long long)bl_tree_get_count(row, "unpaired_left"));
    number(table, row, "p", 1, 4);
    bl_table_span(table, "%s", verdict_words(row, text));
    bl_table_row(table);
}

static void block(struct bl_text *to, const json_t *rows, size_t index)
{
    static const char *const titles[] = {
        "unit",    "base", "against", "difference", "from", "to",
        "sure, %", "n",    "without", "left",       "p"};
    enum { TITLES = sizeof(titles) / sizeof(titles[0]) };
    const json_t *own = json_array_get(rows, index);
    char text[BL_TEXT_CELL];
    struct bl_table table = {0};
    for (size_t i = 0; i < TITLES; i++) {
        table.right[i] = i > 0;
        bl_table_cell(&table, "%s", titles[i]);
    }
    bl_table_row(&table);
    for (size_t i = index; i < json_array_size(rows); i++) {
        const json_t *row = json_array_get(rows, i);
        if (same_block(row, own) && has_values(row)) {
            block_row(&table, row);
        }
    }
    bl_output_format(to->output, "  %s, %s: %s", bl_text_kind(own),
                     bl_text_shape(own), bl_tree_get_text(own, "figure"));
    const double kpa = bl_tree_get_number(own, "kpa");
    if (!isnan(kpa)) {
        bl_output_format(to->output, " %s", bl_text_pressure(to, kpa, text));
    }
    bl_output_text(to->output, ", seconds\n");
    to->failed = !bl_table_write(&table, to->output, 4) || to->failed;
}

static void blocks(struct bl_text *to, const json_t *rows)
{
    bl_output_text(
        to->output,
        "\nFigures; difference: against less base, negative is earlier; n: "
        "values used on each side;\nwithout: applications that gave none; "
        "left: values without a partner; p: how often chance\nalone would "
        "give as much\n");
    for (size_t i = 0; i < json_array_size(rows); i++) {
        const json_t *own = json_array_get(rows, i);
        bool before = false;
        for (size_t k = 0; k < i; k++) {
            before = before || (same_block(json_array_get(rows, k), own) &&
                                has_values(json_array_get(rows, k)));
        }
        if (!before && has_values(own)) {
            block(to, rows, i);
        }
    }
}

static void travel_row(struct bl_table *table, const json_t *row)
{
    char text[BL_TEXT_CELL];
    bl_table_cell(table, "%s", bl_text_unit(row, text));
    bl_table_cell(table, "%s, %s", bl_text_kind(row), bl_text_shape(row));
    const json_t *all = json_object_get(row, "travel_in_lag");
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *is = json_array_get(all, i);
        bl_table_cell(table, "%s",
                      bl_text_value(bl_tree_get_number(is, "m"),
                                    bl_tree_get_number(is, "u_m"), 1, text));
    }
    bl_table_row(table);
}

static void travels(struct bl_text *to, const json_t *rows)
{
    struct bl_table table = {0};
    bool first = true;
    char text[BL_TEXT_CELL];
    for (size_t i = 0; i < json_array_size(rows); i++) {
        const json_t *row = json_array_get(rows, i);
        const json_t *all = json_object_get(row, "travel_in_lag");
        if (strcmp(bl_tree_get_text(row, "figure"),
                   bl_figure_name_text(BL_FIGURE_FILLED)) != 0 ||
            json_array_size(all) == 0 ||
            isnan(bl_tree_get_number(row, "difference_s"))) {
            continue;
        }
        if (first) {
            bl_table_cell(&table, "unit");
            bl_table_cell(&table, "kind");
            for (size_t k = 0;
                 k < json_array_size(all) && k + 3 < BL_TABLE_COLUMNS; k++) {
                table.right[k + 2] = true;
                bl_table_cell(&table, "%s km/h",
                              bl_text_fixed(bl_tree_get_number(
                                                json_array_get(all, k), "kmh"),
                                            0, text));
            }
            bl_table_row(&table);
            first = false;
        }
        travel_row(&table, row);
    }
    if (!first) {
        bl_output_text(to->output,
                       "\nDistance travelled during the difference at 75 %, "
                       "metres at a steady speed.\nIt is not the added "
                       "stopping distance: that needs masses and forces.\n");
        to->failed = !bl_table_write(&table, to->output, 2) || to->failed;
    }
}

/* Where the values drift with the order in which they were made. */
static void trend(struct bl_text *to, const json_t *row, const json_t *is,
                  const char *side)
{
    char text[BL_TEXT_CELL];
    bl_output_format(to->output, "  %s, %s, %s, %s in ",
                     bl_text_unit(row, text), bl_text_kind(row),
                     bl_text_shape(row), bl_tree_get_text(row, "figure"));
    bl_text_plain(to, side[0] == '\0' ? "all runs" : side);
    bl_output_format(to->output, ": %s (tau %s",
                     bl_tree_get_number(is, "tau") > 0 ? "later and later"
                                                       : "earlier and earlier",
                     bl_text_fixed(bl_tree_get_number(is, "tau"), 2, text));
    bl_output_format(to->output, ", p %s, %llu values)\n",
                     bl_text_fixed(bl_tree_get_number(is, "p"), 5, text),
                     (unsigned long long)bl_tree_get_count(is, "n"));
}

static void trends(struct bl_text *to, const json_t *rows)
{
    static const char *const keys[] = {"trend_base", "trend_against"};
    static const char *const sides[] = {"base", "against"};
    size_t count = 0;
    size_t drifting = 0;
    for (size_t i = 0; i < 2 * json_array_size(rows); i++) {
        const json_t *row = json_array_get(rows, i / 2);
        const json_t *is = json_object_get(row, keys[i % 2]);
        count += !isnan(bl_tree_get_number(is, "p"));
        if (!bl_tree_get_bool(is, "drifts")) {
            continue;
        }
        if (drifting++ == 0) {
            bl_output_text(to->output,
                           "\nDrifting from application to application "
                           "(supply pressure? temperature?)\n");
        }
        trend(to, row, is, bl_tree_get_text(row, sides[i % 2]));
    }
    if (count > 0 && drifting == 0) {
        bl_output_format(to->output,
                         "\nNo figure drifts from application to application: "
                         "none of %llu series beyond chance\n",
                         (unsigned long long)count);
    } else if (count == 0) {
        bl_output_text(to->output, "\nToo few applications to tell whether "
                                   "figures drift from one to the next\n");
    }
}

static void references(struct bl_text *to, const json_t *rows,
                       const json_t *compared)
{
    const char *reference = bl_tree_get_text(compared, "reference");
    if (reference[0] == '\0') {
        bl_output_text(to->output,
                       bl_tree_get_bool(compared, "two_units")
                           ? "  no reference was given: what the two measuring "
                             "chains differ by is in the differences\n"
                           : "  no reference was given; the same channel on "
                             "both sides: what its chain adds cancels\n");
        return;
    }
    bl_output_text(to->output, "  reference \"");
    bl_text_plain(to, reference);
    bl_output_text(to->output, "\"");
    if (json_array_size(rows) > 0 &&
        bl_tree_get_bool(json_array_get(rows, 0), "reference_cancels")) {
        bl_output_text(to->output,
                       ": the same channel on both sides, so what its chain "
                       "adds cancels and nothing is taken off\n");
        return;
    }
    bl_output_text(to->output, ", taken off once:\n");
    char text[BL_TEXT_CELL];
    for (size_t i = 0; i < json_array_size(rows); i++) {
        const json_t *row = json_array_get(rows, i);
        if (!has_values(row) || isnan(bl_tree_get_number(row, "reference_s"))) {
            continue;
        }
        if (bl_tree_get_count(row, "n_reference") == 0) {
            bl_output_format(
                to->output, "    %s s from every figure, as stated\n",
                bl_text_value(bl_tree_get_number(row, "reference_s"),
                              bl_tree_get_number(row, "u_reference_s"), 4,
                              text));
            return;
        }
        bl_output_format(to->output, "    %s, %s: %s", bl_text_unit(row, text),
                         bl_text_kind(row), bl_tree_get_text(row, "figure"));
        bl_output_format(
            to->output, " %s s, from %llu applications\n",
            bl_text_value(bl_tree_get_number(row, "reference_s"),
                          bl_tree_get_number(row, "u_reference_s"), 4, text),
            (unsigned long long)bl_tree_get_count(row, "n_reference"));
    }
}

static void how(struct bl_text *to, const json_t *rows, const json_t *compared)
{
    char text[BL_TEXT_CELL];
    bl_output_format(
        to->output,
        "\nHow it was compared\n  %llu and %llu runs, asked to be "
        "sure to %s %%",
        (unsigned long long)bl_tree_get_count(compared, "runs_base"),
        (unsigned long long)bl_tree_get_count(compared, "runs_against"),
        bl_text_fixed(100 * bl_tree_get_number(compared, "confidence"), 1,
                      text));
    bool paired = false;
    for (size_t i = 0; i < json_array_size(rows); i++) {
        paired = paired || bl_tree_get_bool(json_array_get(rows, i), "paired");
    }
    bl_output_text(to->output,
                   paired ? ", values in pairs\n" : ", values not in pairs\n");
    if (!bl_tree_get_bool(compared, "two_units") &&
        bl_tree_get_bool(compared, "order_balanced")) {
        bl_output_text(to->output, "  the runs of the two conditions are "
                                   "spread alike in time\n");
    }
    bl_output_format(
        to->output,
        "  %llu applications are excluded, by the trial file or because "
        "their run is not as declared\n",
        (unsigned long long)bl_tree_get_count(compared, "excluded"));
    references(to, rows, compared);
    const json_t *notes = json_object_get(compared, "notes");
    for (size_t i = 0; i < json_array_size(notes); i++) {
        bl_output_text(to->output, "  ");
        bl_text_plain(to, bl_tree_get_text(json_array_get(notes, i), "text"));
        bl_output_text(to->output, "\n");
    }
}

void bl_text_comparison_tables(struct bl_text *to)
{
    const json_t *rows = json_object_get(to->root, "comparison");
    const json_t *compared = json_object_get(to->root, "compared");
    how(to, rows, compared);
    blocks(to, rows);
    travels(to, rows);
    trends(to, rows);
    bl_output_text(to->output, "\nOrder in which the units answer, and how "
                               "often it repeats\n");
    const json_t *orders = json_object_get(compared, "order");
    const char *base = bl_tree_get_text(compared, "base");
    bl_text_orders(to, orders, base[0] == '\0' ? "all runs" : base);
    if (!bl_tree_get_bool(compared, "two_units")) {
        bl_text_orders(to, orders, bl_tree_get_text(compared, "against"));
    }
}
