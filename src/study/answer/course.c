/* SPDX-License-Identifier: MIT */
/*
 * The course of an output: at each time after the command the median of the
 * pressures of all applications of a group, where at least half of them have
 * one. Rise and release are cut out to where they happen, over the same times
 * in all conditions, so that they can be compared by eye.
 */
#include "study/answer/picture.h"

#include "base/alloc.h"
#include "base/number.h"
#include "lag/application.h"
#include "lag/track.h"

#include <math.h>
#include <string.h>

enum { POINTS = 101 };
/* Before the command, and behind the last figure as a share of it: so much that
   the level before and after can be seen. Own choice. */
static const double before_s = 0.1;
static const double behind = 1.12;
/* Where no figure says how long it takes. Own choice. */
static const double least_s = 0.4;

/* Until when something happens on a side in any group of the combination. */
static double last_s(const struct bl_picture *picture, char combination,
                     size_t name)
{
    double last = least_s;
    for (size_t g = 0; g < picture->groups; g++) {
        const struct bl_picture_side *side = &picture->group[g].side[name];
        for (size_t i = 0;
             picture->group[g].combination == combination && i < side->units;
             i++) {
            last = fmax(last, side->unit[i].second.high_s);
            last = fmax(last, side->unit[i].first.high_s);
        }
    }
    return behind * last;
}

/* Pressures of one unit: `most` applications, POINTS of each. */
struct sampled {
    struct bl_answering *a;
    const struct bl_picture_side *side;
    bool release;
    size_t unit, count, most;
    double *kpa;
};

static void sample(size_t run, const struct bl_application *application,
                   void *user)
{
    struct sampled *to = user;
    const struct bl_causes_run *seen = &to->a->input->run[run];
    const struct bl_trial_unit *unit = &to->a->input->trial->unit[to->unit];
    const struct bl_unit_lag *lag = bl_application_unit(application, to->unit);
    const struct bl_figure *event = to->release ? &application->command_release
                                                : &application->command_apply;
    if (seen->data == NULL || seen->clocks == NULL || lag == NULL ||
        unit->outputs == 0 || !event->known || to->count == to->most) {
        return;
    }
    const size_t output = lag->output < 0 ? 0 : (size_t)lag->output;
    const int64_t at_ns =
        to->release ? application->release_ns : application->apply_ns;
    struct bl_track track;
    bl_track_find(&track, to->a->input->trial, seen->data, seen->clocks,
                  &unit->output[output]);
    if (!track.present || track.is_state ||
        track.quantity != BL_QUANTITY_PRESSURE) {
        return;
    }
    double *kpa = to->kpa + to->count * POINTS;
    for (size_t i = 0; i < POINTS; i++) {
        const double s = to->side->from_s + (double)i * to->side->step_s;
        kpa[i] = bl_track_value(&track, at_ns + (int64_t)(s * 1e9));
    }
    to->count++;
}

/* The median of one time over the applications that have a value there. */
static double middle(const struct sampled *from, size_t point, double *value)
{
    size_t count = 0;
    for (size_t k = 0; k < from->count; k++) {
        const double kpa = from->kpa[k * POINTS + point];
        if (isfinite(kpa)) {
            value[count++] = kpa;
        }
    }
    return count == 0 || 2 * count < from->count ? NAN
                                                 : bl_median(value, count);
}

static void course(struct bl_answering *a, const struct bl_picture_group *group,
                   size_t name, struct bl_picture_unit *unit)
{
    const struct bl_picture_side *side = &group->side[name];
    struct sampled from = {a,          side, name == BL_PICTURE_RELEASE,
                           unit->unit, 0,    group->applications,
                           NULL};
    double *value = bl_alloc(group->applications + 1, sizeof(*value));
    from.kpa = bl_alloc(group->applications + 1, POINTS * sizeof(*from.kpa));
    if (value == NULL || from.kpa == NULL) {
        a->failed = true;
    } else {
        bl_picture_each(a, group, sample, &from);
    }
    if (!a->failed && from.count > 0) {
        unit->kpa = bl_alloc(POINTS, sizeof(*unit->kpa));
        a->failed = unit->kpa == NULL;
        for (size_t i = 0; unit->kpa != NULL && i < POINTS; i++) {
            unit->kpa[i] = middle(&from, i, value);
        }
    }
    bl_free(value);
    bl_free(from.kpa);
}

void bl_picture_courses(struct bl_answering *a, struct bl_picture *picture,
                        char combination)
{
    for (size_t name = 0; name < BL_PICTURE_SIDES; name++) {
        const double to_s = last_s(picture, combination, name);
        for (size_t g = 0; g < picture->groups; g++) {
            struct bl_picture_group *group = &picture->group[g];
            struct bl_picture_side *side = &group->side[name];
            if (group->combination != combination) {
                continue;
            }
            side->from_s = -before_s;
            side->step_s = (to_s + before_s) / (POINTS - 1);
            side->points = POINTS;
            for (size_t i = 0; !a->failed && i < side->units; i++) {
                course(a, group, name, &side->unit[i]);
            }
        }
    }
}
