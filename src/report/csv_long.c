/* SPDX-License-Identifier: MIT */
/*
 * The figures as CSV for analysis (docs/analysis.md): one row per figure,
 * application and unit, each row complete in itself. A missing value is an
 * empty cell with its reason beside it. u is parted in what differs from
 * application to application and what they share.
 */
#include "report/result.h"

#include "brakelag/budget.h"

#include <math.h>
#include <string.h>

const char bl_csv_long_head[] =
    "trial,date,run,block,condition,application,combination,kind,shape,"
    "excluded,unit,unit_name,figure,level_kpa,value,measured_in,u_random,"
    "u_common,flags,reason,shown_as";

struct place {
    const struct bl_result *result;
    const char *trial, *date;
    const json_t *run, *application, *unit;
    double response_at; /* kPa */
};

static void parts(struct bl_output *output, const json_t *figure)
{
    double part[BL_COMPONENTS];
    const json_t *from = json_object_get(figure, "u_parts");
    for (size_t i = 0; i < BL_COMPONENTS; i++) {
        part[i] = bl_tree_get_number(from, bl_component_name(i));
    }
    const bool known = json_is_object(from);
    bl_csv_number(output, known ? bl_component_sum(part, false) : NAN);
    bl_csv_number(output, known ? bl_component_sum(part, true) : NAN);
}

static void row(struct bl_output *output, const struct place *at,
                const char *name, const json_t *figure)
{
    bl_csv_cell(output, at->trial);
    bl_output_text(output, ",");
    bl_csv_cell(output, at->date);
    bl_output_text(output, ",");
    bl_csv_text(output, at->run, "name");
    bl_csv_text(output, at->run, "block");
    bl_csv_text(output, at->run, "condition");
    bl_csv_application(output, at->application, at->unit);
    bl_output_format(output, "%s,", name);
    bl_csv_number(output, bl_tree_get_number(figure, "kpa"));
    bl_csv_number(output, bl_tree_get_number(figure, "s"));
    bl_output_text(output, "s,");
    parts(output, figure);
    bl_csv_flags(output, figure);
    bl_csv_text(output, figure, "reason");
    bl_csv_shown_as(output, at->response_at, name);
    bl_csv_identity(at->result, output, bl_tree_get_text(at->unit, "unit"),
                    true);
}

static void unit_rows(struct bl_output *output, const struct place *at)
{
    for (enum bl_figure_name i = 0; i < BL_FIGURES; i++) {
        const char *name = bl_figure_name_text(i);
        if (bl_figure_of_unit(i)) {
            row(output, at, name, json_object_get(at->unit, name));
        }
    }
    const json_t *levels = json_object_get(at->unit, "levels");
    for (size_t i = 0; i < json_array_size(levels); i++) {
        row(output, at, bl_figure_name_text(BL_FIGURE_LEVEL),
            json_array_get(levels, i));
    }
}

void bl_csv_long(const struct bl_result *result, struct bl_output *output)
{
    const json_t *trial = json_object_get(result->root, "trial");
    struct place at = {.result = result,
                       .trial = bl_tree_get_text(trial, "name"),
                       .date = bl_tree_get_text(trial, "date"),
                       .response_at =
                           bl_tree_get_number(trial, "response_at_kpa")};
    bl_output_text(output, bl_csv_long_head);
    bl_csv_identity_head(result, output, true);
    for (size_t r = 0; r < json_array_size(result->runs); r++) {
        at.run = json_array_get(result->runs, r);
        const json_t *applications = json_object_get(at.run, "applications");
        for (size_t a = 0; a < json_array_size(applications); a++) {
            at.application = json_array_get(applications, a);
            const json_t *units = json_object_get(at.application, "units");
            for (size_t u = 0; u < json_array_size(units); u++) {
                at.unit = json_array_get(units, u);
                unit_rows(output, &at);
            }
        }
    }
}
