/* SPDX-License-Identifier: MIT */
#ifndef BRAKELAG_SRC_LAG_CONDITION_H
#define BRAKELAG_SRC_LAG_CONDITION_H

#include "brakelag/lag.h"

/* Why the run is not what it declares, as static text; NULL: nothing speaks
   against it. */
const char *bl_lag_condition(const struct bl_trial *trial,
                             const struct bl_run_data *data);
/* Exclude every application for that reason. Errors: NOMEM. */
enum bl_status bl_lag_refuse(struct bl_run_lag *lag, const char *why);

#endif
