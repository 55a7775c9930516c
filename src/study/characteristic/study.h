/* SPDX-License-Identifier: MIT */
/* What the parts of the study of one run share. */
#ifndef BRAKELAG_SRC_STUDY_CHARACTERISTIC_STUDY_H
#define BRAKELAG_SRC_STUDY_CHARACTERISTIC_STUDY_H

#include "lag/track.h"
#include "study/characteristic/curve.h"

struct bl_study {
    const struct bl_trial *trial;
    const struct bl_run_data *data;
    const struct bl_run_clocks *clocks;
    const struct bl_run_lag *lag;                    /* may be NULL */
    struct bl_track *control, *control_out, *demand; /* one per unit */
    struct bl_track *output;                         /* the studied one */
    long *output_index;
    size_t units;
};

/* Are the two on one time, so that a lag of some 0.1 s can be told? */
bool bl_study_tied(const struct bl_track *a, const struct bl_track *b);
/* Two tracks of which one is read against the other, above their rests. */
struct bl_study_pair {
    const struct bl_track *in, *out;
    double in_rest, out_rest;
};
/* Means of both over blocks of BL_CURVE_BLOCK. *out_block is the caller's to
   free. Errors: NOMEM, LIMIT. */
BL_MUST_CHECK enum bl_status bl_study_blocks(struct bl_curve_block **out_block,
                                             size_t *count,
                                             const struct bl_study_pair *pair,
                                             struct bl_error *error);
/* Lowest level that a track keeps: median of its lowest quiet stretch; NaN. */
double bl_study_rest(const struct bl_track *track);
/* What all units ask for together: the command where it is a pressure, else
   the demand or the control of the first unit behind. NULL: none in kPa. */
const struct bl_track *bl_study_front(const struct bl_study *study,
                                      char combination,
                                      struct bl_track *command);

/* light.c */
BL_MUST_CHECK enum bl_status bl_study_light(struct bl_characteristics *all,
                                            const struct bl_study *study,
                                            struct bl_error *error);
/* loss.c */
BL_MUST_CHECK enum bl_status bl_study_loss(struct bl_characteristics *all,
                                           const struct bl_study *study,
                                           struct bl_error *error);
/* curves.c: the curves of one unit and its choice. */
BL_MUST_CHECK enum bl_status bl_study_unit(struct bl_characteristic *out,
                                           const struct bl_study *study,
                                           size_t unit, struct bl_error *error);

#endif
