/* SPDX-License-Identifier: MIT */
/* The table of traits as text and as CSV: a row per trait, unit, run and kind;
   in CSV one per reference. */
#include "report/text.h"

#include <math.h>

static void strongest(struct bl_text *to, const json_t *row)
{
    char text[BL_TEXT_CELL];
    const json_t *all = json_object_get(row, "references");
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *one = json_array_get(all, i);
        bl_output_format(to->output, "  %s %s",
                         bl_tree_get_text(one, "reference"),
                         bl_text_value(bl_tree_get_number(one, "value"),
                                       bl_tree_get_number(one, "u"), 3, text));
        bl_output_format(
            to->output, ", off by %s",
            bl_text_value(bl_tree_get_number(one, "off"), NAN, 3, text));
        bl_output_format(to->output, " (%.1f u)",
                         bl_tree_get_number(one, "off_over_u"));
    }
}

void bl_text_traits(struct bl_text *to)
{
    const json_t *all = json_object_get(to->root, "traits");
    char text[BL_TEXT_CELL];
    if (all != NULL) {
        bl_output_text(to->output,
                       "\nTraits: what each unit does, and what that is held "
                       "against (k = 2)\n");
    }
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *row = json_array_get(all, i);
        bl_output_text(to->output, "  ");
        bl_text_plain(to, bl_text_unit(row, text));
        bl_output_format(to->output, "  %-13s ",
                         bl_tree_get_text(row, "trait"));
        bl_text_plain(to, bl_tree_get_text(row, "run"));
        bl_output_format(
            to->output, " %s %s: %s%s %s (%llu)", bl_tree_get_text(row, "kind"),
            bl_tree_get_text(row, "shape"),
            json_is_true(json_object_get(row, "at_least")) ? "at least " : "",
            bl_text_value(bl_tree_get_number(row, "value"),
                          bl_tree_get_number(row, "u"), 3, text),
            bl_tree_get_text(row, "measured_in"),
            (unsigned long long)bl_tree_get_count(row, "n"));
        strongest(to, row);
        bl_output_text(to->output, "\n");
    }
}

static void csv_row(struct bl_output *output, const json_t *row,
                    const json_t *reference)
{
    static const char *const texts[] = {"unit",  "run",   "asked_by",   "kind",
                                        "shape", "trait", "measured_in"};
    static const char *const numbers[] = {"value", "u", "scatter"};
    static const char *const held[] = {"value", "u", "off", "off_over_u",
                                       "stands_out_from"};
    for (size_t i = 0; i < sizeof(texts) / sizeof(texts[0]); i++) {
        bl_csv_text(output, row, texts[i]);
    }
    for (size_t i = 0; i < sizeof(numbers) / sizeof(numbers[0]); i++) {
        bl_csv_number(output, bl_tree_get_number(row, numbers[i]));
    }
    bl_output_format(
        output, "%llu,%s,", (unsigned long long)bl_tree_get_count(row, "n"),
        json_is_true(json_object_get(row, "at_least")) ? "yes" : "no");
    bl_csv_text(output, reference, "reference");
    for (size_t i = 0; i < sizeof(held) / sizeof(held[0]); i++) {
        bl_csv_number(output, reference == NULL
                                  ? NAN
                                  : bl_tree_get_number(reference, held[i]));
    }
    bl_output_format(
        output, "%llu\n",
        (unsigned long long)(reference == NULL
                                 ? 0
                                 : bl_tree_get_count(reference, "n")));
}

void bl_csv_traits(const json_t *root, struct bl_output *output)
{
    const json_t *all = json_object_get(root, "traits");
    bl_output_text(output,
                   "unit,run,asked_by,kind,shape,trait,measured_in,value,u,"
                   "scatter,n,at_least,reference,expected,u_expected,off,"
                   "off_over_u,stands_out_from,references\n");
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *row = json_array_get(all, i);
        const json_t *held = json_object_get(row, "references");
        for (size_t k = 0; k < json_array_size(held); k++) {
            csv_row(output, row, json_array_get(held, k));
        }
        if (json_array_size(held) == 0) {
            csv_row(output, row, NULL);
        }
    }
}
