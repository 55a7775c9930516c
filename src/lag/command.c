/* SPDX-License-Identifier: MIT */
/*
 * Definitions: docs/methods/figures.md, "application". The search works in two
 * passes: a coarse rest finds where something happens at all, then the rest
 * just before that place gives the level that counts.
 */
#include "lag/command.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "base/number.h"
#include "lag/descent.h"
#include "lag/rules.h"
#include "signal/walk.h"

#include <math.h>

enum {
    END_STEADY_NS = 100000000, /* so long below the end level */
    LEAST_NS = 20000000 /* what is over sooner, no foot and no valve did */
};

/* One part of the command's recording, and what is known of its rest. */
struct search {
    const struct bl_track *track;
    int64_t from_ns, to_ns;
    double coarse_rest, noise, at;
    double deviation;         /* of single samples where it is quiet */
    double find;              /* above rest: clear of noise, `at` or more */
    enum bl_reason blind;     /* why a passage of `at` cannot be dated */
    struct bl_rest last_rest; /* the latest one that was quiet */
};

/* Band that a passage must keep to: noise must not end what noise began. */
static double band(const struct search *s)
{
    return fmax(BL_CLEAR_OF_NOISE * s->noise, BL_KEPT_OF_LEVEL * s->find);
}

static double end_level(const struct search *s, double rest)
{
    if (s->track->is_state) {
        return BL_STATE_LEVEL;
    }
    return rest + fmax(s->find / 2, BL_CLEAR_OF_NOISE * s->noise);
}

/* The last of the blocks without a sample that begin with the one at t: years
   may lie between two stamps. */
static int64_t last_empty_block(const struct search *s, int64_t t,
                                int64_t block_ns)
{
    const struct bl_samples *samples = s->track->samples;
    const size_t next =
        bl_samples_at(samples, bl_track_raw(s->track, t + block_ns));
    if (next == samples->count) {
        return s->to_ns - block_ns;
    }
    const int64_t at = bl_track_run(s->track, samples->time_ns[next]);
    const int64_t blocks = (at - t) / block_ns;
    return blocks > 1 ? t + (blocks - 1) * block_ns : t;
}

/* Standard deviation of the samples of one block. */
static double deviation_in(const struct search *s, int64_t from_ns,
                           int64_t to_ns)
{
    const struct bl_samples *samples = s->track->samples;
    const size_t first =
        bl_samples_at(samples, bl_track_raw(s->track, from_ns));
    const size_t end = bl_samples_at(samples, bl_track_raw(s->track, to_ns));
    double n = 0;
    double mean = 0;
    double squares = 0;
    for (size_t i = first; i < end; i++) {
        if (!isnan(samples->value[i])) {
            const double from_mean = (double)samples->value[i] - mean;
            n += 1;
            mean += from_mean / n;
            squares += from_mean * ((double)samples->value[i] - mean);
        }
    }
    return n > 1 ? sqrt(squares / (n - 1)) : 0;
}

/* An application is looked for at a height that noise does not reach, and that
   stays clear of noise on the way back. Where `at` is lower than that, its
   passage is still dated if it is clear of noise by itself. */
static void judge_noise(struct search *s)
{
    s->find = fmax(s->at, BL_CLEAR_BOTH_WAYS * s->deviation);
    s->blind = s->at < BL_CLEAR_OF_NOISE * s->deviation ? BL_REASON_BELOW_NOISE
                                                        : BL_REASON_NONE;
}

/* The lowest of the medians of short blocks: where the command rests, however
   long it was pressed. */
static enum bl_status coarse_rest_samples(struct search *s,
                                          struct bl_error *error)
{
    enum { BLOCK_NS = 250000000 };
    s->coarse_rest = INFINITY;
    double *noise = NULL;
    double *deviation = NULL;
    size_t count = 0;
    size_t capacity[2] = {0, 0};
    for (int64_t t = s->from_ns; t < s->to_ns; t += BLOCK_NS) {
        const struct bl_extent e = bl_track_extent(s->track, t, t + BLOCK_NS);
        if (!e.known) {
            t = last_empty_block(s, t, BLOCK_NS);
            continue;
        }
        s->coarse_rest = fmin(s->coarse_rest, e.median);
        if (!bl_grow(&noise, &capacity[0], count + 1, sizeof(*noise),
                     BL_LIMIT_SAMPLES) ||
            !bl_grow(&deviation, &capacity[1], count + 1, sizeof(*deviation),
                     BL_LIMIT_SAMPLES)) {
            bl_free(noise);
            bl_free(deviation);
            return bl_fail_memory(error);
        }
        deviation[count] = deviation_in(s, t, t + BLOCK_NS);
        noise[count++] = e.largest - e.smallest;
    }
    /* Half the usual spread of a quiet block is about 3 standard deviations of
       some hundred samples. The quietest quarter counts: braking is not
       noise. */
    if (count > 0) {
        const double low = bl_median(noise, count);
        const double quarter = bl_median(noise, (count + 1) / 2);
        s->noise = fmin(low, quarter) / BL_RANGE_IN_NOISE;
        bl_median(deviation, count);
        s->deviation = bl_median(deviation, (count + 1) / 2);
    }
    bl_free(noise);
    bl_free(deviation);
    return BL_OK;
}

