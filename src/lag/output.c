/* SPDX-License-Identifier: MIT */
#include "lag/output.h"

#include "lag/again.h"
#include "lag/budget.h"
#include "lag/doubt.h"
#include "lag/output_own.h"
#include "lag/rules.h"
#include "signal/walk.h"

#include <math.h>

static struct bl_time_point missing(enum bl_reason reason)
{
    return (struct bl_time_point){.known = false, .reason = reason};
}

static void side_missing(struct reading *r, enum bl_figure_side side,
                         enum bl_reason reason)
{
    for (enum bl_figure_name i = 0; i < BL_FIGURES; i++) {
        if (bl_figure_entry(i)->side == side) {
            r->lag->time[i] = missing(reason);
        }
    }
    for (size_t i = 0; side == BL_SIDE_APPLY && i < r->trial->levels; i++) {
        r->lag->level[i] = missing(reason);
    }
}

static void all_missing(struct reading *r, enum bl_reason reason)
{
    r->lag->reason = reason;
    side_missing(r, BL_SIDE_APPLY, reason);
    side_missing(r, BL_SIDE_RELEASE, reason);
}

static struct bl_time_point point(const struct reading *r,
                                  const struct bl_passage *p,
                                  const struct bl_level_origin *origin,
                                  enum bl_reason otherwise)
{
    if (!p->found) {
        return missing(otherwise);
    }
    return (struct bl_time_point){.known = true,
                                  .ns = p->time_ns,
                                  .flags = p->flags | r->lag->flags,
                                  .part =
                                      bl_budget_passage(r->track, p, origin)};
}

/* Above rest: what noise and resolution allow a level to be read at. */
static double least_height(const struct reading *r)
{
    const double resolution = r->track->samples != NULL
                                  ? r->track->samples->resolution
                                  : r->track->steps->resolution;
    return fmax(BL_CLEAR_OF_NOISE * r->lag->rest.noise,
                BL_CLEAR_STEPS * resolution);
}

/* Why a share or height above rest cannot be read; NONE if it can. */
static enum bl_reason too_small(const struct reading *r, double height)
{
    return height < r->lag->least_height ? BL_REASON_BELOW_NOISE
                                         : BL_REASON_NONE;
}

/* A level that a settled hold cannot be told from is passed by noise, up and
   down, at any time of the hold. An output that overshot it has passed it. */
static enum bl_reason hidden(const struct reading *r, double height)
{
    const struct bl_output_lag *lag = r->lag;
    const enum bl_reason small = too_small(r, height);
    const double over = lag->hold - lag->rest.value - height;
    if (small != BL_REASON_NONE || lag->hold_from != BL_HOLD_SETTLED ||
        bl_level_stands_clear(over, lag->rest.noise) ||
        lag->peak - lag->rest.value - height >
            BL_CLEAR_BOTH_WAYS * lag->rest.noise) {
        return small;
    }
    return BL_REASON_BELOW_NOISE;
}

/* A fall is for good: where the output is above the level again at the end,
   what lay below it was a dip, as noise makes in a slow rise, and the fall is
   still to come. */
static struct bl_passage passed(const struct reading *r, enum bl_way way,
                                int64_t from_ns,
                                const struct bl_level_passed *at)
{
    struct bl_passage p =
        bl_track_passage(r->track, way, from_ns, r->to_ns, at, BL_HELD_OUTPUT);
    if (way == BL_LAST_DOWNWARDS && p.found) {
        p.found = !bl_track_passage(r->track, BL_UPWARDS, p.seen_ns, r->to_ns,
                                    at, BL_HELD_OUTPUT)
                       .found;
    }
    return p;
}

