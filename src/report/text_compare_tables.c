/* SPDX-License-Identifier: MIT */
/* The tables of a comparison: every figure, distances, trends, orders, and how
   the trial was made. Kinds and shapes never share a table. */
#include "report/text.h"

#include <math.h>
#include <string.h>

static bool same_block(const json_t *a, const json_t *b)
{
    const double ka = bl_tree_get_number(a, "kpa");
    const double kb = bl_tree_get_number(b, "kpa");
    return bl_tree_same_text(a, b, "kind") &&
           bl_tree_same_text(a, b, "shape") &&
           bl_tree_same_text(a, b, "figure") &&
           ((isnan(ka) && isnan(kb)) || ka == kb);
}

static bool has_values(const json_t *row)
{
    return bl_tree_get_count(row, "n_base") +
               bl_tree_get_count(row, "n_against") >
           0;
}

const char *bl_text_verdict(const char *verdict)
{
    static const struct bl_coded words[] = {
        {"run-more", "of these runs only"},
        {"no-change-shown", "no difference shown"},
        {"no-values", "cannot be compared"},
        {"same", "same within margin"},
        {"command-differs", "the command differs"},
        {NULL, NULL}};
    return bl_coded_words(words, verdict);
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
    number(table, row, "difference_s", 1, 3);
    number(table, row, "low_s", 1, 3);
    number(table, row, "high_s", 1, 3);
    number(table, row, "confidence", 100, 1);
    bl_table_cell(table, "%s",
                  bl_text_verdict(bl_tree_get_text(row, "verdict")));
    number(table, row, "base_mean_s", 1, 3);
    number(table, row, "against_mean_s", 1, 3);
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
    number(table, row, "p_exact", 1, 4);
    number(table, row, "p_holm", 1, 4);
    bl_table_row(table);
}

static void block(struct bl_text *to, const json_t *rows, size_t index)
{
    static const char *const titles[] = {
        "unit",    "difference", "from",    "to",   "sure, %", "",      "base",
        "against", "n",          "without", "left", "p",       "exact", "Holm"};
    enum { TITLES = sizeof(titles) / sizeof(titles[0]), VERDICT = 5 };
    const json_t *own = json_array_get(rows, index);
    char text[BL_TEXT_CELL];
    struct bl_table table = {.heading = true};
    for (size_t i = 0; i < TITLES; i++) {
        table.right[i] = i > 0 && i != VERDICT;
        table.starts[i] = i == VERDICT + 1;
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
                     bl_text_shape(own), bl_text_figure_of(to, own, text));
    const double kpa = bl_tree_get_number(own, "kpa");
    if (!isnan(kpa)) {
        bl_output_format(to->output, " %s", bl_text_stated(to, kpa, text));
    }
    bl_output_text(to->output, ", seconds\n");
    bl_text_table(to, &table, 4);
}

static void blocks(struct bl_text *to, const json_t *rows)
{
    bl_output_text(
        to->output,
        "\nFigures; difference: against minus base, negative is earlier; n: "
        "values used on each side; without: applications that gave none; "
        "left: values without a partner; p: how often chance alone would "
        "give so large a difference; exact: the same, from the ranks of the "
        "runs (if each side has four or more); Holm: adjusted for all lines "
        "of the figure\n");
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
        const json_t *travel = json_array_get(all, i);
        bl_table_cell(table, "%s",
                      bl_text_value(bl_tree_get_number(travel, "m"),
                                    bl_tree_get_number(travel, "u_m"), 1,
                                    text));
    }
    bl_table_row(table);
}

static void travels(struct bl_text *to, const json_t *rows)
{
    struct bl_table table = {.heading = true};
    bool first = true;
    char text[BL_TEXT_CELL];
    for (size_t i = 0; i < json_array_size(rows); i++) {
        const json_t *row = json_array_get(rows, i);
        const json_t *all = json_object_get(row, "travel_in_lag");
        if (!bl_text_is(to, row, "figure", BL_FIGURE_FILLED) ||
            json_array_size(all) == 0 ||
            isnan(bl_tree_get_number(row, "difference_s")) ||
            bl_tree_get_bool(row, "metres_refused")) {
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
                       "\nDistance travelled during the difference at 75 % of "
                       "settled, metres at a steady speed. It is not the added "
                       "stopping distance: that needs masses and forces.\n");
        bl_text_table(to, &table, 2);
    }
}

