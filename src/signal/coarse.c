/* SPDX-License-Identifier: MIT */
/*
 * Passages in a log whose step is larger than its noise. Such a log shows the
 * same value for a while, and nothing between two of its values: the pressure
 * may have passed a level at any moment at which the written value lies within
 * half a step of it. That is the room of the passage. A little noise makes the
 * value flicker at both ends of it, so that these are counted, not looked up:
 * the samples of the lower value that lie among the others belong before.
 */
#include "signal/view.h"

/* The rest of a step is rounding of the numbers themselves. */
static const double EXACT = 1 - 1e-3;
/* Of so few samples between its ends a slope is better taken from the two
   around the passage (own choice, tests/unit/signal/coarse_test.c). */
enum { FEW = 2, QUIET_LEAST = 3 };

/* Positions in the view, flicker included: the first sample lies below the
   room, the last one above. */
struct span {
    bool found;
    size_t from, to;
};

/* Is there a next sample to go on to from `at`? */
static bool next_is(const struct bl_view *view, size_t at, bool later,
                    size_t *next)
{
    if (later ? at + 1 >= bl_view_count(view) : at == 0) {
        return false;
    }
    *next = later ? at + 1 : at - 1;
    return bl_view_one_part(view, at, *next) && !bl_view_gap(view, at, *next) &&
           !isnan(bl_view_height(view, *next));
}

/* How far a sample lies beyond the level on its side of the room. */
static double beyond(const struct bl_view *view, size_t at, bool later)
{
    return (later ? 1 : -1) * bl_view_height(view, at);
}

/* The first sample from `at` on that is beyond the level by `height`. */
static bool leave(const struct bl_view *view, size_t *at, bool later,
                  double height)
{
    while (!(beyond(view, *at, later) >= height)) {
        if (beyond(view, *at, later) < -height - view->band ||
            !next_is(view, *at, later, at)) {
            return false;
        }
    }
    return true;
}

/* The last such sample, before which some are not beyond: then `quiet` of them
   follow in a row. What is far on the other side is no flicker. */
static size_t behind_flicker(const struct bl_view *view, size_t at, bool later,
                             double height, size_t quiet)
{
    size_t edge = at;
    bool flickers = false;
    size_t in_a_row = 0;
    while (in_a_row < quiet && next_is(view, at, later, &at)) {
        const double h = beyond(view, at, later);
        if (h < -height - view->band) {
            break;
        }
        if (h < height) {
            flickers = true;
            in_a_row = 0;
            continue;
        }
        edge = flickers ? at : edge;
        flickers = false;
        in_a_row++;
    }
    return edge;
}

/* Around the samples that lie within `height` of the level. */
static struct span span_around(const struct bl_view *view,
                               const struct bl_view_pair *pair, double height)
{
    struct span span = {.from = pair->before, .to = pair->after};
    if (!leave(view, &span.from, false, height) ||
        !leave(view, &span.to, true, height)) {
        return span;
    }
    const size_t length = span.to - span.from;
    const size_t quiet = length < QUIET_LEAST ? QUIET_LEAST : length;
    span.from = behind_flicker(view, span.from, false, height, quiet);
    span.to = behind_flicker(view, span.to, true, height, quiet);
    span.found = true;
    return span;
}

/* Between the sample before `at` and that at `at`. */
static double edge_s(const struct bl_view *view, size_t at, int64_t origin)
{
    return (bl_view_moment(view, at - 1, origin) +
            bl_view_moment(view, at, origin)) /
           2;
}

/* The two ends; returns how many samples lie between them. */
static size_t ends(const struct bl_view *view, const struct span *span,
                   double height, int64_t origin, double end_s[2])
{
    size_t low = 0;
    size_t high = 0;
    for (size_t i = span->from; i <= span->to; i++) {
        low += bl_view_height(view, i) <= -height;
        high += bl_view_height(view, i) >= height;
    }
    end_s[0] = edge_s(view, span->from + low, origin);
    end_s[1] = edge_s(view, span->to + 1 - high, origin);
    return span->to + 1 - span->from - low - high;
}

struct bl_coarse bl_coarse_room(const struct bl_view *view,
                                const struct bl_view_pair *pair, int64_t origin)
{
    struct bl_coarse room = {.slope = INFINITY};
    const double step = view->samples->resolution;
    const double after = bl_view_height(view, pair->after);
    /* Of the value next to the level. */
    const double height = after - step * round(after / step);
    const struct span one = span_around(view, pair, EXACT * step / 2);
    if (!one.found) {
        return room;
    }
    double end_s[2];
    room.samples = ends(view, &one, EXACT * step / 2, origin, end_s);
    room.from_s = end_s[0];
    room.to_s = end_s[1];
    room.share = 0.5 - height / step;
    room.found = room.samples >= FEW;
    if (room.found) {
        room.slope = step / (end_s[1] - end_s[0]);
        return room;
    }
    /* Where the level lies near the border of two values, the room is short
       whatever the slope is: that is taken over both. A sample or two may lie
       in a fast rise by chance. */
    const struct span two = span_around(view, pair, EXACT * step);
    if (two.found &&
        ends(view, &two, EXACT * step, origin, end_s) > (size_t)2 * FEW) {
        const double values = fabs(height) < (1 - EXACT) * step ? 1 : 2;
        room.slope = values * step / (end_s[1] - end_s[0]);
        room.found = true;
    }
    return room;
}
