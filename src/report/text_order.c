/* SPDX-License-Identifier: MIT */
/* In which order the units answer, and how often that order repeats. */
#include "report/text.h"

#include <string.h>

static void one(struct bl_text *to, const json_t *order)
{
    char text[BL_TEXT_CELL];
    const unsigned long long n = bl_tree_get_count(order, "n");
    const unsigned long long repeats = bl_tree_get_count(order, "repeats");
    const unsigned long long without = bl_tree_get_count(order, "without");
    const unsigned long long close = bl_tree_get_count(order, "close");
    bl_output_format(to->output, "    %s, %s, %s: ", bl_text_kind(order),
                     bl_text_shape(order), bl_text_figure_of(to, order, text));
    if (n == 0) {
        bl_output_format(to->output,
                         "not known: in none of %llu did every unit give it\n",
                         without);
        return;
    }
    const json_t *units = json_object_get(order, "units");
    for (size_t i = 0; i < json_array_size(units); i++) {
        bl_output_format(to->output, "%s%s", i == 0 ? "" : ", ",
                         json_string_value(json_array_get(units, i)));
    }
    bl_output_format(to->output, " in %llu of %llu", repeats, n);
    if (close > 0) {
        bl_output_format(to->output,
                         "; in %llu of them two neighbours are nearer than "
                         "can be told apart",
                         close);
    }
    if (without > 0) {
        bl_output_format(to->output, "; %llu without: a unit gave none",
                         without);
    }
    bl_output_text(to->output, "\n");
}

void bl_text_orders(struct bl_text *to, const json_t *orders,
                    enum bl_order_side side)
{
    bool first = true;
    for (size_t i = 0; i < json_array_size(orders); i++) {
        const json_t *order = json_array_get(orders, i);
        const bool of_run = side == BL_ORDER_OF_RUN;
        if (!of_run && !bl_text_is(to, order, "condition", (int)side)) {
            continue;
        }
        if (first && of_run) {
            bl_output_text(to->output,
                           "\n  Order in which the units answer, and how often "
                           "it repeats\n");
        } else if (first) {
            bl_output_text(to->output, "  ");
            bl_text_plain(to, bl_tree_get_text(order, "condition"));
            bl_output_text(to->output, "\n");
        }
        first = false;
        one(to, order);
    }
}
