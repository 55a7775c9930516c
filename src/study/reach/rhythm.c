/* SPDX-License-Identifier: MIT */
/*
 * A capture that no clock ties to the command. Where the front-most demand in
 * it rises and falls as often as the command asks for braking, and in the same
 * rhythm, its movements are the command's, one for one; times within that
 * recording then count from them. One movement alone has no rhythm.
 */
#include "study/reach/reach.h"

#include "base/alloc.h"

#include <math.h>

static const double RHYTHM_S = 0.3; /* a pause may differ by: own choice, the
                                       towing vehicle's time and a pedal's */
enum { LEAST = 2 };

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

static enum bl_status match(struct bl_reaching *r, size_t recording, size_t k,
                            struct bl_error *error)
{
    const struct bl_run_lag *lag = r->lag;
    const char combination = r->trial->unit[r->into->unit[k].unit].combination;
    struct bl_reach_beat *beat = bl_alloc(2 * lag->applications, sizeof(*beat));
    if (beat == NULL) {
        return bl_fail_memory(error);
    }
    struct bl_reach_beat *seen = beat + lag->applications;
    const size_t n = beats_of(r, k, seen, lag->applications);
    const double level = bl_reach_level(r, k);
    size_t asked = 0;
    double last_s = NAN;
    bool same = true;
    for (size_t i = 0; i < lag->applications; i++) {
        const struct bl_application *a = &lag->application[i];
        beat[i] = (struct bl_reach_beat){NAN, NAN};
        if (a->combination != combination || !bl_reach_plain(a, level)) {
            continue;
        }
        if (asked < n && asked < lag->applications) {
            beat[i] = seen[asked];
            same = same && (asked == 0 ||
                            fabs(seen[asked].rise_s - seen[asked - 1].rise_s -
                                 (a->command_apply.s - last_s)) <= RHYTHM_S);
        }
        last_s = a->command_apply.s;
        asked++;
    }
    if (asked != n || n < LEAST || !same) {
        bl_free(beat);
        return BL_OK;
    }
    r->beat[recording] = beat;
    return BL_OK;
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
