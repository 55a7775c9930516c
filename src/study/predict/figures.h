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
/* What a row is judged by beside its bands. */
struct bl_predict_context {
    double least_s; /* bl_predict_least_s of its path */
    /* What the other units of the train take of the middles of their bands, at
       the median; NaN: none. A train that is slower than usual in all
       its units is built so. */
    double pace;
    bool usual; /* something that could be stated is not */
};
/* Measured over the middle of the band, at the median; NaN: none. */
double bl_predict_ratio(const struct bl_predict_row *row);
/* Limits, counts, medians and verdict of a row whose points are there. False:
   out of memory. */
bool bl_predict_conclude(struct bl_predict_row *row,
                         const struct bl_predict_context *in);
/* A measured time with its standard uncertainty against a band: inside where
   all of s - 2u .. s + 2u is, later where s - 2u is above it, earlier where
   s + 2u is below it; NaN anywhere: not decided. */
enum bl_predict_verdict bl_predict_judge(double s, double u_s, double low_s,
                                         double high_s);
/* What no wave of brake pressure can undercut: length / (1.3 times the speed
   of sound at `warmest_kelvin`), seconds. */
double bl_predict_least_s(double length_m, double warmest_kelvin);
/* How many things of a unit and of those in front, which hand it its control
   air, could be stated and are taken as usual. Where nothing is, what cannot be
   stated, as friction in a valve, is all that the band is wide by. */
size_t bl_predict_left_to_usual(const struct bl_trial *trial,
                                const struct bl_predict *all, size_t unit);
/* words.c */
const char *bl_predict_figure_meaning(enum bl_predict_figure figure);

#endif
