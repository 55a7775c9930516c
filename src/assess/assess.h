/* SPDX-License-Identifier: MIT */
/* The two halves of an assessment: each run alone, then over all runs. */
#ifndef BRAKELAG_SRC_ASSESS_ASSESS_H
#define BRAKELAG_SRC_ASSESS_ASSESS_H

#include "brakelag/assess.h"

/* note.c. Keeps the first failure; NOMEM only is a failure of the whole. */
enum bl_status bl_assess_note(struct bl_error *first, enum bl_status status,
                              const struct bl_error *why);
/* over_runs.c. Errors: NOMEM. */
enum bl_status bl_assess_over_runs(struct bl_assessment *a,
                                   const struct bl_assess_options *options,
                                   struct bl_error *error);

#endif
