/* SPDX-License-Identifier: MIT */
/* Ready or not: as a tree, and as text. */
#include "report/result.h"
#include "report/text.h"

#include "brakelag/check.h"

#include <string.h>

enum bl_status bl_result_add_check(struct bl_result *result,
                                   const struct bl_trial *trial,
                                   const struct bl_check *check,
                                   struct bl_error *error)
{
    struct bl_tree *tree = &result->tree;
    json_t *all = json_object_get(result->root, "check");
    if (all == NULL) {
        all = bl_tree_array(tree);
        bl_tree_put(tree, result->root, "check", all);
    }
    json_t *object = bl_tree_object(tree);
    bl_tree_text(tree, object, "run", trial->run[check->run].name);
    bl_tree_bool(tree, object, "ready", check->ready);
    json_t *items = bl_tree_array(tree);
    for (size_t i = 0; i < check->items; i++) {
        const struct bl_check_item *checked = &check->item[i];
        json_t *item = bl_tree_object(tree);
        bl_tree_text(tree, item, "code", checked->code);
        bl_tree_word(tree, item, "state", bl_check_state_name(checked->state),
                     (int)checked->state);
        bl_tree_text(tree, item, "text", checked->text);
        bl_tree_text(tree, item, "next",
                     checked->next[0] == '\0' ? NULL : checked->next);
        bl_tree_append(tree, items, item);
    }
    bl_tree_put(tree, object, "items", items);
    bl_tree_append(tree, all, object);
    result->in_front = true;
    return tree->failed ? bl_fail_memory(error) : BL_OK;
}

static void run_items(struct bl_text *to, const json_t *run,
                      enum bl_check_state state, const char *title)
{
    const json_t *items = json_object_get(run, "items");
    bool first = true;
    for (size_t i = 0; i < json_array_size(items); i++) {
        const json_t *item = json_array_get(items, i);
        if (!bl_text_is(to, item, "state", (int)state)) {
            continue;
        }
        if (first) {
            bl_output_format(to->output, "  %s\n", title);
            first = false;
        }
        bl_output_format(to->output,
                         "    %s: ", bl_tree_get_text(item, "code"));
        char sentence[BL_TEXT_SENTENCE];
        bl_text_plain(to, bl_text_pressures(to->pressure,
                                            bl_tree_get_text(item, "text"),
                                            sentence, sizeof(sentence)));
        const char *next = bl_tree_get_text(item, "next");
        if (next[0] != '\0') {
            bl_output_format(to->output, "\n      do: %s", next);
        }
        bl_output_text(to->output, "\n");
    }
}

void bl_text_check(struct bl_text *to)
{
    const json_t *all = json_object_get(to->root, "check");
    bool any = false;
    for (size_t i = 0; i < json_array_size(all); i++) {
        const json_t *run = json_array_get(all, i);
        const bool ready = bl_tree_get_bool(run, "ready");
        any = any || ready;
        bl_output_format(to->output, "\n%s: run ",
                         ready ? "READY" : "NOT READY");
        bl_text_plain(to, bl_tree_get_text(run, "run"));
        bl_output_text(to->output, "\n");
        run_items(to, run, BL_CHECK_NOT_READY, "Not ready");
        run_items(to, run, BL_CHECK_CANNOT_TELL, "Cannot tell");
        run_items(to, run, BL_CHECK_CAUTION, "Caution");
        run_items(to, run, BL_CHECK_GOOD, "Good");
    }
    if (any) {
        bl_output_text(to->output,
                       "\nReady means that the recordings suffice. Whether the "
                       "brakes are in order is\nanother question: `brakelag "
                       "causes` says what they show.\n");
    }
    if (json_array_size(all) > 0) {
        bl_output_text(to->output, "\nBefore anybody presses the pedal\n");
        bl_text_cautions(to);
    }
}
