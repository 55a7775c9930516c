/* SPDX-License-Identifier: MIT */
/*
 * Does the demand move with the command? In an application that plainly asks
 * for braking it must rise through the level from below half of it, and fall
 * below half again before the next one. What stands at one value, be it 0 or
 * full, has not arrived: nobody knows whether it would have moved.
 */
#include "study/reach/reach.h"

#include <math.h>

static const double BEFORE_S = 0.3; /* a demand may be ahead of the pressure
                                       that is the command: own choice */
static const double AFTER_S = 1.0;  /* later is another application: own choice,
                                       as in edges.c */
static const double LEAST_SHARE = 0.1; /* of the command's hold, own choice */
static const double PLAIN_PERCENT = 15, PLAIN_S = 0.3; /* own choice */

struct window {
    double apply_s, release_s; /* INFINITY: not seen */
    double from_s, until_s;    /* in which it must rise */
    double next_s;             /* by which it must have fallen */
};

/* Times are those of the link's recording: the run's where a clock ties it, its
   own where the rhythm of the front-most demand in it is the command's. */
bool bl_reach_span(const struct bl_reaching *r, size_t k, size_t index,
                   double *apply_s, double *release_s)
{
    const struct bl_application *a = &r->lag->application[index];
    const size_t at = r->series[k]->recording;
    if (!a->command_apply.known) {
        return false;
    }
    if (!bl_reach_tied(r, at)) {
        const struct bl_reach_beat *beat = r->beat[at];
        if (beat == NULL || isnan(beat[index].rise_s)) {
            return false;
        }
        *apply_s = beat[index].rise_s;
        *release_s = beat[index].fall_s;
        return true;
    }
    const double shift = (double)(r->lag->t0_ns - r->clocks->t0_ns) * 1e-9;
    *apply_s = a->command_apply.s + shift;
    *release_s =
        a->command_release.known ? a->command_release.s + shift : INFINITY;
    return true;
}

static bool window_of(const struct bl_reaching *r, size_t k, size_t index,
                      struct window *w)
{
    const struct bl_application *a = &r->lag->application[index];
    if (!bl_reach_span(r, k, index, &w->apply_s, &w->release_s)) {
        return false;
    }
    w->next_s = INFINITY;
    w->from_s = w->apply_s - BEFORE_S;
    for (size_t i = 0; i < r->lag->applications; i++) {
        const struct bl_application *other = &r->lag->application[i];
        double apply;
        double release;
        if (other->combination != a->combination || i == index ||
            !bl_reach_span(r, k, i, &apply, &release)) {
            continue;
        }
        if (!isinf(release) && i < index) {
            w->from_s = fmax(w->from_s, release);
        }
        if (i > index && apply < w->next_s) {
            w->next_s = apply;
        }
    }
    w->until_s = fmin(w->release_s + AFTER_S, w->next_s);
    return true;
}

/* Left out by the trial itself? */
static bool left_out(const struct bl_reaching *r, int number)
{
    const struct bl_trial_run *run = &r->trial->run[r->data->run];
    for (size_t i = 0; i < run->exclusions; i++) {
        if (run->exclude[i].application == number) {
            return true;
        }
    }
    return false;
}

/* A touch of the pedal need not reach the electronics. */
bool bl_reach_plain(const struct bl_application *a, double level)
{
    if (!a->command_apply.known || a->begun_before) {
        return false;
    }
    if (a->command_hold.known &&
        a->command_hold.quantity == BL_QUANTITY_PRESSURE) {
        return a->command_hold.value - a->command_rest.value >= 2 * level;
    }
    if (a->command_hold.known &&
        a->command_hold.quantity == BL_QUANTITY_RATIO) {
        return a->command_hold.value >= PLAIN_PERCENT;
    }
    return !a->command_release.known ||
           a->command_release.s - a->command_apply.s >= PLAIN_S;
}