static struct bl_time_point passage_at(const struct reading *r, enum bl_way way,
                                       int64_t from_ns,
                                       const struct bl_level_origin *origin,
                                       enum bl_reason otherwise)
{
    const double noise = r->lag->rest.noise;
    struct bl_passage p =
        passed(r, way, from_ns,
               &(const struct bl_level_passed){origin->level, noise, r->band});
    /* Undone before the command it belongs to what was before: an output that
       still falls passes the level upwards by noise. */
    struct bl_walk walk = {from_ns, r->begin_ns};
    while (way == BL_UPWARDS && p.found && p.time_ns < r->begin_ns) {
        const struct bl_passage back = bl_track_passage(
            r->track, BL_DOWNWARDS, p.seen_ns, r->begin_ns,
            &(const struct bl_level_passed){origin->level, noise, r->band},
            BL_HELD_OUTPUT);
        if (!back.found || !bl_walk_on(&walk, back.seen_ns)) {
            break;
        }
        p = bl_track_passage(
            r->track, way, walk.at_ns, r->to_ns,
            &(const struct bl_level_passed){origin->level, noise, r->band},
            BL_HELD_OUTPUT);
    }
    if (way == BL_UPWARDS && p.found && bl_output_fell_first(r, &p, origin)) {
        return missing(BL_REASON_NOT_VENTED);
    }
    return point(r, &p, origin, otherwise);
}

static struct bl_level_origin share_of_hold(const struct reading *r,
                                            double fraction)
{
    const struct bl_output_lag *lag = r->lag;
    return (struct bl_level_origin){
        .fraction = fraction,
        .level = lag->rest.value + fraction * (lag->hold - lag->rest.value),
        .rest = lag->rest.value,
        .u_rest = lag->rest.u,
        .u_hold = lag->u_hold};
}

static struct bl_level_origin height_over_rest(const struct reading *r,
                                               double height)
{
    const struct bl_output_lag *lag = r->lag;
    return (struct bl_level_origin){.fraction = NAN,
                                    .level = lag->rest.value + height,
                                    .rest = lag->rest.value,
                                    .u_rest = lag->rest.u};
}

static struct bl_time_point share_time(const struct reading *r, enum bl_way way,
                                       int64_t from_ns, double fraction,
                                       enum bl_reason otherwise)
{
    const double height = fraction * (r->lag->hold - r->lag->rest.value);
    if (too_small(r, height) != BL_REASON_NONE ||
        !bl_level_stands_clear(r->lag->hold - r->lag->rest.value - height,
                               r->lag->rest.noise)) {
        return missing(BL_REASON_BELOW_NOISE);
    }
    const struct bl_level_origin origin = share_of_hold(r, fraction);
    if (r->no_share == BL_REASON_NONE) {
        struct bl_time_point at =
            passage_at(r, way, from_ns, &origin, otherwise);
        at.flags |= way == BL_UPWARDS ? r->apply_doubt : r->release_doubt;
        return at;
    }
    struct bl_time_point none = missing(r->no_share);
    if (r->no_share == BL_REASON_HOLD_LONGER && way == BL_UPWARDS &&
        r->still_rising) {
        /* Of more than it has reached the share is passed later. */
        none = passage_at(r, way, from_ns, &origin, r->no_share);
        none.bounded = none.known;
        none.known = false;
        none.reason = r->no_share;
    }
    return none;
}

/* Every share of the hold on this side, or why none of them is there. */
static void share_times(const struct reading *r, enum bl_way way,
                        int64_t from_ns, enum bl_reason why,
                        enum bl_reason otherwise)
{
    const bool up = way == BL_UPWARDS;
    for (enum bl_figure_name i = 0; i < BL_FIGURES; i++) {
        const struct bl_figure_entry *entry = bl_figure_entry(i);
        if (entry->at == BL_AT_HOLD && (entry->side == BL_SIDE_APPLY) == up) {
            r->lag->time[i] =
                why != BL_REASON_NONE
                    ? missing(why)
                    : share_time(r, way, from_ns, entry->share, otherwise);
        }
    }
}

