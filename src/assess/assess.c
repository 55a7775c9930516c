/* SPDX-License-Identifier: MIT */
/* The order of analysis of one run, for every run that is asked for. */
#include "assess/assess.h"

#include "base/alloc.h"

#include <string.h>

/* Load, tie, measure: as far as it goes. */
static enum bl_status measure(struct bl_assessed_run *run,
                              const struct bl_trial *trial, size_t index)
{
    enum bl_status status = bl_load_run(&run->data, trial, index, &run->why);
    if (status == BL_OK) {
        status = bl_clock_tie_run(&run->clocks, trial, run->data, &run->why);
    }
    if (status == BL_OK) {
        status =
            bl_measure_run(&run->lag, trial, run->data, run->clocks, &run->why);
    }
    return status == BL_NOMEM ? BL_NOMEM : BL_OK;
}

static enum bl_status check(struct bl_assessed_run *run,
                            const struct bl_trial *trial, size_t index,
                            struct bl_error *error)
{
    return run->data == NULL
               ? bl_check_unread(&run->check, index, &run->why, error)
               : bl_check_run(&run->check, trial, run->data, run->clocks,
                              run->lag, error);
}

/* Studies of this run alone. A frame speaks without any application, so reach
   and curves need no figures; prediction does. */
static enum bl_status study(struct bl_assessed_run *run,
                            const struct bl_trial *trial, unsigned parts,
                            struct bl_error *error)
{
    enum bl_status status = BL_OK;
    if (run->data == NULL || run->clocks == NULL) {
        return BL_OK;
    }
    if ((parts & BL_ASSESS_REACH) != 0) {
        status = bl_reach_run(&run->reach, trial, run->data, run->clocks,
                              run->lag, error);
    }
    if (status == BL_OK && (parts & BL_ASSESS_CURVES) != 0) {
        status = bl_characteristic_run(&run->curves, trial, run->data,
                                       run->clocks, run->lag, error);
    }
    if (status == BL_OK && (parts & BL_ASSESS_CURVES) != 0) {
        status = bl_transducers_run(&run->pairs, trial, run->data, run->clocks,
                                    error);
    }
    if (status != BL_OK || run->lag == NULL) {
        return status;
    }
    if ((parts & BL_ASSESS_PREDICT) != 0) {
        return bl_predict_run(&run->predict, trial, run->data, run->clocks,
                              run->lag, error);
    }
    return (parts & BL_ASSESS_FINDINGS) != 0
               ? bl_predict_run_without_bands(&run->predict, trial, run->data,
                                              run->clocks, run->lag, error)
               : BL_OK;
}

static enum bl_status assess_run(struct bl_assessment *a, size_t index,
                                 struct bl_error *error)
{
    struct bl_assessed_run *run = &a->run[index];
    struct bl_error why;
    bl_error_clear(&why);
    run->taken = true;
    if (measure(run, a->trial, index) != BL_OK) {
        *error = run->why;
        return BL_NOMEM;
    }
    enum bl_status status = BL_OK;
    if ((a->parts & BL_ASSESS_CHECK) != 0) {
        status = bl_assess_note(&run->failed, check(run, a->trial, index, &why),
                                &why);
    }
    if (status == BL_OK) {
        status = bl_assess_note(&run->failed,
                                study(run, a->trial, a->parts, &why), &why);
    }
    if (status != BL_OK) {
        *error = why;
    }
    return status;
}

static bool wanted(const struct bl_assess_options *options, const char *name)
{
    for (size_t i = 0; i < options->runs; i++) {
        if (strcmp(options->run[i], name) == 0) {
            return true;
        }
    }
    return options->runs == 0;
}

static enum bl_status check_names(const struct bl_trial *trial,
                                  const struct bl_assess_options *options,
                                  struct bl_error *error)
{
    for (size_t i = 0; i < options->runs; i++) {
        if (bl_trial_run_index(trial, options->run[i]) < 0) {
            return bl_fail(error, BL_ARG, trial->path,
                           "expected a run of the trial, found '%s'",
                           options->run[i]);
        }
    }
    return BL_OK;
}

