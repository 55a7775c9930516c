/* SPDX-License-Identifier: MIT */
/* characteristic: each unit's curve, what is left at the rear, and doubled
   transducers. */
#include "cli.h"

/* Study one run and add what it gives. Sets *any when a curve was read. */
static int study_run(struct bl_result *result, const struct bl_trial *trial,
                     const struct cli_run *run, bool *any)
{
    struct bl_characteristics *curves = NULL;
    struct bl_transducers *pairs = NULL;
    struct bl_reach *reach = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    enum bl_status status = bl_characteristic_run(
        &curves, trial, run->data, run->clocks, run->lag, &error);
    if (status == BL_OK) {
        status =
            bl_transducers_run(&pairs, trial, run->data, run->clocks, &error);
    }
    if (status == BL_OK) {
        status = bl_result_add_characteristics(result, trial, curves, &error);
    }
    /* What the links called for stands beside what was used. */
    if (status == BL_OK) {
        status = bl_reach_run(&reach, trial, run->data, run->clocks, run->lag,
                              &error);
    }
    if (status == BL_OK) {
        status = bl_result_add_called(result, trial, curves, reach, &error);
    }
    if (status == BL_OK) {
        status = bl_result_add_transducers(result, trial, pairs, &error);
    }
    for (size_t i = 0; status == BL_OK && i < curves->count; i++) {
        *any = *any || curves->item[i].used >= 0;
    }
    *any = *any || (status == BL_OK && pairs->count > 0);
    bl_reach_destroy(reach);
    bl_characteristics_destroy(curves);
    bl_transducers_destroy(pairs);
    return status == BL_OK ? EXIT_DONE : cli_fail(&error);
}

static int add_run(struct bl_result *result, const struct bl_trial *trial,
                   size_t index, const struct arguments *arguments, bool *any)
{
    struct cli_run run;
    struct bl_error error;
    bl_error_clear(&error);
    int code = cli_measure_run(&run, trial, index, arguments);
    if (code == EXIT_NO_DATA) {
        /* A slow ramp need not be an application. */
        code = EXIT_DONE;
    }
    if (bl_result_add_run(result, trial, index, run.data, run.clocks, run.lag,
                          &run.error, &error) != BL_OK) {
        code = cli_worse(code, cli_fail(&error));
    }
    if (run.data != NULL && run.clocks != NULL) {
        code = cli_worse(code, study_run(result, trial, &run, any));
    }
    cli_run_finish(&run);
    return code;
}

int cmd_characteristic(const struct arguments *arguments)
{
    struct bl_trial *trial = NULL;
    int code = cli_read_trial(&trial, arguments->word[0], arguments);
    if (code == EXIT_DONE) {
        code = cli_write_runs(trial, add_run, arguments);
    }
    bl_trial_destroy(trial);
    return code;
}