static void coarse_rest_steps(struct search *s)
{
    const struct bl_steps *steps = s->track->steps;
    double smallest = INFINITY;
    double lasting = INFINITY;
    for (size_t i = 0; i < steps->count; i++) {
        const struct bl_segment *segment = &steps->segment[i];
        const int64_t t = bl_track_run(s->track, segment->first_ns);
        if (segment->state != BL_VALUE_VALID || t < s->from_ns ||
            t >= s->to_ns) {
            continue;
        }
        smallest = fmin(smallest, segment->value);
        if (segment->count >= 3) {
            lasting = fmin(lasting, segment->value);
        }
    }
    s->coarse_rest = isinf(lasting) ? smallest : lasting;
    s->noise = 0;
}

/* First time at or after from_ns where the command is back below `level` for
   100 ms, into the event's end_ns and end_seen_ns; where it is not in this
   part, the application is unfinished. */
static void find_end(const struct search *s, int64_t from_ns, double level,
                     struct bl_command_event *e)
{
    e->unfinished = false;
    struct bl_walk walk = {from_ns, s->to_ns};
    while (walk.at_ns < walk.end_ns) {
        const struct bl_passage down = bl_track_passage(
            s->track, BL_DOWNWARDS, walk.at_ns, s->to_ns,
            &(const struct bl_level_passed){level, s->noise, 0},
            BL_HELD_COMMAND);
        if (!down.found) {
            break;
        }
        const struct bl_passage up = bl_track_passage(
            s->track, BL_UPWARDS, down.seen_ns, down.time_ns + END_STEADY_NS,
            &(const struct bl_level_passed){level, s->noise, 0},
            BL_HELD_COMMAND);
        if (!up.found || up.time_ns >= down.time_ns + END_STEADY_NS) {
            e->end_ns = down.time_ns > from_ns ? down.time_ns : from_ns;
            e->end_seen_ns =
                down.seen_ns > e->end_ns ? down.seen_ns : e->end_ns;
            return;
        }
        bl_walk_on(&walk, up.seen_ns);
    }
    e->unfinished = true;
    e->end_ns = s->to_ns;
    e->end_seen_ns = s->to_ns;
}

/* The last segment before `i` of its part that has a value: frames without one
   say nothing of what the demand did. */
static bool value_before(const struct bl_steps *steps, size_t i, size_t *before)
{
    for (size_t k = i;
         k > 0 && steps->segment[k - 1].part == steps->segment[i].part; k--) {
        if (steps->segment[k - 1].state == BL_VALUE_VALID) {
            *before = k - 1;
            return true;
        }
    }
    return false;
}

/* The value before the final fall: from the end backwards as long as values
   rise and none stands. A stop below half of the peak is a wobble in the fall,
   not its start. */
static void hold_of_steps(const struct search *s, struct bl_command_event *e)
{
    const struct bl_steps *steps = s->track->steps;
    const double half = e->rest.value + 0.5 * (e->peak - e->rest.value);
    const int64_t stands_ns = BL_REST_LEAST_NS; /* as the rest of frames */
    const struct bl_segment *at =
        bl_steps_at(steps, bl_track_raw(s->track, e->end_ns) - 1);
    if (at == NULL) {
        e->hold = e->peak;
        e->hold_from = BL_HOLD_PEAK;
        return;
    }
    size_t i = (size_t)(at - steps->segment);
    size_t b = 0;
    while (value_before(steps, i, &b)) {
        const struct bl_segment *before = &steps->segment[b];
        const struct bl_segment *now = &steps->segment[i];
        if (now->first_ns - before->last_ns >= stands_ns ||
            (now->state == BL_VALUE_VALID && now->value >= half &&
             (!(before->value > now->value) ||
              now->last_ns - now->first_ns >= stands_ns))) {
            break;
        }
        i = b;
    }
    const struct bl_segment *hold = &steps->segment[i];
    e->hold = isnan(hold->value) ? e->peak : hold->value;
    e->u_hold = steps->resolution / sqrt(12);
    e->hold_from = hold->last_ns - hold->first_ns >= BL_SETTLED_NS
                       ? BL_HOLD_SETTLED
                       : BL_HOLD_LAST;
    if (e->hold_from == BL_HOLD_LAST) {
        e->flags |= BL_FLAG_NOT_SETTLED;
    }
}

