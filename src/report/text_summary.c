/* SPDX-License-Identifier: MIT */
/* The summary of a run: one block per kind, shape and figure with a row per
   unit, so that the units stand below each other. */
#include "report/text.h"

#include <math.h>

/* Same kind, shape and figure, and with a level the same pressure. */
static bool same_block(const json_t *a, const json_t *b)
{
    const double ka = bl_tree_get_number(a, "kpa");
    const double kb = bl_tree_get_number(b, "kpa");
    return bl_tree_same_text(a, b, "kind") &&
           bl_tree_same_text(a, b, "shape") &&
           bl_tree_same_text(a, b, "figure") &&
           ((isnan(ka) && isnan(kb)) || ka == kb);
}

static bool seen_before(const json_t *summary, size_t index)
{
    const json_t *own = json_array_get(summary, index);
    for (size_t i = 0; i < index; i++) {
        if (same_block(json_array_get(summary, i), own)) {
            return true;
        }
    }
    return false;
}

static void number_cell(struct bl_table *table, const json_t *row,
                        const char *key)
{
    char text[BL_TEXT_CELL];
    bl_table_cell(table, "%s",
                  bl_text_fixed(bl_tree_get_number(row, key), 3, text));
}

static void block_row(struct bl_table *table, const json_t *row, double longest,
                      size_t bar)
{
    char text[BL_TEXT_CELL];
    bl_table_cell(table, "%s", bl_text_unit(row, text));
    bl_table_cell(table, "%llu",
                  (unsigned long long)bl_tree_get_count(row, "n"));
    bl_table_cell(table, "%llu",
                  (unsigned long long)bl_tree_get_count(row, "without"));
    number_cell(table, row, "median_s");
    number_cell(table, row, "low_s");
    number_cell(table, row, "high_s");
    number_cell(table, row, "u_common_s");
    bl_table_span(table, "|%s",
                  bl_text_bar(0, bl_tree_get_number(row, "median_s"), longest,
                              bar, text));
    bl_table_row(table);
}

static void block(struct bl_text *to, const json_t *summary, size_t index)
{
    static const char *const titles[] = {
        "unit", "n", "without", "median", "lowest", "highest", "common u"};
    const json_t *own = json_array_get(summary, index);
    double longest = 0;
    for (size_t i = index; i < json_array_size(summary); i++) {
        const json_t *row = json_array_get(summary, i);
        const double median = bl_tree_get_number(row, "median_s");
        if (same_block(row, own) && median > longest) {
            longest = median;
        }
    }
    struct bl_table table = {.heading = true};
    for (size_t i = 0; i < sizeof(titles) / sizeof(titles[0]); i++) {
        table.right[i] = i > 0;
        bl_table_cell(&table, "%s", titles[i]);
    }
    bl_table_row(&table);
    for (size_t i = index; i < json_array_size(summary); i++) {
        const json_t *row = json_array_get(summary, i);
        if (same_block(row, own)) {
            block_row(&table, row, longest, bl_text_bar_width(to));
        }
    }
    char text[BL_TEXT_CELL];
    bl_output_format(to->output, "    %s, %s: %s", bl_text_kind(own),
                     bl_text_shape(own), bl_text_figure_of(to, own, text));
    const double kpa = bl_tree_get_number(own, "kpa");
    if (!isnan(kpa)) {
        bl_output_format(to->output, " %s", bl_text_stated(to, kpa, text));
    }
    bl_output_text(to->output, ", seconds\n");
    bl_text_table(to, &table, 6);
}

/* Does any unit of the block have a figure? */
static bool has_any(const json_t *summary, size_t index)
{
    const json_t *own = json_array_get(summary, index);
    for (size_t i = index; i < json_array_size(summary); i++) {
        const json_t *row = json_array_get(summary, i);
        if (same_block(row, own) && bl_tree_get_count(row, "n") > 0) {
            return true;
        }
    }
    return false;
}

void bl_text_summary(struct bl_text *to, const json_t *run)
{
    const json_t *summary = json_object_get(run, "summary");
    bool first = true;
    for (size_t i = 0; i < json_array_size(summary); i++) {
        if (seen_before(summary, i) || !has_any(summary, i)) {
            continue;
        }
        if (first) {
            bl_output_text(to->output,
                           "\n  Summary over the applications of one kind and "
                           "shape; common u (k = 1) does not average out\n");
            first = false;
        }
        block(to, summary, i);
    }
}
