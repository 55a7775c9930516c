/* SPDX-License-Identifier: MIT */
/*
 * What one output did in one application: its rest, hold and peak, and the
 * times of its passages with their own uncertainty, still on the run's time
 * and not yet taken against the command.
 */
#ifndef BRAKELAG_SRC_LAG_OUTPUT_H
#define BRAKELAG_SRC_LAG_OUTPUT_H

#include "lag/command.h"
#include "lag/track.h"

/* A point in time; `part` without command and clock. */
struct bl_time_point {
    bool known;
    bool bounded; /* not known, but later than `ns` */
    enum bl_reason reason;
    int64_t ns;
    unsigned flags;
    struct bl_uncertainty part;
};

struct bl_output_lag {
    enum bl_answer responded;
    enum bl_reason reason; /* when responded is unknown */
    unsigned flags;
    struct bl_rest rest;
    bool hold_known;
    double hold, u_hold, peak;
    double least_height; /* above rest, that noise and resolution allow */
    enum bl_hold_from hold_from;
    uint64_t chatter;
    struct bl_time_point time[BL_FIGURES]; /* those of an output */
    struct bl_time_point *level;           /* one per level of the trial */
};

/* Where to look: the application, and where the next one begins. */
struct bl_window {
    const struct bl_command_event *event;
    int64_t from_ns, to_ns;
    bool next_follows; /* to_ns is set by a next application */
    const struct bl_command_event *before; /* NULL: the first */
};

/* What the applications before left of an output. */
struct bl_output_past {
    struct bl_rest rest; /* the latest quiet one; known = false at first */
    double vented;       /* the lowest; NaN: none yet */
    int64_t answered_ns; /* its response in the last one; INT64_MIN: none */
};

/* `lag->level` must have room for the trial's levels; `past` is brought up to
   date. */
void bl_output_measure(struct bl_output_lag *lag, const struct bl_track *track,
                       const struct bl_trial *trial,
                       const struct bl_window *window,
                       struct bl_output_past *past);
/* An output that nothing holds against the command in time: all is missing,
   with the reason. */
void bl_output_apart(struct bl_output_lag *lag, const struct bl_trial *trial,
                     enum bl_reason reason);

#endif
