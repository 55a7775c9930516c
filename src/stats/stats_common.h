/* SPDX-License-Identifier: MIT */
/* What the files of this room share. */
#ifndef BRAKELAG_SRC_STATS_STATS_COMMON_H
#define BRAKELAG_SRC_STATS_STATS_COMMON_H

#include "brakelag/stats.h"

/* ARG, naming `what`, unless all n values are finite and n >= least. */
enum bl_status bl_stats_check(const double *value, size_t n, size_t least,
                              const char *what, struct bl_error *error);
/* Of ascending values the middle one. */
double bl_stats_sorted_median(const double *sorted, size_t n);

/*
 * Exact null distributions, as probabilities: out[k] = P(k), `size` of them.
 * bl_count_signed: sum of the weights with a plus sign, each sign even odds.
 * bl_count_subset: sum of the weights of `draw` of them, drawn at random.
 * Weights are whole (twice the midranks). NULL: no memory.
 */
double *bl_count_signed(const unsigned *weight, size_t n, size_t *size);
double *bl_count_subset(const unsigned *weight, size_t n, size_t draw,
                        size_t *size);
/* Two-sided probability of |t| or more. */
double bl_student_p(double t, double dof);
/* Smallest two-sided p that so many values can give. */
double bl_p_smallest_paired(size_t n);
double bl_p_smallest_two(size_t n_base, size_t n_against);

#endif
