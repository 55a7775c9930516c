/* SPDX-License-Identifier: MIT */
/* Findings as CSV (RFC 4180): a row per piece of evidence; a finding without
   any has a row per run. */
#include "report/result.h"

#include <math.h>
#include <string.h>

static void cell(struct bl_output *output, const char *text, const char *after)
{
    bl_csv_cell(output, text);
    bl_output_text(output, after);
}

struct row {
    const json_t *finding;
    const char *shown, *run;
    const json_t *evidence; /* NULL: none */
};

static void row(const struct bl_result *result, struct bl_output *output,
                const struct row *at)
{
    const json_t *f = at->finding;
    const json_t *e = at->evidence;
    static const char *const members[] = {"code", "group", "severity"};
    for (size_t i = 0; i < sizeof(members) / sizeof(members[0]); i++) {
        cell(output, bl_tree_get_text(f, members[i]), ",");
    }
    cell(output, at->shown, ",");
    cell(output, bl_tree_get_text(f, "unit"), ",");
    cell(output, at->run, ",");
    cell(output, bl_tree_get_text(f, "text"), ",");
    cell(output, bl_tree_get_text(e, "label"), ",");
    bl_csv_number(output, bl_tree_get_number(e, "value"));
    bl_csv_number(output, bl_tree_get_number(e, "u"));
    cell(output, bl_tree_get_text(e, "unit"), ",");
    cell(output, bl_tree_get_text(f, "next_check"), ",");
    cell(output, bl_tree_get_text(f, "caution"), "");
    bl_csv_identity(result, output, bl_tree_get_text(f, "unit"), false);
}

static void rows(const struct bl_result *result, struct bl_output *output,
                 const char *member, const char *shown)
{
    const json_t *all = json_object_get(result->root, member);
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *f = json_array_get(all, i);
        const json_t *evidence = json_object_get(f, "evidence");
        const json_t *runs = json_object_get(f, "runs");
        for (size_t k = 0; k < json_array_size(evidence); k++) {
            const json_t *e = json_array_get(evidence, k);
            row(result, output,
                &(struct row){f, shown, bl_tree_get_text(e, "run"), e});
        }
        const bool none = json_array_size(evidence) == 0;
        for (size_t k = 0; none && k < json_array_size(runs); k++) {
            const char *run = json_string_value(json_array_get(runs, k));
            row(result, output, &(struct row){f, shown, run, NULL});
        }
        if (none && json_array_size(runs) == 0) {
            row(result, output, &(struct row){f, shown, "", NULL});
        }
    }
}

void bl_result_csv_findings(const struct bl_result *result,
                            struct bl_output *output)
{
    bl_output_text(output,
                   "code,group,severity,shown,unit,run,text,evidence,value,u,"
                   "measured_in,next_check,caution");
    bl_csv_identity_head(result, output, false);
    rows(result, output, "findings", "found");
    rows(result, output, "cannot_tell", "cannot-tell");
    const json_t *missing = json_object_get(result->root, "not_looked_for");
    for (size_t i = 0; i < json_array_size(missing); i++) {
        const json_t *missed = json_array_get(missing, i);
        cell(output, bl_tree_get_text(missed, "code"), ",,,not-looked-for,");
        cell(output, bl_tree_get_text(missed, "unit"), ",");
        cell(output, bl_tree_get_text(missed, "run"), ",");
        cell(output, bl_tree_get_text(missed, "needs"), ",,,,,,");
        bl_csv_identity(result, output, bl_tree_get_text(missed, "unit"),
                        false);
    }
}
