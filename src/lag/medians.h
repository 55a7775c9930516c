/* SPDX-License-Identifier: MIT */
/* Medians of uncertainties over all applications of a trial, gathered run by
   run: what a page shows instead of the parts of every figure. */
#ifndef BRAKELAG_SRC_LAG_MEDIANS_H
#define BRAKELAG_SRC_LAG_MEDIANS_H

#include "brakelag/budget.h"

/* Figures that are gathered, in the order of print. */
enum { BL_MEDIAN_FIGURES = 6 };
enum bl_figure_name bl_median_figure(size_t index);

/* Zero-initialise; bl_u_parts_finish frees. */
struct bl_u_parts {
    struct bl_u_part *item;
    size_t count, capacity;
};
/* Add the known figures of a run; false: out of memory. */
bool bl_u_parts_add(struct bl_u_parts *parts, const struct bl_run_lag *lag);
/* Medians of a unit's figure: u[BL_COMPONENTS] is that of the whole; a
   component that no application states is NaN. *any: the figure was known at
   all. False: out of memory. */
bool bl_u_parts_median(double u[BL_COMPONENTS + 1], bool *any,
                       const struct bl_u_parts *parts, size_t unit,
                       enum bl_figure_name figure);
void bl_u_parts_finish(struct bl_u_parts *parts);

#endif
