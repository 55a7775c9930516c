/* SPDX-License-Identifier: MIT */
/* causes: named causes over all runs of a trial, with the next check. */
#include "cli.h"

int cmd_causes(const struct arguments *arguments)
{
    static const struct cli_task task = {.parts = BL_ASSESS_CAUSES |
                                                  BL_ASSESS_ANSWER};
    /* JSON carries the runs that the findings rest on; text and CSV do not. */
    const struct bl_report_options options = {
        .only = BL_ASSESS_CAUSES | BL_ASSESS_ANSWER |
                (has_option(arguments, OPTION_TRAITS) ? BL_REPORT_TRAITS : 0u) |
                (has_option(arguments, OPTION_JSON) ? BL_REPORT_RUNS : 0u)};
    struct bl_trial *trial = NULL;
    struct bl_assessment *found = NULL;
    int code = cli_read_trial(&trial, arguments->word[0], arguments);
    if (code == EXIT_DONE) {
        code = cli_assess(&found, trial, &task, arguments);
    }
    if (found != NULL && found->findings != NULL) {
        code = cli_write_assessed(found, &options, arguments, code);
    }
    bl_assessment_destroy(found);
    bl_trial_destroy(trial);
    return code;
}
