/* SPDX-License-Identifier: MIT */
/* What beats.c collects and beats_vote.c decides on. */
#ifndef BRAKELAG_SRC_BUS_BEATS_OWN_H
#define BRAKELAG_SRC_BUS_BEATS_OWN_H

#include "bus/beats.h"

/* A frame waits for another that is being sent: 160 bits, 131 of a 29-bit
   identifier with 8 bytes (CAN arithmetic) and stuff bits, at 250 kbit/s. */
#define BL_BEAT_WAIT_NS INT64_C(640000)
enum state { AS_USUAL, WAS_LONG, WAS_CLOSE };

struct bl_beat {
    int64_t *learn; /* stamps, until LEARN intervals are there */
    uint32_t learned, learn_capacity, attempts;
    uint16_t part;
    bool cyclic;
    enum state state;
    int64_t interval_ns, scatter_ns, tolerance_ns;
    int64_t debt_ns;           /* what the last long interval was over */
    size_t member;             /* of the present long or close one, plus one */
    int64_t first_ns, last_ns; /* judged from, seen until */
    uint64_t odd;
};

struct bl_beat_group {
    int64_t from_ns, until_ns;
    uint32_t members;
    uint16_t part;
    bool close;
};

struct bl_beat_member {
    int64_t off_ns;
    uint32_t group, id;
    uint32_t rows;
    bool undone;     /* what came late was followed by what came in time */
    bool impossible; /* faster than any bus could carry it */
};

static inline int64_t bl_beat_later(int64_t a, int64_t b)
{
    return a > b ? a : b;
}

/* How far two intervals of a step of the clock may lie apart. */
static inline int64_t bl_beat_agreement(const struct bl_beats *beats,
                                        const struct bl_beat *b)
{
    return bl_beat_later(
        b->scatter_ns + b->scatter_ns / 2,
        bl_beat_later(BL_BEAT_WAIT_NS, 2 * beats->resolution_ns));
}

static inline bool bl_beat_is_habit(const struct bl_beat *b)
{
    const int64_t intervals = (b->last_ns - b->first_ns) / b->interval_ns;
    return b->odd >= BL_BEAT_HABIT_LEAST &&
           (int64_t)(b->odd * BL_BEAT_HABIT_INTERVALS) >= intervals;
}

#endif