/* In noise that reaches from the hold to the level the release has a place, so
   that the application has one, but is no date: it may lie anywhere in the
   fall, and what belongs to the hold is known no better than the noise. */
static void judge_release(const struct search *s, struct bl_command_event *e,
                          double level)
{
    const double noise = fmax(s->noise, s->deviation);
    if (s->track->samples == NULL || s->track->is_state ||
        bl_level_stands_clear(e->hold - level, noise)) {
        return;
    }
    const double fall_s = (double)(e->end_ns - e->release.time_ns) * 1e-9;
    e->no_release = BL_REASON_BELOW_NOISE;
    e->release.u_sampling_s = fmax(e->release.u_sampling_s, fall_s / sqrt(3));
    e->u_hold = hypot(e->u_hold, noise / sqrt(12));
}

static void find_release(const struct search *s, struct bl_command_event *e,
                         int64_t from_ns)
{
    const double level =
        s->track->is_state
            ? 0.5
            : e->rest.value + BL_SHARE_HIGH * (e->hold - e->rest.value);
    /* A command let go between two rows shows its fall by the later one. */
    const int64_t to = e->end_seen_ns + (e->unfinished ? 0 : BL_BEHIND_END_NS);
    const double keep = s->track->is_state ? 0 : band(s);
    e->release =
        bl_track_passage(s->track, BL_LAST_DOWNWARDS, from_ns, to,
                         &(const struct bl_level_passed){level, s->noise, keep},
                         BL_HELD_COMMAND);
    if (!e->release.found) {
        return;
    }
    judge_release(s, e, level);
    struct bl_walk walk = {from_ns, e->release.time_ns};
    while (walk.at_ns < walk.end_ns) {
        const struct bl_passage dip = bl_track_passage(
            s->track, BL_DOWNWARDS, walk.at_ns, walk.end_ns,
            &(const struct bl_level_passed){level, s->noise, keep},
            BL_HELD_COMMAND);
        if (!dip.found || dip.time_ns >= walk.end_ns - 1000000) {
            break;
        }
        e->modulations++;
        if (!bl_walk_on(&walk, dip.seen_ns)) {
            break;
        }
        const struct bl_passage back = bl_track_passage(
            s->track, BL_UPWARDS, walk.at_ns, walk.end_ns,
            &(const struct bl_level_passed){level, s->noise, keep},
            BL_HELD_COMMAND);
        if (!back.found) {
            break;
        }
        bl_walk_on(&walk, back.seen_ns);
    }
    if (e->modulations > 0) {
        e->flags |= BL_FLAG_MODULATED;
    }
}

static void find_shape(const struct search *s, struct bl_command_event *e)
{
    e->rise_10_90_s = NAN;
    if (s->track->is_state || e->begun_before ||
        (e->unfinished && e->hold_from != BL_HOLD_SETTLED)) {
        return;
    }
    const double step = e->hold - e->rest.value;
    const int64_t from = e->apply.time_ns - BL_FOOT_WITHIN_NS;
    const int64_t to = e->release.found ? e->release.time_ns : e->end_ns;
    const struct bl_passage low = bl_track_passage(
        s->track, BL_UPWARDS, from > e->from_ns ? from : e->from_ns, to,
        &(const struct bl_level_passed){e->rest.value + BL_SHARE_LOW * step,
                                        s->noise, 0},
        BL_HELD_COMMAND);
    const struct bl_passage high =
        bl_track_passage(s->track, BL_UPWARDS, e->apply.time_ns, to,
                         &(const struct bl_level_passed){
                             e->rest.value + BL_SHARE_HIGH * step, s->noise, 0},
                         BL_HELD_COMMAND);
    if (low.found && high.found) {
        e->rise_10_90_s = (double)(high.time_ns - low.time_ns) * 1e-9;
    } else if (high.found && s->track->steps != NULL) {
        e->rise_10_90_s = 0; /* one frame took it through both */
    }
    if (e->rise_10_90_s > BL_STEP_S) {
        e->flags |= BL_FLAG_RAMP;
    }
}

