/* SPDX-License-Identifier: MIT */
/* The values of one figure of one unit under one condition. */
#ifndef BRAKELAG_SRC_STUDY_COMPARE_VALUES_H
#define BRAKELAG_SRC_STUDY_COMPARE_VALUES_H

#include "brakelag/compare.h"

/* What is collected. */
struct bl_values_wanted {
    size_t unit;
    enum bl_application_kind kind;
    enum bl_application_shape shape;
    enum bl_figure_name figure;
    size_t level;
    bool any_kind;      /* reference runs: chains do not know kinds */
    const char *except; /* not of runs of this condition; NULL: of all */
};

struct bl_value_of_run {
    double s, u_clock_s;
    double u_read_s; /* of reading it off: noise, sampling, resolution */
    double own_s;    /* when the command itself passed that share; NaN */
    double half_s;   /* and half of its way; NaN */
    size_t run;
    int number; /* of its application */
    int order;  /* among the values of its run */
    unsigned flags;
    bool sound; /* not read near damage */
};

struct bl_values {
    struct bl_value_of_run *item;
    size_t count, capacity;
    size_t null;    /* applications that do not give the figure */
    unsigned flags; /* of all that do */
};

/* Is run `run` of this condition? A run without a condition goes by its name.
 */
bool bl_run_has_condition(const struct bl_trial *trial, size_t run,
                          const char *condition);

enum bl_status bl_values_collect(struct bl_values *values,
                                 const struct bl_trial *trial,
                                 struct bl_run_lag *const *lag,
                                 const char *condition,
                                 const struct bl_values_wanted *wanted,
                                 struct bl_error *error);
void bl_values_finish(struct bl_values *values);

#endif
