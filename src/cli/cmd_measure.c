/* SPDX-License-Identifier: MIT */
/* measure: every application of every run, what each unit made of it, what
   that costs, and what limits say about it. */
#include "cli.h"

#include <stdlib.h>

/* What the parts of the command share: lag[i] belongs to run i of the trial,
   NULL where it was not asked for or not measured. */
struct measuring {
    const struct arguments *arguments;
    struct bl_trial *trial;
    struct bl_result *result;
    struct bl_run_lag **lag;
};

static int add_run(struct measuring *m, size_t index)
{
    struct cli_run run;
    struct bl_error error;
    bl_error_clear(&error);
    int code = cli_measure_run(&run, m->trial, index, m->arguments);
    if (bl_result_add_run(m->result, m->trial, index, run.data, run.clocks,
                          run.lag, &run.error, &error) != BL_OK) {
        code = cli_worse(code, cli_fail(&error));
    }
    m->lag[index] = run.lag;
    run.lag = NULL;
    cli_run_finish(&run);
    return code;
}

static int add_limits(struct measuring *m)
{
    struct bl_limits *limits = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    int code = EXIT_DONE;
    if (bl_limits_make(&limits, m->trial, m->lag, &error) != BL_OK ||
        bl_result_add_limits(m->result, m->trial, limits, &error) != BL_OK) {
        code = cli_fail(&error);
    } else if (limits->own_failed + limits->own_not_shown > 0) {
        cli_say("limits of the trial: %zu failed, %zu not shown",
                limits->own_failed, limits->own_not_shown);
        code = EXIT_VERDICT;
    }
    bl_limits_destroy(limits);
    return code;
}

static int add_dynamics(struct measuring *m)
{
    struct bl_dynamics *dynamics = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    int code = EXIT_DONE;
    if (bl_dynamics_make(&dynamics, m->trial, m->lag, &error) != BL_OK ||
        bl_result_add_dynamics(m->result, m->trial, dynamics, &error) !=
            BL_OK) {
        code = cli_fail(&error);
    }
    bl_dynamics_destroy(dynamics);
    return code;
}

static int add_budget(struct measuring *m, const char *asked)
{
    struct bl_budget *budget = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    int code = EXIT_DONE;
    if (bl_budget_make(&budget, m->trial, m->lag, asked, &error) != BL_OK ||
        bl_result_add_budget(m->result, m->trial, budget, &error) != BL_OK) {
        code = cli_fail(&error);
    }
    bl_budget_destroy(budget);
    return code;
}

static int measure(struct measuring *m)
{
    struct bl_error error;
    bl_error_clear(&error);
    if (bl_result_create(&m->result, m->trial, &error) != BL_OK) {
        return cli_fail(&error);
    }
    int code = EXIT_DONE;
    if (has_option(m->arguments, OPTION_EACH)) {
        bl_result_tell_each(m->result);
    }
    for (size_t i = 0; i < m->trial->runs; i++) {
        if (cli_run_chosen(m->trial, i, m->arguments)) {
            code = cli_worse(code, add_run(m, i));
        }
    }
    code = cli_worse(code, add_dynamics(m));
    code = cli_worse(code, add_limits(m));
    const char *budget = option_text(m->arguments, OPTION_BUDGET, NULL);
    if (budget != NULL) {
        const int added = add_budget(m, budget);
        if (added != EXIT_DONE) {
            return cli_worse(code, added);
        }
    }
    return cli_write_result(m->result, m->arguments, code);
}

int cmd_measure(const struct arguments *arguments)
{
    struct measuring m = {.arguments = arguments};
    if (has_option(arguments, OPTION_PART) &&
        !has_option(arguments, OPTION_CSV)) {
        return cli_misuse(cli_command("measure"),
                          "--part says what --csv is to write: give both");
    }
    int code = cli_read_trial(&m.trial, arguments->word[0], arguments);
    if (code != EXIT_DONE) {
        return code;
    }
    code = cli_check_runs(cli_command("measure"), m.trial, arguments);
    if (code == EXIT_DONE) {
        m.lag = calloc(m.trial->runs + 1, sizeof(struct bl_run_lag *));
        if (m.lag == NULL) {
            code = cli_no_memory();
        } else {
            code = measure(&m);
        }
    }
    for (size_t i = 0; m.lag != NULL && i < m.trial->runs; i++) {
        bl_run_lag_destroy(m.lag[i]);
    }
    free(m.lag);
    bl_result_destroy(m.result);
    bl_trial_destroy(m.trial);
    return code;
}
