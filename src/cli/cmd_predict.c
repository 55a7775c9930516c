/* SPDX-License-Identifier: MIT */
/* predict: what air alone would take to every unit, and what was measured
   against it. */
#include "cli.h"

static int say_left_out(const struct arguments *arguments,
                        const struct bl_assessment *so_far, size_t run)
{
    const struct bl_predict *predict = so_far->run[run].predict;
    if (predict != NULL && predict->left_out > 0 &&
        !has_option(arguments, OPTION_QUIET)) {
        cli_say("%s: %zu applications were not modelled: beyond six of one "
                "kind and shape, longer than 30 s, or with a gap in the "
                "command",
                so_far->trial->run[run].name, predict->left_out);
    }
    return EXIT_DONE;
}

static bool any_modelled(const struct bl_assessment *found)
{
    for (size_t i = 0; i < found->runs; i++) {
        const struct bl_predict *predict = found->run[i].predict;
        if (predict != NULL && predict->modelled > 0) {
            return true;
        }
    }
    return false;
}

int cmd_predict(const struct arguments *arguments)
{
    static const struct cli_task task = {.parts = BL_ASSESS_PREDICT |
                                                  BL_ASSESS_ANSWER,
                                         .topics = BL_ANSWER_OF_PREDICT,
                                         .judge = say_left_out};
    return cli_run_task(&task,
                        BL_REPORT_RUNS | BL_ASSESS_PREDICT | BL_ASSESS_ANSWER,
                        any_modelled, arguments);
}
