/* SPDX-License-Identifier: MIT */
/* Units over their visits as text: what is said of each, then its figures, a
   table per condition and kind of application, then its visits. */
#include "report/text.h"

#include <math.h>
#include <stdio.h>

static void sentences(struct bl_text *to, const json_t *life,
                      const char *further)
{
    const json_t *all = json_object_get(life, "answer");
    bl_output_text(to->output, "Unit ");
    bl_text_plain(to, bl_tree_get_text(life, "unit_id"));
    const char *between = ": ";
    for (size_t i = 0; i < json_array_size(all); i++) {
        bl_output_text(to->output, between);
        bl_text_plain(to, bl_tree_get_text(json_array_get(all, i), "text"));
        between = further;
    }
    bl_output_text(to->output, "\n");
}

static bool same_group(const json_t *a, const json_t *b)
{
    return bl_tree_same_text(a, b, "condition") &&
           bl_tree_same_text(a, b, "kind") && bl_tree_same_text(a, b, "shape");
}

static const char *figure_text(const json_t *series, char *text)
{
    char number[BL_TEXT_CELL];
    const char *title =
        bl_words_of(&bl_words_titles, bl_tree_get_text(series, "figure"));
    const double kpa = bl_tree_get_number(series, "kpa");
    if (isnan(kpa)) {
        return title;
    }
    snprintf(text, BL_TEXT_CELL, "%.50s %.20s kPa", title,
             bl_text_fixed(kpa, 0, number));
    return text;
}

static const struct bl_coded verdicts[] = {
    {"cannot-tell", "cannot tell"},     {"no-change-shown", "none shown"},
    {"drift-or-step", "drift or step"}, {"last-apart", "last apart"},
    {"first-apart", "first apart"},     {NULL, NULL}};

/* "0.086 to 0.122 a year" */
static const char *change_text(const json_t *series, char *text)
{
    char low[BL_TEXT_CELL];
    char high[BL_TEXT_CELL];
    const json_t *change = json_object_get(series, "change");
    if (!bl_text_known(change)) {
        return "-";
    }
    snprintf(text, BL_TEXT_CELL, "%.20s to %.20s %.20s",
             bl_text_fixed(bl_tree_get_number(change, "low_s"), 3, low),
             bl_text_fixed(bl_tree_get_number(change, "high_s"), 3, high),
             bl_tree_get_text(series, "change_is"));
    return text;
}

static void row(struct bl_table *table, const json_t *series)
{
    char figure[BL_TEXT_CELL];
    char last[BL_TEXT_CELL];
    char change[BL_TEXT_CELL];
    const json_t *points = json_object_get(series, "points");
    const size_t count = json_array_size(points);
    bl_table_cell(table, "%s", figure_text(series, figure));
    bl_table_cell(table, "%zu", count);
    bl_table_cell(
        table, "%s",
        count == 0 ? "-"
                   : bl_text_fixed(bl_tree_get_number(
                                       json_array_get(points, count - 1), "s"),
                                   3, last));
    bl_table_cell(table, "%s", change_text(series, change));
    /* What was seen of a figure that is not there any more is no answer. */
    const bool ended = json_is_true(json_object_get(series, "ended")) &&
                       !json_is_true(json_object_get(series, "changed"));
    bl_table_cell(
        table, "%s",
        ended ? "no value now"
              : bl_coded_words(verdicts, bl_tree_get_text(series, "verdict")));
    bl_table_row(table);
}

static void figures(struct bl_text *to, const json_t *all)
{
    static const char *const heads[] = {"figure", "seen", "last", "change, s",
                                        "answer"};
    size_t i = 0;
    while (i < json_array_size(all)) {
        const json_t *first = json_array_get(all, i);
        struct bl_table table = {.right = {false, true, true, true}};
        bl_output_text(to->output, "\n  ");
        bl_text_plain(to, bl_tree_get_text(first, "condition"));
        bl_output_format(to->output, ", %s, %s\n", bl_text_kind(first),
                         bl_text_shape(first));
        for (size_t k = 0; k < sizeof(heads) / sizeof(heads[0]); k++) {
            bl_table_cell(&table, "%s", heads[k]);
        }
        bl_table_row(&table);
        while (i < json_array_size(all) &&
               same_group(first, json_array_get(all, i))) {
            row(&table, json_array_get(all, i++));
        }
        bl_text_table(to, &table, 2);
    }
}

static void visits(struct bl_text *to, const json_t *all)
{
    struct bl_table table = {.right = {true}};
    bl_output_text(to->output, "\n  Visits\n");
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *visit = json_array_get(all, i);
        bl_table_cell(&table, "%llu",
                      (unsigned long long)bl_tree_get_count(visit, "visit"));
        bl_table_cell(&table, "%s", bl_tree_get_text(visit, "date"));
        bl_table_cell(&table, "%s", bl_tree_get_text(visit, "place"));
        bl_table_span(&table, "%s", bl_tree_get_text(visit, "trial"));
        bl_table_row(&table);
    }
    bl_text_table(to, &table, 4);
}

void bl_text_lives(struct bl_text *to)
{
    const json_t *all = json_object_get(to->root, "lives");
    if (json_array_size(all) > 0) {
        bl_output_text(to->output, "\nUnits over their visits\n");
    }
    for (size_t i = 0; i < json_array_size(all); i++) {
        bl_output_text(to->output, "  ");
        sentences(to, json_array_get(all, i), "\n    ");
    }
}

void bl_text_life(struct bl_text *to, const json_t *life)
{
    sentences(to, life, "\n  ");
    figures(to, json_object_get(life, "series"));
    visits(to, json_object_get(life, "visits"));
    const uint64_t left_out = bl_tree_get_count(life, "left_out");
    if (left_out > 0) {
        bl_output_format(to->output,
                         "\n  Not used: %llu values: missing, of an excluded "
                         "application, or with an uncertainty that is not "
                         "known or larger than the value\n",
                         (unsigned long long)left_out);
    }
    bl_text_flush(to);
}
