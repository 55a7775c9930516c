/* SPDX-License-Identifier: MIT */
/* Helpers of the signal room over indices. Not for other rooms. */
#ifndef BRAKELAG_SRC_SIGNAL_INTERNAL_H
#define BRAKELAG_SRC_SIGNAL_INTERNAL_H

#include "signal/signal.h"

/* Which part a sample belongs to; 0 where no parts are given. */
size_t bl_signal_part(const struct bl_samples *samples, size_t index);
/* More than 3 nominal intervals between two samples? */
bool bl_signal_gap(const struct bl_samples *samples, size_t a, size_t b);
/* Median of samples first..end-1 without missing ones, NaN for none (or when
   memory is short); *used is how many. */
double bl_signal_median(const struct bl_samples *samples, size_t first,
                        size_t end, size_t *used);
/* The same, where values are rounded to steps that their noise hides: the
   median of grouped data, which lies between two steps where the values do. */
double bl_signal_level(const struct bl_samples *samples, size_t first,
                       size_t end, size_t *used);
/* 1.4826 times the median distance from `centre`; NaN for none. */
double bl_signal_mad(const struct bl_samples *samples, size_t first, size_t end,
                     double centre);
/* Standard deviation of first..end-1 about `centre`: of what lies within three
   of those that the median distance says. The median distance alone is known to
   no better than 1.65 times as badly (its efficiency is 37 %, Rousseeuw and
   Croux 1993). NaN: no value. */
double bl_signal_noise(const struct bl_samples *samples, size_t first,
                       size_t end, double centre);

#endif
