/* SPDX-License-Identifier: MIT */
#ifndef BRAKELAG_SRC_STUDY_TRANSDUCERS_PAIR_H
#define BRAKELAG_SRC_STUDY_TRANSDUCERS_PAIR_H

#include "brakelag/transducers.h"

/* Simultaneous values and their scratch (n + 1 doubles). */
struct bl_pair_data {
    const double *time_s, *a, *b, *demand;
    size_t n;
    double *scratch;
};

/* delay.c: b(t) = offset + gain a(t - delay), least squares over the samples
   that move. NaN where nothing moves. */
struct bl_measured bl_pair_delay(const struct bl_pair_data *is,
                                 double interval_s, double offset, double gain,
                                 double noise);
/* stretches.c: fills stretch. */
void bl_pair_stretches(struct bl_pair *out, const struct bl_pair_data *is,
                       const struct bl_pair_rules *rules);
/* episodes.c: fills disagreement and false demand. */
void bl_pair_episodes(struct bl_pair *out, const struct bl_pair_data *is,
                      const struct bl_pair_rules *rules, double rest_a,
                      double rest_b);
/* episodes.c: which one is wrong, and by what that is told. */
void bl_pair_judge(struct bl_pair *out, const struct bl_pair_data *is,
                   const struct bl_pair_rules *rules, double rest_a,
                   double rest_b);

#endif
