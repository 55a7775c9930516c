/* SPDX-License-Identifier: MIT */
/* Figures of a modelled pressure, of a measured unit, and both against each
   other. Inside of the study room. */
#ifndef BRAKELAG_SRC_STUDY_PREDICT_FIGURES_H
#define BRAKELAG_SRC_STUDY_PREDICT_FIGURES_H

#include "brakelag/predict.h"
#include "study/predict/drive.h"

/* Which ones are predicted, in the order of rows; how many. */
size_t bl_predicted_figures(enum bl_predict_figure out[BL_PREDICT_FIGURES]);
/* Of a modelled output, by the definitions of docs/methods/figures.md, rest
   being zero; NaN where a level is not passed. */
void bl_modelled_figures(double out[BL_PREDICT_FIGURES], const double *kpa,
                         size_t steps, const struct bl_drive *drive,
                         double response_kpa);
/* Of a measured unit; s and u_s NaN where not given. */
void bl_measured_figure(struct bl_predict_point *out,
                        const struct bl_unit_lag *unit,
                        enum bl_predict_figure figure);
/* Counts, medians and verdict of a row whose points are there. False: out of
   memory. */
bool bl_predict_conclude(struct bl_predict_row *row, double least_s);

#endif
