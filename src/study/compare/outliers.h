/* SPDX-License-Identifier: MIT */
/* Values that lie apart from their like: named, never dropped. */
#ifndef BRAKELAG_SRC_STUDY_COMPARE_OUTLIERS_H
#define BRAKELAG_SRC_STUDY_COMPARE_OUTLIERS_H

#include "study/compare/values.h"

/* Sets row->outlier; *base and *against lose what is named, so that the caller
   can say how it would come out without. Both must be copies. */
void bl_compare_outliers(struct bl_comparison_row *row, struct bl_values *base,
                         struct bl_values *against);

#endif
