/* SPDX-License-Identifier: MIT */
/* predict: what air alone would take to every unit, and what was measured
   against it. */
#include "cli.h"

/* Predict one run. Sets *any when a unit could be. */
static int predict_run(struct bl_result *result, const struct bl_trial *trial,
                       const struct cli_run *run,
                       const struct arguments *arguments, bool *any)
{
    struct bl_predict *predict = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    enum bl_status status = bl_predict_run(&predict, trial, run->data,
                                           run->clocks, run->lag, &error);
    if (status == BL_OK) {
        status = bl_result_add_predict(result, trial, predict, &error);
    }
    if (status == BL_OK) {
        *any = *any || predict->modelled > 0;
        if (predict->left_out > 0 && !has_option(arguments, OPTION_QUIET)) {
            cli_say("%s: %zu applications were not modelled: beyond six of "
                    "one kind and shape, longer than 30 s, or with a gap in "
                    "the command",
                    trial->run[run->lag->run].name, predict->left_out);
        }
    }
    bl_predict_destroy(predict);
    return status == BL_OK ? EXIT_DONE : cli_fail(&error);
}

static int add_run(struct bl_result *result, const struct bl_trial *trial,
                   size_t index, const struct arguments *arguments, bool *any)
{
    struct cli_run run;
    struct bl_error error;
    bl_error_clear(&error);
    int code = cli_measure_run(&run, trial, index, arguments);
    if (bl_result_add_run(result, trial, index, run.data, run.clocks, run.lag,
                          &run.error, &error) != BL_OK) {
        code = cli_worse(code, cli_fail(&error));
    }
    if (run.lag != NULL) {
        code =
            cli_worse(code, predict_run(result, trial, &run, arguments, any));
    }
    cli_run_finish(&run);
    return code;
}

int cmd_predict(const struct arguments *arguments)
{
    struct bl_trial *trial = NULL;
    int code = cli_read_trial(&trial, arguments->word[0], arguments);
    if (code == EXIT_DONE) {
        code = cli_write_runs(trial, add_run, arguments);
    }
    bl_trial_destroy(trial);
    return code;
}
