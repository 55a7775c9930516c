/* SPDX-License-Identifier: MIT */
/* report: everything that a trial gives, as one page, as text or as a folder
   of files that can be handed over. */
#include "cli.h"

#include <string.h>
#include <unistd.h>

static enum bl_result_form form_of(const struct arguments *arguments)
{
    const char *form = option_text(arguments, OPTION_FORMAT, "page");
    return strcmp(form, "text") == 0   ? BL_RESULT_TEXT
           : strcmp(form, "json") == 0 ? BL_RESULT_JSON
           : strcmp(form, "csv") == 0  ? BL_RESULT_FIGURES
                                       : BL_RESULT_PAGE;
}

static int write_report(const struct bl_assessment *found,
                        const struct arguments *arguments, int code)
{
    struct bl_result *result = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    if (bl_result_create_assessed(&result, found, NULL, &error) != BL_OK) {
        return cli_worse(code, cli_fail(&error));
    }
    const int beside = cli_beside_history(result, found, arguments);
    code = beside != EXIT_DONE ? cli_worse(code, beside)
           : has_option(arguments, OPTION_BUNDLE)
               ? cli_write_bundle(result, found->trial, arguments, code)
               : cli_write_form(result, form_of(arguments), arguments, code);
    bl_result_destroy(result);
    return code;
}

/* A page on a terminal helps nobody; what is wrong with the trial is said
   first. */
static int refuse_terminal(const struct arguments *arguments)
{
    if (!has_option(arguments, OPTION_BUNDLE) &&
        !has_option(arguments, OPTION_OUTPUT) &&
        form_of(arguments) == BL_RESULT_PAGE && isatty(STDOUT_FILENO) != 0) {
        return cli_misuse(arguments->command,
                          "the page is for a browser, not for a terminal: "
                          "-o report.html writes it into a file, --format text "
                          "shows the result here");
    }
    return EXIT_DONE;
}

int cmd_report(const struct arguments *arguments)
{
    static const struct cli_task task = {.parts = BL_ASSESS_REPORT,
                                         .topics = BL_ANSWER_EVERY};
    struct bl_trial *trial = NULL;
    struct bl_assessment *found = NULL;
    if (has_option(arguments, OPTION_BUNDLE) &&
        (has_option(arguments, OPTION_OUTPUT) ||
         has_option(arguments, OPTION_FORMAT))) {
        return cli_misuse(arguments->command,
                          "--bundle names its files itself: give it without "
                          "--output and --format");
    }
    int code = cli_read_trial(&trial, arguments->word[0], arguments);
    if (code == EXIT_DONE) {
        code = refuse_terminal(arguments);
    }
    if (code == EXIT_DONE) {
        code = cli_assess(&found, trial, &task, arguments);
    }
    if (found != NULL) {
        code = write_report(found, arguments, code);
    }
    bl_assessment_destroy(found);
    bl_trial_destroy(trial);
    return code;
}
