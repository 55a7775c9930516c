/* SPDX-License-Identifier: MIT */
#ifndef BRAKELAG_SRC_LAG_DEMAND_H
#define BRAKELAG_SRC_LAG_DEMAND_H

#include "brakelag/load.h"
#include "brakelag/trial.h"

/* The electronic demand to unit `unit`; *out is NULL where none was seen.
   Errors: TRIAL (the same on two buses, both named). */
enum bl_status bl_demand_series(const struct bl_bus_series **out,
                                const struct bl_trial *trial,
                                const struct bl_run_data *data, size_t unit,
                                struct bl_error *error);
/* Height above rest at which a demand counts as arrived, kPa. */
double bl_demand_level(const struct bl_trial *trial,
                       const struct bl_trial_unit *command);

#endif
