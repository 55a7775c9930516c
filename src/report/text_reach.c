/* SPDX-License-Identifier: MIT */
/* The acceptance table: one line per unit, then findings and what else was
   said on the buses. Also its rows as CSV. */
#include "report/text.h"

#include "base/number.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const char *milliseconds(double s, char *text)
{
    char number[BL_TEXT_CELL];
    if (isnan(s)) {
        return "-";
    }
    (void)snprintf(text, BL_TEXT_CELL, "%s", bl_text_fixed(s * 1e3, 1, number));
    return text;
}

static const char *words(const char *verdict)
{
    for (int i = 0; i < BL_REACH_VERDICTS; i++) {
        if (strcmp(verdict, bl_reach_verdict_name((enum bl_reach_verdict)i)) ==
            0) {
            return bl_reach_verdict_words((enum bl_reach_verdict)i);
        }
    }
    return verdict;
}

static void head(struct bl_table *table)
{
    static const char *const columns[] = {
        "unit",      "verdict",  "bus",      "from>to", "frames",
        "median ms", "max ms",   "gaps",     "lost %",  "bad",
        "diff kPa",  "delay ms", "added ms", "follows", "volts"};
    for (size_t i = 0; i < sizeof(columns) / sizeof(columns[0]); i++) {
        bl_table_cell(table, "%s", columns[i]);
        table->right[i] = i >= 4 && i != 13;
    }
    bl_table_row(table);
}

static void figure_cell(struct bl_table *table, const json_t *figure)
{
    char s[BL_TEXT_CELL];
    char u[BL_TEXT_CELL];
    const double value = bl_tree_get_number(figure, "s");
    if (isnan(value)) {
        bl_table_cell(table, "-");
        return;
    }
    bl_table_cell(table, "%s \xC2\xB1 %s", bl_text_fixed(value * 1e3, 1, s),
                  bl_text_fixed(2e3 * bl_tree_get_number(figure, "u_s"), 1, u));
}

static void unit_row(struct bl_table *table, const json_t *unit)
{
    char text[BL_TEXT_CELL];
    const json_t *demand = json_object_get(unit, "demand");
    const json_t *interval = json_object_get(demand, "interval");
    const json_t *bad = json_object_get(demand, "without_value");
    bl_table_cell(table, "%s", bl_text_unit(unit, text));
    bl_table_cell(table, "%s", words(bl_tree_get_text(unit, "verdict")));
    bl_table_cell(table, "%s", bl_tree_get_text(unit, "bus"));
    if (!bl_tree_get_bool(demand, "present")) {
        bl_table_cell(table, "not present");
        for (int i = 4; i < 13; i++) {
            bl_table_cell(table, "-");
        }
    } else {
        bl_table_cell(
            table, "%02llX>%02llX",
            (unsigned long long)bl_tree_get_count(demand, "from_address"),
            (unsigned long long)bl_tree_get_count(demand, "to_address"));
        bl_table_cell(table, "%llu",
                      (unsigned long long)bl_tree_get_count(demand, "frames"));
        bl_table_cell(
            table, "%s",
            milliseconds(bl_tree_get_number(interval, "median_s"), text));
        bl_table_cell(
            table, "%s",
            milliseconds(bl_tree_get_number(interval, "most_s"), text));
        bl_table_cell(table, "%zu",
                      json_array_size(json_object_get(demand, "gaps")));
        bl_table_cell(
            table, "%s",
            bl_text_fixed(100 * bl_tree_get_number(demand, "lost_share"), 1,
                          text));
        bl_table_cell(
            table, "%llu",
            (unsigned long long)(bl_tree_get_count(bad, "not_available") +
                                 bl_tree_get_count(bad, "error") +
                                 bl_tree_get_count(bad, "other")));
        const double kpa = bl_tree_get_number(
            json_object_get(demand, "against_first_hop"), "difference_kpa");
        bl_table_cell(table, "%s",
                      isnan(kpa) ? "-" : bl_text_fixed(kpa, 1, text));
        figure_cell(table, json_object_get(demand, "delay"));
        figure_cell(table, json_object_get(demand, "added"));
    }
    bl_table_cell(table, "%s", bl_tree_get_text(unit, "follows"));
    const double volts = bl_tree_get_number(
        json_object_get(unit, "voltage_while_braking"), "least");
    bl_table_cell(table, "%s",
                  isnan(volts) ? "-" : bl_text_fixed(volts, 1, text));
    bl_table_row(table);
}

