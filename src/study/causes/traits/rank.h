/* SPDX-License-Identifier: MIT */
/* Which cause explains best, over all units, what lies off. */
#ifndef BRAKELAG_SRC_STUDY_CAUSES_TRAITS_RANK_H
#define BRAKELAG_SRC_STUDY_CAUSES_TRAITS_RANK_H

#include "study/causes/traits/rows.h"

/* All that is known of one unit. */
struct bl_unit_state {
    struct bl_trait_state at[BL_CLASSES][BL_EFFORTS][BL_SIGNS];
    bool explained[BL_CLASSES][BL_EFFORTS][BL_SIGNS];
    bool follows; /* from the cause that was named last, further in front */
};

struct bl_named_cause {
    size_t unit;
    const struct bl_cause_row *row, *alike[BL_FINDING_ALIKE_MAX];
    size_t alikes;
    double score;
    struct bl_trait_state shown; /* that lends the numbers */
};

/* States of all units; trial.units of them. */
void bl_states_read(const struct bl_causing *c, struct bl_unit_state *state);
/* The best of what is left unexplained, which it marks as explained. False:
   nothing is. */
bool bl_causes_rank(const struct bl_causing *c, struct bl_unit_state *state,
                    struct bl_named_cause *best);

#endif
