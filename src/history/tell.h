/* SPDX-License-Identifier: MIT */
/* The life of a unit as a tree: what writers of text, CSV and pages walk. */
#ifndef BRAKELAG_SRC_HISTORY_TELL_H
#define BRAKELAG_SRC_HISTORY_TELL_H

#include "brakelag/history.h"
#include "report/tree.h"

/* tell.c: does it say that the figure is not what it was? */
bool bl_life_is_change(enum bl_life_verdict verdict);
/* The figure that speaks for the unit; NULL: it has none. */
const struct bl_life_row *bl_history_lead(const struct bl_lives *lives);
/* Sentences: [{"topic", "text"}]. */
json_t *bl_history_tell(struct bl_tree *tree,
                        const struct bl_history_life *life);
/* model.c: a unit with its visits, its sentences and every series. */
json_t *bl_history_model_life(struct bl_tree *tree,
                              const struct bl_history_life *life);
json_t *bl_history_model_units(struct bl_tree *tree,
                               const struct bl_history_list *list);
json_t *bl_history_model_visits(struct bl_tree *tree,
                                const struct bl_history_list *list);

#endif
