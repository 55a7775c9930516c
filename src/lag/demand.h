/* SPDX-License-Identifier: MIT */
#ifndef BRAKELAG_SRC_LAG_DEMAND_H
#define BRAKELAG_SRC_LAG_DEMAND_H

#include "brakelag/load.h"
#include "brakelag/trial.h"

/* How a demand series goes with a unit, best last. */
enum bl_demand_fit {
    BL_DEMAND_NOT,     /* not for this unit, or no demand */
    BL_DEMAND_STRANGE, /* on its own link, but from an address of no unit in
                          front, or to an address of no unit */
    BL_DEMAND_SPLIT,   /* meant for a unit further in front and heard here: one
                          bus through several units, an assumption */
    BL_DEMAND_EXACT
};
enum bl_demand_fit bl_demand_fits(const struct bl_trial *trial,
                                  const struct bl_run_data *data, size_t unit,
                                  const struct bl_bus_series *series);

/* The electronic demand to unit `unit`: the series that fits best, of equal
   ones that with most frames; *out is NULL where none was seen. Errors: TRIAL
   (equally good ones on two buses, both named). */
enum bl_status bl_demand_find(const struct bl_bus_series **out,
                              enum bl_demand_fit *fit,
                              const struct bl_trial *trial,
                              const struct bl_run_data *data, size_t unit,
                              struct bl_error *error);
/* The same for those who do not ask how well it fits. */
enum bl_status bl_demand_series(const struct bl_bus_series **out,
                                const struct bl_trial *trial,
                                const struct bl_run_data *data, size_t unit,
                                struct bl_error *error);
/* Is it a series of the unit's own words on its link? Frames that name nobody
   are, where they go forwards on a link of its own. */
bool bl_demand_own(const struct bl_trial *trial, size_t unit,
                   const struct bl_bus_series *series);
/* The unit's own report that it brakes: the series with the shortest interval;
   NULL where none was seen. */
const struct bl_bus_series *bl_demand_report(const struct bl_trial *trial,
                                             const struct bl_run_data *data,
                                             size_t unit);
/* Is the unit's link one of its own, which no other towed unit shares? */
bool bl_demand_own_bus(const struct bl_trial *trial, size_t unit);
/* Is it sent by a unit in front, as far as addresses tell? */
bool bl_demand_from_front(const struct bl_trial *trial, size_t unit,
                          const struct bl_bus_series *series);
/* Height above rest at which a demand counts as arrived, kPa. */
double bl_demand_level(const struct bl_trial *trial,
                       const struct bl_trial_unit *command);
/* Is `name` the bus that a trial means by `bus` (NULL: any)? A recording
   without names is on every bus. */
bool bl_demand_on_bus(const char *name, const char *bus);

#endif
