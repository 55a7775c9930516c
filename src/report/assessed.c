/* SPDX-License-Identifier: MIT */
/* An assessment as a result: its parts in the order in which the tree has
   them. */
#include "report/result.h"

#include <math.h>

/* Does any unit say how far air has to go? */
static bool has_lines(const struct bl_trial *trial)
{
    for (size_t i = 0; i < trial->units; i++) {
        if (!isnan(trial->unit[i].pipe_m) || trial->unit[i].length_m > 0) {
            return true;
        }
    }
    return false;
}

/* Is there a coupling whose frames are known by address? */
static bool has_addresses(const struct bl_trial *trial)
{
    for (size_t i = 0; i < trial->units; i++) {
        if (trial->unit[i].number > 0 && trial->unit[i].address >= 0) {
            return true;
        }
    }
    return false;
}

/* A report leaves out what the trial says nothing of: the demand without a
   unit's address, the model of air without a line. */
static unsigned parts_of(const struct bl_assessment *a,
                         const struct bl_report_options *options)
{
    unsigned parts = options->only;
    if (parts == 0) {
        parts = BL_REPORT_RUNS | BL_ASSESS_CHECK | BL_ASSESS_REPORT;
        parts &= ~(unsigned)(has_addresses(a->trial) ? 0 : BL_ASSESS_REACH);
        parts &= ~(unsigned)(has_lines(a->trial) ? 0 : BL_ASSESS_PREDICT);
    }
    return parts;
}

static enum bl_status add_curves(struct bl_result *result,
                                 const struct bl_trial *trial,
                                 const struct bl_assessed_run *run,
                                 struct bl_error *error)
{
    enum bl_status status = BL_OK;
    if (run->curves != NULL) {
        status =
            bl_result_add_characteristics(result, trial, run->curves, error);
    }
    if (status == BL_OK && run->curves != NULL && run->reach != NULL) {
        status =
            bl_result_add_called(result, trial, run->curves, run->reach, error);
    }
    if (status == BL_OK && run->pairs != NULL) {
        status = bl_result_add_transducers(result, trial, run->pairs, error);
    }
    return status;
}

static enum bl_status add_studies(struct bl_result *result,
                                  const struct bl_trial *trial,
                                  const struct bl_assessed_run *run,
                                  unsigned parts, struct bl_error *error)
{
    enum bl_status status = BL_OK;
    if ((parts & BL_ASSESS_CHECK) != 0 && run->check != NULL) {
        status = bl_result_add_check(result, trial, run->check, error);
    }
    if (status == BL_OK && (parts & BL_ASSESS_REACH) != 0 &&
        run->reach != NULL) {
        status = bl_result_add_reach(result, trial, run->data, run->clocks,
                                     run->reach, error);
    }
    if (status == BL_OK && (parts & BL_ASSESS_CURVES) != 0) {
        status = add_curves(result, trial, run, error);
    }
    if (status == BL_OK && (parts & BL_ASSESS_PREDICT) != 0 &&
        run->predict != NULL) {
        status = bl_result_add_predict(result, trial, run->predict, error);
    }
    return status;
}

static enum bl_status add_run(struct bl_result *result,
                              const struct bl_assessment *a, size_t index,
                              unsigned parts, struct bl_error *error)
{
    const struct bl_assessed_run *run = &a->run[index];
    enum bl_status status = BL_OK;
    if ((parts & BL_REPORT_RUNS) != 0) {
        status = bl_result_add_run(
            result, a->trial,
            &(const struct bl_result_run){index, run->data, run->clocks,
                                          run->lag, &run->why},
            error);
    }
    if (status == BL_OK && (parts & a->parts & BL_ASSESS_SERIES) != 0 &&
        run->lag != NULL) {
        status = bl_result_add_traces(result, a->trial, run->data, run->clocks,
                                      run->lag, error);
    }
    /* A prediction that was made for findings alone is no table. */
    if ((a->parts & BL_ASSESS_PREDICT) == 0) {
        parts &= ~(unsigned)BL_ASSESS_PREDICT;
    }
    return status == BL_OK ? add_studies(result, a->trial, run, parts, error)
                           : status;
}

static enum bl_status add_over_runs(struct bl_result *result,
                                    const struct bl_assessment *a,
                                    unsigned parts, struct bl_error *error)
{
    const struct bl_trial *trial = a->trial;
    enum bl_status status = BL_OK;
    if ((parts & BL_ASSESS_CAUSES) != 0 && a->findings != NULL) {
        status = bl_result_add_findings(result, trial, a->findings, error);
    }
    if (status == BL_OK && (parts & BL_REPORT_TRAITS) != 0 &&
        a->findings != NULL && a->findings->traits != NULL) {
        status =
            bl_result_add_traits(result, trial, a->findings->traits, error);
    }
    if (status == BL_OK && (parts & BL_ASSESS_COMPARISON) != 0 &&
        a->comparison != NULL) {
        status = bl_result_add_comparison(result, trial, a->comparison, error);
    }
    if (status == BL_OK && (parts & BL_ASSESS_ANSWER) != 0 &&
        a->answer != NULL) {
        status = bl_result_add_answer(result, trial, a->answer, error);
    }
    if (status == BL_OK && (parts & BL_ASSESS_ANSWER) != 0 &&
        a->picture != NULL) {
        status = bl_result_add_picture(result, trial, a->picture, error);
    }
    if (status == BL_OK && (parts & BL_ASSESS_DYNAMICS) != 0 &&
        a->dynamics != NULL) {
        status = bl_result_add_dynamics(result, trial, a->dynamics, error);
    }
    if (status == BL_OK && (parts & BL_ASSESS_LIMITS) != 0 &&
        a->limits != NULL) {
        status = bl_result_add_limits(result, trial, a->limits, error);
    }
    return status;
}

struct bl_report_options bl_report_options_default(void)
{
    return (struct bl_report_options){.only = 0};
}

enum bl_status bl_result_create_assessed(
    struct bl_result **out, const struct bl_assessment *assessment,
    const struct bl_report_options *options, struct bl_error *error)
{
    const struct bl_report_options whole = bl_report_options_default();
    options = options == NULL ? &whole : options;
    const unsigned parts = parts_of(assessment, options);
    struct bl_result *result = NULL;
    enum bl_status status = bl_result_create(&result, assessment->trial, error);
    if (status == BL_OK && options->only == 0) {
        bl_result_keep_whole(result);
    }
    if (status == BL_OK && options->each) {
        bl_result_tell_each(result);
    }
    for (size_t i = 0; status == BL_OK && i < assessment->runs; i++) {
        if (assessment->run[i].taken) {
            status = add_run(result, assessment, i, parts, error);
        }
    }
    if (status == BL_OK) {
        status = add_over_runs(result, assessment, parts, error);
    }
    if (status == BL_OK && assessment->budget != NULL) {
        status = bl_result_add_budget(result, assessment->trial,
                                      assessment->budget, error);
    }
    if (status != BL_OK) {
        bl_result_destroy(result);
        result = NULL;
    }
    *out = result;
    return status;
}

enum bl_status bl_report_write(const struct bl_assessment *assessment,
                               struct bl_output *output,
                               const struct bl_result_options *options,
                               struct bl_error *error)
{
    struct bl_result *result = NULL;
    enum bl_status status =
        bl_result_create_assessed(&result, assessment, NULL, error);
    if (status == BL_OK) {
        status = bl_result_write(result, output, options, error);
    }
    bl_result_destroy(result);
    return status;
}
