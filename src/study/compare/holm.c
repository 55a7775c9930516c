/* SPDX-License-Identifier: MIT */
/* Of twenty lines without any difference one shows p below 0.05: Holm's
   adjustment over the lines of one figure, which are read side by side. */
#include "study/compare/compare.h"

#include "base/alloc.h"

#include <math.h>

static bool takes_part(const struct bl_comparison_row *row)
{
    return row->verdict != BL_VERDICT_NO_VALUES &&
           row->verdict != BL_VERDICT_RUN_MORE && !isnan(row->p);
}

static bool same_figure(const struct bl_comparison_row *a,
                        const struct bl_comparison_row *b)
{
    return a->figure == b->figure &&
           (a->figure != BL_FIGURE_LEVEL || a->level_kpa == b->level_kpa);
}

enum bl_status bl_compare_holm(struct bl_comparison *c, struct bl_error *error)
{
    double *p = bl_alloc(c->rows, sizeof(*p));
    if (p == NULL) {
        return bl_fail_memory(error);
    }
    enum bl_status status = BL_OK;
    for (size_t i = 0; i < c->rows && status == BL_OK; i++) {
        bool before = false;
        for (size_t k = 0; k < i; k++) {
            before = before || same_figure(&c->row[k], &c->row[i]);
        }
        if (before) {
            continue;
        }
        for (size_t k = 0; k < c->rows; k++) {
            p[k] = same_figure(&c->row[k], &c->row[i]) && takes_part(&c->row[k])
                       ? c->row[k].p
                       : NAN;
        }
        status = bl_holm(p, p, c->rows, error);
        for (size_t k = 0; k < c->rows; k++) {
            if (same_figure(&c->row[k], &c->row[i])) {
                c->row[k].p_holm = p[k];
            }
        }
    }
    bl_free(p);
    return status;
}
