/* SPDX-License-Identifier: MIT */
#ifndef BRAKELAG_SRC_LAG_CONDITION_H
#define BRAKELAG_SRC_LAG_CONDITION_H

#include "brakelag/clock.h"
#include "brakelag/lag.h"

/* One fact that contradicts what the run declares. */
struct bl_contradiction {
    const char *why;   /* static text */
    const char *coded; /* the same behind "condition-not-met: " */
    long unit;         /* index in the trial; -1: the run as a whole */
    double value;      /* V or kPa that shows it; NaN */
    const char *measured_in;
};
enum { BL_CONTRADICTIONS = 8 };

/* All facts against power, data and control_air as declared, at most one per
   rule. `lag` NULL: no command was found, so only what needs none. */
size_t bl_lag_contradictions(struct bl_contradiction out[BL_CONTRADICTIONS],
                             const struct bl_trial *trial,
                             const struct bl_run_data *data,
                             const struct bl_run_clocks *clocks,
                             const struct bl_run_lag *lag);
/* Exclude every application of a run that is not what it declares, with a note
   for each fact. Errors: NOMEM. */
enum bl_status bl_lag_judge_condition(struct bl_run_lag *lag,
                                      const struct bl_trial *trial,
                                      const struct bl_run_data *data,
                                      const struct bl_run_clocks *clocks,
                                      struct bl_error *error);

#endif
