/* SPDX-License-Identifier: MIT */
/* Figures over the applications of one kind and shape. */
#ifndef BRAKELAG_SRC_LAG_SUMMARY_H
#define BRAKELAG_SRC_LAG_SUMMARY_H

#include "brakelag/lag.h"

/* Fill lag->summary from its applications. Excluded ones are left out. */
enum bl_status bl_summarise(struct bl_run_lag *lag,
                            const struct bl_trial *trial,
                            struct bl_error *error);

/* The figure of a unit by name; level counts for LEVEL only. */
/* Given, and not read near damage: what medians and comparisons rest on. */
bool bl_figure_sound(const struct bl_figure *figure);

const struct bl_figure *bl_unit_figure(const struct bl_unit_lag *unit,
                                       enum bl_figure_name name, size_t level);

#endif
