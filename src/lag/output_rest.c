/* SPDX-License-Identifier: MIT */
/* What an output begins from: its rest, and what the press before left. */
#include "lag/output_own.h"
#include "lag/rules.h"

#include <math.h>

/* The rest before: since the command was last let go, else before that
   application. What is quiet in between is its hold, and so is what stood since
   where the output has fallen from it by now: the crest of a slow unit. */
static struct bl_rest rest_before(const struct reading *r)
{
    const struct bl_command_event *before = r->window->before;
    const int64_t least_ns = r->window->from_ns - BL_REST_WITHIN_NS;
    const int64_t until_ns = r->begin_ns - BL_REST_BEFORE_RISE_NS;
    if (before == NULL) {
        return bl_track_rest(r->track, least_ns, until_ns);
    }
    const int64_t let_go_ns =
        before->release.found ? before->release.time_ns : before->end_ns;
    const struct bl_rest since = bl_track_rest(
        r->track, let_go_ns > least_ns ? let_go_ns : least_ns, until_ns);
    const double now = bl_track_extent(r->track, until_ns, r->begin_ns).median;
    if ((since.known && !(since.value - now > BL_VENTED_KPA)) ||
        before->begun_before) {
        return since;
    }
    const int64_t pressed_ns = before->apply.time_ns - BL_REST_BEFORE_RISE_NS;
    return pressed_ns > least_ns ? bl_track_rest(r->track, least_ns, pressed_ns)
                                 : since;
}

/* Does it stand above the response as the command begins? */
static bool stands(const struct reading *r)
{
    const struct bl_extent now = bl_track_extent(
        r->track, r->begin_ns - BL_REST_BEFORE_RISE_NS, r->begin_ns);
    return !r->window->event->begun_before && now.known &&
           now.median - r->lag->rest.value > r->trial->response_at_kpa;
}

bool bl_output_stands(const struct reading *r)
{
    return (r->lag->flags & BL_FLAG_NOT_VENTED) != 0 && stands(r);
}

bool bl_output_find_rest(struct reading *r, struct bl_output_past *past)
{
    struct bl_output_lag *lag = r->lag;
    struct bl_rest rest = {.known = false};
    if (!r->window->event->begun_before) {
        rest = rest_before(r);
    }
    if (rest.known) {
        past->rest = rest;
    } else {
        lag->flags |= BL_FLAG_REST_CARRIED;
        rest = past->rest;
        if (!rest.known) {
            rest = bl_track_rest(r->track, r->release_ns, r->to_ns);
        }
    }
    lag->rest = rest;
    if (!rest.known) {
        return false;
    }
    past->vented = fmin(rest.value, past->vented); /* fmin leaves NaN out */
    const double just_before =
        bl_track_extent(r->track, r->begin_ns - 2 * BL_LEAD_NS, r->begin_ns)
            .median;
    if (rest.value - past->vented > BL_VENTED_KPA ||
        (!r->window->event->begun_before &&
         just_before - rest.value > BL_VENTED_KPA) ||
        (r->rises_from_ns == r->begin_ns && stands(r))) {
        lag->flags |= BL_FLAG_NOT_VENTED;
    }
    return true;
}

/* A press that an output did not answer before it was let go may be answered so
   long after it began: by air, at the end of a long train (own choice). */
static const int64_t ANSWERS_WITHIN_NS = 2000000000;

int64_t bl_output_rises_from(const struct reading *r,
                             const struct bl_output_past *past)
{
    const struct bl_command_event *before = r->window->before;
    const int64_t from_ns = r->begin_ns - BL_LEAD_NS;
    if (before == NULL || before->begun_before ||
        r->window->event->begun_before) {
        return from_ns;
    }
    const bool answers_late =
        past->answered_ns == INT64_MIN &&
        r->begin_ns - before->apply.time_ns < ANSWERS_WITHIN_NS;
    return past->answered_ns >= from_ns || answers_late ? r->begin_ns : from_ns;
}

bool bl_output_fell_first(const struct reading *r, const struct bl_passage *p,
                          const struct bl_level_origin *origin)
{
    if (!r->window->event->release.found || p->time_ns <= r->release_ns) {
        return false;
    }
    const struct bl_passage fell =
        bl_track_passage(r->track, BL_DOWNWARDS, r->begin_ns, p->time_ns,
                         &(const struct bl_level_passed){
                             origin->level, r->lag->rest.noise, r->band},
                         BL_HELD_OUTPUT);
    return fell.found && fell.time_ns > r->release_ns;
}
