/* SPDX-License-Identifier: MIT */
/* The studies of one run that causes are read from, for tests that ask for
   causes alone. */
#ifndef BRAKELAG_TESTS_SUPPORT_STUDIES_H
#define BRAKELAG_TESTS_SUPPORT_STUDIES_H

#include "brakelag/causes.h"

#include <stdint.h>

/* Fill in the studies of a run whose data, clocks and figures are set; a run
   without data has none. Ended by studies_finish, after an error too. */
static inline enum bl_status studies_make(struct bl_causes_run *run,
                                          const struct bl_trial *trial,
                                          struct bl_error *error)
{
    struct bl_reach *reach = NULL;
    struct bl_characteristics *curves = NULL;
    struct bl_transducers *pairs = NULL;
    struct bl_predict *predict = NULL;
    enum bl_status status = BL_OK;
    if (run->data != NULL && run->clocks != NULL) {
        status = bl_reach_run(&reach, trial, run->data, run->clocks, run->lag,
                              error);
        if (status == BL_OK) {
            status = bl_characteristic_run(&curves, trial, run->data,
                                           run->clocks, run->lag, error);
        }
        if (status == BL_OK) {
            status = bl_transducers_run(&pairs, trial, run->data, run->clocks,
                                        error);
        }
        if (status == BL_OK && run->lag != NULL) {
            status = bl_predict_run(&predict, trial, run->data, run->clocks,
                                    run->lag, error);
        }
    }
    run->reach = reach;
    run->curves = curves;
    run->pairs = pairs;
    run->predict = predict;
    return status;
}

static inline void studies_finish(struct bl_causes_run *run)
{
    bl_reach_destroy((struct bl_reach *)(uintptr_t)run->reach);
    bl_characteristics_destroy(
        (struct bl_characteristics *)(uintptr_t)run->curves);
    bl_transducers_destroy((struct bl_transducers *)(uintptr_t)run->pairs);
    bl_predict_destroy((struct bl_predict *)(uintptr_t)run->predict);
    run->reach = NULL;
    run->curves = NULL;
    run->pairs = NULL;
    run->predict = NULL;
}

#endif