static void whys(struct bl_text *to, const json_t *units)
{
    char text[BL_TEXT_CELL];
    for (size_t u = 0; u < json_array_size(units); u++) {
        const json_t *unit = json_array_get(units, u);
        const json_t *why = json_object_get(unit, "why");
        for (size_t i = 0; i < json_array_size(why); i++) {
            bl_output_format(to->output, "  %s: ", bl_text_unit(unit, text));
            bl_text_plain(to, json_string_value(json_array_get(why, i)));
            bl_output_text(to->output, "\n");
        }
        const char *called = bl_tree_get_text(unit, "called_for");
        if (called[0] != '\0') {
            bl_output_format(to->output, "  %s: the messages call for ",
                             bl_text_unit(unit, text));
            bl_text_plain(to, called);
            bl_output_format(to->output, " (%s)\n",
                             bl_tree_get_text(unit, "towing_kind"));
        }
    }
}

static void findings(struct bl_text *to, const json_t *all)
{
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *is = json_array_get(all, i);
        bl_output_format(to->output,
                         "  %s %s: ", bl_tree_get_text(is, "severity"),
                         bl_tree_get_text(is, "code"));
        bl_text_plain(to, bl_tree_get_text(is, "text"));
        bl_output_text(to->output, "\n    next: ");
        bl_text_plain(to, bl_tree_get_text(is, "next_check"));
        bl_output_text(to->output, "\n");
    }
}

static void talk(struct bl_text *to, const json_t *run)
{
    const json_t *buses = json_object_get(run, "buses");
    const json_t *codes = json_object_get(run, "trouble_codes");
    char text[BL_TEXT_CELL];
    for (size_t i = 0; i < json_array_size(buses); i++) {
        const json_t *is = json_array_get(buses, i);
        const double bits = bl_tree_get_number(is, "bits_per_s");
        bl_output_text(to->output, "  bus ");
        bl_text_plain(to, bl_tree_get_text(is, "bus"));
        bl_output_format(
            to->output, ": %llu frames, %llu error frames, %s kbit/s\n",
            (unsigned long long)bl_tree_get_count(is, "frames"),
            (unsigned long long)bl_tree_get_count(is, "error_frames"),
            isnan(bits) ? "-" : bl_text_fixed(bits * 1e-3, 1, text));
    }
    for (size_t i = 0; i < json_array_size(codes); i++) {
        const json_t *is = json_array_get(codes, i);
        bl_output_format(to->output, "  address %llu: trouble code SPN %llu ",
                         (unsigned long long)bl_tree_get_count(is, "address"),
                         (unsigned long long)bl_tree_get_count(is, "spn"));
        bl_text_plain(to, bl_tree_get_text(is, "spn_text"));
        bl_output_format(
            to->output, " FMI %llu %s, %llu times counted\n",
            (unsigned long long)bl_tree_get_count(is, "fmi"),
            bl_tree_get_text(is, "fmi_text"),
            (unsigned long long)bl_tree_get_count(is, "occurrences"));
    }
}

