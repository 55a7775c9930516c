/* SPDX-License-Identifier: MIT */
#ifndef BRAKELAG_SRC_STUDY_DYNAMICS_SHARES_H
#define BRAKELAG_SRC_STUDY_DYNAMICS_SHARES_H

#include "brakelag/dynamics.h"

/* Fill what follows from a computed row: shares, distances, and the unit with
   the most work for its mass. */
void bl_dynamics_shares(struct bl_dynamics_row *row);

#endif
