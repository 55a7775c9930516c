/* SPDX-License-Identifier: MIT */
/* Which values may be taken as pairs. */
#ifndef BRAKELAG_SRC_STUDY_COMPARE_PAIRS_H
#define BRAKELAG_SRC_STUDY_COMPARE_PAIRS_H

#include "study/compare/values.h"

/* Differences against - base of the pairs that the trial declares. */
struct bl_pairs {
    double *difference;
    size_t count;
    size_t left; /* values on either side without a partner */
};

/* Are all runs of both conditions in declared blocks, and does any block hold
   both? Only then are there pairs: runs that merely follow each other are not a
   pair. */
bool bl_blocks_declared(const struct bl_trial *trial,
                        struct bl_run_lag *const *lag, const char *base,
                        const char *against);
/* Values of one block, one kind and one place in the order. */
enum bl_status bl_pairs_by_block(struct bl_pairs *pairs,
                                 const struct bl_trial *trial,
                                 const struct bl_values *base,
                                 const struct bl_values *against,
                                 struct bl_error *error);
/* Values of one run and one place in the order: two units side by side. */
enum bl_status bl_pairs_by_application(struct bl_pairs *pairs,
                                       const struct bl_values *base,
                                       const struct bl_values *against,
                                       struct bl_error *error);
void bl_pairs_finish(struct bl_pairs *pairs);

#endif
