/* SPDX-License-Identifier: MIT */
/*
 * At a glance: for every run, kind and shape one table of medians with a row
 * per unit. The full summaries, with ranges, stand with each run.
 */
#include "report/text.h"

#include <math.h>
#include <string.h>

static const struct {
    enum bl_figure_name figure;
    const char *member, *title;
} columns[] = {
    {BL_FIGURE_RESPONSE, "median_s", ""}, /* its title */
    {BL_FIGURE_APPLY_10, "median_s", ""},
    {BL_FIGURE_FILLED, "median_s", ""},
    {BL_FIGURE_FILLED, "low_s", "least"},
    {BL_FIGURE_FILLED, "high_s", "most"},
    {BL_FIGURES, NULL, ""}, /* the bar */
    {BL_FIGURE_RELEASE_START, "median_s", "release to 90 %"},
    {BL_FIGURE_RELEASE_10, "median_s", "release to 10 %"},
    {BL_FIGURE_RELEASE_END, "median_s", "release to "}, /* and response_at */
};
enum { COLUMNS = sizeof(columns) / sizeof(columns[0]) };
/* Which of two comes first depends on the hold: 10 % of a light one are below
   response_at. The places in `columns` of the two that may change. */
enum {
    RESPONSE = 0,
    APPLY_10 = 1,
    BAR = 5,
    RELEASE_START = 6,
    RELEASE_10 = 7,
    RELEASE_END = 8
};

/* One kind and shape of one run. */
struct group {
    const struct bl_text *to;
    const json_t *run, *summary, *first;
};

static bool in_group(const struct group *group, const json_t *row)
{
    return bl_tree_same_text(row, group->first, "kind") &&
           bl_tree_same_text(row, group->first, "shape");
}

/* The row of a unit, which is that of any row that names it. */
static const json_t *find(const struct group *group, const json_t *unit,
                          enum bl_figure_name figure)
{
    for (size_t i = 0; i < json_array_size(group->summary); i++) {
        const json_t *row = json_array_get(group->summary, i);
        if (in_group(group, row) && bl_tree_same_text(row, unit, "unit") &&
            bl_text_is(group->to, row, "figure", (int)figure)) {
            return row;
        }
    }
    return NULL;
}

static double median(const struct group *group, const json_t *unit,
                     enum bl_figure_name figure)
{
    return bl_tree_get_number(find(group, unit, figure), "median_s");
}

/* Does figure b come before a, over the units that have both? */
static bool is_earlier(const struct group *group, enum bl_figure_name b,
                       enum bl_figure_name a)
{
    double sum = 0;
    for (size_t i = 0; i < json_array_size(group->summary); i++) {
        const json_t *row = json_array_get(group->summary, i);
        if (in_group(group, row) &&
            bl_text_is(group->to, row, "figure", (int)a)) {
            const double by = median(group, row, b) - median(group, row, a);
            sum += isnan(by) ? 0 : by;
        }
    }
    return sum < 0;
}

/* The columns' places in the order of time. */
static void in_time(const struct group *group, size_t place[COLUMNS])
{
    for (size_t i = 0; i < COLUMNS; i++) {
        place[i] = i;
    }
    if (is_earlier(group, BL_FIGURE_APPLY_10, BL_FIGURE_RESPONSE)) {
        place[RESPONSE] = APPLY_10;
        place[APPLY_10] = RESPONSE;
    }
    if (is_earlier(group, BL_FIGURE_RELEASE_END, BL_FIGURE_RELEASE_10)) {
        place[RELEASE_10] = RELEASE_END;
        place[RELEASE_END] = RELEASE_10;
    }
}

static double longest(const struct group *group)
{
    double found = 0;
    for (size_t i = 0; i < json_array_size(group->summary); i++) {
        const json_t *row = json_array_get(group->summary, i);
        const double s = bl_tree_get_number(row, "median_s");
        if (in_group(group, row) && s > found &&
            (bl_text_is(group->to, row, "figure", BL_FIGURE_RESPONSE) ||
             bl_text_is(group->to, row, "figure", BL_FIGURE_FILLED))) {
            found = s;
        }
    }
    return found;
}

