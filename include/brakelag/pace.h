/* SPDX-License-Identifier: MIT */
/*
 * Places where the stamps of a recording are not to be relied on: every
 * recorder has a pace, and leaves it where rows are missing, its clock jumps,
 * stands still or steps back (docs/methods/time.md).
 */
#ifndef BRAKELAG_PACE_H
#define BRAKELAG_PACE_H

#include <stddef.h>
#include <stdint.h>

#include "brakelag/status.h"

/* What is wrong with the stamps of a recording at a place. */
enum bl_time_kind {
    BL_TIME_LONG,   /* further apart than usual: something is missing, or the
                       recorder's clock jumped forward */
    BL_TIME_CLOSE,  /* closer than usual, or one and the same: the clock stood
                       still or stepped back a little */
    BL_TIME_SORTED, /* they stepped back by little; what followed was sorted in
                     */
    BL_TIME_BACK    /* they jumped back by more: a new part begins */
};
/* One such place. Nobody can tell from stamps alone whether the time between
   passed or the clock jumped: a duration across it may be wrong by `off_ns`. */
struct bl_time_place {
    int64_t from_ns, until_ns; /* stamps around it; of BACK, `until_ns` is the
                                  first of the next part */
    int64_t off_ns;            /* not negative */
    int64_t step_ns;           /* by how much its stamps went on more than the
                                  rows there account for; may be negative */
    int64_t moved_ns;          /* so much of that nothing near by undoes: the
                                  clock may have moved for good; not negative */
    int64_t reach_ns;          /* latest until_ns so far in the list */
    uint64_t rows;             /* rows or frames with such a stamp */
    uint16_t part;
    enum bl_time_kind kind;
};
/* All of a recording, in time order (docs/methods/time.md). What a recording
   does throughout is its habit and no place. */
struct bl_time_places {
    struct bl_time_place *place;
    size_t places, capacity;
    uint64_t more; /* found, not kept: the last one reaches over them */
    int64_t interval_ns, jitter_ns; /* usual interval and robust scatter; 0: not
                                       known */
};
/* Static text. */
BL_API const char *bl_time_kind_name(enum bl_time_kind kind);

#endif
