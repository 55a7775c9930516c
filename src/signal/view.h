/* SPDX-License-Identifier: MIT */
/* A window of a series seen so that a passage through a level rises: what the
   ways of reading a passage share. Not for other rooms. */
#ifndef BRAKELAG_SRC_SIGNAL_VIEW_H
#define BRAKELAG_SRC_SIGNAL_VIEW_H

#include "signal/internal.h"

#include <math.h>

/* A window of the series, mirrored so that the passage rises. */
struct bl_view {
    const struct bl_samples *samples;
    size_t first, end;
    double sign;   /* of the values */
    bool backward; /* of time */
    double level;  /* times sign */
    double noise, band;
};

struct bl_view_pair {
    bool found;
    size_t before, after; /* positions in the view */
};

static inline size_t bl_view_count(const struct bl_view *view)
{
    return view->end > view->first ? view->end - view->first : 0;
}

static inline size_t bl_view_index(const struct bl_view *view, size_t position)
{
    return view->backward ? view->end - 1 - position : view->first + position;
}

static inline double bl_view_height(const struct bl_view *view, size_t position)
{
    return view->sign *
               (double)view->samples->value[bl_view_index(view, position)] -
           view->level;
}

/* Seconds from `origin` in the view's direction of time. */
static inline double bl_view_moment(const struct bl_view *view, size_t position,
                                    int64_t origin)
{
    const int64_t ns =
        view->samples->time_ns[bl_view_index(view, position)] - origin;
    return (view->backward ? -1e-9 : 1e-9) * (double)ns;
}

static inline bool bl_view_one_part(const struct bl_view *view, size_t a,
                                    size_t b)
{
    return bl_signal_part(view->samples, bl_view_index(view, a)) ==
           bl_signal_part(view->samples, bl_view_index(view, b));
}

static inline bool bl_view_gap(const struct bl_view *view, size_t a, size_t b)
{
    const size_t i = bl_view_index(view, a);
    const size_t j = bl_view_index(view, b);
    return bl_signal_gap(view->samples, i < j ? i : j, i < j ? j : i);
}

/* Above and below a level: what is further from it is not there by noise. */
static inline double bl_view_clearance(const struct bl_view *view)
{
    return fmax(4 * view->noise, 1.5 * view->samples->resolution);
}

/* Where the true curve passes the level, beside the chord between two samples;
   in shares of the chord's duration. */
struct bl_chord {
    double later; /* the middle of where it may pass */
    double u;
};

/* `step` is how far the pair climbs, `share` where the chord passes the level.
 */
struct bl_chord bl_chord_beside(const struct bl_view *view,
                                const struct bl_view_pair *pair, double step,
                                double share);

/* The moments between which no mean of up to eight samples is clear of the
   level, in seconds from an origin. */
struct bl_stretch {
    bool found;
    bool shelf; /* the signal climbs faster on both sides of it */
    double from_s, to_s;
};

/* `clear`: samples on both sides that are clear of the level. */
struct bl_stretch bl_stretch_at(const struct bl_view *view,
                                const struct bl_view_pair *clear,
                                int64_t origin);

/* Where the written value lies within half a step of the level, in seconds from
   an origin: coarse.c. */
struct bl_coarse {
    bool found; /* it holds enough samples to go by */
    size_t samples;
    double from_s, to_s;
    double share; /* of it, that a steady climb takes to the level */
    double slope; /* over one or two of the log's values; may be infinite */
};

struct bl_coarse bl_coarse_room(const struct bl_view *view,
                                const struct bl_view_pair *pair,
                                int64_t origin);

/* A passage by a parabola through the samples near it: local.c. */
enum { BL_LOCAL_FIT_LEAST = 5 };
struct bl_local_fit {
    double at_s; /* of the passage, from the origin */
    double slope, sigma, unit_error;
    double half_s;     /* of its window */
    double mean_slope; /* over the window; slope is the one at the level */
    bool straight;     /* what is left over agrees with the noise */
    double points;
};

/* One fit to the samples within half_s of centre_s, both in seconds from
   `origin`; `near` is the position of a sample of that part. */
bool bl_local_fit_near(const struct bl_view *view, size_t near, int64_t origin,
                       double centre_s, double half_s,
                       struct bl_local_fit *out);
/* Fits in turn, from the window low_s..high_s on; false: none was found. */
bool bl_local_fit_settle(const struct bl_view *view, size_t near,
                         int64_t origin, double low_s, double high_s,
                         struct bl_local_fit *out);
/* Widens unit_error by what other windows say. */
void bl_local_fit_heed_others(const struct bl_view *view, size_t near,
                              int64_t origin, struct bl_local_fit *fit);

#endif
