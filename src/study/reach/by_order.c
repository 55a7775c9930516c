/* SPDX-License-Identifier: MIT */
/*
 * A recording without times: the order of its frames is all there is. Whether
 * the demand moves with the command, and hands on the same values, shows in
 * order too; rate and time do not.
 */
#include "study/reach/reach.h"

#include "lag/track.h"

#include <math.h>

static const double PLAIN_KPA = 20; /* values below are at rest: as unchanged.c
                                       asks for */
enum { HELD_FRAMES = 5 /* own choice: then it is held */ };

bool bl_reach_untimed(const struct bl_reaching *r, size_t k)
{
    return r->series[k] != NULL &&
           r->data->recording[r->series[k]->recording].untimed;
}

/* Rises through a level and falls below half of it, one after the other. */
struct moves {
    const struct bl_steps *steps; /* NULL: there are none */
    double level, least;
    size_t at;          /* of the segments: the next one to be looked at */
    bool low;           /* it was below half of the level before that */
    size_t count;       /* movements so far */
    int64_t rise, fall; /* places in the file of the last one; INT64_MAX: it
                           does not fall any more */
};

static struct moves moves_of(const struct bl_steps *steps, double level)
{
    struct moves m = {.steps = steps, .level = level, .least = INFINITY};
    for (size_t i = 0; steps != NULL && i < steps->count; i++) {
        m.least = fmin(m.least, steps->segment[i].value); /* passes NaN over */
    }
    return m;
}

/* The next movement, from its rise to its fall; false: there is none. */
static bool next_move(struct moves *m)
{
    bool high = false;
    m->fall = INT64_MAX;
    for (; m->steps != NULL && m->at < m->steps->count; m->at++) {
        const struct bl_segment *g = &m->steps->segment[m->at];
        if (g->state != BL_VALUE_VALID) {
            continue;
        }
        const double above = g->value - m->least;
        if (high && above < m->level / 2) {
            m->fall = g->first_ns;
            break;
        }
        if (!high && m->low && above >= m->level) {
            m->rise = g->first_ns;
            m->count++;
            high = true;
        }
        m->low = above < m->level / 2 || (m->low && above < m->level);
    }
    return high;
}

/* How the movements of the demand go with those of the command. */
struct match {
    size_t commands, demands;
    bool one_for_one; /* each lies behind one of the command and before its next
                         one */
};

static struct match match_of(struct moves command, struct moves demand)
{
    struct match match = {.one_for_one = true};
    bool more = next_move(&command);
    bool follows = next_move(&demand);
    while (more && follows) {
        const int64_t rise = command.rise;
        const int64_t fall = command.fall;
        more = next_move(&command);
        const int64_t next = more ? command.rise : INT64_MAX;
        const bool falls_with_it =
            fall == INT64_MAX ||
            (demand.fall < INT64_MAX && demand.fall <= next);
        match.one_for_one = match.one_for_one && demand.rise >= rise &&
                            demand.rise <= next && demand.fall >= fall &&
                            falls_with_it;
        follows = next_move(&demand);
    }
    match.one_for_one = match.one_for_one && !more && !follows;
    while (more) {
        more = next_move(&command);
    }
    while (follows) {
        follows = next_move(&demand);
    }
    match.commands = command.count;
    match.demands = demand.count;
    match.one_for_one = match.one_for_one && match.commands > 0;
    return match;
}

static const struct bl_steps *command_of(const struct bl_reaching *r, size_t k,
                                         double *level)
{
    const struct bl_trial_unit *self = &r->trial->unit[r->into->unit[k].unit];
    const long front = bl_trial_unit_index(r->trial, self->combination, 0);
    struct bl_track track;
    if (front < 0) {
        return NULL;
    }
    bl_track_find(&track, r->trial, r->data, r->clocks,
                  &r->trial->unit[front].command);
    *level = r->trial->unit[front].command_at;
    return track.present && track.recording == r->series[k]->recording &&
                   *level > 0
               ? track.steps
               : NULL;
}

void bl_reach_arrives_by_order(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    double level = NAN;
    const struct bl_steps *steps = command_of(r, k, &level);
    const struct match match =
        match_of(moves_of(steps, level),
                 moves_of(&r->series[k]->steps, bl_reach_level(r, k)));
    if (match.one_for_one) {
        bl_reach_claim(unit, BL_REACH_ARRIVES, BL_YES,
                       "its recording has no times; in their order it rises "
                       "and falls behind each of the command's %zu movements",
                       match.commands);
    } else if (match.commands > 0 && match.demands == 0) {
        bl_reach_claim(unit, BL_REACH_ARRIVES, BL_NO,
                       "it does not rise while the command rises %zu time%s",
                       match.commands, match.commands == 1 ? "" : "s");
    } else {
        bl_reach_claim(unit, BL_REACH_ARRIVES, BL_UNKNOWN,
                       "its recording has no times, and by their order its "
                       "%zu movement%s cannot be matched with the command",
                       match.demands, match.demands == 1 ? "" : "s");
    }
}

/* The next value from *at on that was held; false: there is none. */
static bool next_held(const struct bl_steps *steps, size_t *at, double *value)
{
    for (; *at < steps->count; (*at)++) {
        const struct bl_segment *g = &steps->segment[*at];
        if (g->state == BL_VALUE_VALID && g->count >= HELD_FRAMES) {
            *value = g->value;
            (*at)++;
            return true;
        }
    }
    return false;
}

void bl_reach_unchanged_by_order(struct bl_reaching *r, size_t first, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    const struct bl_steps *a = &r->series[first]->steps;
    const struct bl_steps *b = &r->series[k]->steps;
    const double bit = fmax(a->resolution, b->resolution);
    size_t at_a = 0;
    size_t at_b = 0;
    size_t same = 0;
    bool differ = false;
    double value_a = NAN;
    double value_b = NAN;
    while (!differ && first != k &&
           r->series[first]->recording == r->series[k]->recording) {
        const bool more_a = next_held(a, &at_a, &value_a);
        const bool more_b = next_held(b, &at_b, &value_b);
        if (!more_a && !more_b) {
            break;
        }
        differ = more_a != more_b || fabs(value_a - value_b) > bit;
        same += !differ && value_b >= PLAIN_KPA;
    }
    if (!differ && same > 0) {
        bl_reach_claim(unit, BL_REACH_UNCHANGED, BL_YES,
                       "the %zu values that it holds are those of the first "
                       "link, one by one",
                       same);
        return;
    }
    bl_reach_claim(unit, BL_REACH_UNCHANGED, BL_UNKNOWN,
                   "its recording has no times, and by their order its values "
                   "cannot be matched with %s",
                   first == k ? "the command's" : "the first link's");
}

void bl_reach_without_times(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    const struct bl_figure none = {.reason = BL_REASON_CLOCKS_UNRELATED};
    unit->least_s = unit->median_s = unit->most_s = unit->nominal_s = NAN;
    unit->lost_share = unit->worst_delay_s = NAN;
    unit->first_frame_s = unit->first_valid_s = NAN;
    unit->gaps = 0;
    unit->lost = 0;
    unit->delay = unit->added = none;
}
