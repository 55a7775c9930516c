/* SPDX-License-Identifier: MIT */
/* The uncertainty of a figure taken apart, in words. */
#include "report/text.h"

#include <math.h>
#include <string.h>

static void components(struct bl_text *to, const json_t *entry)
{
    const json_t *all = json_object_get(entry, "components");
    char text[BL_TEXT_CELL];
    struct bl_table table = {0};
    table.right[1] = true;
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *component = json_array_get(all, i);
        const char *name = bl_tree_get_text(component, "name");
        bl_table_cell(&table, "%s", name);
        bl_table_cell(
            &table, "%s ms",
            bl_text_fixed(1e3 * bl_tree_get_number(component, "u_s"), 3, text));
        bl_table_cell(&table, "%s",
                      bl_tree_get_bool(component, "common") ? "common"
                                                            : "random");
        bl_table_span(&table, "%s", bl_words_of(&bl_words_components, name));
        bl_table_row(&table);
    }
    bl_text_table(to, &table, 4);
}

static void milliseconds(struct bl_text *to, const char *before,
                         const json_t *object, const char *key)
{
    char text[BL_TEXT_CELL];
    bl_output_format(
        to->output, "%s%s ms", before,
        bl_text_fixed(1e3 * bl_tree_get_number(object, key), 3, text));
}

static void mean(struct bl_text *to, const json_t *entry)
{
    const json_t *average = json_object_get(entry, "mean");
    char text[BL_TEXT_CELL];
    if (average == NULL || json_is_null(average)) {
        bl_output_text(to->output, "    one application of its kind: its "
                                   "scatter is not known\n");
        return;
    }
    bl_output_format(to->output, "    mean of %llu of its kind: %s s",
                     (unsigned long long)bl_tree_get_count(average, "n"),
                     bl_text_fixed(bl_tree_get_number(average, "s"), 4, text));
    milliseconds(to, "; they scatter by ", average, "scatter_s");
    milliseconds(to, ", which leaves ", average, "u_scatter_s");
    milliseconds(to, "; with the common part ", average, "u_s");
    const double dof = bl_tree_get_number(average, "effective_dof");
    bl_output_format(to->output, "\n    effective degrees of freedom %s",
                     isnan(dof) ? "without bound"
                                : bl_text_fixed(floor(dof), 0, text));
    bl_output_format(to->output, ", k = %s for 95 %%",
                     bl_text_fixed(bl_tree_get_number(average, "k"), 2, text));
    milliseconds(to, ": expanded ", average, "expanded_s");
    bl_output_text(to->output, "\n");
}

void bl_text_budget(struct bl_text *to)
{
    const json_t *all = json_object_get(to->root, "budget");
    char text[BL_TEXT_CELL];
    char title[BL_TEXT_CELL];
    if (all != NULL) {
        bl_output_text(
            to->output,
            "\nUncertainty taken apart; standard (k = 1); common: the same in "
            "every\napplication, so more of them do not make it smaller\n");
    }
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *budget = json_array_get(all, i);
        bl_output_text(to->output, "  Run ");
        bl_text_plain(to, bl_tree_get_text(budget, "run"));
        bl_output_format(
            to->output, ", application %llu (%s), %s, ",
            (unsigned long long)bl_tree_get_count(budget, "application"),
            bl_text_kind(budget), bl_text_called(to, budget));
        bl_output_format(
            to->output, "%s: %s s\n", bl_text_figure_of(to, budget, title),
            bl_text_fixed(bl_tree_get_number(budget, "s"), 4, text));
        components(to, budget);
        milliseconds(to, "    random ", budget, "u_random_s");
        milliseconds(to, ", common ", budget, "u_common_s");
        milliseconds(to, ", together ", budget, "u_s");
        milliseconds(to, "; expanded, k = 2: ", budget, "expanded_s");
        const json_t *missing = json_object_get(budget, "not_included");
        for (size_t k = 0; k < json_array_size(missing); k++) {
            bl_output_format(to->output, "%s%s",
                             k == 0 ? "\n    not included, because the trial "
                                      "file does not state it: "
                                    : ", ",
                             json_string_value(json_array_get(missing, k)));
        }
        bl_output_text(to->output, "\n");
        mean(to, budget);
    }
}
