/* SPDX-License-Identifier: MIT */
/*
 * The last descent of a command, docs/methods/figures.md, "hold". Where it
 * begins is a corner of the curve: of all places at or above half of the peak
 * the one furthest above the straight line from the peak to the end, then from
 * that corner on once more, until none is plain. An overshoot that decays keeps
 * near the line, and a descent straight from the peak begins at the peak.
 */
#include "lag/descent.h"
#include "lag/rules.h"

#include "signal/walk.h"

#include <math.h>

/* A corner is plain where it stands out by this share of the peak: a foot that
   eases leaves less, a partial release more (own choice). */
static const double PLAIN_OF_PEAK = 0.2;
enum {
    BLOCK_NS = 10000000, /* its middle value is one point of the curve */
    MOST_BLOCKS = 1024
};

/* The place furthest above the line from (from_ns, from_kpa above rest) to the
   end; *height is what it holds there. */
static int64_t corner(const struct bl_command_event *e,
                      const struct bl_track *track, int64_t from_ns,
                      double least, double *height, double *most)
{
    const int64_t length = e->end_ns - from_ns;
    const int64_t step = length / MOST_BLOCKS + BLOCK_NS;
    const double from = *height;
    int64_t at_ns = from_ns;
    *most = 0;
    for (int64_t t = from_ns; t < e->end_ns; t += step) {
        const struct bl_extent at = bl_track_extent(track, t, t + step);
        const double height_here = at.median - e->rest.value;
        const double line = from * (1 - (double)(t - from_ns) / (double)length);
        if (at.known && height_here >= least && height_here - line > *most) {
            *most = height_here - line;
            *height = height_here;
            at_ns = t;
        }
    }
    return at_ns;
}

/* Corners in turn, from the peak on: what was held before an earlier, partial
   fall is not what it was let go from. */
static int64_t descent_from(const struct bl_command_event *e,
                            const struct bl_track *track,
                            const struct bl_extent *all, double noise)
{
    const double peak = all->largest - e->rest.value;
    const double plain = fmax(BL_CLEAR_OF_NOISE * noise, PLAIN_OF_PEAK * peak);
    struct bl_walk walk = {all->largest_ns, e->end_ns};
    double height = peak;
    double most = 0;
    bool any = false;
    while (walk.at_ns < walk.end_ns) {
        const int64_t at =
            corner(e, track, walk.at_ns, peak / 2, &height, &most);
        if (most <= plain || at <= walk.at_ns) {
            break;
        }
        any = true;
        bl_walk_on(&walk, at);
    }
    /* Cut by the end of the recording, it need not have been let go. */
    return e->unfinished && !any ? e->end_ns : walk.at_ns;
}

/* Is this what it was when it was let go? A share of one tenth of a hold is
   what counts as a fall. */
static bool was_let_go_from(double value, const struct bl_command_event *e,
                            const struct bl_extent *last)
{
    return !last->known || fabs(last->median - value) <=
                               BL_LET_GO_WITHIN * fabs(value - e->rest.value);
}

/* The latest settled stretch that the command was let go from. */
static bool settled_before(struct bl_command_event *e,
                           const struct bl_track *track, int64_t from_ns,
                           int64_t fall_ns, const struct bl_extent *last,
                           double noise)
{
    struct bl_walk walk = {bl_track_raw(track, from_ns),
                           bl_track_raw(track, fall_ns)};
    while (walk.at_ns < walk.end_ns) {
        const struct bl_hold settled = bl_hold_settled(
            track->samples, walk.at_ns, walk.end_ns, e->rest.value, noise);
        if (!settled.settled) {
            return false;
        }
        if (was_let_go_from(settled.value, e, last)) {
            e->hold = settled.value;
            e->u_hold = settled.u;
            e->hold_from = BL_HOLD_SETTLED;
            return true;
        }
        bl_walk_on(&walk, settled.to_ns);
    }
    return false;
}

/* The last stretch without what still belongs to the rise. */
static struct bl_extent without_rise(const struct bl_command_event *e,
                                     const struct bl_track *track,
                                     int64_t from_ns, int64_t fall_ns,
                                     double noise)
{
    const struct bl_extent end = bl_track_extent(
        track, fall_ns - BL_LAST_NS / 4, fall_ns + BLOCK_NS / 2);
    const double level =
        e->rest.value + BL_SHARE_HIGH * (end.median - e->rest.value);
    const struct bl_passage rise = bl_track_passage(
        track, BL_UPWARDS, from_ns, fall_ns,
        &(const struct bl_level_passed){level, noise, 0}, BL_HELD_COMMAND);
    return bl_track_extent(track,
                           end.known && rise.found ? rise.seen_ns : from_ns,
                           fall_ns + BLOCK_NS / 2);
}

void bl_descent_hold(struct bl_command_event *e, const struct bl_track *track,
                     const struct bl_extent *all, int64_t from_ns, double noise)
{
    const int64_t fall = descent_from(e, track, all, noise);
    const int64_t last_from =
        fall - BL_LAST_NS > from_ns ? fall - BL_LAST_NS : from_ns;
    struct bl_extent last = bl_track_extent(track, last_from, fall);
    if (settled_before(e, track, from_ns, fall, &last, noise)) {
        return;
    }
    e->flags |= BL_FLAG_NOT_SETTLED;
    last = without_rise(e, track, last_from, fall, noise);
    if (last.known && last.count >= BL_LEAST_SAMPLES) {
        e->hold = last.median;
        e->u_hold = (last.largest - last.smallest) / sqrt(12);
        e->hold_from = BL_HOLD_LAST;
        return;
    }
    e->hold = e->peak;
    e->u_hold = noise;
    e->hold_from = BL_HOLD_PEAK;
}