/* Near the pressure that an output creeps to, the slope at a level does not
   tell how much later a transducer that reads a little higher would pass it:
   the time of the higher level does. Where that is never passed, another
   transducer might not have seen the level at all. */
static struct bl_time_point far_from_hold(const struct reading *r,
                                          struct bl_time_point time,
                                          const struct bl_level_origin *at)
{
    struct bl_level_origin higher = *at;
    const double error =
        BL_LEVEL_CLEAR * bl_budget_error_kpa(r->track, at->level);
    higher.level += error;
    if (!time.known || !(error > 0)) {
        return time;
    }
    const struct bl_time_point later = passage_at(
        r, BL_UPWARDS, r->rises_from_ns, &higher, BL_REASON_NEAR_HOLD);
    if (!later.known) {
        return missing(r->no_share == BL_REASON_UNFINISHED
                           ? BL_REASON_UNFINISHED
                           : BL_REASON_NEAR_HOLD);
    }
    const double by_slope = hypot(isnan(time.part.zero) ? 0 : time.part.zero,
                                  isnan(time.part.gain) ? 0 : time.part.gain);
    const double seen = (double)(later.ns - time.ns) * 1e-9 / BL_LEVEL_CLEAR;
    if (by_slope > 0 && seen > by_slope) {
        time.part.zero *= seen / by_slope;
        time.part.gain *= seen / by_slope;
    }
    return time;
}

static struct bl_time_point level_time(const struct reading *r, double kpa)
{
    const struct bl_level_origin origin = {.absolute = true,
                                           .fraction = NAN,
                                           .level = kpa,
                                           .rest = r->lag->rest.value};
    if (r->lag->rest.value >= kpa) {
        return missing(BL_REASON_NOT_VENTED);
    }
    const enum bl_reason small = hidden(r, kpa - r->lag->rest.value);
    if (small != BL_REASON_NONE) {
        return missing(small);
    }
    return far_from_hold(r,
                         passage_at(r, BL_UPWARDS, r->rises_from_ns, &origin,
                                    r->no_share == BL_REASON_UNFINISHED
                                        ? BL_REASON_UNFINISHED
                                        : BL_REASON_NOT_REACHED),
                         &origin);
}

/* No output leaves rest later than it passes a level. */
static int64_t first_level(const struct reading *r)
{
    int64_t first = INT64_MAX;
    for (enum bl_figure_name i = 0; i < BL_FIGURES; i++) {
        const struct bl_time_point *p = &r->lag->time[i];
        const bool apply = bl_figure_entry(i)->side == BL_SIDE_APPLY;
        first = apply && p->known && p->ns < first ? p->ns : first;
    }
    for (size_t i = 0; i < r->trial->levels; i++) {
        const struct bl_time_point *p = &r->lag->level[i];
        const bool above = r->trial->level_kpa[i] > r->lag->rest.value + 1;
        first = above && p->known && p->ns < first ? p->ns : first;
    }
    return first;
}

/* After the other figures of the apply. */
static struct bl_time_point rise_start(const struct reading *r)
{
    if (r->track->samples == NULL) {
        return missing(BL_REASON_NOT_FITTED);
    }
    const int64_t latest = first_level(r);
    const struct bl_foot foot = bl_rise_foot(
        r->track->samples, bl_track_raw(r->track, r->rises_from_ns),
        bl_track_raw(r->track, r->to_ns), &r->lag->rest, r->lag->hold,
        latest == INT64_MAX ? latest : bl_track_raw(r->track, latest));
    /* At the search's own end nothing rises: it falls from the press before. */
    if (!foot.found || bl_track_run(r->track, foot.time_ns) <
                           r->rises_from_ns + BL_LEAD_NS / 50) {
        return missing(BL_REASON_NOT_FITTED);
    }
    const struct bl_passage p = {.found = true,
                                 .time_ns =
                                     bl_track_run(r->track, foot.time_ns),
                                 .slope = NAN,
                                 .u_noise_s = foot.u_fit_s,
                                 .u_sampling_s = foot.u_model_s,
                                 .flags = foot.flags};
    const struct bl_level_origin origin = {.fraction = NAN};
    struct bl_time_point start = point(r, &p, &origin, BL_REASON_NOT_FITTED);
    /* Leaving rest does not move in time when the channel reads too high, and
       hardly when it reads in another proportion. */
    start.part.gain = 0;
    start.part.zero = 0;
    return start;
}