void bl_text_reach(struct bl_text *to)
{
    const json_t *all = json_object_get(to->root, "reach");
    for (size_t r = 0; r < json_array_size(all); r++) {
        const json_t *run = json_array_get(all, r);
        const json_t *units = json_object_get(run, "units");
        struct bl_table table = {0};
        bl_output_text(to->output, "\nReach of the demand, run ");
        bl_text_plain(to, bl_tree_get_text(run, "run"));
        bl_output_text(to->output, "\n");
        head(&table);
        for (size_t u = 0; u < json_array_size(units); u++) {
            unit_row(&table, json_array_get(units, u));
        }
        if (!bl_table_write(&table, to->output, 2)) {
            to->failed = true;
        }
        whys(to, units);
        findings(to, json_object_get(run, "findings"));
        talk(to, run);
        const char *why = bl_tree_get_text(run, "not_as_expected");
        if (why[0] != '\0') {
            bl_output_text(to->output, "  not as expected: ");
            bl_text_plain(to, why);
            bl_output_text(to->output, "\n");
        }
    }
}

static void csv_text(struct bl_output *output, const char *text)
{
    bl_output_text(output, "\"");
    for (; *text != '\0'; text++) {
        if (*text == '"') {
            bl_output_text(output, "\"");
        }
        bl_output_write(output, text, 1);
    }
    bl_output_text(output, "\",");
}

static void csv_number(struct bl_output *output, double value)
{
    char text[40];
    if (!isnan(value)) {
        bl_output_text(output, bl_number_format(value, BL_TREE_DIGITS, text,
                                                sizeof(text)));
    }
    bl_output_text(output, ",");
}

static void csv_unit(struct bl_output *output, const json_t *run,
                     const json_t *unit)
{
    const json_t *demand = json_object_get(unit, "demand");
    const json_t *interval = json_object_get(demand, "interval");
    const json_t *bad = json_object_get(demand, "without_value");
    const json_t *first = json_object_get(demand, "against_first_hop");
    const bool present = bl_tree_get_bool(demand, "present");
    csv_text(output, bl_tree_get_text(run, "run"));
    csv_text(output, bl_tree_get_text(unit, "unit"));
    csv_text(output, bl_tree_get_text(unit, "name"));
    csv_text(output, bl_tree_get_text(unit, "bus"));
    csv_text(output, bl_tree_get_text(unit, "verdict"));
    bl_output_text(output, present ? "yes," : "no,");
    csv_number(output, present ? bl_tree_get_number(demand, "frames") : NAN);
    csv_number(output, bl_tree_get_number(interval, "least_s"));
    csv_number(output, bl_tree_get_number(interval, "median_s"));
    csv_number(output, bl_tree_get_number(interval, "most_s"));
    csv_number(output, bl_tree_get_number(demand, "lost_share"));
    csv_number(output, bl_tree_get_number(bad, "in_applications"));
    csv_number(output, bl_tree_get_number(demand, "first_valid_s"));
    csv_number(output, bl_tree_get_number(first, "difference_counts"));
    csv_number(output, bl_tree_get_number(first, "difference_kpa"));
    csv_number(output,
               bl_tree_get_number(json_object_get(demand, "delay"), "s"));
    csv_number(output,
               bl_tree_get_number(json_object_get(demand, "delay"), "u_s"));
    csv_number(output,
               bl_tree_get_number(json_object_get(demand, "added"), "s"));
    bl_output_format(output, "%s\n", bl_tree_get_text(unit, "follows"));
}

void bl_reach_csv(const json_t *root, struct bl_output *output)
{
    const json_t *all = json_object_get(root, "reach");
    bl_output_text(
        output,
        "run,unit,unit_name,bus,verdict,present,frames,interval_least_s,"
        "interval_median_s,interval_most_s,lost_share,without_value_braking,"
        "first_valid_s,difference_counts,difference_kpa,delay_s,delay_u_s,"
        "added_s,follows\n");
    for (size_t r = 0; r < json_array_size(all); r++) {
        const json_t *run = json_array_get(all, r);
        const json_t *units = json_object_get(run, "units");
        for (size_t u = 0; u < json_array_size(units); u++) {
            csv_unit(output, run, json_array_get(units, u));
        }
    }
}
