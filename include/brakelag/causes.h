/* SPDX-License-Identifier: MIT */
/*
 * Why a unit is slow: named causes with evidence and the next check, over all
 * runs of a trial. docs/methods/causes.md says how each is found.
 */
#ifndef BRAKELAG_CAUSES_H
#define BRAKELAG_CAUSES_H

#include "brakelag/findings.h"
#include "brakelag/lag.h"

/* One run of the trial, as far as it could be had; NULL where it could not.
   All borrowed. */
struct bl_causes_run {
    const struct bl_run_data *data;
    const struct bl_run_clocks *clocks;
    const struct bl_run_lag *lag;
};

/*
 * Add the findings of groups unit, air and measuring to `into`, ranked; `run`
 * has one entry per run of the trial, in its order: a run is compared with
 * earlier ones. What other studies look for (demand, characteristic,
 * transducers) is not in it. Errors: NOMEM.
 */
BL_API BL_MUST_CHECK enum bl_status bl_causes(struct bl_findings *into,
                                              const struct bl_trial *trial,
                                              const struct bl_causes_run *run,
                                              struct bl_error *error);

#endif
