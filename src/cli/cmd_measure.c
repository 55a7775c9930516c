/* SPDX-License-Identifier: MIT */
/* measure: every application of every run, and what each unit made of it. */
#include "cli.h"

static int add_run(struct bl_result *result, const struct bl_trial *trial,
                   size_t index, const struct arguments *arguments)
{
    struct cli_run run;
    struct bl_error error;
    bl_error_clear(&error);
    int code = cli_measure_run(&run, trial, index, arguments);
    if (bl_result_add_run(result, trial, index, run.data, run.clocks, run.lag,
                          &run.error, &error) != BL_OK) {
        code = cli_worse(code, cli_fail(&error));
    }
    cli_run_finish(&run);
    return code;
}

int cmd_measure(const struct arguments *arguments)
{
    struct bl_trial *trial = NULL;
    struct bl_result *result = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    int code = cli_read_trial(&trial, arguments->word[0], arguments);
    if (code != EXIT_DONE) {
        return code;
    }
    code = cli_check_runs(cli_command("measure"), trial, arguments);
    if (code != EXIT_DONE) {
        goto out;
    }
    if (bl_result_create(&result, trial, &error) != BL_OK) {
        code = cli_fail(&error);
        goto out;
    }
    for (size_t i = 0; i < trial->runs; i++) {
        if (cli_run_chosen(trial, i, arguments)) {
            code = cli_worse(code, add_run(result, trial, i, arguments));
        }
    }
    const char *budget = option_text(arguments, OPTION_BUDGET, NULL);
    if (budget != NULL &&
        bl_result_add_budget(result, budget, &error) != BL_OK) {
        code = cli_worse(code, cli_fail(&error));
        goto out;
    }
    code = cli_write_result(result, arguments, code);
out:
    bl_result_destroy(result);
    bl_trial_destroy(trial);
    return code;
}
