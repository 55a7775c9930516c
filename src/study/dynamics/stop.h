/* SPDX-License-Identifier: MIT */
#ifndef BRAKELAG_SRC_STUDY_DYNAMICS_STOP_H
#define BRAKELAG_SRC_STUDY_DYNAMICS_STOP_H

#include "brakelag/dynamics.h"

/* Brake from `speed_m_s` to a stand. Exact for the model: all pieces are
   polynomials. Errors: ARG (no unit, more than BL_STOP_UNITS, a mass or speed
   that is not positive, points out of order), NODATA (it never stops). */
BL_MUST_CHECK enum bl_status bl_stop_compute(struct bl_stop *out,
                                             const struct bl_braked_unit *unit,
                                             size_t units, double speed_m_s,
                                             struct bl_error *error);

#endif
