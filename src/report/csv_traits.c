/* SPDX-License-Identifier: MIT */
/* The table of traits as CSV (RFC 4180): a row per trait, unit, run, kind and
   reference. */
#include "report/result.h"

#include <math.h>

static void text(struct bl_output *output, const json_t *object,
                 const char *key)
{
    bl_csv_cell(output, object == NULL ? "" : bl_tree_get_text(object, key));
    bl_output_text(output, ",");
}

static void csv_row(const struct bl_result *result, struct bl_output *output,
                    const json_t *row, const json_t *reference)
{
    static const char *const texts[] = {"unit",  "run",   "asked_by",   "kind",
                                        "shape", "trait", "measured_in"};
    static const char *const numbers[] = {"value", "u", "scatter"};
    static const char *const held[] = {"value", "u", "off", "off_over_u",
                                       "stands_out_from"};
    for (size_t i = 0; i < sizeof(texts) / sizeof(texts[0]); i++) {
        text(output, row, texts[i]);
    }
    for (size_t i = 0; i < sizeof(numbers) / sizeof(numbers[0]); i++) {
        bl_csv_number(output, bl_tree_get_number(row, numbers[i]));
    }
    bl_output_format(
        output, "%llu,%s,", (unsigned long long)bl_tree_get_count(row, "n"),
        json_is_true(json_object_get(row, "at_least")) ? "yes" : "no");
    text(output, reference, "reference");
    for (size_t i = 0; i < sizeof(held) / sizeof(held[0]); i++) {
        bl_csv_number(output, reference == NULL
                                  ? NAN
                                  : bl_tree_get_number(reference, held[i]));
    }
    bl_output_format(
        output, "%llu",
        (unsigned long long)(reference == NULL
                                 ? 0
                                 : bl_tree_get_count(reference, "n")));
    bl_output_text(output, ",");
    bl_csv_cell(output, json_object_get(row, "output") == NULL
                            ? ""
                            : bl_tree_get_text(row, "output"));
    bl_csv_identity(result, output, bl_tree_get_text(row, "unit"), false);
}

void bl_csv_traits(const struct bl_result *result, struct bl_output *output)
{
    const json_t *all = json_object_get(result->root, "traits");
    bl_output_text(output,
                   "unit,run,asked_by,kind,shape,trait,measured_in,value,u,"
                   "scatter,n,at_least,reference,expected,u_expected,off,"
                   "off_over_u,stands_out_from,references,output");
    bl_csv_identity_head(result, output, false);
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *row = json_array_get(all, i);
        const json_t *held = json_object_get(row, "references");
        for (size_t k = 0; k < json_array_size(held); k++) {
            csv_row(result, output, row, json_array_get(held, k));
        }
        if (json_array_size(held) == 0) {
            csv_row(result, output, row, NULL);
        }
    }
}
