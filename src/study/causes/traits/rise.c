/* SPDX-License-Identifier: MIT */
/*
 * How far one pressure lags behind another over its whole rise: the mean over
 * the levels of 10 to 90 % of each one's hold, which is the area between the
 * two curves. On its fall it is that from 90 to 50 %: further down little air
 * flows through the same pipe, and the tail is long where the front is vented
 * at once, as the first line is, and short where it sinks slowly. Mean delays
 * of parts one behind the other add up, however slow what comes in is (the
 * first moment of linear parts in series), and rise times do not: behind a slow
 * line the next one seems fast. A throttled coupling lets the first air through
 * nearly in time, so that the moment of first air shows a third of this.
 */
#include "study/causes/traits/traits.h"

#include "lag/doubt.h"

#include <math.h>

static const int64_t second_ns = 1000000000;

enum { LEVELS = 10, RISE_FROM = 1, FALL_TO = 5, LAST = 9 }; /* tenths */
/* Own choice: below this, opening pressures and what valves keep are a large
   part of what is asked, as elsewhere in traits (read.c). */
static const double least_kpa = 250;

double bl_passage_u(const struct bl_track *track, const struct bl_passage *p,
                    int64_t from_ns)
{
    const double damage =
        p->found ? bl_doubt_between(track, from_ns, p->time_ns).u_s : 0;
    return hypot(hypot(p->u_noise_s, p->u_sampling_s),
                 hypot(p->u_resolution_s, damage));
}

struct window {
    enum bl_way way;
    int64_t from, to, zero; /* zero: what u counts damage from */
    int lowest;             /* level, in tenths */
};

/* When it passes the share `f` of its hold, less what was kept in front. */
static struct bl_passage at_level(const struct bl_course *course, double kept,
                                  double f, const struct window *in)
{
    return bl_track_passage(course->track, in->way, in->from, in->to,
                            &(const struct bl_level_passed){
                                course->rest + kept + f * (course->hold - kept),
                                course->noise, fmax(3 * course->noise, 1)},
                            BL_HELD_OUTPUT);
}

/* What is missing beyond what a valve keeps is lost on the way, as a share. */
static double kept_of(const struct bl_course *course, double held_kpa)
{
    return fmin(fmax(course->hold - held_kpa, 0), BL_VALVE_KEEPS_KPA);
}

/* NaN where any level was not passed by both. */
static double mean_lag(const struct bl_course *front,
                       const struct bl_course *here, const struct window *in,
                       double *u)
{
    const double kept = kept_of(front, here->hold);
    double sum = 0;
    double squares = 0;
    int count = 0;
    for (int i = in->lowest; i <= LAST; i++) {
        const double f = (double)i / LEVELS;
        const struct bl_passage a = at_level(front, kept, f, in);
        const struct bl_passage b = at_level(here, 0, f, in);
        if (!a.found || !b.found) {
            return NAN;
        }
        const double u_one = hypot(bl_passage_u(front->track, &a, in->zero),
                                   bl_passage_u(here->track, &b, in->zero));
        sum += (double)(b.time_ns - a.time_ns) * 1e-9;
        squares += u_one * u_one;
        count++;
    }
    /* Not less by their number: noise and steps of neighbours may be shared. */
    *u = sqrt(squares / count);
    return sum / count;
}

/* Between two of its levels, above rest. */
static double between(const struct bl_course *course, const double level[2],
                      const struct window *in)
{
    struct bl_passage p[2];
    for (size_t i = 0; i < 2; i++) {
        p[i] = bl_track_passage(course->track, in->way, in->from, in->to,
                                &(const struct bl_level_passed){
                                    course->rest + level[i], course->noise,
                                    fmax(3 * course->noise, 1)},
                                BL_HELD_OUTPUT);
    }
    return p[0].found && p[1].found
               ? (double)(p[1].time_ns - p[0].time_ns) * 1e-9
               : NAN;
}

double bl_course_rises(const struct bl_application *a,
                       const struct bl_course *course, double held_kpa,
                       double first_kpa)
{
    const struct window rise = {BL_UPWARDS, a->apply_ns - second_ns / 2,
                                a->release_ns + second_ns, a->apply_ns, 0};
    const double kept = kept_of(course, held_kpa);
    const double level[2] = {kept + first_kpa,
                             kept + 0.75 * (course->hold - kept)};
    return course->track == NULL || course->moving || !isfinite(held_kpa)
               ? NAN
               : between(course, level, &rise);
}

double bl_course_falls(const struct bl_application *a,
                       const struct bl_course *course, double held_kpa)
{
    const struct window fall = {BL_DOWNWARDS, a->release_ns - second_ns / 4,
                                a->release_ns + 5 * second_ns, a->release_ns,
                                0};
    const double kept = kept_of(course, held_kpa);
    const double level[2] = {kept + 0.9 * (course->hold - kept),
                             kept + 0.1 * (course->hold - kept)};
    return course->track == NULL || course->moving || !course->let_go ||
                   !isfinite(held_kpa)
               ? NAN
               : between(course, level, &fall);
}

void bl_courses_read(const struct bl_application *a,
                     const struct bl_course *front,
                     const struct bl_course *here, struct bl_stretches *cell)
{
    if (front->track == NULL || here->track == NULL || front->moving ||
        !(front->hold >= least_kpa) || !(here->hold > front->hold / 2)) {
        return;
    }
    const struct window rise = {BL_UPWARDS, a->apply_ns - second_ns / 2,
                                a->release_ns + second_ns, a->apply_ns,
                                RISE_FROM};
    const struct window fall = {BL_DOWNWARDS, a->release_ns - second_ns / 4,
                                a->release_ns + 5 * second_ns, a->release_ns,
                                FALL_TO};
    cell->value[BL_TRAIT_LINE_RISE] =
        mean_lag(front, here, &rise, &cell->u[BL_TRAIT_LINE_RISE]);
    cell->rise_at_least = here->moving;
    if (!here->moving && front->let_go && here->let_go) {
        cell->value[BL_TRAIT_LINE_FALL] =
            mean_lag(front, here, &fall, &cell->u[BL_TRAIT_LINE_FALL]);
    }
}