/* Does the recording hold the time in which it should move? */
static bool recorded(const struct bl_reaching *r, size_t k,
                     const struct window *w)
{
    const struct bl_reach_unit *unit = &r->into->unit[k];
    const size_t at = r->series[k]->recording;
    const struct bl_loaded_recording *recording = &r->data->recording[at];
    const double first = bl_reach_local(r, at, recording->first_ns);
    const double last = bl_reach_local(r, at, recording->last_ns);
    const double end =
        isinf(w->release_s) ? w->apply_s + AFTER_S : w->release_s;
    if (!(first <= w->apply_s && last >= end)) {
        return false; /* or no clock ties it */
    }
    for (size_t i = 0; i < unit->gaps; i++) {
        const struct bl_reach_gap *gap = &unit->gap[i];
        if (gap->kind == BL_GAP_RECORDER && gap->from_s < w->until_s &&
            gap->from_s + gap->length_s > w->from_s) {
            return false;
        }
    }
    return true;
}

struct seen {
    double least, most; /* of values within the window */
    bool low, any;
};

static void look_at(const struct bl_segment *g, const double at[2],
                    const struct window *w, double need,
                    struct bl_reach_count *into, struct seen *seen)
{
    if (at[1] < w->from_s) {
        seen->low = g->value < need / 2;
        return;
    }
    if (at[0] >= w->next_s) {
        return;
    }
    if (at[0] < w->until_s) {
        seen->least = seen->any ? fmin(seen->least, g->value) : g->value;
        seen->most = seen->any ? fmax(seen->most, g->value) : g->value;
        seen->any = true;
    }
    if (isnan(into->rise_s)) {
        seen->low = seen->low || g->value < need / 2;
        if (seen->low && g->value >= need && at[0] < w->until_s) {
            into->rise_s = at[0];
        }
    } else if (isnan(into->fall_s) && g->value < need / 2 &&
               at[0] > into->rise_s) {
        into->fall_s = at[0];
    }
}

/* A release that was not seen, or a recording that ends with it, asks for no
   fall. */
static bool fall_due(const struct bl_reaching *r, size_t k,
                     const struct window *w)
{
    const size_t at = r->series[k]->recording;
    const double last = bl_reach_local(r, at, r->data->recording[at].last_ns);
    return !isinf(w->release_s) && last > w->release_s + AFTER_S;
}

void bl_reach_move(const struct bl_reaching *r, size_t k, size_t index,
                   struct bl_reach_count *into)
{
    const struct bl_application *a = &r->lag->application[index];
    struct window w;
    const double level = bl_reach_level(r, k);
    const bool pressure = a->command_hold.known &&
                          a->command_hold.quantity == BL_QUANTITY_PRESSURE;
    const double need = pressure
                            ? fmax(level, LEAST_SHARE * (a->command_hold.value -
                                                         a->command_rest.value))
                            : level;
    const struct bl_bus_series *s = r->series[k];
    struct seen seen = {.low = true};
    into->rise_s = into->fall_s = into->delay_s = into->stands_kpa = NAN;
    into->asked = bl_reach_plain(a, level) && !left_out(r, a->number) &&
                  window_of(r, k, index, &w) && recorded(r, k, &w);
    if (!into->asked) {
        return;
    }
    for (size_t i = 0; i < s->steps.count; i++) {
        const struct bl_segment *g = &s->steps.segment[i];
        const double at[2] = {bl_reach_local(r, s->recording, g->first_ns),
                              bl_reach_local(r, s->recording, g->last_ns)};
        if (g->state == BL_VALUE_VALID) {
            look_at(g, at, &w, need, into, &seen);
        }
    }
    into->moved =
        !isnan(into->rise_s) && (!isnan(into->fall_s) || !fall_due(r, k, &w))
            ? BL_YES
            : BL_NO;
    if (into->moved == BL_YES) {
        return;
    }
    if (!seen.any) {
        into->stands_kpa = NAN; /* no frame with a value */
    } else if (seen.most - seen.least < need / 2 || !isnan(into->rise_s)) {
        into->stands_kpa = seen.most;
    }
}