/* An output whose recording ends too soon was not seen to stay away. */
static enum bl_reason no_response(const struct reading *r)
{
    const int64_t seen_to =
        r->track->last_ns < r->to_ns ? r->track->last_ns : r->to_ns;
    return bl_output_is_cut(r) && seen_to - r->begin_ns < BL_STAYED_AWAY_NS
               ? BL_REASON_UNFINISHED
           : bl_output_stands(r) ? BL_REASON_NOT_VENTED
                                 : BL_REASON_DID_NOT_RESPOND;
}

/* Whether the output answered is plain although the level of the response lies
   within its noise or resolution. */
static bool braked_clearly(const struct reading *r)
{
    const double height = r->lag->hold - r->lag->rest.value;
    return height > r->trial->response_at_kpa && too_small(r, height) == 0;
}

/* The start is read from the rise behind it too. */
static void doubt_start(struct reading *r)
{
    struct bl_time_point *start = &r->lag->time[BL_FIGURE_RISE_START];
    const struct bl_time_point *end = &r->lag->time[BL_FIGURE_FILLED];
    const struct bl_doubt doubt = bl_doubt_between(
        r->track, r->begin_ns,
        end->known ? end->ns
                   : r->lag->time[BL_FIGURE_RESPONSE].ns + BL_LEAD_NS);
    start->flags |= doubt.flags;
    start->part.sampling = doubt.flags == 0
                               ? start->part.sampling
                               : hypot(start->part.sampling, doubt.u_s);
}

static void apply_times(struct reading *r)
{
    struct bl_time_point *time = r->lag->time;
    const int64_t from = r->rises_from_ns;
    const enum bl_reason no_apply = r->window->event->no_apply;
    if (no_apply != BL_REASON_NONE) {
        side_missing(r, BL_SIDE_APPLY, no_apply);
        return;
    }
    const double at = r->trial->response_at_kpa;
    const enum bl_reason small = hidden(r, at);
    const struct bl_level_origin response = height_over_rest(r, at);
    time[BL_FIGURE_RESPONSE] =
        small != BL_REASON_NONE
            ? missing(small)
            : passage_at(r, BL_UPWARDS, from, &response, no_response(r));
    if (!time[BL_FIGURE_RESPONSE].known &&
        time[BL_FIGURE_RESPONSE].reason == BL_REASON_NOT_VENTED) {
        side_missing(r, BL_SIDE_APPLY, BL_REASON_NOT_VENTED);
        return;
    }
    for (size_t i = 0; i < r->trial->levels; i++) {
        r->lag->level[i] = level_time(r, r->trial->level_kpa[i]);
    }
    /* The onset lies below every level; the others are judged by themselves. */
    const bool blind =
        small != BL_REASON_NONE &&
        (braked_clearly(r) || too_small(r, at) == BL_REASON_NONE);
    const enum bl_reason why = time[BL_FIGURE_RESPONSE].known || blind
                                   ? BL_REASON_NONE
                                   : time[BL_FIGURE_RESPONSE].reason;
    share_times(r, BL_UPWARDS, from, why, BL_REASON_NOT_REACHED);
    if (why != BL_REASON_NONE) {
        time[BL_FIGURE_RISE_START] = missing(why);
        return;
    }
    time[BL_FIGURE_RISE_START] = blind ? missing(small) : rise_start(r);
    doubt_start(r);
}

