/* SPDX-License-Identifier: MIT */
/* The answer as text: a sentence a line. */
#include "report/text.h"

void bl_text_answer(struct bl_text *to)
{
    const json_t *all = json_object_get(to->root, "answer");
    if (all != NULL) {
        bl_output_text(to->output, "\nThe answer\n");
    }
    for (size_t i = 0; i < json_array_size(all); i++) {
        char sentence[BL_TEXT_SENTENCE];
        bl_output_text(to->output, "  ");
        bl_text_plain(to, bl_text_pressures(
                              to->pressure,
                              bl_tree_get_text(json_array_get(all, i), "text"),
                              sentence, sizeof(sentence)));
        bl_output_text(to->output, "\n");
    }
}
