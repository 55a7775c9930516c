/* SPDX-License-Identifier: MIT */
/* A value against a limit, by the rounding and the levels of the rules. */
#ifndef BRAKELAG_SRC_STUDY_LIMITS_JUDGE_H
#define BRAKELAG_SRC_STUDY_LIMITS_JUDGE_H

#include "brakelag/limits.h"

/* The row of 49 CFR 571.121 S5.3.5 (BY_LOSS) that speaks of this pressure at
   the front coupling; NULL below the lowest of them. What it allows there, kPa;
   NaN for no row. */
const struct bl_published_limit *bl_limit_of_loss(double front_kpa);
double bl_limit_loss_kpa(const struct bl_published_limit *limit,
                         double front_kpa);

/* UN R13 Annex 6, 1.3: to the nearest 0.1 s by the digit of hundredths, so
   cut to hundredths first: 0.449 is 0.4, 0.45 is 0.5. */
double bl_limit_round_tenth(double s);
/* 49 CFR 571.121 S5.3.3 where the most pressure of a full
   application is low: 60 psi or 70 % of the most, whichever is lower. kPa. */
double bl_limit_apply_kpa(double most_kpa);

/* A value that lies from low to high, each with its standard uncertainty,
   against a limit: inside where high + 2u is, outside where low - 2u is not. */
enum bl_limit_verdict bl_limit_judge(double low, double u_low, double high,
                                     double u_high, double limit,
                                     bool to_tenth);

#endif