/* Where the fall of this application is looked for: a little in front of its
   release, as clocks may differ, but not in the tail of the one before, which a
   short press leaves within that. */
static int64_t falls_from(const struct reading *r)
{
    const int64_t from = r->release_ns - BL_LEAD_NS;
    const bool later = !r->window->event->begun_before && r->begin_ns > from;
    return later ? r->begin_ns : from;
}

static void release_times(struct reading *r, enum bl_answer responded)
{
    struct bl_time_point *time = r->lag->time;
    const struct bl_command_event *event = r->window->event;
    const enum bl_reason why = !event->release.found ? BL_REASON_UNFINISHED
                               : responded == BL_NO  ? BL_REASON_DID_NOT_RESPOND
                                                     : event->no_release;
    if (why != BL_REASON_NONE) {
        side_missing(r, BL_SIDE_RELEASE, why);
        return;
    }
    const enum bl_reason otherwise =
        r->window->next_follows ? BL_REASON_STILL_PRESSED : BL_REASON_NO_DATA;
    const int64_t from = falls_from(r);
    share_times(r, BL_LAST_DOWNWARDS, from, BL_REASON_NONE, otherwise);
    const double at = r->trial->response_at_kpa;
    const enum bl_reason small = hidden(r, at);
    const struct bl_level_origin end = height_over_rest(r, at);
    time[BL_FIGURE_RELEASE_END] =
        small != BL_REASON_NONE
            ? missing(small)
            : passage_at(r, BL_LAST_DOWNWARDS, from, &end, otherwise);
}

/* What an output does after a second rise without a command is left out. */
static void rises_again(struct reading *r, double level)
{
    const struct bl_level_passed at = {level, r->lag->rest.noise, r->band};
    if (!r->window->event->release.found) {
        return;
    }
    const int64_t until = bl_rose_again(r->track, &at, r->release_ns, r->to_ns);
    r->lag->flags |= until < r->to_ns ? (unsigned)BL_FLAG_ROSE_AGAIN : 0;
    r->to_ns = until;
}

/* Switches and states: two edges, and nothing else. */
static void state_times(struct reading *r)
{
    struct bl_output_lag *lag = r->lag;
    const struct bl_window *w = r->window;
    rises_again(r, BL_STATE_LEVEL);
    all_missing(r, BL_REASON_SWITCH_ONLY);
    const struct bl_level_origin origin = {.fraction = NAN,
                                           .level = BL_STATE_LEVEL};
    const struct bl_passage on = bl_track_passage(
        r->track, BL_UPWARDS, r->rises_from_ns, r->to_ns,
        &(const struct bl_level_passed){BL_STATE_LEVEL, 0, 0}, BL_HELD_OUTPUT);
    const struct bl_passage off =
        passed(r, BL_LAST_DOWNWARDS, falls_from(r),
               &(const struct bl_level_passed){.level = BL_STATE_LEVEL});
    lag->chatter = on.chatter + off.chatter;
    lag->flags |= lag->chatter > 0 ? (unsigned)BL_FLAG_CHATTER : 0;
    if (w->event->begun_before) {
        lag->responded = off.found ? BL_YES : BL_UNKNOWN;
        lag->reason = BL_REASON_BEGUN_BEFORE;
        lag->time[BL_FIGURE_RESPONSE] = missing(BL_REASON_BEGUN_BEFORE);
    } else {
        lag->responded = on.found ? BL_YES : BL_NO;
        lag->time[BL_FIGURE_RESPONSE] =
            w->event->no_apply != BL_REASON_NONE
                ? missing(w->event->no_apply)
                : point(r, &on, &origin, BL_REASON_DID_NOT_RESPOND);
    }
    const enum bl_reason otherwise =
        !w->event->release.found  ? BL_REASON_UNFINISHED
        : lag->responded == BL_NO ? BL_REASON_DID_NOT_RESPOND
        : w->next_follows         ? BL_REASON_STILL_PRESSED
                                  : BL_REASON_NO_DATA;
    lag->time[BL_FIGURE_RELEASE_END] = w->event->release.found
                                           ? point(r, &off, &origin, otherwise)
                                           : missing(otherwise);
}

