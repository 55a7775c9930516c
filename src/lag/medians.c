/* SPDX-License-Identifier: MIT */
#include "lag/medians.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "base/number.h"
#include "lag/summary.h"

#include <math.h>

/* Uncertainty of one known figure of one application. */
struct bl_u_part {
    size_t unit;
    enum bl_figure_name figure;
    double u[BL_COMPONENTS + 1];
};

static const enum bl_figure_name figures[BL_MEDIAN_FIGURES] = {
    BL_FIGURE_DEMAND_ARRIVAL, BL_FIGURE_RESPONSE,    BL_FIGURE_FILLED,
    BL_FIGURE_RELEASE_START,  BL_FIGURE_RELEASE_END, BL_FIGURE_STAGGER};

enum bl_figure_name bl_median_figure(size_t index)
{
    return figures[index];
}

static bool add_unit(struct bl_u_parts *parts, const struct bl_unit_lag *unit)
{
    for (size_t i = 0; i < BL_MEDIAN_FIGURES; i++) {
        const struct bl_figure *f = bl_unit_figure(unit, figures[i], 0);
        if (!f->known) {
            continue;
        }
        if (!bl_grow(&parts->item, &parts->capacity, parts->count + 1,
                     sizeof(*parts->item), BL_LIMIT_SAMPLES)) {
            return false;
        }
        struct bl_u_part *part = &parts->item[parts->count++];
        part->unit = unit->unit;
        part->figure = figures[i];
        for (size_t k = 0; k < BL_COMPONENTS; k++) {
            part->u[k] = bl_component_value(&f->part, k);
        }
        part->u[BL_COMPONENTS] = f->u_s;
    }
    return true;
}

bool bl_u_parts_add(struct bl_u_parts *parts, const struct bl_run_lag *lag)
{
    for (size_t a = 0; a < lag->applications; a++) {
        for (size_t u = 0; u < lag->application[a].units; u++) {
            if (!add_unit(parts, &lag->application[a].unit[u])) {
                return false;
            }
        }
    }
    return true;
}

bool bl_u_parts_median(double u[BL_COMPONENTS + 1], bool *any,
                       const struct bl_u_parts *parts, size_t unit,
                       enum bl_figure_name figure)
{
    double *value = bl_alloc(parts->count, sizeof(*value));
    *any = false;
    for (size_t k = 0; value != NULL && k <= BL_COMPONENTS; k++) {
        size_t n = 0;
        for (size_t i = 0; i < parts->count; i++) {
            const struct bl_u_part *part = &parts->item[i];
            const bool same = part->unit == unit && part->figure == figure;
            *any = *any || same;
            if (same && !isnan(part->u[k])) {
                value[n++] = part->u[k];
            }
        }
        u[k] = bl_median(value, n);
    }
    bl_free(value);
    return value != NULL;
}

void bl_u_parts_finish(struct bl_u_parts *parts)
{
    bl_free(parts->item);
    *parts = (struct bl_u_parts){0};
}
