/* SPDX-License-Identifier: MIT */
/* check: at the yard, after one application: ready or not. */
#include "cli.h"

static int check_run(struct bl_result *result, const struct bl_trial *trial,
                     size_t index, const struct arguments *arguments, bool *any)
{
    struct cli_run run;
    struct bl_error error;
    struct bl_check *check = NULL;
    bl_error_clear(&error);
    *any = true;
    int code = cli_measure_run(&run, trial, index, arguments);
    enum bl_status status =
        bl_result_add_run(result, trial, index, run.data, run.clocks, run.lag,
                          &run.error, &error);
    if (status == BL_OK && run.data != NULL) {
        status = bl_check_run(&check, trial, index, run.data, run.clocks,
                              run.lag, &error);
    }
    if (status == BL_OK && run.data == NULL) {
        status = bl_check_unread(&check, index, &run.error, &error);
    }
    if (status == BL_OK && check != NULL) {
        status = bl_result_add_check(result, trial, check, &error);
    }
    if (status != BL_OK) {
        code = cli_worse(code, cli_fail(&error));
    } else if (check != NULL && !check->ready) {
        code = cli_worse(code, EXIT_NO_DATA);
    }
    bl_check_destroy(check);
    cli_run_finish(&run);
    return code;
}

int cmd_check(const struct arguments *arguments)
{
    struct bl_trial *trial = NULL;
    int code = cli_read_trial(&trial, arguments->word[0], arguments);
    if (code == EXIT_DONE) {
        code = cli_write_runs(trial, check_run, arguments);
    }
    bl_trial_destroy(trial);
    return code;
}
