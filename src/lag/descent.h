/* SPDX-License-Identifier: MIT */
/*
 * What a sampled command was let go from: the place where its last descent to
 * rest begins, and what it held just before. An overshoot at the start, a dip
 * and a stop on the way down are no part of it.
 */
#ifndef BRAKELAG_SRC_LAG_DESCENT_H
#define BRAKELAG_SRC_LAG_DESCENT_H

#include "lag/command.h"

/* Puts hold, u_hold, hold_from and the flag NOT_SETTLED into `e`, whose rest,
   end and peak are known. `all` is the extent from from_ns to the end. */
void bl_descent_hold(struct bl_command_event *e, const struct bl_track *track,
                     const struct bl_extent *all, int64_t from_ns,
                     double noise);

#endif
