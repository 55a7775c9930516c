/* SPDX-License-Identifier: MIT */
/* A stage by the control pressures at both of its ends. Inside of the study
   room. */
#ifndef BRAKELAG_SRC_STUDY_PREDICT_FIT_H
#define BRAKELAG_SRC_STUDY_PREDICT_FIT_H

#include "brakelag/predict.h"

/* One edge of one application: control pressure above rest at the coupling of
   the unit whose valve hands on the air, and at that of the unit behind, every
   BL_CHAIN_STEP_S. */
struct bl_fit_edge {
    const double *front, *behind;
    size_t steps;
    double length_m, bore_mm, volume_cm3; /* NaN: as usual */
    double keeps_kpa;                     /* front's hold less behind's */
};
struct bl_fit_result {
    double delay_s, friction; /* factor on the friction of a bare pipe */
    double misfit_kpa;        /* root of the mean square */
};
/* Delay and friction that fit best. Errors: NOMEM, LIMIT. */
BL_MUST_CHECK enum bl_status bl_fit_stage(struct bl_fit_result *out,
                                          const struct bl_fit_edge *edge,
                                          struct bl_error *error);
/* Which of the three a late stage has, by the fits of the other stages. */
void bl_fit_judge(struct bl_stage *stage, size_t count);

#endif
