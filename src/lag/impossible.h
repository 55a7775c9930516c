/* SPDX-License-Identifier: MIT */
/*
 * What no brake can do: an effect before its cause. Then channels are exchanged
 * or a clock is wrong, and lags say nothing. docs/methods/clocks.md has it in
 * the words of the user.
 */
#ifndef BRAKELAG_SRC_LAG_IMPOSSIBLE_H
#define BRAKELAG_SRC_LAG_IMPOSSIBLE_H

#include "brakelag/lag.h"

/* By how much something comes too early, over the tolerance, and its standard
   uncertainty; NaN: cannot be judged. Found where excess passes 4 u. */
struct bl_impossible {
    double excess_s, u_s;
    bool by_demand; /* a demand could have been the cause, too */
};

/* The output of a towed unit before its own control pressure, where power or
   data is off; else before both its demand and the air: as recorded at its own
   coupling, else the earliest that the lines in front of it allow. `as_one`:
   all outputs respond together, so lengths say nothing. */
struct bl_impossible bl_impossible_output(const struct bl_trial *trial,
                                          size_t run,
                                          const struct bl_application *a,
                                          const struct bl_unit_lag *unit,
                                          bool as_one);
/* Every demand well before the driver's own movement or pressure. */
struct bl_impossible bl_impossible_demand(const struct bl_trial *trial,
                                          const struct bl_application *a);
/* Not impossible, but to be told from a wrong clock by nothing: all demands
   come long after the command, and outputs before them. */
struct bl_impossible bl_doubtful_demand(const struct bl_trial *trial,
                                        const struct bl_application *a);

#endif
