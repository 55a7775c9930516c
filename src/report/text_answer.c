/* SPDX-License-Identifier: MIT */
/* The answer as text: a sentence a line. */
#include "report/text.h"

#include <string.h>

enum { COLUMNS = 80 };

void bl_text_wrapped(struct bl_text *to, size_t indent, const char *text)
{
    if (!to->alone) {
        bl_output_format(to->output, "%*s", (int)indent, "");
        bl_text_plain(to, text);
        bl_output_text(to->output, "\n");
        return;
    }
    char word[BL_TEXT_SENTENCE];
    size_t column = 0;
    while (*text != '\0') {
        size_t length = strcspn(text, " ");
        length = length < sizeof(word) ? length : sizeof(word) - 1;
        memcpy(word, text, length);
        word[length] = '\0';
        const size_t width = bl_text_width(word);
        const bool fits = column > 0 && column + 1 + width <= COLUMNS;
        if (column > 0) {
            bl_output_text(to->output, fits ? " " : "\n");
        }
        if (!fits) {
            bl_output_format(to->output, "%*s", (int)indent, "");
            column = indent;
        } else {
            column++;
        }
        bl_text_plain(to, word);
        column += width;
        text += length;
        text += strspn(text, " ");
    }
    bl_output_text(to->output, "\n");
}

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
        bl_text_wrapped(to, 0,
                        bl_text_pressures(to->pressure,
                                          bl_tree_get_text(first, "text"), text,
                                          sizeof(text)));
        bl_output_text(to->output, to->alone ? "" : "\n");
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
        bl_text_wrapped(
            to, 2,
            bl_text_pressures(to->pressure,
                              bl_tree_get_text(json_array_get(all, i), "text"),
                              sentence, sizeof(sentence)));
    }
}
