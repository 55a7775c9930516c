/* SPDX-License-Identifier: MIT */
/*
 * The air of one combination in one application, for one set of values of
 * what is known of it. Inside of the study room.
 */
#ifndef BRAKELAG_SRC_STUDY_PREDICT_CHAIN_H
#define BRAKELAG_SRC_STUDY_PREDICT_CHAIN_H

#include <stddef.h>

#include "brakelag/status.h"
#include "physics/valve.h"

/* All lengths of time in seconds, pressures above rest in kPa. */
#define BL_CHAIN_STEP_S 0.002

struct bl_chain_unit {
    /* Control line from what feeds it to its valve. */
    double pipe_m, bore_mm, friction; /* factor of fittings; 0: 1 */
    double branch_cm3;                /* branches and end, at its valve */
    double coupling_c; /* dm3/(s bar) of its front coupling; 0: none */
    bool relays;       /* what is behind it is fed by a valve of its own */
    struct bl_relay relay, rear;
    double delay_s, travel_s;           /* of its brake valve */
    double rear_delay_s, rear_travel_s; /* of the valve that re-issues */
    double hose_s;                      /* from its relay valve to the brake */
    struct bl_restriction feed, vent, rear_feed;
    struct bl_chamber chamber;
    double reservoir_kpa, reservoir_cm3; /* 0: so large that it stays */
};

struct bl_chain {
    double wave_m_s;
    struct bl_restriction feed, vent; /* of the valve that is commanded */
    double source_delay_s;
    bool own_line; /* unit[0] hangs on the valve by a line of its own */
    const struct bl_chain_unit *unit; /* front to rear */
    size_t units;
};

/* What the commanded valve lets through, step by step. After `release` steps
   a run ends when all outputs are below quiet_kpa. */
struct bl_chain_drive {
    const double *kpa;
    size_t steps, release;
    double quiet_kpa;
};

/* Pressures step by step: output[u * steps + i] is what unit u has at its
   brakes; *done tells how many steps are filled. `control` is scratch of the
   same size as `output`. Errors: NOMEM, LIMIT. */
BL_MUST_CHECK enum bl_status bl_chain_run(const struct bl_chain *chain,
                                          const struct bl_chain_drive *drive,
                                          double *control, double *output,
                                          size_t *done, struct bl_error *error);

#endif
