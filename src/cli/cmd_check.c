/* SPDX-License-Identifier: MIT */
/* check: at the yard, after one application: ready or not. */
#include "cli.h"

static int judge(const struct arguments *arguments,
                 const struct bl_assessment *so_far, size_t run)
{
    (void)arguments;
    const struct bl_check *check = so_far->run[run].check;
    return check == NULL || check->ready ? EXIT_DONE : EXIT_NO_DATA;
}

int cmd_check(const struct arguments *arguments)
{
    static const struct cli_task task = {
        .parts = BL_ASSESS_CHECK, .needs = CLI_NEEDS_READY, .judge = judge};
    return cli_run_task(&task, BL_REPORT_RUNS | BL_ASSESS_CHECK, NULL,
                        arguments);
}
