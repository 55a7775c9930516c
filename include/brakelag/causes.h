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
#include "brakelag/life.h"
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

/* One figure of one unit in this trial against earlier visits of that unit
   (life.h). Text is borrowed for the call. */
struct bl_visits_row {
    size_t unit; /* index in the trial */
    struct bl_life_key key;
    double now_s;
    double off_s, u_s;    /* now less what they let expect; u has the spread
                             between visits in it */
    double low_s, high_s; /* of `off_s` */
    size_t visits;        /* earlier ones that it rests on */
    const char *date;     /* of the one before */
    enum bl_life_pair_verdict verdict;
    /* Where the whole life shows a change that the last visit alone does not:
       DRIFT and DRIFT_OR_STEP, `off_s` is counted from visit `since`; STEP,
       from the visits before `since`. Else CANNOT_TELL. */
    enum bl_life_verdict life;
    const char *since;
};
struct bl_visits {
    const struct bl_visits_row *row;
    size_t rows;
};

/*
 * Add the findings of all groups to `into`, ranked; `run` has one entry per run
 * of the trial, in its order: a run is compared with earlier ones. What
 * several runs show alike is one finding that names them. `visits`: earlier
 * ones of the units; NULL: none. Errors: NOMEM.
 */
BL_API BL_MUST_CHECK enum bl_status bl_causes(struct bl_findings *into,
                                              const struct bl_trial *trial,
                                              const struct bl_causes_run *run,
                                              const struct bl_visits *visits,
                                              struct bl_error *error);

#endif
