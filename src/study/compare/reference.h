/* SPDX-License-Identifier: MIT */
/*
 * What the measuring chains themselves differ by. With all transducers at one
 * tee and the same step, every channel should show the same time; what it
 * shows instead is its chain.
 */
#ifndef BRAKELAG_SRC_STUDY_COMPARE_REFERENCE_H
#define BRAKELAG_SRC_STUDY_COMPARE_REFERENCE_H

#include "study/compare/values.h"

struct bl_reference {
    bool given, stated; /* stated: a fixed bias, not runs */
    const char *condition;
    double bias_s, u_bias_s; /* stated */
};

/* Understand --reference: a condition of the trial, or "81 ms [+- 5 ms]".
   Errors: ARG. */
enum bl_status bl_reference_parse(struct bl_reference *out,
                                  const struct bl_trial *trial,
                                  const char *text, struct bl_error *error);

/* What to take off a difference "against unit less base unit" of one figure;
   sides: base, against.
   Same unit: the chain is on both sides and cancels (0, *cancels true), but a
   stated bias is taken off as stated. */
struct bl_reference_bias {
    double s, u_s;
    size_t n;
    bool cancels;
    bool known; /* false: the reference runs do not give this figure */
};
enum bl_status bl_reference_bias(struct bl_reference_bias *out,
                                 const struct bl_reference *reference,
                                 const struct bl_trial *trial,
                                 struct bl_run_lag *const *lag,
                                 const struct bl_values_wanted sides[2],
                                 struct bl_error *error);

#endif
