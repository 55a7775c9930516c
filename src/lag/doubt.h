/* SPDX-License-Identifier: MIT */
/*
 * What places of damage in time do to figures (docs/methods/time.md). A
 * duration across such a place may be wrong by all that the place is off.
 */
#ifndef BRAKELAG_SRC_LAG_DOUBT_H
#define BRAKELAG_SRC_LAG_DOUBT_H

#include "lag/track.h"

struct bl_doubt {
    unsigned flags; /* NEAR_DAMAGE or 0 */
    double u_s;     /* standard; 0 */
};

/* From stamps of the track's recording between two times, run time. */
struct bl_doubt bl_doubt_between(const struct bl_track *track, int64_t a_ns,
                                 int64_t b_ns);
/* The same, of a time on one track against a time on another: stamps of both
   recordings, and of what lies between them and the pairs that tie their
   clocks. */
struct bl_doubt bl_doubt_of(const struct bl_track *a, const struct bl_track *b,
                            int64_t a_ns, int64_t b_ns);
/* Is there a place between that could hide a release and an application? */
bool bl_doubt_hides(const struct bl_track *track, int64_t a_ns, int64_t b_ns);
/* Such a place can be off by so much at least. */
extern const int64_t bl_doubt_hiding_ns;
/* Take a doubt into a figure that is given. */
void bl_doubt_put(struct bl_figure *figure, const struct bl_doubt *doubt);

#endif
