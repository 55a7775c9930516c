/* SPDX-License-Identifier: MIT */
/* measure: the answer first, then every application of every run, what each
   unit made of it, what that costs, and what limits say about it. */
#include "cli.h"

static int judge_limits(const struct bl_limits *limits)
{
    if (limits == NULL || limits->own_failed + limits->own_not_shown == 0) {
        return EXIT_DONE;
    }
    cli_say("limits of the trial: %zu failed, %zu not shown",
            limits->own_failed, limits->own_not_shown);
    return EXIT_VERDICT;
}

int cmd_measure(const struct arguments *arguments)
{
    /* A table of figures and a budget of one have no place for an answer. */
    const bool answers = !has_option(arguments, OPTION_CSV) &&
                         !has_option(arguments, OPTION_BUDGET);
    const struct cli_task task = {
        .parts = BL_ASSESS_DYNAMICS | BL_ASSESS_LIMITS |
                 (answers ? BL_ASSESS_FINDINGS | BL_ASSESS_ANSWER : 0u),
        .budget = option_text(arguments, OPTION_BUDGET, NULL)};
    const struct bl_report_options options = {
        .only = BL_REPORT_RUNS | BL_ASSESS_DYNAMICS | BL_ASSESS_LIMITS |
                (answers ? BL_ASSESS_ANSWER : 0u),
        .each = has_option(arguments, OPTION_EACH)};
    struct bl_trial *trial = NULL;
    struct bl_assessment *found = NULL;
    if (has_option(arguments, OPTION_PART) &&
        !has_option(arguments, OPTION_CSV)) {
        return cli_misuse(arguments->command,
                          "--part says what --csv is to write: give both");
    }
    if (has_option(arguments, OPTION_LONG) &&
        (!has_option(arguments, OPTION_CSV) ||
         has_option(arguments, OPTION_PART))) {
        return cli_misuse(arguments->command,
                          "--long is a form of --csv, of the figures: give "
                          "--csv, and no --part");
    }
    int code = cli_read_trial(&trial, arguments->word[0], arguments);
    if (code == EXIT_DONE) {
        code = cli_assess(&found, trial, &task, arguments);
    }
    if (found != NULL) {
        code = cli_worse(code, judge_limits(found->limits));
    }
    if (found != NULL && (task.budget == NULL || found->budget != NULL)) {
        code = cli_write_assessed(found, &options, arguments, code);
    }
    bl_assessment_destroy(found);
    bl_trial_destroy(trial);
    return code;
}
