/* SPDX-License-Identifier: MIT */
/*
 * Why a unit is slow: named causes with evidence and the next check, over all
 * runs of a trial. docs/methods/causes.md says how each is found.
 */
#ifndef BRAKELAG_CAUSES_H
#define BRAKELAG_CAUSES_H

#include "brakelag/characteristic.h"
#include "brakelag/findings.h"
#include "brakelag/lag.h"
#include "brakelag/predict.h"
#include "brakelag/reach.h"
#include "brakelag/transducers.h"

/* One run of the trial, as far as it could be had; NULL where it could not.
   Borrowed for the call. */
struct bl_causes_run {
    const struct bl_run_data *data;
    const struct bl_run_clocks *clocks;
    const struct bl_run_lag *lag;
    /* Studies of the run that causes are read from. */
    const struct bl_reach *reach;
    const struct bl_characteristics *curves;
    const struct bl_transducers *pairs;
    const struct bl_predict *predict;
};

/*
 * Add the findings of all groups to `into`, ranked; `run` has one entry per run
 * of the trial, in its order: a run is compared with earlier ones. What
 * several runs show alike is one finding that names them. Errors: NOMEM.
 */
BL_API BL_MUST_CHECK enum bl_status bl_causes(struct bl_findings *into,
                                              const struct bl_trial *trial,
                                              const struct bl_causes_run *run,
                                              struct bl_error *error);

#endif
