/* SPDX-License-Identifier: MIT */
/* The result as CSV (RFC 4180): one row per run, application, unit and figure;
   times in seconds, pressures in kPa, an empty cell where nothing is known. */
#include "report/result.h"

#include "base/number.h"

#include <math.h>
#include <string.h>

static const char header[] =
    "run,condition,application,combination,kind,shape,excluded,unit,unit_name,"
    "figure,level_kpa,value,measured_in,u,reason,flags\n";

struct place {
    const json_t *run, *application, *unit;
};

static void cell(struct bl_output *output, const char *text)
{
    if (strpbrk(text, ",\"\r\n") == NULL) {
        bl_output_text(output, text);
        return;
    }
    bl_output_text(output, "\"");
    for (; *text != '\0'; text++) {
        if (*text == '"') {
            bl_output_text(output, "\"");
        }
        bl_output_write(output, text, 1);
    }
    bl_output_text(output, "\"");
}

static void text_cell(struct bl_output *output, const json_t *object,
                      const char *key)
{
    cell(output, bl_tree_get_text(object, key));
    bl_output_text(output, ",");
}

static void number_cell(struct bl_output *output, double value)
{
    if (!isnan(value)) {
        char text[40];
        bl_output_text(output, bl_number_format(value, BL_TREE_DIGITS, text,
                                                sizeof(text)));
    }
    bl_output_text(output, ",");
}

static void row(struct bl_output *output, const struct place *at,
                const char *figure, const json_t *is, bool time)
{
    text_cell(output, at->run, "name");
    text_cell(output, at->run, "condition");
    bl_output_format(
        output, "%llu,",
        (unsigned long long)bl_tree_get_count(at->application, "number"));
    text_cell(output, at->application, "combination");
    text_cell(output, at->application, "kind");
    text_cell(output, at->application, "shape");
    bl_output_text(
        output, bl_tree_get_bool(at->application, "excluded") ? "yes," : "no,");
    text_cell(output, at->unit, "unit");
    text_cell(output, at->unit, "name");
    bl_output_format(output, "%s,", figure);
    number_cell(output, bl_tree_get_number(is, "kpa"));
    number_cell(output, bl_tree_get_number(is, time ? "s" : "value"));
    if (time) {
        bl_output_text(output, "s,");
    } else {
        text_cell(output, is, "unit");
    }
    number_cell(output, bl_tree_get_number(is, time ? "u_s" : "u"));
    text_cell(output, is, "reason");
    const json_t *flags = json_object_get(is, "flags");
    for (size_t i = 0; i < json_array_size(flags); i++) {
        bl_output_format(output, "%s%s", i == 0 ? "" : " ",
                         json_string_value(json_array_get(flags, i)));
    }
    bl_output_text(output, "\n");
}

static void unit_rows(struct bl_output *output, const struct place *at)
{
    static const char *const pressures[] = {"rest", "hold", "peak",
                                            "control_peak"};
    for (size_t i = 0; bl_result_figures[i] != NULL; i++) {
        row(output, at, bl_result_figures[i],
            json_object_get(at->unit, bl_result_figures[i]), true);
    }
    const json_t *levels = json_object_get(at->unit, "levels");
    for (size_t i = 0; i < json_array_size(levels); i++) {
        row(output, at, "level", json_array_get(levels, i), true);
    }
    for (size_t i = 0; i < sizeof(pressures) / sizeof(pressures[0]); i++) {
        row(output, at, pressures[i], json_object_get(at->unit, pressures[i]),
            false);
    }
}

enum bl_status bl_result_csv(const struct bl_result *result,
                             struct bl_output *output, struct bl_error *error)
{
    (void)error;
    if (json_object_get(result->root, "findings") != NULL) {
        bl_result_csv_findings(result, output);
        return BL_OK;
    }
    bl_output_text(output, header);
    for (size_t r = 0; r < json_array_size(result->runs); r++) {
        struct place at = {.run = json_array_get(result->runs, r)};
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
    return BL_OK;
}
