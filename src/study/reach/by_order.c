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
enum { MOVES_MOST = 256, HELD_FRAMES = 5 /* own choice: then it is held */ };

bool bl_reach_untimed(const struct bl_reaching *r, size_t k)
{
    return r->series[k] != NULL &&
           r->data->recording[r->series[k]->recording].untimed;
}

/* Rises through a level and falls below half of it, as places in the file. */
struct moves {
    int64_t rise[MOVES_MOST], fall[MOVES_MOST]; /* fall INT64_MAX: none */
    size_t count;
    bool more; /* than there is room for: then nothing is matched */
};

static void find_moves(struct moves *m, const struct bl_steps *steps,
                       double level)
{
    double least = INFINITY;
    bool low = false;
    bool high = false;
    m->count = 0;
    m->more = false;
    for (size_t i = 0; i < steps->count; i++) {
        least = fmin(least, steps->segment[i].value); /* passes NaN over */
    }
    for (size_t i = 0; i < steps->count; i++) {
        const struct bl_segment *g = &steps->segment[i];
        const double above = g->value - least;
        if (g->state != BL_VALUE_VALID) {
            continue;
        }
        if (low && above >= level && m->count == MOVES_MOST) {
            m->more = true;
            return;
        }
        if (low && above >= level) {
            m->rise[m->count] = g->first_ns;
            m->fall[m->count++] = INT64_MAX;
            high = true;
        } else if (high && above < level / 2) {
            m->fall[m->count - 1] = g->first_ns;
            high = false;
        }
        low = above < level / 2 || (low && above < level);
    }
}

/* Each movement of the demand lies behind one of the command and before its
   next one. */
static bool one_for_one(const struct moves *command, const struct moves *demand)
{
    if (command->more || demand->more || command->count != demand->count ||
        command->count == 0) {
        return false;
    }
    for (size_t i = 0; i < command->count; i++) {
        const int64_t next =
            i + 1 < command->count ? command->rise[i + 1] : INT64_MAX;
        if (demand->rise[i] < command->rise[i] || demand->rise[i] > next ||
            demand->fall[i] < command->fall[i] ||
            (command->fall[i] < INT64_MAX && demand->fall[i] > next)) {
            return false;
        }
    }
    return true;
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
    struct moves command = {.count = 0};
    struct moves demand;
    double level = NAN;
    const struct bl_steps *steps = command_of(r, k, &level);
    find_moves(&demand, &r->series[k]->steps, bl_reach_level(r, k));
    if (steps != NULL) {
        find_moves(&command, steps, level);
    }
    if ((command.more || demand.more) && demand.count > 0) {
        bl_reach_claim(unit, BL_REACH_ARRIVES, BL_UNKNOWN,
                       "its recording has no times and moves more than %d "
                       "times: give a part of it",
                       (int)MOVES_MOST);
    } else if (one_for_one(&command, &demand)) {
        bl_reach_claim(unit, BL_REACH_ARRIVES, BL_YES,
                       "its recording has no times; in their order it rises "
                       "and falls behind each of the command's %zu movements",
                       command.count);
    } else if (command.count > 0 && demand.count == 0) {
        bl_reach_claim(unit, BL_REACH_ARRIVES, BL_NO,
                       "it does not rise while the command rises %zu time%s",
                       command.count, command.count == 1 ? "" : "s");
    } else {
        bl_reach_claim(unit, BL_REACH_ARRIVES, BL_UNKNOWN,
                       "its recording has no times, and by their order its "
                       "%zu movement%s cannot be matched with the command",
                       demand.count, demand.count == 1 ? "" : "s");
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
