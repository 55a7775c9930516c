/* SPDX-License-Identifier: MIT */
/* Which cause explains best, over all units, what lies off. */
#ifndef BRAKELAG_SRC_STUDY_CAUSES_TRAITS_RANK_H
#define BRAKELAG_SRC_STUDY_CAUSES_TRAITS_RANK_H

#include "study/causes/traits/rows.h"

/* Times after the command that are held with power against by air alone. */
enum { BL_FIRST_AIR, BL_AT_75, BL_WITH_POWER };

/* All that is known of one unit. */
struct bl_unit_state {
    struct bl_trait_state at[BL_CLASSES][BL_EFFORTS][BL_SIGNS];
    bool explained[BL_CLASSES][BL_EFFORTS][BL_SIGNS];
    bool follows; /* from the cause that was named last, further in front */
    /* Powered it responds near to its air, but not as it would by it, or where
       that cannot be compared with anything: it may act on its demand. */
    bool like_air_only_roughly;
    /* By how much its first air and its 75 % are later in hard applications
       with power than by air alone; NaN where they were not both measured. */
    double later_s[BL_WITH_POWER], u_later_s[BL_WITH_POWER];
    bool held_by_air; /* its runs by air alone were compared with it */
};

struct bl_named_cause {
    size_t unit;
    const struct bl_cause_row *row, *alike[BL_FINDING_ALIKE_MAX];
    size_t alikes;
    double score;
    struct bl_trait_state shown; /* that lends the numbers */
};

/* "it responds 0.38 s with power, 0.38 s by air alone": of one that need not
   stand out among the others, as they may have no demand either. */
void bl_causes_say_like_air(char *text, size_t size, const struct bl_causing *c,
                            const struct bl_named_cause *named);
/* What cannot be told of such a unit, and the run that decides it. NULL: it
   is there already, or there is no memory. */
struct bl_finding *bl_causes_open_demand(struct bl_causing *c,
                                         const struct bl_named_cause *named,
                                         const struct bl_unit_state *unit);

/* Where a towing unit that holds too much with power asks the others for less:
   names both instead, and returns true. */
bool bl_causes_asked_less(struct bl_causing *c,
                          const struct bl_named_cause *named,
                          const struct bl_unit_state *unit);

/* States of all units; trial.units of them. */
void bl_states_read(const struct bl_causing *c, struct bl_unit_state *state);
/* like_air.c: the signs of a unit that brakes with power as by its air. */
void bl_states_like_air(const struct bl_causing *c,
                        struct bl_unit_state *state);
/* The best of what is left unexplained, which it marks as explained. False:
   nothing is. */
bool bl_causes_rank(const struct bl_causing *c, struct bl_unit_state *state,
                    struct bl_named_cause *best);
/* The same where no row explains most of a unit: what explains most of its
   part. False too where the row does not stand on its first sign. */
bool bl_causes_rank_part(const struct bl_causing *c,
                         struct bl_unit_state *state,
                         struct bl_named_cause *best);

#endif
