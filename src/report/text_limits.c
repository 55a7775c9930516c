/* SPDX-License-Identifier: MIT */
/* Limits as text: a block per limit, a line per unit that says which runs lie
   below its number, above it, or cannot be compared. */
#include "report/text.h"

#include "brakelag/limits.h"

#include <math.h>
#include <string.h>

static bool same_limit(const json_t *a, const json_t *b)
{
    static const char *const keys[] = {"kind",   "limit_name", "regulation",
                                       "clause", "class",      "to"};
    for (size_t i = 0; i < sizeof(keys) / sizeof(keys[0]); i++) {
        if (!bl_tree_same_text(a, b, keys[i])) {
            return false;
        }
    }
    return true;
}

static bool is_own(const struct bl_text *to, const json_t *row)
{
    return bl_text_is(to, row, "kind", true);
}

/* "0.412 ± 0.004", "0.310 to 0.428", "above 0.31" */
static const char *value_text(const json_t *row, char *text)
{
    const double low = bl_tree_get_number(row, "low");
    const double high = bl_tree_get_number(row, "high");
    char a[BL_TEXT_CELL];
    char b[BL_TEXT_CELL];
    if (isnan(low) && isnan(high)) {
        return "-";
    }
    if (low == high) { /* the same figure, not two computed ones */
        return bl_text_value(high, bl_tree_get_number(row, "u"), 3, text);
    }
    if (isnan(low) || isnan(high)) {
        snprintf(text, BL_TEXT_CELL, "%s %.40s",
                 isnan(high) ? "above" : "up to",
                 bl_text_fixed(isnan(high) ? low : high, 3, a));
        return text;
    }
    snprintf(text, BL_TEXT_CELL, "%.40s to %.40s", bl_text_fixed(low, 3, a),
             bl_text_fixed(high, 3, b));
    return text;
}

/* Runs of one unit with one verdict: "P1, P2". */
static const char *runs_text(const struct bl_text *to, const json_t *rows,
                             size_t from, size_t end,
                             enum bl_limit_verdict verdict, char *text)
{
    const json_t *first = json_array_get(rows, from);
    size_t length = 0;
    text[0] = '\0';
    for (size_t i = from; i < end; i++) {
        const json_t *row = json_array_get(rows, i);
        if (!bl_tree_same_text(row, first, "unit") ||
            !bl_text_is(to, row, "verdict", (int)verdict)) {
            continue;
        }
        const int more =
            snprintf(text + length, BL_TEXT_CELL - length, "%s%.24s",
                     length == 0 ? "" : ", ", bl_tree_get_text(row, "run"));
        length += more > 0 ? (size_t)more : 0;
        if (length >= BL_TEXT_CELL - 4) {
            memcpy(text + BL_TEXT_CELL - 4, "...", 4);
            break;
        }
    }
    return length == 0 ? "-" : text;
}

static double most_of(const json_t *row)
{
    const double high = bl_tree_get_number(row, "high");
    return isnan(high) ? bl_tree_get_number(row, "low") : high;
}

/* A verdict was given: nothing says why not. */
static bool is_compared(const json_t *row)
{
    return json_is_null(json_object_get(row, "reason"));
}

/* The row of the unit's greatest value, or bound, over its runs: over those
   that were compared, where some were. */
static const json_t *greatest(const json_t *rows, size_t from, size_t to)
{
    const json_t *best = json_array_get(rows, from);
    const json_t *first = best;
    for (size_t i = from; i < to; i++) {
        const json_t *row = json_array_get(rows, i);
        if (!bl_tree_same_text(row, first, "unit")) {
            continue;
        }
        const bool more = most_of(row) > most_of(best) || isnan(most_of(best));
        if (is_compared(row) != is_compared(best) ? is_compared(row) : more) {
            best = row;
        }
    }
    return best;
}

static bool unit_seen(const json_t *rows, size_t from, size_t index)
{
    for (size_t i = from; i < index; i++) {
        if (bl_tree_same_text(json_array_get(rows, i),
                              json_array_get(rows, index), "unit")) {
            return true;
        }
    }
    return false;
}

