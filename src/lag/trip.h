/* SPDX-License-Identifier: MIT */
/*
 * Where a switch closes that stands for an output. Without a stated trip point
 * nobody knows, so that two such outputs are at different pressures when both
 * are called braked.
 */
#ifndef BRAKELAG_SRC_LAG_TRIP_H
#define BRAKELAG_SRC_LAG_TRIP_H

#include "lag/track.h"

/* Pressures between which an output is when it counts as braked. */
struct bl_closing {
    bool by_switch;
    double low_kpa, high_kpa;
};
struct bl_closing bl_output_closes(const struct bl_trial *trial,
                                   const struct bl_track *output);
/* Of a unit that output of which least is known; `output` names one alone, or
   is not below the count of them. */
struct bl_closing bl_unit_closes(const struct bl_trial *trial,
                                 const struct bl_run_data *data,
                                 const struct bl_run_clocks *clocks,
                                 size_t unit, size_t output);
/* Standard uncertainty of a difference of two first airs that follows; of one
   that is compared with something else: `b` NULL. 0 where both close alike. */
double bl_closing_u_s(const struct bl_trial *trial, const struct bl_closing *a,
                      const struct bl_closing *b);

#endif