static void number_times(struct reading *r)
{
    struct bl_output_lag *lag = r->lag;
    lag->least_height = least_height(r);
    rises_again(r, lag->rest.value +
                       fmax(r->trial->response_at_kpa, lag->least_height));
    bl_output_hold(r);
    if (!lag->hold_known) {
        all_missing(r, BL_REASON_NO_DATA);
        return;
    }
    apply_times(r);
    if (r->window->event->no_apply != BL_REASON_NONE) {
        const bool braked =
            lag->hold - lag->rest.value > r->trial->response_at_kpa;
        lag->responded = braked ? BL_YES : BL_NO;
    } else if (lag->time[BL_FIGURE_RESPONSE].known ||
               (lag->time[BL_FIGURE_RESPONSE].reason == BL_REASON_BELOW_NOISE &&
                braked_clearly(r))) {
        lag->responded = BL_YES;
    } else if (lag->time[BL_FIGURE_RESPONSE].reason ==
               BL_REASON_DID_NOT_RESPOND) {
        lag->responded = BL_NO;
    } else {
        lag->reason = lag->time[BL_FIGURE_RESPONSE].reason;
    }
    release_times(r, lag->responded);
}

static void start(struct bl_output_lag *lag)
{
    struct bl_time_point *level = lag->level;
    *lag = (struct bl_output_lag){.level = level,
                                  .responded = BL_UNKNOWN,
                                  .hold = NAN,
                                  .u_hold = NAN,
                                  .peak = NAN,
                                  .rest = {.value = NAN, .u = NAN}};
}

void bl_output_apart(struct bl_output_lag *lag, const struct bl_trial *trial,
                     enum bl_reason reason)
{
    start(lag);
    struct reading r = {.lag = lag, .trial = trial};
    all_missing(&r, reason);
}

static void note_answer(struct bl_output_past *past,
                        const struct bl_output_lag *lag)
{
    const struct bl_time_point *response = &lag->time[BL_FIGURE_RESPONSE];
    past->answered_ns = response->known ? response->ns : INT64_MIN;
}

void bl_output_measure(struct bl_output_lag *lag, const struct bl_track *track,
                       const struct bl_trial *trial,
                       const struct bl_window *window,
                       struct bl_output_past *past)
{
    start(lag);
    const struct bl_command_event *event = window->event;
    struct reading r = {
        .lag = lag,
        .track = track,
        .trial = trial,
        .window = window,
        .to_ns = window->to_ns,
        .begin_ns = event->begun_before ? event->from_ns : event->apply.time_ns,
        .release_ns =
            event->release.found ? event->release.time_ns : event->end_ns};
    if (!track->present || track->last_ns < r.begin_ns ||
        track->first_ns > window->to_ns) {
        all_missing(&r, track->present ? BL_REASON_NO_DATA : track->absent);
        return;
    }
    r.rises_from_ns = bl_output_rises_from(&r, past);
    past->answered_ns = INT64_MIN;
    if (track->is_state) {
        state_times(&r);
        note_answer(past, lag);
        return;
    }
    if (!bl_output_find_rest(&r, past)) {
        all_missing(&r, BL_REASON_NO_DATA);
        return;
    }
    if (track->samples != NULL && track->samples->stair_steps) {
        lag->flags |= BL_FLAG_STAIR_STEPS;
    }
    if (track->at_range_end > 0) {
        lag->flags |= BL_FLAG_CLIPPED;
    }
    r.band = fmax(BL_CLEAR_OF_NOISE * lag->rest.noise,
                  track->samples == NULL ? 0 : 2 * track->samples->resolution);
    number_times(&r);
    note_answer(past, lag);
}
