/* SPDX-License-Identifier: MIT */
/* One series looked at, before and after what all series of the unit together
   allow to be said. Inside the room only. */
#ifndef BRAKELAG_SRC_STUDY_LIFE_JUDGE_H
#define BRAKELAG_SRC_STUDY_LIFE_JUDGE_H

#include "study/life/frame.h"

/* What stays between the two. */
struct bl_life_looked {
    bool may_tell; /* three visits or more, over more than a day, position and
                      command known */
    /* Times both ways of changing, all places and all looks: with what was not
       recorded allowed for, and without. NaN: takes no part. */
    double p, p_bare;
    /* Logarithms of likelihoods: a line, a jump with two visits or more on
       either side (the mean over its places), the first or the last visit
       apart. NaN, -INFINITY: not tried. */
    double line, jump, first, last;
    double any_jump;    /* the mean over all places */
    double line_change; /* over the whole time looked at */
};

/* Changes of row->..., and what they are worth by themselves. */
enum bl_status bl_life_look(struct bl_life_looked *out, struct bl_life_row *row,
                            const struct bl_life_frame *frame,
                            const struct bl_life_options *options,
                            struct bl_error *error);
/* What p of a look at so many comparable visits is multiplied by, so that the
   looks of a whole life together keep the false rate; 1 at two visits. */
double bl_life_looks(const struct bl_life_row *row, size_t compared);
/* row->p_life is known: the verdict. `p_bare` is adjusted like it. */
void bl_life_judge(struct bl_life_row *row, const struct bl_life_looked *looked,
                   double p_bare, const struct bl_life_options *options);
/* Points and spread, as the verdict has them; what could have been noticed
   where `among` series share the false rate. Where that is nothing, no change
   shown becomes cannot tell. */
void bl_life_complete(struct bl_life_row *row,
                      const struct bl_life_frame *frame,
                      const struct bl_life_series *series, size_t among,
                      const struct bl_life_options *options);
/* Control limits: where the next visit should lie if these are steady. The
   frame's row behind its last visit is overwritten. */
void bl_life_control(struct bl_life_row *row, struct bl_life_frame *frame,
                     const struct bl_life_options *options);

#endif
