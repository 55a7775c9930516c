/* SPDX-License-Identifier: MIT */
/* The life of a unit as a tree: what writers of text, CSV and pages walk. */
#ifndef BRAKELAG_SRC_HISTORY_TELL_H
#define BRAKELAG_SRC_HISTORY_TELL_H

#include "brakelag/history.h"
#include "report/tree.h"

/* life.c: bl_history_life_create with other numbers that decide. */
enum bl_status bl_history_life_with(struct bl_history_life **out,
                                    struct bl_history *history,
                                    const char *unit_id,
                                    const struct bl_life_options *options,
                                    struct bl_error *error);

/* tell.c: does it say that the figure is not what it was? */
bool bl_life_is_change(enum bl_life_verdict verdict);
enum { BL_HISTORY_LABEL = 200 };
/* "75 % of settled, full, powered" */
const char *bl_history_label(const struct bl_life_key *key,
                             char text[BL_HISTORY_LABEL]);
/* "slower by 0.10 s a year (0.08 to 0.12)"; as many decimals as it is known. */
const char *bl_history_by(const struct bl_life_change *change, const char *each,
                          char text[BL_HISTORY_LABEL]);
/* The heavier a figure, the more it stands for its unit. */
int bl_history_weight(const struct bl_life_key *key);
/* A whole apply or release of a full application: what a unit must give. */
bool bl_history_stands(const struct bl_life_key *key);
/* The figure that speaks for the unit; NULL: it has none. */
const struct bl_life_row *bl_history_lead(const struct bl_history_life *life);
/* Has the newest visit no value of it? */
bool bl_history_ended(const struct bl_history_life *life,
                      const struct bl_life_row *row);
/* Sentences: [{"topic", "text"}]. */
json_t *bl_history_tell(struct bl_tree *tree,
                        const struct bl_history_life *life);
/* model.c: a unit with its visits, its sentences and every series. */
json_t *bl_history_model_life(struct bl_tree *tree,
                              const struct bl_history_life *life);
void bl_history_model_change(struct bl_tree *tree, json_t *to, const char *key,
                             const struct bl_life_change *change);
void bl_history_model_key(struct bl_tree *tree, json_t *to,
                          const struct bl_life_key *key);
json_t *bl_history_model_units(struct bl_tree *tree,
                               const struct bl_history_list *list);
json_t *bl_history_model_visits(struct bl_tree *tree,
                                const struct bl_history_list *list);

#endif
