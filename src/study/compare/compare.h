/* SPDX-License-Identifier: MIT */
/* What a comparison is made with; inside the room only. */
#ifndef BRAKELAG_SRC_STUDY_COMPARE_COMPARE_H
#define BRAKELAG_SRC_STUDY_COMPARE_COMPARE_H

#include "study/compare/pairs.h"
#include "study/compare/reference.h"
#include "study/compare/values.h"

struct bl_comparing {
    const struct bl_trial *trial;
    struct bl_run_lag *const *lag;
    struct bl_comparison *into;
    const char *base_condition, *against_condition; /* NULL: every run */
    struct bl_reference reference;
    bool two_units, paired;
    double aim_s, same_within_s;
    size_t row_capacity;
};

/* One row: append it to c->into where any application was asked for it. */
enum bl_status bl_compare_row(struct bl_comparing *c,
                              const struct bl_values_wanted *base,
                              const struct bl_values_wanted *against,
                              struct bl_error *error);

/* conclude.c: the difference, its interval and the verdict from the values as
   they stand (copies in *base and *against; what is systematic is in the
   row already). */
enum bl_status bl_compare_conclude(struct bl_comparison_row *row,
                                   const struct bl_comparing *c,
                                   const struct bl_values *base,
                                   const struct bl_values *against,
                                   struct bl_error *error);

/* holm.c: set p_holm, over all rows of each figure. */
enum bl_status bl_compare_holm(struct bl_comparison *c, struct bl_error *error);

/* drift.c: set `trends` and what drifts, after all rows. */
void bl_compare_drift(struct bl_comparison *c);

#endif
