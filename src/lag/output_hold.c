/* SPDX-License-Identifier: MIT */
/*
 * What an output held in an application, and how well that is known: method and
 * definition in docs/methods/figures.md, "Hold".
 */
#include "lag/output_own.h"

#include "lag/doubt.h"
#include "lag/rules.h"
#include "signal/walk.h"

#include <math.h>

/* The output's recording, or the application's, ends before the release. */
bool bl_output_is_cut(const struct reading *r)
{
    return !r->window->event->release.found ||
           r->track->last_ns < r->release_ns;
}

/* What was there when the command let go, or when the recording ended. */
static struct bl_extent last_stretch(const struct reading *r)
{
    const int64_t to =
        r->track->last_ns < r->release_ns ? r->track->last_ns : r->release_ns;
    const int64_t from =
        to - BL_LAST_NS > r->begin_ns ? to - BL_LAST_NS : r->begin_ns;
    return bl_track_extent(r->track, from, to + 1);
}

/* The hold that did not settle. */
static void hold_from_last(struct reading *r, const struct bl_extent *all,
                           const struct bl_extent *last)
{
    struct bl_output_lag *lag = r->lag;
    lag->flags |= BL_FLAG_NOT_SETTLED;
    r->no_share =
        bl_output_is_cut(r) ? BL_REASON_UNFINISHED : BL_REASON_HOLD_LONGER;
    if (last->known && last->count >= BL_LEAST_SAMPLES) {
        lag->hold = last->median;
        lag->u_hold = (last->largest - last->smallest) / sqrt(12);
        lag->hold_from = BL_HOLD_LAST;
        return;
    }
    lag->hold = all->largest;
    lag->u_hold = lag->rest.noise;
    lag->hold_from = BL_HOLD_PEAK;
}

/* The hold was read from `from` to `to`. Where rows are missing between it and
   the rise, or it and the fall, it may be that of another application. */
static void doubt_hold(struct reading *r, int64_t from_ns, int64_t to_ns)
{
    const unsigned flag = BL_FLAG_NEAR_DAMAGE;
    r->apply_doubt = bl_doubt_hides(r->track, r->begin_ns, from_ns) ? flag : 0;
    r->release_doubt =
        bl_doubt_hides(r->track, to_ns, r->release_ns) ? flag : 0;
}

/* A quiet stretch before the rise is no hold, and one that was left again
   before the command let go is not what the output was let go from. */
static bool is_hold(const struct reading *r, const struct bl_hold *settled,
                    const struct bl_extent *all, const struct bl_extent *last)
{
    const double rest = r->lag->rest.value;
    const double height = settled->value - rest;
    return height > fmax(BL_HOLD_OF_PEAK * (all->largest - rest),
                         r->trial->response_at_kpa / 2) &&
           (!last->known || fabs(last->median - settled->value) <=
                                fmax(BL_LET_GO_WITHIN * height,
                                     BL_CLEAR_OF_NOISE * r->lag->rest.noise));
}

static bool settled_hold(struct reading *r, const struct bl_extent *all,
                         const struct bl_extent *last)
{
    struct bl_output_lag *lag = r->lag;
    struct bl_walk walk = {bl_track_raw(r->track, r->begin_ns),
                           bl_track_raw(r->track, r->release_ns)};
    while (walk.at_ns < walk.end_ns) {
        const struct bl_hold settled =
            bl_hold_settled(r->track->samples, walk.at_ns, walk.end_ns,
                            lag->rest.value, lag->rest.noise);
        if (!settled.settled) {
            return false;
        }
        if (is_hold(r, &settled, all, last)) {
            lag->hold = settled.value;
            lag->u_hold = settled.u;
            lag->hold_from = BL_HOLD_SETTLED;
            doubt_hold(r, bl_track_run(r->track, settled.from_ns),
                       bl_track_run(r->track, settled.to_ns));
            return true;
        }
        bl_walk_on(&walk, settled.to_ns);
    }
    return false;
}

/* A held value: the one in force when the command lets go, settled if it stood
   for half a second within two bits or 1 %. */
static void held_hold(struct reading *r, const struct bl_extent *all)
{
    struct bl_output_lag *lag = r->lag;
    const struct bl_steps *steps = r->track->steps;
    const struct bl_segment *at =
        bl_steps_at(steps, bl_track_raw(r->track, r->release_ns));
    const bool valid = at != NULL && at->state == BL_VALUE_VALID;
    lag->hold = valid ? at->value : all->largest;
    lag->u_hold = steps->resolution / sqrt(12);
    lag->hold_from = valid ? BL_HOLD_LAST : BL_HOLD_PEAK;
    const struct bl_extent stood = bl_track_extent(
        r->track, r->release_ns - BL_LEAD_NS, r->release_ns + 1);
    if (!stood.known || bl_output_is_cut(r) ||
        stood.largest - stood.smallest >
            fmax(2 * steps->resolution,
                 BL_STOOD_WITHIN * fabs(lag->hold - lag->rest.value))) {
        lag->flags |= BL_FLAG_NOT_SETTLED;
        r->no_share =
            bl_output_is_cut(r) ? BL_REASON_UNFINISHED : BL_REASON_HOLD_LONGER;
    }
}

void bl_output_hold(struct reading *r)
{
    struct bl_output_lag *lag = r->lag;
    const struct bl_extent all =
        bl_track_extent(r->track, r->begin_ns, r->to_ns);
    lag->peak = all.known ? all.largest : NAN;
    lag->hold_known = all.known;
    if (!all.known) {
        return;
    }
    if (r->track->samples == NULL) {
        held_hold(r, &all);
        return;
    }
    const struct bl_extent last = last_stretch(r);
    if (!settled_hold(r, &all, &last)) {
        doubt_hold(r, r->release_ns, r->begin_ns);
        hold_from_last(r, &all, &last);
        const struct bl_extent late = bl_track_extent(
            r->track, r->release_ns - BL_LAST_NS / 2, r->release_ns + 1);
        r->still_rising = last.known && late.known && late.median > last.median;
    }
}
