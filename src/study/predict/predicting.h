/* SPDX-License-Identifier: MIT */
/* A run while it is predicted. Inside of the study room. */
#ifndef BRAKELAG_SRC_STUDY_PREDICT_PREDICTING_H
#define BRAKELAG_SRC_STUDY_PREDICT_PREDICTING_H

#include "lag/application.h"
#include "lag/track.h"
#include "study/predict/inputs.h"

struct predicting {
    struct bl_predict *into;
    const struct bl_trial *trial;
    const struct bl_run_data *data;
    const struct bl_run_clocks *clocks;
    const struct bl_run_lag *lag;
    struct bl_error *error;
    size_t first, units; /* of the combination */
    struct bl_track command;
    bool own_line;               /* unit 0 takes part, on a line of its own */
    size_t begin, modelled;      /* units of the trial that are in the chain */
    struct bl_unit_inputs *in;   /* per modelled unit */
    struct bl_chain_unit *chain; /* the same, in one corner */
};

/* May figures of this application of the combination be used? */
bool bl_predicting_usable(const struct predicting *p,
                          const struct bl_application *application);
/* What a unit holds above its rest; NaN where it did not settle. */
double bl_predicting_held(const struct bl_application *application,
                          size_t unit);

/* band.c: one application through all corners; its points are added to the
   rows of each unit, or it is counted as left out. Errors: NOMEM. */
BL_MUST_CHECK enum bl_status bl_predict_application(struct predicting *p,
                                                    size_t application);

#endif
