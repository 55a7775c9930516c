/* SPDX-License-Identifier: MIT */
/* The answer as text: a sentence a line. */
#include "report/text.h"

#include "brakelag/answer.h"

#include <string.h>

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

static bool has_topic(const struct bl_text *to, const json_t *sentence,
                      enum bl_answer_topic topic)
{
    return bl_text_is(to, sentence, "topic", (int)topic);
}

/* Does the sentence stand with its study, in a report? */
static bool of_study(const struct bl_text *to, const json_t *sentence)
{
    return has_topic(to, sentence, BL_ANSWER_COMPARED) ||
           has_topic(to, sentence, BL_ANSWER_PREDICTED) ||
           has_topic(to, sentence, BL_ANSWER_CURVES);
}

void bl_text_said(struct bl_text *to, enum bl_answer_topic topic)
{
    const json_t *all = json_object_get(to->root, "answer");
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *sentence = json_array_get(all, i);
        if (!is_first(sentence) && has_topic(to, sentence, topic)) {
            bl_output_text(to->output, "  ");
            one(to, sentence);
        }
    }
}

/* The other sentences. */
void bl_text_answer(struct bl_text *to)
{
    const json_t *all = json_object_get(to->root, "answer");
    bool any = false;
    for (size_t i = 0; i < json_array_size(all); i++) {
        if (is_first(json_array_get(all, i)) ||
            of_study(to, json_array_get(all, i))) {
            continue;
        }
        bl_output_text(to->output, any ? "  " : "\nThe answer\n  ");
        one(to, json_array_get(all, i));
        any = true;
    }
}
