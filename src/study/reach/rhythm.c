/* SPDX-License-Identifier: MIT */
/*
 * A capture that no clock ties to the command. What moves in it with the
 * command's pauses moves with the command: the front-most demand, or the
 * braking state that a unit reports. Where it moves as often as the command
 * asks for braking, its movements are the command's, one for one; where it
 * moves less often, at least three movements must fit one place in the
 * command's rhythm and no other. Times within that recording then count from
 * them. One movement alone has no rhythm.
 */
#include "study/reach/reach.h"

#include "base/alloc.h"
#include "lag/application.h"
#include "lag/demand.h"

#include <math.h>

static const double RHYTHM_S = 0.3; /* a pause may differ by: own choice, the
                                       towing vehicle's time and a pedal's */
enum { LEAST = 2, LEAST_OF_PART = 3 };

bool bl_reach_tied(const struct bl_reaching *r, size_t recording)
{
    const enum bl_clock_claim claim = r->clocks->tie[recording].claim;
    return claim != BL_CLAIM_NONE && claim != BL_CLAIM_AMBIGUOUS;
}

double bl_reach_local(const struct bl_reaching *r, size_t recording,
                      int64_t raw_ns)
{
    return bl_reach_tied(r, recording)
               ? bl_reach_time(r, recording, raw_ns)
               : (double)(raw_ns - r->data->recording[recording].first_ns) *
                     1e-9;
}

/* Whole rises and falls of the demand to unit k, up to `room` of them; returns
   how many there are. */
static size_t beats_of(const struct bl_reaching *r, size_t k,
                       struct bl_reach_beat *beat, size_t room)
{
    const struct bl_bus_series *s = r->series[k];
    const double level = bl_reach_level(r, k);
    size_t n = 0;
    bool low = false;
    bool high = false;
    for (size_t i = 0; i < s->steps.count; i++) {
        const struct bl_segment *g = &s->steps.segment[i];
        if (g->state != BL_VALUE_VALID) {
            continue;
        }
        const double at = bl_reach_local(r, s->recording, g->first_ns);
        if (low && g->value >= level) {
            if (n < room) {
                beat[n] = (struct bl_reach_beat){at, INFINITY};
            }
            n++;
            high = true;
        } else if (high && g->value < level / 2) {
            if (n <= room) {
                beat[n - 1].fall_s = at;
            }
            high = false;
        }
        low = g->value < level / 2 || (low && g->value < level);
    }
    return n;
}

/* The front-most unit whose demand is in the recording; units: none. */
static size_t front_most(const struct bl_reaching *r, size_t recording)
{
    for (size_t k = 0; k < r->into->units; k++) {
        if (r->series[k] != NULL && r->series[k]->recording == recording &&
            !r->into->unit[k].split) {
            return k;
        }
    }
    return r->into->units;
}

/* Whole on and off of a braking state, as beats_of. */
static size_t states_of(const struct bl_reaching *r,
                        const struct bl_bus_series *s,
                        struct bl_reach_beat *beat, size_t room)
{
    size_t n = 0;
    bool off = false;
    bool on = false;
    for (size_t i = 0; i < s->steps.count; i++) {
        const struct bl_segment *g = &s->steps.segment[i];
        if (g->state != BL_VALUE_VALID) {
            continue;
        }
        const double at = bl_reach_local(r, s->recording, g->first_ns);
        if (off && g->raw == 1) {
            if (n < room) {
                beat[n] = (struct bl_reach_beat){at, INFINITY};
            }
            n++;
            on = true;
        } else if (on && g->raw != 1) {
            if (n <= room) {
                beat[n - 1].fall_s = at;
            }
            on = false;
        }
        off = g->raw != 1;
    }
    return n;
}

/* An application that asks for braking: when it begins and ends, and when what
   is looked for should be seen to begin. */
struct asked {
    size_t index;
    double apply_s, release_s, seen_s;
};

/* What moves in a recording beside what should. */
struct rhythm {
    const struct bl_reach_beat *seen;
    size_t n;
    const struct asked *asked;
    size_t asks;
};

static bool fits_from(const struct rhythm *rhythm, size_t from)
{
    for (size_t i = 1; i < rhythm->n; i++) {
        const double seen_s =
            rhythm->seen[i].rise_s - rhythm->seen[i - 1].rise_s;
        const double asked_s =
            rhythm->asked[from + i].seen_s - rhythm->asked[from + i - 1].seen_s;
        if (!(fabs(seen_s - asked_s) <= RHYTHM_S)) {
            return false;
        }
    }
    return true;
}

/* The one place where the movements fit; asks: none, or several. */
static size_t place_of(const struct rhythm *rhythm)
{
    size_t found = rhythm->asks;
    if (rhythm->n < LEAST || rhythm->n > rhythm->asks ||
        (rhythm->n < rhythm->asks && rhythm->n < LEAST_OF_PART)) {
        return rhythm->asks;
    }
    for (size_t from = 0; from + rhythm->n <= rhythm->asks; from++) {
        if (fits_from(rhythm, from)) {
            if (found < rhythm->asks) {
                return rhythm->asks;
            }
            found = from;
        }
    }
    return found;
}

/* Each application's own movement where it has one, else by the shift of those
   that have. */
