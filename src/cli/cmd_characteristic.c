/* SPDX-License-Identifier: MIT */
/* characteristic: each unit's curve, what is left at the rear, and doubled
   transducers. */
#include "cli.h"

/* Was a curve read, or is a transducer doubled? */
static bool any_read(const struct bl_assessment *found)
{
    for (size_t i = 0; i < found->runs; i++) {
        const struct bl_assessed_run *run = &found->run[i];
        if (run->pairs != NULL && run->pairs->count > 0) {
            return true;
        }
        for (size_t k = 0; run->curves != NULL && k < run->curves->count; k++) {
            if (run->curves->item[k].used >= 0) {
                return true;
            }
        }
    }
    return false;
}

int cmd_characteristic(const struct arguments *arguments)
{
    /* What the links called for stands beside what was used. */
    static const struct cli_task task = {
        .parts = BL_ASSESS_CURVES | BL_ASSESS_REACH | BL_ASSESS_ANSWER,
        .topics = BL_ANSWER_OF_CURVES,
        .needs = CLI_NEEDS_RAMPS};
    return cli_run_task(&task,
                        BL_REPORT_RUNS | BL_ASSESS_CURVES | BL_ASSESS_ANSWER,
                        any_read, arguments);
}
