/* SPDX-License-Identifier: MIT */
/* The run as unit of inference: means of runs, blocks, scatter, how many
   more. */
#ifndef BRAKELAG_SRC_STUDY_COMPARE_MEANS_H
#define BRAKELAG_SRC_STUDY_COMPARE_MEANS_H

#include "study/compare/values.h"

/* Three runs a side give two degrees of freedom on each: with two the factor
   of Student is 12.7 and says nothing (own choice). */
enum { BL_RUNS_LEAST = 3 };

/* Values of one side by run, in the order of the trial. */
struct bl_run_means {
    double *mean;
    size_t *run;
    size_t *size; /* values of each */
    size_t count;
    double *value; /* all values, run by run */
    size_t values;
};
enum bl_status bl_run_means_find(struct bl_run_means *means,
                                 const struct bl_values *values,
                                 struct bl_error *error);
void bl_run_means_finish(struct bl_run_means *means);

/* Differences against - base of the blocks that have both, each between the
   means of its runs. `run` takes a run of each. */
enum bl_status bl_block_differences(struct bl_run_means *out,
                                    const struct bl_trial *trial,
                                    const struct bl_run_means *base,
                                    const struct bl_run_means *against,
                                    struct bl_error *error);
/* Of two units within each run, over the applications that both gave. */
enum bl_status bl_run_differences(struct bl_run_means *out,
                                  const struct bl_values *base,
                                  const struct bl_values *against,
                                  struct bl_error *error);

/* How much of the difference the command may still be, either way: the
   rectangle that u_command_s is of. */
double bl_command_half_width(const struct bl_comparison_row *row);

/* Mean of the means. NaN of none. */
double bl_mean_of_means(const struct bl_run_means *means);
enum bl_status bl_scatter_of(struct bl_variance *out,
                             const struct bl_run_means *means,
                             struct bl_error *error);

/* How many runs give the row's aim, from its components of variance; `fixed_s`
   and what the command may be do not average out. Sets row->aim.runs and
   applications. */
void bl_compare_aim(struct bl_comparison_row *row, double fixed_s);

#endif