static void unit_row(struct bl_table *table, const struct group *group,
                     const json_t *unit, double scale, size_t bar,
                     const size_t place[COLUMNS])
{
    char text[BL_TEXT_CELL];
    const json_t *response = find(group, unit, BL_FIGURE_RESPONSE);
    bl_table_cell(table, "%s", bl_text_unit(unit, text));
    bl_table_cell(table, "%llu/%llu",
                  (unsigned long long)bl_tree_get_count(response, "n"),
                  (unsigned long long)(bl_tree_get_count(response, "n") +
                                       bl_tree_get_count(response, "without")));
    for (size_t i = 0; i < COLUMNS; i++) {
        if (i == BAR) {
            bl_table_cell(table, "|%s",
                          bl_text_bar(median(group, unit, BL_FIGURE_RESPONSE),
                                      median(group, unit, BL_FIGURE_FILLED),
                                      scale, bar, text));
            continue;
        }
        const double s =
            bl_tree_get_number(find(group, unit, columns[place[i]].figure),
                               columns[place[i]].member);
        bl_table_cell(table, "%s", bl_text_fixed(s, 3, text));
    }
    bl_table_row(table);
}

/* How well one application's 75 % is known, at worst; k = 2. */
static void worst_u(struct bl_text *to, const struct group *group)
{
    const json_t *applications = json_object_get(group->run, "applications");
    char text[BL_TEXT_CELL];
    double worst = 0;
    for (size_t i = 0; i < json_array_size(applications); i++) {
        const json_t *application = json_array_get(applications, i);
        const json_t *units = json_object_get(application, "units");
        for (size_t k = 0;
             in_group(group, application) && k < json_array_size(units); k++) {
            const double u = bl_tree_get_number(
                json_object_get(json_array_get(units, k),
                                bl_figure_name_text(BL_FIGURE_FILLED)),
                "u_s");
            worst = u > worst ? u : worst;
        }
    }
    if (worst > 0) {
        bl_output_format(to->output,
                         "; 75 %% is known to \xC2\xB1 %s s or better in one "
                         "application",
                         bl_text_fixed(ceil(2000 * worst) / 1000, 3, text));
    }
    bl_output_text(to->output, "\n");
}

static void group_table(struct bl_text *to, const struct group *group)
{
    const json_t *units =
        json_object_get(json_object_get(to->root, "trial"), "units");
    struct bl_table table = {.heading = true};
    const double scale = longest(group);
    const size_t bar = bl_text_bar_width(to);
    bl_output_format(to->output, "    %s, %s", bl_text_kind(group->first),
                     bl_text_shape(group->first));
    worst_u(to, group);
    size_t place[COLUMNS];
    char at[BL_TEXT_CELL];
    in_time(group, place);
    bl_text_response_at(to, at);
    bl_table_cell(&table, "unit");
    bl_table_cell(&table, "n");
    for (size_t i = 0; i < COLUMNS; i++) {
        const enum bl_figure_name own = columns[place[i]].figure;
        const char *title = columns[place[i]].title;
        char text[BL_TEXT_CELL];
        table.right[i + 2] = i != BAR;
        table.starts[i + 2] = i == RELEASE_START;
        table.joins[i + 2] = i == BAR;
        bl_table_cell(&table, "%s%s",
                      i == BAR           ? ""
                      : title[0] == '\0' ? bl_text_figure(to, own, true, text)
                                         : title,
                      place[i] == RELEASE_END ? at : "");
    }
    bl_table_row(&table);
    for (size_t i = 0; i < json_array_size(units); i++) {
        const json_t *unit = json_array_get(units, i);
        if (find(group, unit, BL_FIGURE_RESPONSE) != NULL) {
            unit_row(&table, group, unit, scale, bar, place);
        }
    }
    bl_text_table(to, &table, 4);
}

static bool seen_before(const json_t *summary, size_t index,
                        const struct group *group)
{
    for (size_t i = 0; i < index; i++) {
        if (in_group(group, json_array_get(summary, i))) {
            return true;
        }
    }
    return false;
}

void bl_text_glance(struct bl_text *to)
{
    if (json_array_size(json_object_get(to->root, "runs")) == 0) {
        return;
    }
    const json_t *runs = json_object_get(to->root, "runs");
    bl_output_text(
        to->output,
        "\nAt a glance: medians in seconds; n: applications that "
        "gave first air / all; least and most: of the 75 %; release: "
        "counted from the command's release; bar: --- until first air, === "
        "until 75 % of settled\n");
    for (size_t r = 0; r < json_array_size(runs); r++) {
        const json_t *run = json_array_get(runs, r);
        const json_t *summary = json_object_get(run, "summary");
        bl_output_text(to->output, "  Run ");
        bl_text_plain(to, bl_tree_get_text(run, "name"));
        bl_output_text(to->output, ", ");
        bl_text_plain(to, bl_tree_get_text(run, "condition"));
        bl_output_text(to->output, json_array_size(summary) == 0
                                       ? ": nothing to summarise\n"
                                       : "\n");
        for (size_t i = 0; i < json_array_size(summary); i++) {
            const json_t *row = json_array_get(summary, i);
            const struct group group = {to, run, summary, row};
            if (!seen_before(summary, i, &group)) {
                group_table(to, &group);
            }
        }
    }
}
