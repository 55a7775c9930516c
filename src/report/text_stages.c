/* SPDX-License-Identifier: MIT */
/* Of runs by air alone: every unit's stage against the other stages of its
   train, what its control pressures say of it, and the pressure that every unit
   needs to brake. */
#include "report/text.h"

#include <math.h>
#include <stdio.h>

static void heads(struct bl_table *table, const char *const *title,
                  size_t count, size_t right_from)
{
    for (size_t i = 0; i < count; i++) {
        table->right[i] = i >= right_from && i + 1 < count;
        bl_table_cell(table, "%s", title[i]);
    }
    bl_table_row(table);
}

static void stage_row(struct bl_table *table, const json_t *unit,
                      const char *edge, const json_t *stage)
{
    char text[BL_TEXT_CELL];
    char front[BL_TEXT_CELL];
    const double limit = bl_tree_get_number(stage, "limit_s");
    bl_table_cell(table, "%s", bl_text_unit(unit, text));
    bl_table_cell(table, "%s",
                  bl_text_unit(json_object_get(stage, "front"), front));
    bl_table_cell(table, "%s", edge);
    bl_table_cell(table, "%s",
                  bl_text_value(bl_tree_get_number(stage, "s"),
                                bl_tree_get_number(stage, "u_s"), 3, text));
    bl_table_cell(
        table, "%s",
        isnan(limit)
            ? "-"
            : bl_text_fixed(bl_tree_get_number(stage, "expected_s"), 3, text));
    bl_table_cell(table, "%s",
                  isnan(limit) ? "-" : bl_text_fixed(limit, 3, text));
    if (isnan(limit)) {
        bl_table_span(table, "not judged: %llu other stages, 3 needed",
                      (unsigned long long)bl_tree_get_count(stage, "others"));
    } else {
        bl_table_cell(table, "%s",
                      bl_tree_get_bool(stage, "late") ? "late" : "");
    }
    bl_table_row(table);
}

static void stages(struct bl_text *to, const json_t *all, size_t from,
                   size_t end)
{
    static const char *const title[] = {
        "unit", "behind", "edge", "takes, s", "expected, s", "at most, s", ""};
    static const char *const edge[] = {"apply", "release"};
    struct bl_table table = {.heading = true, .keys = 3};
    bool any = false;
    for (size_t u = from; u < end; u++) {
        const json_t *unit = json_array_get(all, u);
        for (size_t k = 0; k < sizeof(edge) / sizeof(edge[0]); k++) {
            const json_t *stage =
                json_object_get(json_object_get(unit, "stage"), edge[k]);
            if (!json_is_object(stage)) {
                continue;
            }
            if (!any) {
                heads(&table, title, sizeof(title) / sizeof(title[0]), 3);
            }
            any = true;
            stage_row(&table, unit, edge[k], stage);
        }
    }
    if (any) {
        bl_output_text(to->output,
                       "    Stages: from the output of the unit whose valve "
                       "hands on the air to the unit's own, against the "
                       "other stages of this train, per metre of pipe\n");
        bl_text_table(to, &table, 6);
    }
}

static void fit_row(const struct bl_text *to, struct bl_table *table,
                    const json_t *unit, const char *edge, const json_t *fit)
{
    static const struct bl_coded causes[] = {
        {"", ""},
        {"delay", "slow by delay"},
        {"resistance", "slow by resistance"},
        {"kept-pressure", "slow by kept pressure"},
        {"cannot-tell", "slow, and not by these: the unit itself"},
        {NULL, NULL}};
    const double keeps = bl_tree_get_number(fit, "keeps_kpa");
    char text[BL_TEXT_CELL];
    bl_table_cell(table, "%s", bl_text_unit(unit, text));
    bl_table_cell(table, "%s", edge);
    bl_table_cell(table, "%s",
                  bl_text_value(bl_tree_get_number(fit, "delay_s"),
                                bl_tree_get_number(fit, "u_delay_s"), 3, text));
    bl_table_cell(table, "%s",
                  bl_text_value(bl_tree_get_number(fit, "friction"),
                                bl_tree_get_number(fit, "u_friction"), 1,
                                text));
    bl_table_cell(table, "%s",
                  isnan(keeps) ? "-" : bl_text_pressure(to, keeps, text));
    bl_table_span(table, "%s",
                  bl_coded_words(causes, bl_tree_get_text(fit, "slow_by")));
    bl_table_row(table);
}