/* Everything after begin, rest and end are known. */
static void describe(const struct search *s, struct bl_command_event *e)
{
    const int64_t from = e->begun_before ? e->from_ns : e->apply.time_ns;
    if (s->track->is_state) {
        find_release(s, e, from);
        e->rise_10_90_s = NAN;
        return;
    }
    const struct bl_extent extent =
        bl_track_extent(s->track, from, e->end_ns + 1);
    e->peak = extent.known ? extent.largest : NAN;
    e->hold_known = extent.known;
    if (!extent.known) {
        return;
    }
    if (s->track->steps != NULL) {
        hold_of_steps(s, e);
    } else {
        bl_descent_hold(e, s->track, &extent, from, s->noise);
    }
    find_release(s, e, from);
    find_shape(s, e);
}

static struct bl_rest rest_for(struct search *s, int64_t since_ns,
                               int64_t before_ns, unsigned *flags)
{
    struct bl_rest rest = bl_track_rest(s->track, since_ns, before_ns);
    const double limit = fmax(s->find / 2, BL_CLEAR_OF_NOISE * s->noise);
    if (rest.known && rest.value - s->coarse_rest < limit) {
        s->last_rest = rest;
        return rest;
    }
    *flags |= BL_FLAG_REST_CARRIED;
    if (s->last_rest.known) {
        return s->last_rest;
    }
    return (struct bl_rest){.known = true,
                            .value = s->coarse_rest,
                            .noise = s->noise,
                            .u = s->noise};
}

static enum bl_status add(struct bl_command_events *events,
                          const struct bl_command_event *e,
                          struct bl_error *error)
{
    if (events->count >= BL_LIMIT_APPLICATIONS) {
        return bl_fail(error, BL_LIMIT, "",
                       "the command shows more than %u applications: is "
                       "command_at below its noise?",
                       BL_LIMIT_APPLICATIONS);
    }
    if (!bl_grow(&events->item, &events->capacity, events->count + 1,
                 sizeof(*events->item), BL_LIMIT_APPLICATIONS)) {
        return bl_fail_memory(error);
    }
    events->item[events->count++] = *e;
    return BL_OK;
}

/* Pressed when the part begins. */
static enum bl_status begun_before(struct search *s, struct bl_walk *walk,
                                   struct bl_command_events *events,
                                   struct bl_error *error)
{
    const double level = end_level(s, s->coarse_rest);
    const struct bl_extent start = bl_track_extent(
        s->track, s->from_ns,
        s->from_ns + (s->track->steps != NULL ? 1 : BL_REST_BEFORE_COMMAND_NS));
    if (!start.known || !(start.median > level)) {
        return BL_OK;
    }
    struct bl_command_event e = {.begun_before = true,
                                 .from_ns = s->from_ns,
                                 .to_ns = s->to_ns,
                                 .no_apply = BL_REASON_BEGUN_BEFORE,
                                 .flags = BL_FLAG_REST_CARRIED};
    e.rest = (struct bl_rest){.known = true,
                              .value = s->coarse_rest,
                              .noise = s->noise,
                              .u = s->noise};
    find_end(s, s->from_ns, level, &e);
    describe(s, &e);
    bl_walk_on(walk, e.end_ns + 1);
    return add(events, &e, error);
}

/* Where the command passes `at`, near the place where it was found. */
static struct bl_passage start_of(const struct search *s, int64_t since_ns,
                                  const struct bl_passage *coarse,
                                  const struct bl_command_event *e)
{
    const double level = e->rest.value + (s->blind ? s->find : s->at);
    int64_t near_ns = coarse->time_ns;
    if (!s->blind && s->find > s->at) {
        const struct bl_passage last = bl_track_passage(
            s->track, BL_LAST_UPWARDS, since_ns, coarse->seen_ns + 1,
            &(const struct bl_level_passed){level, e->rest.noise, band(s)},
            BL_HELD_COMMAND);
        near_ns = last.found ? last.time_ns : near_ns;
    }
    const int64_t from = near_ns - BL_FOOT_WITHIN_NS;
    return bl_track_passage(
        s->track, BL_UPWARDS, from > since_ns ? from : since_ns, s->to_ns,
        &(const struct bl_level_passed){level, e->rest.noise, band(s)},
        BL_HELD_COMMAND);
}

/* The next application from the walk's place on; the walk ends where there is
   none. */
