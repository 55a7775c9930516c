/* SPDX-License-Identifier: MIT */
/* report: everything that a trial gives, as one page, as text or as a folder
   of files that can be handed over. */
#include "cli.h"

#include <string.h>

static int add_run(struct bl_result *result, const struct bl_trial *trial,
                   size_t index, const struct arguments *arguments)
{
    struct cli_run run;
    struct bl_error error;
    bl_error_clear(&error);
    int code = cli_measure_run(&run, trial, index, arguments);
    enum bl_status status =
        bl_result_add_run(result, trial, index, run.data, run.clocks, run.lag,
                          &run.error, &error);
    if (status == BL_OK && run.lag != NULL) {
        status = bl_result_add_traces(result, trial, run.data, run.clocks,
                                      run.lag, &error);
    }
    if (status != BL_OK) {
        code = cli_worse(code, cli_fail(&error));
    }
    cli_run_finish(&run);
    return code;
}

static int add_runs(struct bl_result *result, const struct bl_trial *trial,
                    const struct arguments *arguments)
{
    int code = EXIT_DONE;
    for (size_t i = 0; i < trial->runs; i++) {
        if (cli_run_chosen(trial, i, arguments)) {
            cli_progress(arguments, i, trial->runs, trial->run[i].name);
            code = cli_worse(code, add_run(result, trial, i, arguments));
        }
    }
    cli_progress_end(arguments);
    return code;
}

static enum bl_result_form form_of(const struct arguments *arguments)
{
    const char *form = option_text(arguments, OPTION_FORMAT, "page");
    return strcmp(form, "text") == 0   ? BL_RESULT_TEXT
           : strcmp(form, "json") == 0 ? BL_RESULT_JSON
           : strcmp(form, "csv") == 0  ? BL_RESULT_CSV
                                       : BL_RESULT_PAGE;
}

int cmd_report(const struct arguments *arguments)
{
    struct bl_trial *trial = NULL;
    struct bl_result *result = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    const bool bundle = has_option(arguments, OPTION_BUNDLE);
    if (bundle && (has_option(arguments, OPTION_OUTPUT) ||
                   has_option(arguments, OPTION_FORMAT))) {
        return cli_misuse(cli_command("report"),
                          "--bundle names its files itself: give it without "
                          "--output and --format");
    }
    int code = cli_read_trial(&trial, arguments->word[0], arguments);
    if (code != EXIT_DONE) {
        return code;
    }
    code = cli_check_runs(cli_command("report"), trial, arguments);
    if (code != EXIT_DONE) {
        goto out;
    }
    if (bl_result_create(&result, trial, &error) != BL_OK) {
        code = cli_fail(&error);
        goto out;
    }
    code = add_runs(result, trial, arguments);
    code = bundle ? cli_write_bundle(result, trial, arguments, code)
                  : cli_write_form(result, form_of(arguments), arguments, code);
out:
    bl_result_destroy(result);
    bl_trial_destroy(trial);
    return code;
}
