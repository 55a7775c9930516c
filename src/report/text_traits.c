/* SPDX-License-Identifier: MIT */
/* The table of traits as text: a row per trait, unit, run and kind. */
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
        bl_output_text(
            to->output,
            "\nTraits: what each unit does, and what that is compared "
            "with (k = 2)\n");
    }
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *row = json_array_get(all, i);
        bl_output_text(to->output, "  ");
        bl_text_plain(to, bl_text_called(to, row));
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
