/* SPDX-License-Identifier: MIT */
/* Names and bytes of the files that a simulation writes. */
#ifndef BRAKELAG_SRC_SIMULATE_FILES_H
#define BRAKELAG_SRC_SIMULATE_FILES_H

#include "brakelag/simulate.h"
#include "decoder/tables.h"
#include "simulate/scenario.h"

/* The words of `tables` in the trial file that is written: a table of one's own
   lies beside it. NULL: out of memory. */
BL_MUST_CHECK char *bl_sim_table_words(const struct bl_scenario *scenario);
/* Copies of one's own tables into the folder, unless they lie there already.
   `path` is that of the folder. */
BL_MUST_CHECK enum bl_status
bl_sim_copy_tables(const struct bl_scenario *scenario, struct bl_folder *folder,
                   const char *path, struct bl_error *error);
/* One gzip member without name and time, so that equal bytes stay equal. */
BL_MUST_CHECK enum bl_status bl_sim_gzip(struct bl_output *output,
                                         const void *data, size_t size,
                                         struct bl_error *error);

/* The files' contents, as bytes before any compression; each to an output
   that stays the caller's to commit. */
BL_MUST_CHECK enum bl_status
bl_simulation_trial(const struct bl_simulation *simulation,
                    struct bl_output *output, struct bl_error *error);
BL_MUST_CHECK enum bl_status
bl_simulation_truth(const struct bl_simulation *simulation,
                    struct bl_output *output, struct bl_error *error);
BL_MUST_CHECK enum bl_status
bl_simulation_log(const struct bl_simulation *simulation, size_t run,
                  struct bl_output *output, struct bl_error *error);
BL_MUST_CHECK enum bl_status
bl_simulation_capture(const struct bl_simulation *simulation, size_t run,
                      struct bl_output *output, struct bl_error *error);

#endif