static enum bl_status create(struct bl_assessment **out,
                             const struct bl_trial *trial, unsigned parts,
                             struct bl_error *error)
{
    struct bl_assessment *a = bl_alloc(1, sizeof(*a));
    if (a == NULL) {
        return bl_fail_memory(error);
    }
    if ((parts & BL_ASSESS_CAUSES) != 0) {
        parts |= BL_ASSESS_FINDINGS | BL_ASSESS_PREDICT;
    }
    if ((parts & BL_ASSESS_FINDINGS) != 0) {
        parts |= BL_ASSESS_REACH | BL_ASSESS_CURVES;
    }
    a->trial = trial;
    a->parts = parts;
    bl_error_clear(&a->failed);
    a->run = bl_alloc(trial->runs + 1, sizeof(*a->run));
    if (a->run == NULL) {
        bl_assessment_destroy(a);
        return bl_fail_memory(error);
    }
    a->runs = trial->runs;
    for (size_t i = 0; i < a->runs; i++) {
        bl_error_clear(&a->run[i].why);
        bl_error_clear(&a->run[i].failed);
    }
    *out = a;
    return BL_OK;
}

static enum bl_status assess_runs(struct bl_assessment *a,
                                  const struct bl_assess_options *options,
                                  const struct bl_assess_progress *progress,
                                  struct bl_error *error)
{
    /* What looks at series after the run itself was done. */
    const bool keeps =
        (a->parts & (BL_ASSESS_SERIES | BL_ASSESS_FINDINGS)) != 0;
    enum bl_status status = BL_OK;
    for (size_t i = 0; status == BL_OK && i < a->runs; i++) {
        if (!wanted(options, a->trial->run[i].name)) {
            continue;
        }
        if (progress->begin != NULL) {
            progress->begin(progress->user, a->trial, i);
        }
        status = assess_run(a, i, error);
        if (progress->done != NULL) {
            progress->done(progress->user, a, i);
        }
        if (!keeps) {
            bl_run_data_drop_series(a->run[i].data);
        }
    }
    return status;
}

struct bl_assess_options bl_assess_options_default(void)
{
    return (struct bl_assess_options){.parts = BL_ASSESS_REPORT,
                                      .topics = BL_ANSWER_EVERY};
}

enum bl_status bl_assess(struct bl_assessment **out,
                         const struct bl_trial *trial,
                         const struct bl_assess_options *options,
                         const struct bl_assess_progress *progress,
                         struct bl_error *error)
{
    const struct bl_assess_options all = bl_assess_options_default();
    static const struct bl_assess_progress quiet = {NULL, NULL, NULL};
    struct bl_assessment *a = NULL;
    struct bl_error own = {.status = BL_OK};
    *out = NULL;
    error = error == NULL ? &own : error;
    options = options == NULL ? &all : options;
    enum bl_status status = check_names(trial, options, error);
    if (status == BL_OK) {
        status = create(&a, trial, options->parts, error);
    }
    if (status == BL_OK) {
        status = assess_runs(a, options, progress == NULL ? &quiet : progress,
                             error);
    }
    if (status == BL_OK) {
        status = bl_assess_over_runs(a, options, error);
    }
    if (status != BL_OK) {
        bl_assessment_destroy(a);
        return status;
    }
    *out = a;
    return BL_OK;
}

void bl_assessment_destroy(struct bl_assessment *assessment)
{
    if (assessment == NULL) {
        return;
    }
    for (size_t i = 0; i < assessment->runs; i++) {
        struct bl_assessed_run *run = &assessment->run[i];
        bl_check_destroy(run->check);
        bl_reach_destroy(run->reach);
        bl_characteristics_destroy(run->curves);
        bl_transducers_destroy(run->pairs);
        bl_predict_destroy(run->predict);
        bl_run_lag_destroy(run->lag);
        bl_run_clocks_destroy(run->clocks);
        bl_run_data_destroy(run->data);
    }
    bl_free(assessment->run);
    bl_budget_destroy(assessment->budget);
    if (assessment->findings != NULL) {
        bl_findings_finish(assessment->findings);
        bl_free(assessment->findings);
    }
    bl_comparison_destroy(assessment->comparison);
    bl_answer_destroy(assessment->answer);
    bl_picture_destroy(assessment->picture);
    bl_dynamics_destroy(assessment->dynamics);
    bl_limits_destroy(assessment->limits);
    bl_free(assessment);
}
