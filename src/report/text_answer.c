/* SPDX-License-Identifier: MIT */
/* The answer as text: a sentence a line. */
#include "report/text.h"

static bool is_first(const json_t *sentence)
{
    return json_is_true(json_object_get(sentence, "first"));
}

static void one(struct bl_text *to, const json_t *sentence)
{
    char text[BL_TEXT_SENTENCE];
    bl_text_plain(to, bl_text_pressures(to->pressure,
                                        bl_tree_get_text(sentence, "text"),
                                        text, sizeof(text)));
    bl_output_text(to->output, "\n");
}

/* What is wrong, or what a study answers, before everything else. */
void bl_text_first(struct bl_text *to)
{
    const json_t *all = json_object_get(to->root, "answer");
    bool any = false;
    for (size_t i = 0; i < json_array_size(all); i++) {
        if (is_first(json_array_get(all, i))) {
            one(to, json_array_get(all, i));
            any = true;
        }
    }
    bl_output_text(to->output, any && !to->alone ? "\n" : "");
}

/* The other sentences. */
void bl_text_answer(struct bl_text *to)
{
    const json_t *all = json_object_get(to->root, "answer");
    bool any = false;
    for (size_t i = 0; i < json_array_size(all); i++) {
        if (is_first(json_array_get(all, i))) {
            continue;
        }
        bl_output_text(to->output, any ? "  " : "\nThe answer\n  ");
        one(to, json_array_get(all, i));
        any = true;
    }
}
