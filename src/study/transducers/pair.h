/* SPDX-License-Identifier: MIT */
#ifndef BRAKELAG_SRC_STUDY_TRANSDUCERS_PAIR_H
#define BRAKELAG_SRC_STUDY_TRANSDUCERS_PAIR_H

#include "brakelag/transducers.h"

/* What counts as a disagreement and as a false demand; common practice. */
struct bl_pair_rules {
    double tolerance_kpa, tolerance_fraction; /* the greater of the two */
    double lasting_s;
    double u_zero_a, u_zero_b; /* standard; NaN: 1 kPa is assumed */
};
struct bl_pair_rules bl_pair_rules_default(void);

/* Simultaneous values of two transducers; NaN where missing. */
struct bl_pair_samples {
    const double *time_s, *a, *b;
    const double *demand; /* NULL: none was recorded */
    size_t n;
};

/* pair.c: compare them. Errors: NOMEM, LIMIT. */
BL_MUST_CHECK enum bl_status
bl_pair_compare(struct bl_pair *out, const struct bl_pair_samples *samples,
                const struct bl_pair_rules *rules, struct bl_error *error);

/* Simultaneous values and their scratch (n + 1 doubles). */
struct bl_pair_data {
    const double *time_s, *a, *b, *demand;
    size_t n;
    double *scratch;
};

/* delay.c: b(t) = offset + gain a(t - delay), least squares over the samples
   that move. NaN where nothing moves. */
struct bl_measured bl_pair_delay(const struct bl_pair_data *pair,
                                 double interval_s, double offset, double gain,
                                 double noise);
/* stretches.c: fills stretch. */
void bl_pair_stretches(struct bl_pair *out, const struct bl_pair_data *pair,
                       const struct bl_pair_rules *rules);
/* episodes.c: fills disagreement and false demand. */
void bl_pair_episodes(struct bl_pair *out, const struct bl_pair_data *pair,
                      const struct bl_pair_rules *rules, double rest_a,
                      double rest_b);
/* episodes.c: which one is wrong, and what shows it. */
void bl_pair_judge(struct bl_pair *out, const struct bl_pair_data *pair,
                   const struct bl_pair_rules *rules, double rest_a,
                   double rest_b);

#endif
