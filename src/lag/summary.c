/* SPDX-License-Identifier: MIT */
#include "lag/summary.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "base/number.h"
#include "lag/budget.h"

#include <math.h>

const struct bl_figure *bl_unit_figure(const struct bl_unit_lag *unit,
                                       enum bl_figure_name name, size_t level)
{
    if (name == BL_FIGURE_LEVEL) {
        return &unit->level[level];
    }
    return bl_figure_of_unit(name) ? &unit->figure[name] : NULL;
}

bool bl_figure_sound(const struct bl_figure *figure)
{
    return figure->known &&
           (figure->flags & (BL_FLAG_NEAR_DAMAGE | BL_FLAG_IN_GAP)) == 0;
}

/* What one summary is about. */
struct group {
    size_t unit;
    enum bl_application_kind kind;
    enum bl_application_shape shape;
    enum bl_figure_name figure;
    size_t level;
    double level_kpa;
};

/* How many figures were taken, of how many that could be there; the largest
   uncertainty that they have in common. */
struct tally {
    size_t n, asked;
    double common_s;
};

/* The figures of a group: into values[0 .. n-1]; with `sound`, only those that
   no damage of their recordings may have bent. */
static struct tally collect(const struct bl_run_lag *lag, const struct group *g,
                            bool sound, double *values)
{
    struct tally tally = {0};
    for (size_t a = 0; a < lag->applications; a++) {
        const struct bl_application *application = &lag->application[a];
        if (application->excluded || application->kind != g->kind ||
            application->shape != g->shape) {
            continue;
        }
        for (size_t u = 0; u < application->units; u++) {
            const struct bl_unit_lag *unit = &application->unit[u];
            if (unit->unit != g->unit) {
                continue;
            }
            const struct bl_figure *f =
                bl_unit_figure(unit, g->figure, g->level);
            tally.asked += f->known || f->reason != BL_REASON_NO_CHANNEL;
            if (!f->known || (sound && !bl_figure_sound(f))) {
                continue;
            }
            values[tally.n++] = f->s;
            tally.common_s =
                fmax(tally.common_s,
                     bl_figure_sound(f) ? bl_budget_common(&f->part) : f->u_s);
        }
    }
    return tally;
}

static enum bl_status add(struct bl_run_lag *lag, size_t *capacity,
                          const struct group *g, double *values,
                          struct bl_error *error)
{
    struct bl_summary s = {.unit = g->unit,
                           .kind = g->kind,
                           .shape = g->shape,
                           .figure = g->figure,
                           .level_kpa = g->level_kpa};
    struct tally tally = collect(lag, g, true, values);
    if (tally.n == 0) {
        tally = collect(lag, g, false, values);
    }
    if (tally.asked == 0) {
        return BL_OK;
    }
    s.n = tally.n;
    s.null = tally.asked - tally.n;
    s.median_s = bl_median(values, s.n);
    s.low_s = s.n == 0 ? NAN : values[0]; /* sorted by the median */
    s.high_s = s.n == 0 ? NAN : values[s.n - 1];
    s.u_s = s.n == 0 ? NAN : tally.common_s;
    if (!bl_grow(&lag->summary, capacity, lag->summaries + 1,
                 sizeof(*lag->summary), (size_t)BL_LIMIT_APPLICATIONS * 16)) {
        return bl_fail_memory(error);
    }
    lag->summary[lag->summaries++] = s;
    return BL_OK;
}

static enum bl_status add_figures(struct bl_run_lag *lag,
                                  const struct bl_trial *trial,
                                  size_t *capacity, struct group g,
                                  double *values, struct bl_error *error)
{
    enum bl_status status = BL_OK;
    for (int f = 0; f < BL_FIGURES && status == BL_OK; f++) {
        g.figure = (enum bl_figure_name)f;
        if (g.figure == BL_FIGURE_SPREAD) {
            continue;
        }
        const size_t levels = g.figure == BL_FIGURE_LEVEL ? trial->levels : 1;
        for (size_t l = 0; l < levels && status == BL_OK; l++) {
            g.level = l;
            g.level_kpa =
                g.figure == BL_FIGURE_LEVEL ? trial->level_kpa[l] : NAN;
            status = add(lag, capacity, &g, values, error);
        }
    }
    return status;
}

enum bl_status bl_summarise(struct bl_run_lag *lag,
                            const struct bl_trial *trial,
                            struct bl_error *error)
{
    double *values = bl_alloc(lag->applications, sizeof(*values));
    if (values == NULL) {
        return bl_fail_memory(error);
    }
    enum bl_status status = BL_OK;
    size_t capacity = 0;
    for (int kind = BL_KIND_UNKNOWN; kind <= BL_KIND_FULL; kind++) {
        for (int shape = BL_SHAPE_UNKNOWN; shape <= BL_SHAPE_RAMP; shape++) {
            for (size_t u = 0; u < trial->units && status == BL_OK; u++) {
                const struct group g = {.unit = u,
                                        .kind = (enum bl_application_kind)kind,
                                        .shape =
                                            (enum bl_application_shape)shape};
                status = add_figures(lag, trial, &capacity, g, values, error);
            }
        }
    }
    bl_free(values);
    return status;
}