static enum bl_status next_event(struct search *s, struct bl_walk *walk,
                                 struct bl_command_events *events,
                                 struct bl_error *error)
{
    const bool state = s->track->is_state;
    const double coarse_level =
        state ? BL_STATE_LEVEL : s->coarse_rest + s->find;
    const struct bl_passage coarse =
        bl_track_passage(s->track, BL_UPWARDS, walk->at_ns, s->to_ns,
                         &(const struct bl_level_passed){coarse_level, s->noise,
                                                         state ? 0 : band(s)},
                         BL_HELD_COMMAND);
    if (!coarse.found) {
        walk->at_ns = walk->end_ns;
        return BL_OK;
    }
    struct bl_command_event e = {
        .from_ns = s->from_ns, .to_ns = s->to_ns, .no_apply = s->blind};
    e.apply = coarse;
    e.rest = (struct bl_rest){.known = true};
    if (!state) {
        /* The rise itself is not rest: end the search a little before. */
        const int64_t margin =
            s->track->steps != NULL ? 1 : BL_REST_BEFORE_COMMAND_NS;
        e.rest = rest_for(s, walk->at_ns, coarse.time_ns - margin, &e.flags);
        const struct bl_passage fine = start_of(s, walk->at_ns, &coarse, &e);
        e.apply = fine.found ? fine : coarse;
    }
    find_end(s, e.apply.time_ns + 1, end_level(s, e.rest.value), &e);
    if (s->track->samples != NULL && !state && !e.unfinished &&
        e.end_ns - e.apply.time_ns < LEAST_NS) {
        bl_walk_on(walk, coarse.seen_ns);
        return BL_OK;
    }
    describe(s, &e);
    bl_walk_on(walk, e.end_ns > coarse.seen_ns ? e.end_ns + 1 : coarse.seen_ns);
    return add(events, &e, error);
}

static enum bl_status search_part(const struct bl_track *track, double at,
                                  int64_t from_ns, int64_t to_ns,
                                  struct bl_command_events *events,
                                  struct bl_error *error)
{
    struct search s = {.track = track,
                       .from_ns = from_ns,
                       .to_ns = to_ns,
                       .at = at,
                       .find = at};
    if (track->is_state) {
        s.coarse_rest = 0;
    } else if (track->steps != NULL) {
        coarse_rest_steps(&s);
    } else {
        const enum bl_status status = coarse_rest_samples(&s, error);
        if (status != BL_OK) {
            return status;
        }
        judge_noise(&s);
        events->deviation = fmax(events->deviation, s.deviation);
        events->blind =
            events->blind == BL_REASON_NONE ? s.blind : events->blind;
    }
    if (isinf(s.coarse_rest)) {
        return BL_OK; /* no valid value in this part */
    }
    struct bl_walk walk = {from_ns, to_ns};
    enum bl_status status = begun_before(&s, &walk, events, error);
    while (status == BL_OK && walk.at_ns < walk.end_ns) {
        status = next_event(&s, &walk, events, error);
    }
    return status;
}

static enum bl_status search_samples(const struct bl_track *track, double at,
                                     struct bl_command_events *events,
                                     struct bl_error *error)
{
    const struct bl_samples *s = track->samples;
    const size_t parts = s->parts == 0 ? 1 : s->parts;
    for (size_t p = 0; p < parts; p++) {
        const size_t first = s->parts == 0 ? 0 : s->part_start[p];
        const size_t end = p + 1 < parts ? s->part_start[p + 1] : s->count;
        if (end <= first) {
            continue;
        }
        const enum bl_status status = search_part(
            track, at, bl_track_run(track, s->time_ns[first]),
            bl_track_run(track, s->time_ns[end - 1]) + 1, events, error);
        if (status != BL_OK) {
            return status;
        }
    }
    return BL_OK;
}

static enum bl_status search_steps(const struct bl_track *track, double at,
                                   struct bl_command_events *events,
                                   struct bl_error *error)
{
    const struct bl_steps *s = track->steps;
    size_t first = 0;
    for (size_t i = 1; i <= s->count; i++) {
        if (i < s->count && s->segment[i].part == s->segment[first].part) {
            continue;
        }
        const enum bl_status status = search_part(
            track, at, bl_track_run(track, s->segment[first].first_ns),
            bl_track_run(track, s->segment[i - 1].last_ns) + 1, events, error);
        if (status != BL_OK) {
            return status;
        }
        first = i;
    }
    return BL_OK;
}

enum bl_status bl_command_find(struct bl_command_events *events,
                               const struct bl_track *command, double at,
                               struct bl_error *error)
{
    *events = (struct bl_command_events){0};
    enum bl_status status = command->samples != NULL
                                ? search_samples(command, at, events, error)
                                : search_steps(command, at, events, error);
    if (status != BL_OK) {
        bl_command_events_finish(events);
    }
    return status;
}

void bl_command_events_finish(struct bl_command_events *events)
{
    bl_free(events->item);
    *events = (struct bl_command_events){0};
}
