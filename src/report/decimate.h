/* SPDX-License-Identifier: MIT */
/*
 * Fewer points of a trace for drawing, without losing an extreme: neighbouring
 * samples whose values differ little are gathered, and of each gathering its
 * first, smallest, largest and last sample are kept, at their own times. What
 * may be gathered grows until the points fit.
 */
#ifndef BRAKELAG_SRC_REPORT_DECIMATE_H
#define BRAKELAG_SRC_REPORT_DECIMATE_H

#include <stddef.h>
#include <stdint.h>

struct bl_point {
    int64_t time_ns;
    double value; /* NaN: nothing is known here, the line is interrupted */
};

/* Reduce in place to about `most` points (what separates parts is kept beyond
   it); `step` is the smallest difference that matters. Returns how many
   remain. The smallest and largest value of every stretch remain. */
size_t bl_decimate(struct bl_point *point, size_t count, size_t most,
                   double step);

#endif