static void fits(struct bl_text *to, const json_t *all, size_t from, size_t end)
{
    static const char *const title[] = {"unit",        "edge",  "delay, s",
                                        "friction, x", "keeps", ""};
    static const char *const edge[] = {"apply", "release"};
    struct bl_table table = {.heading = true, .keys = 2};
    bool any = false;
    for (size_t u = from; u < end; u++) {
        const json_t *unit = json_array_get(all, u);
        for (size_t k = 0; k < sizeof(edge) / sizeof(edge[0]); k++) {
            const json_t *stage =
                json_object_get(json_object_get(unit, "stage"), edge[k]);
            const json_t *fit = json_object_get(stage, "fit");
            if (!json_is_object(fit)) {
                continue;
            }
            if (!any) {
                heads(&table, title, sizeof(title) / sizeof(title[0]), 2);
            }
            any = true;
            fit_row(to, &table, unit, edge[k], fit);
        }
    }
    if (any) {
        bl_output_text(to->output,
                       "    The same stages by the control pressures at both "
                       "ends: delay of the valve, friction as times that "
                       "of a bare pipe (bore, coupling and branches cannot be "
                       "told apart), what it keeps\n");
        bl_text_table(to, &table, 6);
    }
}

/* "not expected to brake" where all say so, else how many say what. */
static void say_holds(const json_t *row, char *text)
{
    static const struct {
        const char *name, *all;
    } words[] = {{"brakes", "brakes"},
                 {"not-expected", "not expected to brake"},
                 {"does-not", "expected to brake, does not"},
                 {"cannot-tell", "cannot tell"}};
    const uint64_t n = bl_tree_get_count(row, "n");
    size_t length = 0;
    text[0] = '\0';
    for (size_t i = 0; i < sizeof(words) / sizeof(words[0]); i++) {
        const uint64_t count = bl_tree_get_count(row, words[i].name);
        if (count == n) {
            snprintf(text, BL_TEXT_CELL, "%s", words[i].all);
            return;
        }
        if (count > 0 && length < BL_TEXT_CELL) {
            const int more = snprintf(text + length, BL_TEXT_CELL - length,
                                      "%s%s in %llu", length == 0 ? "" : ", ",
                                      words[i].all, (unsigned long long)count);
            length += more > 0 ? (size_t)more : 0;
        }
    }
}

static void ladder_rows(const struct bl_text *to, struct bl_table *table,
                        const json_t *unit)
{
    const json_t *ladder = json_object_get(unit, "ladder");
    const json_t *holds = json_object_get(ladder, "holds");
    char low[BL_TEXT_CELL];
    char text[BL_TEXT_CELL];
    for (size_t i = 0; i < json_array_size(holds) || i == 0; i++) {
        const json_t *row = json_array_get(holds, i);
        bl_table_cell(table, "%s", i == 0 ? bl_text_unit(unit, text) : "");
        if (i == 0) {
            bl_text_pressure(to, bl_tree_get_number(ladder, "low_kpa"), low);
            bl_table_cell(
                table, "%s to %s", low,
                bl_text_pressure(to, bl_tree_get_number(ladder, "high_kpa"),
                                 text));
        } else {
            bl_table_cell(table, "%s", "");
        }
        if (row == NULL) {
            bl_table_span(table, "no output, or nothing held");
        } else {
            bl_table_cell(table, "%s", bl_text_kind(row));
            bl_table_cell(table, "%s",
                          bl_text_pressure(
                              to, bl_tree_get_number(row, "front_kpa"), text));
            bl_table_cell(table, "%llu",
                          (unsigned long long)bl_tree_get_count(row, "n"));
            say_holds(row, text);
            bl_table_span(table, "%s", text);
        }
        bl_table_row(table);
    }
}

static void ladder(struct bl_text *to, const json_t *all, size_t from,
                   size_t end)
{
    static const char *const title[] = {"unit", "needs", "application",
                                        "held", "n",     ""};
    struct bl_table table = {.heading = true};
    bool any = false;
    for (size_t u = from; u < end; u++) {
        const json_t *unit = json_array_get(all, u);
        if (json_is_object(json_object_get(unit, "ladder"))) {
            if (!any) {
                heads(&table, title, sizeof(title) / sizeof(title[0]), 1);
            }
            any = true;
            ladder_rows(to, &table, unit);
        }
    }
    if (any) {
        bl_output_text(to->output,
                       "    Command pressure that each unit needs to brake by "
                       "air (nine draws in ten)\n");
        table.right[2] = false;
        bl_text_table(to, &table, 6);
    }
}

void bl_text_stages(struct bl_text *to, const json_t *all, size_t from,
                    size_t end)
{
    stages(to, all, from, end);
    fits(to, all, from, end);
    ladder(to, all, from, end);
}
