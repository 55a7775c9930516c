/* SPDX-License-Identifier: MIT */
/*
 * Series: what analysis works on. Two kinds only. Samples come from analog
 * logs; steps come from a bus, where a value holds until the next frame.
 */
#ifndef BRAKELAG_SERIES_H
#define BRAKELAG_SERIES_H

#include "brakelag/io.h"
#include "brakelag/j1939.h"
#include "brakelag/names.h"
#include "brakelag/pace.h"
#include "brakelag/status.h"

/* Samples in time order, canonical unit of their quantity. A NaN value is a
   missing cell. Between two parts, across a gap of more than 3 intervals,
   across damage or more than one and a half intervals of missing cells nothing
   may be interpolated. */
struct bl_samples {
    const int64_t *time_ns;
    const float *value;
    size_t count;
    int64_t interval_ns;      /* nominal: the median, missing cells left out */
    bool regular;             /* all intervals alike, but for rows that lack:
                                 rounding of the stamps is one and the same for
                                 all of them */
    double resolution;        /* smallest step of the values; 0: unknown */
    bool stair_steps;         /* values repeat: the true rate is lower */
    int64_t stair_ns;         /* with stair_steps: the true interval */
    bool is_switch;           /* values are 0 and 1 */
    const size_t *part_start; /* index of the first sample of each part */
    size_t parts;
    const struct bl_damage *damage; /* of the recording, in time order */
    size_t damages;
    const struct bl_time_places *times; /* of the recording; NULL: none */
};

/* A run of frames with one and the same value or state. */
struct bl_segment {
    int64_t
        before_ns; /* stamp of the frame before the first; INT64_MIN: none */
    int64_t first_ns, last_ns;
    int64_t longest_gap_ns; /* between its frames */
    uint64_t count;         /* frames */
    uint64_t raw;
    double value; /* NaN unless VALID */
    enum bl_value_state state;
    uint16_t part;
};

struct bl_steps {
    const struct bl_segment *segment;
    size_t count;
    int64_t interval_ns; /* median between frames; 0: fewer than two */
    double resolution;   /* value of one bit */
    uint64_t frames, not_valid;
    const struct bl_damage *damage; /* of the recording, in time order */
    size_t damages;
    const struct bl_time_places *times; /* of the recording; NULL: none */
};

#endif
