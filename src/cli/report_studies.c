/* SPDX-License-Identifier: MIT */
/* What a report tells besides the figures: every study that the trial has the
   recordings for. A study that has nothing to say adds nothing. */
#include "cli.h"

#include <math.h>
#include <string.h>

static enum bl_status add_curves(struct bl_result *result,
                                 const struct bl_trial *trial,
                                 const struct bl_causes_run *run,
                                 struct bl_error *error)
{
    enum bl_status status =
        bl_result_add_characteristics(result, trial, run->curves, error);
    if (status == BL_OK && run->reach != NULL) {
        status =
            bl_result_add_called(result, trial, run->curves, run->reach, error);
    }
    return status == BL_OK
               ? bl_result_add_transducers(result, trial, run->pairs, error)
               : status;
}

/* Does any unit say how far air has to go? */
static bool has_lines(const struct bl_trial *trial)
{
    for (size_t i = 0; i < trial->units; i++) {
        if (!isnan(trial->unit[i].line_m)) {
            return true;
        }
    }
    return false;
}

/* Are there links between units to look at? */
static bool has_links(const struct bl_trial *trial)
{
    for (size_t i = 0; i < trial->units; i++) {
        if (trial->unit[i].number > 0 && trial->unit[i].address >= 0) {
            return true;
        }
    }
    return false;
}

enum bl_status cli_report_run(struct bl_result *result,
                              const struct bl_trial *trial,
                              const struct bl_causes_run *run,
                              struct bl_error *error)
{
    enum bl_status status = BL_OK;
    if (has_links(trial)) {
        status = bl_result_add_reach(result, trial, run->data, run->clocks,
                                     run->reach, error);
    }
    if (status == BL_OK) {
        status = add_curves(result, trial, run, error);
    }
    if (status == BL_OK && has_lines(trial)) {
        status = bl_result_add_predict(result, trial, run->predict, error);
    }
    return status;
}

static bool has_condition(const struct bl_trial *trial,
                          struct bl_run_lag *const *lag, const char *name)
{
    for (size_t i = 0; i < trial->runs; i++) {
        if (lag[i] != NULL && trial->run[i].condition != NULL &&
            strcmp(trial->run[i].condition, name) == 0) {
            return true;
        }
    }
    return false;
}

/* Powered against unpowered, where the trial has both; else *out is NULL. */
static enum bl_status add_comparison(struct bl_comparison **out,
                                     struct bl_result *result,
                                     const struct bl_trial *trial,
                                     struct bl_run_lag *const *lag,
                                     struct bl_error *error)
{
    const struct bl_compare_options options = {.unit_base = -1,
                                               .unit_against = -1};
    *out = NULL;
    if (!has_condition(trial, lag, "powered") ||
        !has_condition(trial, lag, "unpowered")) {
        return BL_OK;
    }
    const enum bl_status status = bl_compare(out, trial, lag, &options, error);
    return status == BL_OK
               ? bl_result_add_comparison(result, trial, *out, error)
               : status;
}

static enum bl_status add_answer(struct bl_result *result,
                                 const struct bl_answer_input *input,
                                 struct bl_error *error)
{
    struct bl_answer_sentences *answer = NULL;
    enum bl_status status = bl_answer_make(&answer, input, error);
    if (status == BL_OK) {
        status = bl_result_add_answer(result, input->trial, answer, error);
    }
    bl_answer_destroy(answer);
    return status;
}

static enum bl_status add_cost(struct bl_result *result,
                               const struct bl_trial *trial,
                               struct bl_run_lag *const *lag,
                               struct bl_error *error)
{
    struct bl_dynamics *dynamics = NULL;
    struct bl_limits *limits = NULL;
    enum bl_status status = bl_dynamics_make(&dynamics, trial, lag, error);
    if (status == BL_OK) {
        status = bl_result_add_dynamics(result, trial, dynamics, error);
    }
    if (status == BL_OK) {
        status = bl_limits_make(&limits, trial, lag, error);
    }
    if (status == BL_OK) {
        status = bl_result_add_limits(result, trial, limits, error);
    }
    bl_dynamics_destroy(dynamics);
    bl_limits_destroy(limits);
    return status;
}

enum bl_status cli_report_trial(struct bl_result *result,
                                const struct bl_trial *trial,
                                struct bl_run_lag *const *lag,
                                const struct bl_causes_run *seen,
                                struct bl_error *error)
{
    struct bl_findings findings = {0};
    struct bl_comparison *comparison = NULL;
    enum bl_status status = bl_causes(&findings, trial, seen, error);
    if (status == BL_OK) {
        status = bl_result_add_findings(result, trial, &findings, error);
    }
    if (status == BL_OK) {
        status = add_comparison(&comparison, result, trial, lag, error);
    }
    if (status == BL_OK) {
        const struct bl_answer_input input = {trial, seen, &findings,
                                              comparison};
        status = add_answer(result, &input, error);
    }
    bl_findings_finish(&findings);
    bl_comparison_destroy(comparison);
    return status == BL_OK ? add_cost(result, trial, lag, error) : status;
}
