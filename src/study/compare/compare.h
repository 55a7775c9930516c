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
    size_t row_capacity;
};

/* One row: append it to c->into where any application was asked for it. */
enum bl_status bl_compare_row(struct bl_comparing *c,
                              const struct bl_values_wanted *base,
                              const struct bl_values_wanted *against,
                              struct bl_error *error);

/* drift.c: set `trends` and what drifts, after all rows. */
void bl_compare_drift(struct bl_comparison *c);
/* How many more applications on each side before an exact test of `n_base`
   and `n_against` values (paired: n_base pairs) can be as sure as asked. */
size_t bl_compare_more(bool paired, size_t n_base, size_t n_against,
                       double confidence);

#endif
