/* SPDX-License-Identifier: MIT */
/* What a simulation owns: the runs as they are handed out. */
#ifndef BRAKELAG_SRC_SIMULATE_RESULT_H
#define BRAKELAG_SRC_SIMULATE_RESULT_H

#include "simulate/world.h"

enum sim_channel_kind {
    CHANNEL_TREADLE,
    CHANNEL_PEDAL,
    CHANNEL_CONTROL,
    CHANNEL_OUTPUT,
    CHANNEL_RESERVOIR,
    CHANNEL_VOLTAGE,
    CHANNEL_KINDS
};
/* Does the scenario record it, and under what name? */
bool bl_sim_channel(const struct bl_scenario *scenario,
                    enum sim_channel_kind kind, size_t unit, char name[32]);

struct sim_result {
    struct bl_simulated_run shown;
    struct bl_frame *frame;
    int64_t *row_ns;
    struct bl_simulated_column *column;
    const char **bus;
    struct bl_true_application *application;
    size_t application_capacity;
};
struct bl_simulation {
    const struct bl_scenario *scenario;
    struct sim_result *run;
    size_t runs;
};

/* True time to raw stamps; truth is given on the log's clock. */
int64_t bl_sim_log_stamp(const struct bl_scenario *s, size_t run,
                         double time_s);
int64_t bl_sim_capture_stamp(const struct bl_scenario *s, size_t run,
                             double time_s);
double bl_sim_log_scale(const struct bl_scenario *s);

BL_MUST_CHECK enum bl_status bl_sim_record_bus(struct sim_result *result,
                                               struct sim_world *world,
                                               struct bl_error *error);
BL_MUST_CHECK enum bl_status bl_sim_record_log(struct sim_result *result,
                                               const struct sim_world *world,
                                               struct bl_error *error);
BL_MUST_CHECK enum bl_status bl_sim_truth(struct sim_result *result,
                                          const struct sim_world *world,
                                          struct bl_error *error);
#endif
