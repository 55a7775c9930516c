/* SPDX-License-Identifier: MIT */
/* Two visits compared with each other, unit by unit: between what is found and
   what is said of it. Inside the room only. */
#ifndef BRAKELAG_SRC_HISTORY_PAIR_H
#define BRAKELAG_SRC_HISTORY_PAIR_H

#include "history/tell.h"

/* One unit that both visits have. */
struct bl_paired {
    const char *unit; /* of the later trial: "4", "B.1" */
    struct bl_history_life *life;
    struct bl_life_pair *row; /* one per row of life->lives */
};
struct bl_pairing {
    struct bl_paired *item;
    size_t count;
    const struct bl_life_options *options;
    const char *date; /* of the earlier visit */
};

/* pair.c: how many figures of the unit came to this. */
size_t bl_paired_count(const struct bl_paired *paired,
                       enum bl_life_pair_verdict verdict);
/* Put the sentences into member `answer` of `into`, in front of it. */
void bl_pairing_tell(struct bl_tree *tree, json_t *into,
                     const struct bl_pairing *pairing);

#endif
