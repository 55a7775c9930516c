/* SPDX-License-Identifier: MIT */
/*
 * One run while it is simulated, in true time: seconds from the run's start,
 * traces at equal steps. Only at the end do recorders' clocks come in.
 */
#ifndef BRAKELAG_SRC_SIMULATE_WORLD_H
#define BRAKELAG_SRC_SIMULATE_WORLD_H

#include "base/random.h"
#include "simulate/scenario.h"

/* A planned application: when the pedal moves. */
struct sim_press {
    const struct sim_profile *profile;
    double from_s, hold_from_s, hold_to_s, to_s, end_s;
};

struct sim_unit_traces {
    double *control, *control_out, *output, *reservoir, *demand;
    bool electronic; /* the unit follows the demand in this run */
};

struct sim_trace_frame {
    struct bl_frame frame; /* time_ns: true time from the run's start */
    double demand_kpa;     /* NaN: carries no demand */
    size_t order;
};

struct sim_world {
    const struct bl_scenario *scenario;
    size_t run;
    double duration_s;
    size_t count; /* samples of every trace */
    struct sim_press *press;
    size_t presses;
    double *treadle;
    struct sim_unit_traces *unit; /* as the scenario's */
    const char **bus;
    size_t buses;
    struct sim_trace_frame *frame;
    size_t frames, frame_capacity;
};

/* A stream of random numbers of its own for each purpose, so that one more
   channel does not change another's noise. */
enum sim_stream {
    STREAM_SENSOR = 1,
    STREAM_NOISE = 2,
    STREAM_FRAMES = 3,
    STREAM_PEDAL = 4
};
void bl_sim_random(struct bl_random *random, const struct bl_scenario *s,
                   size_t run, enum sim_stream stream, size_t index);

/* Between samples by a straight line; the ends hold. */
double bl_sim_trace(const struct sim_world *world, const double *trace,
                    double time_s);
/* kPa that the pedal asks for at the treadle valve or its sensor. */
double bl_sim_pedal_kpa(const struct sim_world *world, double time_s);
bool bl_sim_pedal_touched(const struct sim_world *world, double time_s);
double bl_sim_unit_voltage(const struct sim_world *world, size_t unit,
                           double time_s);

/* In this order. Errors: NOMEM, LIMIT, TRIAL. */
BL_MUST_CHECK enum bl_status bl_sim_plan(struct sim_world *world,
                                         struct bl_error *error);
BL_MUST_CHECK enum bl_status bl_sim_demand(struct sim_world *world,
                                           struct bl_error *error);
BL_MUST_CHECK enum bl_status bl_sim_air(struct sim_world *world,
                                        struct bl_error *error);
BL_MUST_CHECK enum bl_status bl_sim_messages(struct sim_world *world,
                                             struct bl_error *error);
void bl_sim_world_finish(struct sim_world *world);

#endif
