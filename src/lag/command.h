/* SPDX-License-Identifier: MIT */
/*
 * Applications as the command shows them: begin, hold, last fall, end.
 */
#ifndef BRAKELAG_SRC_LAG_COMMAND_H
#define BRAKELAG_SRC_LAG_COMMAND_H

#include "lag/track.h"

struct bl_command_event {
    bool begun_before, unfinished;
    enum bl_reason no_apply;   /* why `apply` is no date of command_at */
    enum bl_reason no_release; /* why `release`, though found, is no date */
    struct bl_passage apply, release;
    int64_t end_ns;         /* back at rest; or where the part ends */
    int64_t end_seen_ns;    /* stamp of the first value that shows it, or end_ns
                               where that is later */
    int64_t from_ns, to_ns; /* the part of the recording that it lies in */
    struct bl_rest rest;
    bool hold_known;
    double hold, u_hold, peak;
    enum bl_hold_from hold_from;
    double rise_10_90_s; /* NaN: not seen */
    unsigned modulations;
    unsigned flags;
};

struct bl_command_events {
    struct bl_command_event *item;
    size_t count, capacity;
    double deviation;     /* of the command's samples where it is quiet */
    enum bl_reason blind; /* BELOW_NOISE: command_at lies within that */
};

/* All applications of a command. `at` is in the track's unit above rest (not
   used for states). Errors: NOMEM, LIMIT. */
enum bl_status bl_command_find(struct bl_command_events *events,
                               const struct bl_track *command, double at,
                               struct bl_error *error);
void bl_command_events_finish(struct bl_command_events *events);

#endif