static void unit_lines(struct bl_text *to, const json_t *rows, size_t from,
                       size_t end)
{
    static const char *const titles[2][5] = {
        {"unit", "greatest", "below the number", "above the number",
         "cannot be compared"},
        {"unit", "greatest", "inside", "outside", "not shown"}};
    const bool own = is_own(to, json_array_get(rows, from));
    struct bl_table table = {.heading = true};
    table.right[1] = true;
    for (size_t i = 0; i < sizeof(titles[0]) / sizeof(titles[0][0]); i++) {
        bl_table_cell(&table, "%s", titles[own][i]);
    }
    bl_table_row(&table);
    for (size_t i = from; i < end; i++) {
        const json_t *row = json_array_get(rows, i);
        char text[BL_TEXT_CELL];
        if (unit_seen(rows, from, i)) {
            continue;
        }
        const bool train = json_is_null(json_object_get(row, "unit"));
        bl_table_cell(&table, "%s",
                      train ? "the train" : bl_text_unit(row, text));
        bl_table_cell(&table, "%s", value_text(greatest(rows, i, end), text));
        bl_table_cell(&table, "%s",
                      runs_text(to, rows, i, end, BL_LIMIT_INSIDE, text));
        bl_table_cell(&table, "%s",
                      runs_text(to, rows, i, end, BL_LIMIT_OUTSIDE, text));
        bl_table_cell(&table, "%s",
                      runs_text(to, rows, i, end, BL_LIMIT_NOT_DECIDED, text));
        bl_table_row(&table);
    }
    bl_text_table(to, &table, 4);
}

/* Why rows are not decided, each reason once. */
static void reasons(struct bl_text *to, const json_t *rows, size_t from,
                    size_t end)
{
    for (size_t i = from; i < end; i++) {
        const json_t *row = json_array_get(rows, i);
        bool seen = json_is_null(json_object_get(row, "reason"));
        for (size_t k = from; !seen && k < i; k++) {
            seen = bl_tree_same_text(json_array_get(rows, k), row, "reason");
        }
        if (!seen) {
            bl_output_format(
                to->output, "    %s: %s\n",
                is_own(to, row) ? "not shown" : "cannot be compared",
                bl_words_of(&bl_words_limits, bl_tree_get_text(row, "reason")));
        }
    }
}

static void heading(struct bl_text *to, const json_t *row)
{
    char text[BL_TEXT_CELL];
    bl_output_text(to->output, "  ");
    if (is_own(to, row)) {
        bl_text_plain(to, bl_tree_get_text(row, "limit_name"));
        bl_output_format(to->output, ": %s", bl_text_figure_of(to, row, text));
        const double kpa = bl_tree_get_number(row, "kpa");
        if (!isnan(kpa)) {
            bl_output_format(to->output, " %s", bl_text_stated(to, kpa, text));
        }
    } else {
        bl_output_format(
            to->output, "%s %s, %s, %s: %s to %s",
            bl_tree_get_text(row, "regulation"),
            bl_tree_get_text(row, "clause"), bl_tree_get_text(row, "class"),
            bl_tree_get_text(row, "confidence"), bl_tree_get_text(row, "from"),
            bl_tree_get_text(row, "to"));
    }
    bl_output_format(to->output, ", at most %s %s\n",
                     bl_text_fixed(bl_tree_get_number(row, "limit"), 3, text),
                     bl_tree_get_text(row, "limit_unit"));
}

static void block(struct bl_text *to, const json_t *rows, size_t from,
                  size_t end)
{
    const json_t *first = json_array_get(rows, from);
    heading(to, first);
    unit_lines(to, rows, from, end);
    reasons(to, rows, from, end);
    if (!is_own(to, first)) {
        bl_output_format(to->output,
                         "    conditions of the rule that were not met: %s\n",
                         bl_tree_get_text(first, "conditions_not_met"));
    }
}

/* Blocks of one kind; returns how many limits could not be tried at all. */
static size_t blocks(struct bl_text *to, const json_t *rows, bool own,
                     const char *title)
{
    size_t untried = 0;
    bool begun = false;
    size_t end;
    for (size_t i = 0; i < json_array_size(rows); i = end) {
        const json_t *first = json_array_get(rows, i);
        for (end = i + 1; end < json_array_size(rows) &&
                          same_limit(json_array_get(rows, end), first);) {
            end++;
        }
        if (is_own(to, first) != own) {
            continue;
        }
        if (!own && json_is_null(json_object_get(first, "run"))) {
            untried++;
            continue;
        }
        if (!begun) {
            bl_output_text(to->output, title);
            begun = true;
        }
        block(to, rows, i, end);
    }
    return begun ? untried : 0;
}

void bl_text_limits(struct bl_text *to)
{
    const json_t *rows = json_object_get(to->root, "limits");
    (void)blocks(to, rows, true, "\nLimits of this trial\n");
    const size_t untried = blocks(
        to, rows, false,
        "\nPublished limits: numbers beside numbers, never a certification; "
        "below a number is not \"passed\", for the conditions of the rule "
        "were "
        "not met\n");
    if (untried > 0) {
        bl_output_format(to->output,
                         "  %zu published limits are about what this trial "
                         "does not measure; --json lists them\n",
                         untried);
    }
}
