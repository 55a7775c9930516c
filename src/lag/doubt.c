/* SPDX-License-Identifier: MIT */
#include "lag/doubt.h"

#include "lag/budget.h"

#include <math.h>

/* An application needs as long at least to fall and to rise again. */
const int64_t bl_doubt_hiding_ns = 200000000;
/* A passage is read from so many samples to either side. */
enum { SAMPLES_BESIDE = 3 };

static const struct bl_time_places *places_of(const struct bl_track *track)
{
    if (!track->present) {
        return NULL;
    }
    return track->samples != NULL ? track->samples->times : track->steps->times;
}

/* The first place that may reach beyond a time. */
static size_t first_at(const struct bl_time_places *times, int64_t time_ns)
{
    size_t low = 0;
    size_t high = times->places;
    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        if (times->place[middle].reach_ns < time_ns) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    return low;
}

/* Sum of what the places between two raw stamps are off, s; those of at least
   `least_ns` count. */
static double off_between(const struct bl_time_places *times, int64_t from_ns,
                          int64_t until_ns, int64_t least_ns)
{
    double off_s = 0;
    for (size_t i = first_at(times, from_ns);
         i < times->places && times->place[i].from_ns <= until_ns; i++) {
        const struct bl_time_place *p = &times->place[i];
        if (p->until_ns >= from_ns && p->off_ns >= least_ns) {
            off_s += (double)p->off_ns * 1e-9;
        }
    }
    return off_s;
}

/* A true value lies anywhere within what the places are off: half-width of an
   even distribution (GUM 4.3.7), so that k = 2 covers all of it. */
static struct bl_doubt from_off(double off_s)
{
    return (struct bl_doubt){.flags =
                                 off_s > 0 ? (unsigned)BL_FLAG_NEAR_DAMAGE : 0,
                             .u_s = off_s / sqrt(3)};
}

struct bl_doubt bl_doubt_between(const struct bl_track *track, int64_t a_ns,
                                 int64_t b_ns)
{
    const struct bl_time_places *times = places_of(track);
    if (times == NULL || times->places == 0) {
        return from_off(0);
    }
    /* A bus value is held from its frame to the next. */
    const int64_t beside_ns = track->samples != NULL
                                  ? SAMPLES_BESIDE * times->interval_ns
                                  : track->steps->interval_ns;
    const int64_t a = bl_track_raw(track, a_ns);
    const int64_t b = bl_track_raw(track, b_ns);
    return from_off(off_between(times, (a < b ? a : b) - beside_ns,
                                (a < b ? b : a) + beside_ns, 0));
}

bool bl_doubt_hides(const struct bl_track *track, int64_t a_ns, int64_t b_ns)
{
    const struct bl_time_places *times = places_of(track);
    return times != NULL && times->places > 0 &&
           off_between(times, bl_track_raw(track, a_ns),
                       bl_track_raw(track, b_ns), bl_doubt_hiding_ns) > 0;
}

/* By how much places between two times may have moved the clock of a track for
   good, s. What was written late, or wrong and then right again, or left out
   and counted, moved nothing. */
static double moved_between(const struct bl_track *track, int64_t a_ns,
                            int64_t b_ns)
{
    const struct bl_time_places *times = places_of(track);
    if (times == NULL || times->places == 0) {
        return 0;
    }
    const int64_t a = bl_track_raw(track, a_ns);
    const int64_t b = bl_track_raw(track, b_ns);
    const int64_t from_ns = (a < b ? a : b) - times->interval_ns;
    const int64_t until_ns = (a < b ? b : a) + times->interval_ns;
    double moved_s = 0;
    for (size_t i = first_at(times, from_ns);
         i < times->places && times->place[i].from_ns <= until_ns; i++) {
        moved_s += times->place[i].until_ns >= from_ns
                       ? (double)times->place[i].moved_ns * 1e-9
                       : 0;
    }
    return moved_s;
}

/* Nearest place before and behind a time, run time, that may have moved the
   clock of a track's recording: between them it kept its pace. */
static void pace_around(const struct bl_track *track, int64_t run_ns,
                        int64_t *from_ns, int64_t *until_ns)
{
    const struct bl_time_places *times = places_of(track);
    for (size_t i = 0; times != NULL && i < times->places; i++) {
        const struct bl_time_place *p = &times->place[i];
        if (p->moved_ns == 0) {
            continue;
        }
        const int64_t from = bl_track_run(track, p->from_ns);
        const int64_t until = bl_track_run(track, p->until_ns);
        if (until <= run_ns && until > *from_ns) {
            *from_ns = until;
        }
        if (from >= run_ns && from < *until_ns) {
            *until_ns = from;
        }
    }
}

