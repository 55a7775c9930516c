/* SPDX-License-Identifier: MIT */
/*
 * Where a search along time goes on. A passage may be dated before the place
 * where the search for it began, because it is fitted to samples on both sides.
 * A search that went on from such a date would find it again, for ever. So a
 * search goes on from the sample that showed the passage, and by a nanosecond
 * at least: between two steps without a new sample there is none, and it ends.
 */
#ifndef BRAKELAG_SRC_SIGNAL_WALK_H
#define BRAKELAG_SRC_SIGNAL_WALK_H

#include <stdbool.h>
#include <stdint.h>

struct bl_walk {
    int64_t at_ns, end_ns;
};

/* On from what was found, `seen_ns` of a passage or an edge. False: the end of
   the window is reached, nothing can follow. */
static inline bool bl_walk_on(struct bl_walk *walk, int64_t seen_ns)
{
    if (walk->at_ns >= walk->end_ns) {
        return false;
    }
    walk->at_ns = seen_ns > walk->at_ns ? seen_ns : walk->at_ns + 1;
    return walk->at_ns < walk->end_ns;
}

#endif
