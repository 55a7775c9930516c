/* SPDX-License-Identifier: MIT */
/* report: everything that a trial gives, as one page, as text or as a folder
   of files that can be handed over. */
#include "cli.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

struct reporting {
    struct bl_trial *trial;
    struct bl_result *result;
    const struct arguments *arguments;
    struct cli_run *run;
    struct bl_run_lag **lag;
    struct bl_causes_run *seen;
};

/* A run with what is studied of it alone. */
static int add_run(struct reporting *r, size_t index)
{
    struct cli_run *run = &r->run[index];
    struct bl_error error;
    bl_error_clear(&error);
    int code = cli_measure_run(run, r->trial, index, r->arguments);
    r->lag[index] = run->lag;
    struct bl_causes_run *seen = &r->seen[index];
    *seen = (struct bl_causes_run){
        .data = run->data, .clocks = run->clocks, .lag = run->lag};
    enum bl_status status =
        bl_result_add_run(r->result, r->trial, index, run->data, run->clocks,
                          run->lag, &run->error, &error);
    if (status == BL_OK && run->lag != NULL) {
        status = bl_result_add_traces(r->result, r->trial, run->data,
                                      run->clocks, run->lag, &error);
    }
    if (status == BL_OK && run->lag != NULL) {
        status = bl_causes_study(seen, r->trial, &error);
    }
    if (status == BL_OK && run->lag != NULL) {
        status = cli_report_run(r->result, r->trial, seen, &error);
    }
    return status == BL_OK ? code : cli_worse(code, cli_fail(&error));
}

static int add_runs(struct reporting *r)
{
    int code = EXIT_DONE;
    for (size_t i = 0; i < r->trial->runs; i++) {
        if (cli_run_chosen(r->trial, i, r->arguments)) {
            cli_progress(r->arguments, i, r->trial->runs,
                         r->trial->run[i].name);
            code = cli_worse(code, add_run(r, i));
        }
    }
    cli_progress_end();
    struct bl_error error;
    bl_error_clear(&error);
    if (cli_report_trial(r->result, r->trial, r->lag, r->seen, &error) !=
        BL_OK) {
        code = cli_worse(code, cli_fail(&error));
    }
    return code;
}

static bool make_room(struct reporting *r)
{
    r->run = calloc(r->trial->runs + 1, sizeof(*r->run));
    r->lag = calloc(r->trial->runs + 1, sizeof(*r->lag));
    r->seen = calloc(r->trial->runs + 1, sizeof(*r->seen));
    return r->run != NULL && r->lag != NULL && r->seen != NULL;
}

static void finish(struct reporting *r)
{
    for (size_t i = 0; r->run != NULL && i < r->trial->runs; i++) {
        cli_run_finish(&r->run[i]);
    }
    for (size_t i = 0; r->seen != NULL && i < r->trial->runs; i++) {
        bl_causes_study_finish(&r->seen[i]);
    }
    free(r->run);
    free(r->lag);
    free(r->seen);
    bl_result_destroy(r->result);
    bl_trial_destroy(r->trial);
}

static enum bl_result_form form_of(const struct arguments *arguments)
{
    const char *form = option_text(arguments, OPTION_FORMAT, "page");
    return strcmp(form, "text") == 0   ? BL_RESULT_TEXT
           : strcmp(form, "json") == 0 ? BL_RESULT_JSON
           : strcmp(form, "csv") == 0  ? BL_RESULT_FIGURES
                                       : BL_RESULT_PAGE;
}

int cmd_report(const struct arguments *arguments)
{
    struct reporting r = {.arguments = arguments};
    struct bl_error error;
    bl_error_clear(&error);
    const bool bundle = has_option(arguments, OPTION_BUNDLE);
    if (bundle && (has_option(arguments, OPTION_OUTPUT) ||
                   has_option(arguments, OPTION_FORMAT))) {
        return cli_misuse(cli_command("report"),
                          "--bundle names its files itself: give it without "
                          "--output and --format");
    }
    if (!bundle && !has_option(arguments, OPTION_OUTPUT) &&
        form_of(arguments) == BL_RESULT_PAGE && isatty(STDOUT_FILENO) != 0) {
        return cli_misuse(cli_command("report"),
                          "the page is for a browser, not for a terminal: "
                          "-o report.html writes it into a file, --format text "
                          "shows the result here");
    }
    int code = cli_read_trial(&r.trial, arguments->word[0], arguments);
    if (code != EXIT_DONE) {
        return code;
    }
    code = cli_check_runs(cli_command("report"), r.trial, arguments);
    if (code != EXIT_DONE) {
        goto out;
    }
    if (!make_room(&r)) {
        (void)bl_fail_memory(&error);
        code = cli_fail(&error);
        goto out;
    }
    if (bl_result_create(&r.result, r.trial, &error) != BL_OK) {
        code = cli_fail(&error);
        goto out;
    }
    bl_result_keep_whole(r.result);
    code = add_runs(&r);
    code = bundle
               ? cli_write_bundle(r.result, r.trial, arguments, code)
               : cli_write_form(r.result, form_of(arguments), arguments, code);
out:
    finish(&r);
    return code;
}