/* A pair of events between the same places lies this many times the scatter off
   the line: the line was fitted on the other side. Own choice: scatter alone
   does that once in 400. */
static const double APART = 3;

/* How far the pairs between two times lie off the line, s; 0: no farther than
   pairs scatter, or there are none. */
static double pairs_off_s(const struct bl_clock_tie *tie, int64_t from_ns,
                          int64_t until_ns)
{
    double sum_s = 0;
    size_t count = 0;
    for (size_t i = 0; i < tie->residuals; i++) {
        const struct bl_clock_residual *r = &tie->residual[i];
        const int64_t at = bl_clock_map(
            tie, tie->t_first_ns + (int64_t)llround(r->at_s * 1e9));
        if (r->used && at >= from_ns && at <= until_ns) {
            sum_s += r->off_s;
            count++;
        }
    }
    const double off_s = count == 0 ? 0 : fabs(sum_s / (double)count);
    return off_s > APART * hypot(tie->residual_s, tie->u_offset_s) ? off_s : 0;
}

/* The pair of events, used for the tie, that is nearest to a time. Where a tie
   rests on none, it is right at the capture's first stamp. */
static int64_t nearest_pair(const struct bl_clock_tie *tie, int64_t run_ns,
                            int64_t from_ns, int64_t until_ns, bool *inside)
{
    int64_t best = bl_clock_map(tie, tie->t_first_ns);
    bool any = false;
    *inside = false;
    for (size_t i = 0; i < tie->residuals; i++) {
        const struct bl_clock_residual *r = &tie->residual[i];
        if (!r->used) {
            continue;
        }
        const int64_t at = bl_clock_map(
            tie, tie->t_first_ns + (int64_t)llround(r->at_s * 1e9));
        if (!any ||
            fabs((double)(at - run_ns)) < fabs((double)(best - run_ns))) {
            best = at;
            any = true;
        }
        *inside = *inside || (at >= from_ns && at <= until_ns);
    }
    *inside = *inside || (!any && best >= from_ns && best <= until_ns);
    return best;
}

/* What places between a figure and the events that tie the clocks leave open.
   A tie that was fitted on one side of a jump is wrong on the other. */
static double tie_off_s(const struct bl_track *a, const struct bl_track *b,
                        int64_t run_ns)
{
    const struct bl_time_places *of_a = places_of(a);
    const struct bl_time_places *of_b = places_of(b);
    if ((of_a == NULL || of_a->places == 0) &&
        (of_b == NULL || of_b->places == 0)) {
        return 0;
    }
    int64_t from_ns = INT64_MIN;
    int64_t until_ns = INT64_MAX;
    pace_around(a, run_ns, &from_ns, &until_ns);
    pace_around(b, run_ns, &from_ns, &until_ns);
    const struct bl_clock_tie *tie = a->tie->residuals > 0 ? a->tie : b->tie;
    bool inside;
    const int64_t pair = nearest_pair(tie, run_ns, from_ns, until_ns, &inside);
    if (inside) {
        return pairs_off_s(tie, from_ns, until_ns);
    }
    return moved_between(a, pair, run_ns) + moved_between(b, pair, run_ns);
}

struct bl_doubt bl_doubt_of(const struct bl_track *a, const struct bl_track *b,
                            int64_t a_ns, int64_t b_ns)
{
    struct bl_doubt doubt = bl_doubt_between(a, a_ns, b_ns);
    if (a->recording == b->recording || !a->present || !b->present) {
        return doubt;
    }
    const struct bl_doubt other = bl_doubt_between(b, a_ns, b_ns);
    const struct bl_doubt tie = from_off(tie_off_s(a, b, a_ns));
    return (struct bl_doubt){.flags = doubt.flags | other.flags | tie.flags,
                             .u_s = doubt.u_s + other.u_s + tie.u_s};
}

void bl_doubt_put(struct bl_figure *figure, const struct bl_doubt *doubt)
{
    if (!figure->known || doubt->flags == 0) {
        return;
    }
    figure->flags |= doubt->flags;
    const double sampling = figure->part.sampling;
    figure->part.sampling = hypot(isnan(sampling) ? 0 : sampling, doubt->u_s);
    figure->u_s = bl_budget_total(&figure->part);
}
