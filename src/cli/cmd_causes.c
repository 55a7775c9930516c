/* SPDX-License-Identifier: MIT */
/* causes: named causes over all runs of a trial, with the next check. */
#include "cli.h"

#include <stdlib.h>

/* JSON carries the runs that the findings rest on; text and CSV do not. */
static enum bl_status add_runs(struct bl_result *result,
                               const struct bl_trial *trial,
                               const struct cli_run *run,
                               const struct arguments *arguments,
                               struct bl_error *error)
{
    enum bl_status status = BL_OK;
    for (size_t i = 0; has_option(arguments, OPTION_JSON) && i < trial->runs &&
                       status == BL_OK;
         i++) {
        if (!cli_run_chosen(trial, i, arguments)) {
            continue;
        }
        status = bl_result_add_run(result, trial, i, run[i].data, run[i].clocks,
                                   run[i].lag, &run[i].error, error);
    }
    return status;
}

static int write_findings(const struct bl_trial *trial,
                          const struct cli_run *run,
                          const struct bl_findings *findings,
                          const struct arguments *arguments, int code)
{
    struct bl_result *result = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    if (bl_result_create(&result, trial, &error) != BL_OK ||
        add_runs(result, trial, run, arguments, &error) != BL_OK ||
        bl_result_add_findings(result, trial, findings, &error) != BL_OK) {
        code = cli_worse(code, cli_fail(&error));
    } else {
        code = cli_write_result(result, arguments, code);
    }
    bl_result_destroy(result);
    return code;
}

/* Measures a run and studies it alone. */
static int study_run(struct cli_run *run, struct bl_causes_run *seen,
                     const struct bl_trial *trial, size_t index,
                     const struct arguments *arguments)
{
    struct bl_error error;
    bl_error_clear(&error);
    const int code = cli_measure_run(run, trial, index, arguments);
    *seen = (struct bl_causes_run){
        .data = run->data, .clocks = run->clocks, .lag = run->lag};
    return bl_causes_study(seen, trial, &error) == BL_OK
               ? code
               : cli_worse(code, cli_fail(&error));
}

int cmd_causes(const struct arguments *arguments)
{
    struct bl_trial *trial = NULL;
    struct bl_error error;
    struct bl_findings findings = {0};
    bl_error_clear(&error);
    int code = cli_read_trial(&trial, arguments->word[0], arguments);
    if (code != EXIT_DONE) {
        return code;
    }
    struct cli_run *run = calloc(trial->runs + 1, sizeof(*run));
    struct bl_causes_run *seen = calloc(trial->runs + 1, sizeof(*seen));
    code = cli_check_runs(arguments->command, trial, arguments);
    if (code != EXIT_DONE) {
        goto out;
    }
    if (run == NULL || seen == NULL) {
        (void)bl_fail_memory(&error);
        code = cli_fail(&error);
        goto out;
    }
    for (size_t i = 0; i < trial->runs; i++) {
        if (cli_run_chosen(trial, i, arguments)) {
            cli_progress(arguments, i, trial->runs, trial->run[i].name);
            code = cli_worse(code,
                             study_run(&run[i], &seen[i], trial, i, arguments));
        }
    }
    cli_progress_end();
    if (bl_causes(&findings, trial, seen, &error) != BL_OK) {
        code = cli_worse(code, cli_fail(&error));
        goto out;
    }
    code = write_findings(trial, run, &findings, arguments, code);
out:
    for (size_t i = 0; run != NULL && i < trial->runs; i++) {
        cli_run_finish(&run[i]);
    }
    for (size_t i = 0; seen != NULL && i < trial->runs; i++) {
        bl_causes_study_finish(&seen[i]);
    }
    free(run);
    free(seen);
    bl_findings_finish(&findings);
    bl_trial_destroy(trial);
    return code;
}
