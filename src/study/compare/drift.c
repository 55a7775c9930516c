/* SPDX-License-Identifier: MIT */
/* Which series drift from application to application. Of many without any
   drift one in twenty has p below 0.05: the bound is divided by their number
   (Bonferroni). */
#include "study/compare/compare.h"

#include <math.h>

static bool tells(const struct bl_trend *trend)
{
    return trend->n > 0 && isfinite(trend->p);
}

void bl_compare_drift(struct bl_comparison *c)
{
    for (size_t i = 0; i < c->rows; i++) {
        c->trends += tells(&c->row[i].trend_base);
        c->trends += tells(&c->row[i].trend_against);
    }
    for (size_t i = 0; i < c->rows; i++) {
        struct bl_comparison_row *row = &c->row[i];
        const double count = (double)c->trends;
        row->drifts_base =
            tells(&row->trend_base) && row->trend_base.p * count <= 0.05;
        row->drifts_against =
            tells(&row->trend_against) && row->trend_against.p * count <= 0.05;
    }
}