static bool put_beats(const struct rhythm *rhythm, struct bl_reach_beat *beat,
                      bool of_demand)
{
    const size_t from = place_of(rhythm);
    if (from == rhythm->asks) {
        return false;
    }
    double shift_s = 0;
    for (size_t i = 0; i < rhythm->n; i++) {
        shift_s += (rhythm->seen[i].rise_s - rhythm->asked[from + i].seen_s) /
                   (double)rhythm->n;
    }
    for (size_t i = 0; i < rhythm->asks; i++) {
        const struct asked *asked = &rhythm->asked[i];
        const bool own = of_demand && i >= from && i < from + rhythm->n;
        beat[asked->index] =
            own ? rhythm->seen[i - from]
                : (struct bl_reach_beat){asked->apply_s + shift_s,
                                         asked->release_s + shift_s};
        if (own && isinf(rhythm->seen[i - from].fall_s)) {
            beat[asked->index].fall_s = asked->release_s + shift_s;
        }
    }
    return true;
}

/* When the unit's output responds, s after the command: a braking state is
   reported by then. NaN: not known. */
static double response_of(const struct bl_application *a, size_t unit)
{
    const struct bl_unit_lag *lag = bl_application_unit(a, unit);
    return lag != NULL && lag->figure[BL_FIGURE_RESPONSE].known
               ? lag->figure[BL_FIGURE_RESPONSE].s
               : NAN;
}

/* Applications that ask the combination for braking. `state_of`: what is looked
   for is this unit's state; the trial's units: the demand. */
static size_t ask(const struct bl_reaching *r, size_t k, size_t state_of,
                  struct asked *out)
{
    const char combination = r->trial->unit[r->into->unit[k].unit].combination;
    const double level = bl_reach_level(r, k);
    size_t n = 0;
    for (size_t i = 0; i < r->lag->applications; i++) {
        const struct bl_application *a = &r->lag->application[i];
        if (a->combination == combination && bl_reach_plain(a, level)) {
            out[n] = (struct asked){.index = i,
                                    .apply_s = a->command_apply.s,
                                    .release_s = a->command_release.known
                                                     ? a->command_release.s
                                                     : INFINITY};
            out[n].seen_s = state_of < r->trial->units
                                ? out[n].apply_s + response_of(a, state_of)
                                : out[n].apply_s;
            n++;
        }
    }
    return n;
}

struct matching {
    struct bl_reach_beat *beat, *seen;
    struct asked *asked;
    size_t room;
};

/* By the demand to unit k itself. */
static bool by_demand(const struct bl_reaching *r, size_t k,
                      const struct matching *m)
{
    const struct rhythm rhythm = {.seen = m->seen,
                                  .n = beats_of(r, k, m->seen, m->room),
                                  .asked = m->asked,
                                  .asks = ask(r, k, r->trial->units, m->asked)};
    return put_beats(&rhythm, m->beat, true);
}

/* By what any towed unit in the recording reports. */
static bool by_state(const struct bl_reaching *r, size_t k, size_t recording,
                     const struct matching *m)
{
    for (size_t i = 0; i < r->into->units; i++) {
        const size_t unit = r->into->unit[i].unit;
        const struct bl_bus_series *s =
            bl_demand_report(r->trial, r->data, unit);
        if (s == NULL || s->recording != recording) {
            continue;
        }
        const struct rhythm rhythm = {.seen = m->seen,
                                      .n = states_of(r, s, m->seen, m->room),
                                      .asked = m->asked,
                                      .asks = ask(r, k, unit, m->asked)};
        if (put_beats(&rhythm, m->beat, false)) {
            return true;
        }
    }
    return false;
}

static enum bl_status match(struct bl_reaching *r, size_t recording, size_t k,
                            struct bl_error *error)
{
    const size_t room = r->lag->applications;
    struct matching m = {.beat = bl_alloc(room + 1, sizeof(*m.beat)),
                         .seen = bl_alloc(room + 1, sizeof(*m.seen)),
                         .asked = bl_alloc(room + 1, sizeof(*m.asked)),
                         .room = room};
    const bool memory = m.beat != NULL && m.seen != NULL && m.asked != NULL;
    bool found = false;
    if (memory) {
        for (size_t i = 0; i < room; i++) {
            m.beat[i] = (struct bl_reach_beat){NAN, NAN};
        }
        found = by_demand(r, k, &m) || by_state(r, k, recording, &m);
    }
    bl_free(m.seen);
    bl_free(m.asked);
    if (found) {
        r->beat[recording] = m.beat;
    } else {
        bl_free(m.beat);
    }
    return memory ? BL_OK : bl_fail_memory(error);
}

enum bl_status bl_reach_rhythm(struct bl_reaching *r, struct bl_error *error)
{
    r->beat = bl_alloc(r->data->recordings + 1, sizeof(struct bl_reach_beat *));
    if (r->beat == NULL) {
        return bl_fail_memory(error);
    }
    for (size_t i = 0; r->lag != NULL && i < r->data->recordings; i++) {
        const size_t k = front_most(r, i);
        if (!bl_reach_tied(r, i) && k < r->into->units) {
            const enum bl_status status = match(r, i, k, error);
            if (status != BL_OK) {
                return status;
            }
        }
    }
    return BL_OK;
}

void bl_reach_rhythm_finish(struct bl_reaching *r)
{
    for (size_t i = 0; r->beat != NULL && i < r->data->recordings; i++) {
        bl_free(r->beat[i]);
    }
    bl_free(r->beat);
}
