/* SPDX-License-Identifier: MIT */
/* The answer as a tree: sentences with the figures that they rest on. */
#include "report/result.h"

enum bl_status bl_result_add_answer(struct bl_result *result,
                                    const struct bl_trial *trial,
                                    const struct bl_answer_sentences *answer,
                                    struct bl_error *error)
{
    struct bl_tree *tree = &result->tree;
    json_t *array = bl_tree_array(tree);
    for (size_t i = 0; i < answer->count; i++) {
        const struct bl_answer_sentence *sentence = &answer->item[i];
        json_t *object = bl_tree_object(tree);
        bl_tree_bool(tree, object, "first", sentence->first);
        bl_tree_word(tree, object, "topic",
                     bl_answer_topic_name(sentence->topic),
                     (int)sentence->topic);
        bl_tree_text(tree, object, "text", sentence->text);
        bl_model_unit(tree, object, trial, (size_t)sentence->unit);
        bl_model_run(tree, object, trial, sentence->run);
        bl_tree_put(tree, object, "evidence",
                    bl_model_evidence(tree, trial, sentence->evidence,
                                      sentence->evidences));
        bl_tree_count(tree, object, "evidence_dropped",
                      sentence->evidences_dropped);
        bl_tree_append(tree, array, object);
    }
    bl_tree_put(tree, result->root, "answer", array);
    return tree->failed ? bl_fail_memory(error) : BL_OK;
}
