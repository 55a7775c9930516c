/* SPDX-License-Identifier: MIT */
/*
 * The uncertainty budget of a passage and of a lag. Components are standard
 * uncertainties and are joined as root of the sum of squares; what a channel
 * does not state stays NaN and is left out of the sum.
 */
#ifndef BRAKELAG_SRC_LAG_BUDGET_H
#define BRAKELAG_SRC_LAG_BUDGET_H

#include "lag/output.h"

/* How a passage's level was made. */
struct bl_level_origin {
    bool absolute;   /* a stated gauge pressure: the zero error enters */
    double fraction; /* share of the hold; NaN: a fixed height over rest */
    double level, rest, u_rest, u_hold;
};

/* Own components of a passage of a track (all but command and clock). */
struct bl_uncertainty bl_budget_passage(const struct bl_track *track,
                                        const struct bl_passage *passage,
                                        const struct bl_level_origin *origin);
/* Standard uncertainty of a gauge pressure as the channel reads it, in kPa; 0:
   nothing is stated. */
double bl_budget_error_kpa(const struct bl_track *track, double level);
/* Root of the sum of squares of what is stated. */
double bl_budget_total(const struct bl_uncertainty *u);
/* Systematic part: what all applications on one channel share (gain, zero,
   delay, clock). */
double bl_budget_common(const struct bl_uncertainty *u);

#endif
