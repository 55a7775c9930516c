/* SPDX-License-Identifier: MIT */
/* The answer as text: a sentence a line. */
#include "report/text.h"

static bool is_first(const json_t *sentence)
{
    return json_is_true(json_object_get(sentence, "first"));
}

/* What is wrong, before everything else. */
void bl_text_first(struct bl_text *to)
{
    char text[BL_TEXT_SENTENCE];
    const json_t *first =
        json_array_get(json_object_get(to->root, "answer"), 0);
    if (first != NULL && is_first(first)) {
        bl_text_plain(to, bl_text_pressures(to->pressure,
                                            bl_tree_get_text(first, "text"),
                                            text, sizeof(text)));
        bl_output_text(to->output, to->alone ? "\n" : "\n\n");
    }
}

void bl_text_answer(struct bl_text *to)
{
    const json_t *all = json_object_get(to->root, "answer");
    if (json_array_size(all) > 1) {
        bl_output_text(to->output, "\nThe answer\n");
    }
    for (size_t i = 0; i < json_array_size(all); i++) {
        char sentence[BL_TEXT_SENTENCE];
        if (is_first(json_array_get(all, i))) {
            continue; /* it stands above everything */
        }
        bl_output_text(to->output, "  ");
        bl_text_plain(to, bl_text_pressures(
                              to->pressure,
                              bl_tree_get_text(json_array_get(all, i), "text"),
                              sentence, sizeof(sentence)));
        bl_output_text(to->output, "\n");
    }
}
