/* SPDX-License-Identifier: MIT */
/* The result as CSV (RFC 4180): one row per run, application, unit and figure;
   times in seconds, pressures in kPa, an empty cell where nothing is known. */
#include "report/result.h"
#include "report/words.h"

#include "base/number.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const char header[] =
    "run,condition,application,combination,kind,shape,excluded,unit,unit_name,"
    "figure,level_kpa,value,measured_in,u,reason,flags,later_than_s,"
    "u_later_s,shown_as";

struct place {
    const struct bl_result *result;
    const json_t *run, *application, *unit;
    double response_at; /* kPa */
};

static void row(struct bl_output *output, const struct place *at,
                const char *figure, const json_t *value, bool time)
{
    bl_csv_text(output, at->run, "name");
    bl_csv_text(output, at->run, "condition");
    bl_csv_application(output, at->application, at->unit);
    bl_output_format(output, "%s,", figure);
    bl_csv_number(output, bl_tree_get_number(value, "kpa"));
    bl_csv_number(output, bl_tree_get_number(value, time ? "s" : "value"));
    if (time) {
        bl_output_text(output, "s,");
    } else {
        bl_csv_text(output, value, "unit");
    }
    bl_csv_number(output, bl_tree_get_number(value, time ? "u_s" : "u"));
    bl_csv_text(output, value, "reason");
    bl_csv_flags(output, value);
    bl_csv_number(output, bl_tree_get_number(value, "later_than_s"));
    bl_csv_number(output, bl_tree_get_number(value, "u_later_s"));
    bl_csv_shown_as(output, at->response_at, figure);
    bl_csv_identity(at->result, output, bl_tree_get_text(at->unit, "unit"),
                    false);
}

static void unit_rows(struct bl_output *output, const struct place *at)
{
    static const char *const levels_of[] = {
        "rest",         "hold", "peak", "control_peak", "reservoir_least",
        "voltage_least"};
    for (enum bl_figure_name i = 0; i < BL_FIGURES; i++) {
        const char *name = bl_figure_name_text(i);
        if (bl_figure_of_unit(i)) {
            row(output, at, name, json_object_get(at->unit, name), true);
        }
    }
    const json_t *levels = json_object_get(at->unit, "levels");
    for (size_t i = 0; i < json_array_size(levels); i++) {
        row(output, at, "level", json_array_get(levels, i), true);
    }
    const json_t *path = json_object_get(at->unit, "path");
    for (size_t i = 0; i < json_array_size(path); i++) {
        const json_t *leg = json_array_get(path, i);
        char name[64];
        (void)snprintf(name, sizeof(name), "path:%s>%s",
                       bl_tree_get_text(leg, "from"),
                       bl_tree_get_text(leg, "to"));
        row(output, at, name, leg, true);
    }
    for (size_t i = 0; i < sizeof(levels_of) / sizeof(levels_of[0]); i++) {
        const json_t *level = json_object_get(at->unit, levels_of[i]);
        if (level != NULL) {
            row(output, at, levels_of[i], level, false);
        }
    }
}

/* One row of a branch; the columns of the application's kind and shape hold
   the input and the branch. */
static void branch_row(const struct bl_result *result, struct bl_output *output,
                       const json_t *unit, const json_t *curve, const char *way,
                       const char *figure)
{
    const json_t *branch = json_object_get(curve, way);
    const json_t *part = branch == NULL ? json_object_get(curve, figure)
                                        : json_object_get(branch, figure);
    bl_csv_text(output, unit, "run");
    bl_output_text(output, ",,,");
    bl_csv_text(output, curve, "input");
    bl_output_format(output, "%s,no,", way);
    bl_csv_text(output, unit, "unit");
    bl_csv_text(output, unit, "name");
    bl_output_format(output, "%s,,", figure);
    bl_csv_number(output, bl_tree_get_number(part, "value"));
    bl_csv_text(output, part, "unit");
    bl_csv_number(output, bl_tree_get_number(part, "u"));
    bl_csv_text(output, branch, "reason");
    bl_output_text(output, ",,,");
    bl_csv_shown_as(output, NAN, figure);
    bl_csv_identity(result, output, bl_tree_get_text(unit, "unit"), false);
}

static void characteristic_rows(const struct bl_result *result,
                                struct bl_output *output)
{
    static const char *const figures[] = {"threshold", "gain", "jump",
                                          "saturation_output"};
    const json_t *units = json_object_get(result->root, "characteristics");
    for (size_t i = 0; i < json_array_size(units); i++) {
        const json_t *unit = json_array_get(units, i);
        const json_t *curves = json_object_get(unit, "curves");
        for (size_t k = 0; k < json_array_size(curves); k++) {
            const json_t *curve = json_array_get(curves, k);
            for (size_t f = 0; f < sizeof(figures) / sizeof(figures[0]); f++) {
                branch_row(result, output, unit, curve, "rising", figures[f]);
                branch_row(result, output, unit, curve, "falling", figures[f]);
            }
            branch_row(result, output, unit, curve, "", "hysteresis");
        }
    }
}

void bl_csv_figures(const struct bl_result *result, struct bl_output *output)
{
    bl_output_text(output, header);
    bl_csv_identity_head(result, output, false);
    for (size_t r = 0; r < json_array_size(result->runs); r++) {
        struct place at = {
            .result = result,
            .run = json_array_get(result->runs, r),
            .response_at = bl_tree_get_number(
                json_object_get(result->root, "trial"), "response_at_kpa")};
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
    characteristic_rows(result, output);
}

enum bl_status bl_result_csv(const struct bl_result *result,
                             struct bl_output *output, struct bl_error *error)
{
    (void)error;
    if (json_object_get(result->root, "traits") != NULL) {
        bl_csv_traits(result, output);
    } else if (json_object_get(result->root, "before_after") != NULL) {
        bl_csv_before_after(result, output);
    } else if (json_object_get(result->root, "comparison") != NULL) {
        bl_csv_comparison(result, output);
    } else if (json_array_size(result->runs) == 0 &&
               json_object_get(result->root, "reach") != NULL) {
        bl_reach_csv(result, output);
    } else if (json_object_get(result->root, "predict") != NULL) {
        bl_csv_predict(result, output);
    } else if (json_object_get(result->root, "findings") != NULL) {
        bl_result_csv_findings(result, output);
    } else {
        bl_csv_figures(result, output);
    }
    return BL_OK;
}
