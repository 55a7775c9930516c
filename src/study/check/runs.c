/* SPDX-License-Identifier: MIT */
/*
 * Will the runs suffice to compare conditions? Three a side are the least
 * (docs/methods/comparison.md); how many applications scatter allows, this run
 * shows once it has two alike. By how much runs differ, no single run shows.
 */
#include "study/check/check.h"

#include "base/alloc.h"
#include "brakelag/stats.h"
#include "lag/application.h"

#include <math.h>
#include <string.h>

/* As src/study/compare/means.h; a half-width that a yard asks for (own
   choice). */
enum { LEAST_RUNS = 3, MOST_RUNS = 50 };
static const double HALF_WIDTH_S = 0.010, SURE = 0.975;

static const char *condition_of(const struct bl_trial *trial, size_t run)
{
    const struct bl_trial_run *r = &trial->run[run];
    return r->condition == NULL ? r->name : r->condition;
}

/* Scatter of a unit's 75 % over the run's applications of one kind and shape;
   NaN where there are not two. `value` has room for all of them. */
static double scatter_of(const struct bl_run_lag *lag, size_t unit,
                         const struct bl_application *like, double *value,
                         size_t *n)
{
    *n = 0;
    for (size_t i = 0; i < lag->applications; i++) {
        const struct bl_application *a = &lag->application[i];
        if (a->excluded || a->kind != like->kind || a->shape != like->shape ||
            unit >= a->units || a->unit[unit].unit != like->unit[unit].unit) {
            continue;
        }
        const struct bl_figure *f = &a->unit[unit].figure[BL_FIGURE_FILLED];
        if (f->known) {
            value[(*n)++] = f->s;
        }
    }
    struct bl_description d;
    return *n >= 2 && bl_describe(&d, value, *n, NULL) == BL_OK ? d.s
                                                                : (double)NAN;
}

/* Runs a side for HALF_WIDTH_S, were runs no different from each other. */
static size_t runs_for(double scatter_s, size_t applications)
{
    size_t runs = LEAST_RUNS;
    while (runs < MOST_RUNS && bl_student_quantile(SURE, 2 * (double)runs - 2) *
                                       scatter_s *
                                       sqrt(2 / (double)(runs * applications)) >
                                   HALF_WIDTH_S) {
        runs++;
    }
    return runs;
}

static void say_scatter(struct bl_checking *c)
{
    const struct bl_run_lag *lag = c->lag;
    const struct bl_application *like = NULL;
    for (size_t i = 0; lag != NULL && i < lag->applications; i++) {
        const struct bl_application *a = &lag->application[i];
        like = !a->excluded && a->kind != BL_KIND_LIGHT ? a : like;
    }
    if (like == NULL) {
        return;
    }
    double most = 0;
    size_t unit = 0;
    size_t applications = 0;
    double *value = bl_alloc(lag->applications, sizeof(*value));
    for (size_t u = 0; value != NULL && u < like->units; u++) {
        size_t n;
        const double scatter = scatter_of(lag, u, like, value, &n);
        if (scatter > most) {
            most = scatter;
            unit = like->unit[u].unit;
            applications = n;
        }
    }
    bl_free(value);
    if (applications < 2) {
        return;
    }
    char label[BL_UNIT_CALLED];
    bl_check_add(
        c, "runs", BL_CHECK_GOOD, "",
        "single applications scatter by up to %.1f ms at 75 %% ("
        "%s): for +- %.0f ms make at least %zu runs of each condition with %zu "
        "applications each, more if the runs differ",
        1e3 * most, bl_trial_unit_called(c->trial, unit, label, sizeof(label)),
        1e3 * HALF_WIDTH_S, runs_for(most, applications), applications);
}

void bl_check_runs(struct bl_checking *c)
{
    const struct bl_trial *trial = c->trial;
    const char *own = condition_of(trial, c->into->run);
    size_t alike = 0;
    for (size_t i = 0; i < trial->runs; i++) {
        alike += strcmp(condition_of(trial, i), own) == 0;
    }
    if (alike == trial->runs) {
        return; /* nothing to compare with */
    }
    const bool enough = alike >= LEAST_RUNS;
    bl_check_add(
        c, "runs", enough ? BL_CHECK_GOOD : BL_CHECK_CAUTION,
        enough
            ? ""
            : "plan three runs of each condition that is to be compared; more "
              "applications in one run do not replace runs",
        "%zu run%s of \"%.80s\": %s", alike, alike == 1 ? "" : "s", own,
        enough ? "enough to speak of conditions"
               : "what `compare` says will hold for these runs only");
    say_scatter(c);
}