/* Where the values drift with the order in which they were made. */
static void trend(struct bl_text *to, const json_t *row, const json_t *drift,
                  const char *side)
{
    char text[BL_TEXT_CELL];
    char title[BL_TEXT_CELL];
    bl_output_format(to->output, "  %s, %s, %s, %s in ",
                     bl_text_called(to, row), bl_text_kind(row),
                     bl_text_shape(row), bl_text_figure_of(to, row, title));
    bl_text_plain(to, side[0] == '\0' ? "all runs" : side);
    bl_output_format(to->output, ": %s (tau %s",
                     bl_tree_get_number(drift, "tau") > 0
                         ? "later and later"
                         : "earlier and earlier",
                     bl_text_fixed(bl_tree_get_number(drift, "tau"), 2, text));
    bl_output_format(to->output, ", p %s, %llu values)\n",
                     bl_text_fixed(bl_tree_get_number(drift, "p"), 5, text),
                     (unsigned long long)bl_tree_get_count(drift, "n"));
}

static void trends(struct bl_text *to, const json_t *rows)
{
    static const char *const keys[] = {"trend_base", "trend_against"};
    static const char *const sides[] = {"base", "against"};
    size_t count = 0;
    size_t drifting = 0;
    for (size_t i = 0; i < 2 * json_array_size(rows); i++) {
        const json_t *row = json_array_get(rows, i / 2);
        const json_t *drift = json_object_get(row, keys[i % 2]);
        count += !isnan(bl_tree_get_number(drift, "p"));
        if (!bl_tree_get_bool(drift, "drifts")) {
            continue;
        }
        if (drifting++ == 0) {
            bl_output_text(to->output,
                           "\nDrifting from application to application "
                           "(supply pressure? temperature?)\n");
        }
        trend(to, row, drift, bl_tree_get_text(row, sides[i % 2]));
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

/* What runs and applications scatter by, and how many would do. */
static void scatter_row(struct bl_table *table, const json_t *row)
{
    char text[BL_TEXT_CELL];
    const json_t *aim = json_object_get(row, "aim");
    bl_table_cell(table, "%s", bl_text_unit(row, text));
    bl_table_cell(table, "%s, %s", bl_text_kind(row), bl_text_shape(row));
    number(table, row, "between_base_s", 1, 4);
    number(table, row, "between_against_s", 1, 4);
    number(table, row, "within_base_s", 1, 4);
    number(table, row, "within_against_s", 1, 4);
    if (json_is_object(aim)) {
        number(table, aim, "half_width_s", 1, 3);
        bl_table_cell(table, "%llu",
                      (unsigned long long)bl_tree_get_count(aim, "runs"));
        bl_table_cell(
            table, "%llu",
            (unsigned long long)bl_tree_get_count(aim, "applications"));
    }
    bl_table_row(table);
}

static void scatter(struct bl_text *to, const json_t *rows)
{
    static const char *const titles[] = {
        "unit",    "kind",   "runs: base", "against", "single: base",
        "against", "for +-", "runs",       "of"};
    enum { TITLES = sizeof(titles) / sizeof(titles[0]) };
    struct bl_table table = {.heading = true};
    bool first = true;
    for (size_t i = 0; i < json_array_size(rows); i++) {
        const json_t *row = json_array_get(rows, i);
        if (!bl_text_is(to, row, "figure", BL_FIGURE_FILLED) ||
            isnan(bl_tree_get_number(row, "difference_s"))) {
            continue;
        }
        for (size_t k = 0; first && k < TITLES; k++) {
            table.right[k] = k > 1;
            bl_table_cell(&table, "%s", titles[k]);
        }
        if (first) {
            bl_table_row(&table);
        }
        first = false;
        scatter_row(&table, row);
    }
    if (!first) {
        bl_output_text(
            to->output,
            "\nScatter between runs, and between single applications "
            "within a run, at 75 %, as standard deviations in seconds; then "
            "how many runs of each side, with how many applications, would "
            "give the half-width (--aim, or a tenth of the difference; -: a "
            "side has fewer than three runs so far, or no number would be "
            "enough)\n");
        bl_text_table(to, &table, 2);
    }
}

static void command_part(struct bl_text *to, const json_t *command,
                         const char *key, const char *what, int decimals)
{
    char a[BL_TEXT_CELL];
    char b[BL_TEXT_CELL];
    const json_t *part = json_object_get(command, key);
    const bool hold = strcmp(key, "hold") == 0;
    if (isnan(bl_tree_get_number(part, "difference"))) {
        bl_output_format(to->output, ", %s not seen on both", what);
        return;
    }
    bl_output_format(
        to->output, ", %s %s and %s %s%s", what,
        bl_text_fixed(bl_tree_get_number(part, "base"), decimals, a),
        bl_text_fixed(bl_tree_get_number(part, "against"), decimals, b),
        hold ? bl_tree_get_text(command, "hold_unit") : "s",
        bl_tree_get_bool(part, "differs") ? " (differs)" : "");
}

/* Before any unit is compared: was it the same pedal? */
static void commands(struct bl_text *to, const json_t *compared)
{
    const json_t *all = json_object_get(compared, "command");
    if (json_array_size(all) > 0) {
        bl_output_text(to->output, "  the command itself, base and against:\n");
    }
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *command = json_array_get(all, i);
        bl_output_format(
            to->output, "    %s, %s: %llu and %llu applications",
            bl_text_kind(command), bl_text_shape(command),
            (unsigned long long)bl_tree_get_count(command, "n_base"),
            (unsigned long long)bl_tree_get_count(command, "n_against"));
        if (bl_tree_get_bool(command, "unseen")) {
            bl_output_text(to->output,
                           "; a switch: how fast it went is not seen\n");
            continue;
        }
        command_part(to, command, "rise_s", "10 to 75 % in", 3);
        command_part(to, command, "fall_s", "90 to 10 % in", 3);
        command_part(to, command, "hold", "settled at", 1);
        bl_output_text(to->output,
                       bl_tree_get_bool(command, "hold_far")
                           ? "; so far apart that lags cannot be compared\n"
                           : "\n");
    }
}

static void references(struct bl_text *to, const json_t *rows,
                       const json_t *compared)
{
    const char *reference = bl_tree_get_text(compared, "reference");
    if (reference[0] == '\0') {
        bl_output_text(to->output,
                       bl_tree_get_bool(compared, "two_units")
                           ? "  no reference was given: the differences "
                             "include what the two measuring chains "
                             "differ by\n"
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
                       ": the same channel is on both sides, so the delay of "
                       "its chain cancels out and nothing is subtracted\n");
        return;
    }
    bl_output_text(to->output, ", subtracted once:\n");
    char text[BL_TEXT_CELL];
    char title[BL_TEXT_CELL];
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
        bl_output_format(to->output, "    %s, %s: %s", bl_text_called(to, row),
                         bl_text_kind(row), bl_text_figure_of(to, row, title));
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
        "\nHow it was compared\n  %llu and %llu runs, "
        "confidence asked for %s %%",
        (unsigned long long)bl_tree_get_count(compared, "runs_base"),
        (unsigned long long)bl_tree_get_count(compared, "runs_against"),
        bl_text_fixed(100 * bl_tree_get_number(compared, "confidence"), 1,
                      text));
    bool paired = false;
    for (size_t i = 0; i < json_array_size(rows); i++) {
        paired = paired || bl_tree_get_bool(json_array_get(rows, i), "paired");
    }
    bl_output_text(to->output, paired ? ", in pairs\n" : ", not in pairs\n");
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
    commands(to, compared);
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
    scatter(to, rows);
    travels(to, rows);
    trends(to, rows);
    bl_output_text(to->output, "\nOrder in which the units answer, and how "
                               "often it repeats\n");
    const json_t *orders = json_object_get(compared, "order");
    bl_text_orders(to, orders, BL_ORDER_BASE);
    if (!bl_tree_get_bool(compared, "two_units")) {
        bl_text_orders(to, orders, BL_ORDER_AGAINST);
    }
}
