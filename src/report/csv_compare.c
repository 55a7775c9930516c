/* SPDX-License-Identifier: MIT */
/* A comparison as CSV: one row per unit, kind, shape and figure. */
#include "report/result.h"

#include <string.h>

static const char *const texts[] = {
    "base", "against", "reference", "unit",   "unit_base",
    "name", "kind",    "shape",     "figure", "scope"};
static const char *const counts[] = {
    "n_base",         "n_against",        "without_base", "without_against",
    "unpaired_left",  "runs_base",        "runs_against", "pairs",
    "more_runs_base", "more_runs_against"};
static const char *const numbers[] = {"base_median_s",
                                      "against_median_s",
                                      "base_mean_s",
                                      "against_mean_s",
                                      "within_base_s",
                                      "between_base_s",
                                      "within_against_s",
                                      "between_against_s",
                                      "command_s",
                                      "u_command_s",
                                      "difference_s",
                                      "u_s",
                                      "low_s",
                                      "high_s",
                                      "confidence",
                                      "p",
                                      "p_exact",
                                      "p_holm",
                                      "p_same",
                                      "reference_s",
                                      "u_reference_s"};
enum {
    TEXTS = sizeof(texts) / sizeof(texts[0]),
    COUNTS = sizeof(counts) / sizeof(counts[0]),
    NUMBERS = sizeof(numbers) / sizeof(numbers[0])
};

static void head(const struct bl_result *result, struct bl_output *output)
{
    for (size_t i = 0; i < TEXTS; i++) {
        bl_output_format(output, "%s,", texts[i]);
    }
    bl_output_text(output, "level_kpa,paired,");
    for (size_t i = 0; i < COUNTS; i++) {
        bl_output_format(output, "%s,", counts[i]);
    }
    for (size_t i = 0; i < NUMBERS; i++) {
        bl_output_format(output, "%s,", numbers[i]);
    }
    bl_output_text(output, "verdict,travel_in_lag");
    bl_csv_identity_head(result, output, false);
}

/* "60 km/h 4.2 m; 100 km/h 7 m" would need quotes for nothing but a comma:
   speeds and metres as "60=4.2 100=7". */
static void travel(struct bl_output *output, const json_t *row)
{
    const json_t *all = json_object_get(row, "travel_in_lag");
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *travelled = json_array_get(all, i);
        bl_output_text(output, i == 0 ? "" : " ");
        bl_csv_bare(output, bl_tree_get_number(travelled, "kmh"));
        bl_output_text(output, "=");
        bl_csv_bare(output, bl_tree_get_number(travelled, "m"));
    }
}

void bl_csv_comparison(const struct bl_result *result, struct bl_output *output)
{
    const json_t *rows = json_object_get(result->root, "comparison");
    head(result, output);
    for (size_t r = 0; r < json_array_size(rows); r++) {
        const json_t *row = json_array_get(rows, r);
        for (size_t i = 0; i < TEXTS; i++) {
            bl_csv_text(output, row, texts[i]);
        }
        bl_csv_number(output, bl_tree_get_number(row, "kpa"));
        bl_output_text(output,
                       bl_tree_get_bool(row, "paired") ? "yes," : "no,");
        for (size_t i = 0; i < COUNTS; i++) {
            bl_output_format(
                output, "%llu,",
                (unsigned long long)bl_tree_get_count(row, counts[i]));
        }
        for (size_t i = 0; i < NUMBERS; i++) {
            bl_csv_number(output, bl_tree_get_number(row, numbers[i]));
        }
        bl_csv_text(output, row, "verdict");
        travel(output, row);
        bl_csv_identity(result, output, bl_tree_get_text(row, "unit"), false);
    }
}
