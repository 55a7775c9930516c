/* SPDX-License-Identifier: MIT */
/* Do the outputs of a run respond as one? */
#ifndef BRAKELAG_SRC_LAG_AS_ONE_H
#define BRAKELAG_SRC_LAG_AS_ONE_H

#include "brakelag/lag.h"

/*
 * Do three outputs or more of a combination respond within 10 ms of each other
 * in every whole application that counts? Air never comes to them so much at
 * one time (own choice, as the length of a train at the speed of sound): their
 * transducers were probably at one tee, to learn their own delays. A powered
 * train may do so all the same: ask of runs without power only.
 */
bool bl_lag_as_one(const struct bl_run_lag *lag, char combination);
/* Were all transducers at one tee, by the run's condition ("reference") or, of
   three units and more without power, by what they show? Then its pressures are
   no unit's own. `lag`: of that run; NULL: not measured. */
bool bl_lag_one_tee(const struct bl_trial *trial, size_t run,
                    const struct bl_run_lag *lag, char combination);

#endif
