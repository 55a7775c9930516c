/* SPDX-License-Identifier: MIT */
/*
 * Fewer points of a trace for drawing, without losing an extreme or the shape:
 * neighbouring samples that lie close to the line from the first to the last of
 * them are gathered (held values: that differ little), and of each gathering
 * its first, smallest, largest and last sample are kept, at their own times.
 * How close grows until the points fit.
 */
#ifndef BRAKELAG_SRC_REPORT_DECIMATE_H
#define BRAKELAG_SRC_REPORT_DECIMATE_H

#include <stdbool.h>
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
                   double step, bool held);

#endif
