/* SPDX-License-Identifier: MIT */
/* What drives the air in one application. Inside of the study room. */
#ifndef BRAKELAG_SRC_STUDY_PREDICT_DRIVE_H
#define BRAKELAG_SRC_STUDY_PREDICT_DRIVE_H

#include "lag/track.h"

/* Command pressure above its rest, a value per BL_CHAIN_STEP_S. */
struct bl_drive {
    double *kpa; /* owned */
    size_t steps;
    double apply_s, release_s; /* from its first value */
    double hold_kpa;           /* held by the command */
};

/* False: the application cannot be modelled (too long, or the command is not
   known throughout), or memory ran out: then *status says so. */
bool bl_drive_make(struct bl_drive *out, const struct bl_track *command,
                   const struct bl_run_lag *lag, size_t application,
                   enum bl_status *status);
void bl_drive_finish(struct bl_drive *drive);

#endif
