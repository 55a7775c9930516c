/* SPDX-License-Identifier: MIT */
/*
 * The value of the demand against the first hop, and how much later it
 * arrives. Values are held between frames: a level is passed at the stamp of
 * the first frame at or beyond it, and the source passed it somewhere within
 * the interval before: u = interval / sqrt 12 for each of the two hops. The
 * beats of two senders hardly move against each other within a run, so this
 * does not average out.
 */
#include "study/reach/reach.h"

#include "base/alloc.h"
#include "base/number.h"
#include "lag/demand.h"

#include <math.h>

static const double SETTLED_S = 0.03;   /* or three intervals */
static const double BRAKING_KPA = 20;   /* below it stands for no braking */
static const double LONGEST_S = 1.0;    /* later is another application */
static const double EARLIEST_S = -0.05; /* of a hop: clocks' uncertainty */

double bl_reach_level(const struct bl_reaching *r, size_t k)
{
    const struct bl_trial_unit *self = &r->trial->unit[r->into->unit[k].unit];
    const long front = bl_trial_unit_index(r->trial, self->combination, 0);
    return front < 0 ? r->trial->response_at_kpa
                     : bl_demand_level(r->trial, &r->trial->unit[front]);
}

/* Stamps (run's time, s) at which the held value rises through `level`, to be
   freed; as many as there are. */
static double *edges_of(const struct bl_reaching *r,
                        const struct bl_bus_series *s, double level,
                        size_t *count)
{
    /* Before each rise there is a segment below. */
    double *edge = bl_alloc(s->steps.count / 2 + 1, sizeof(*edge));
    size_t n = 0;
    bool below = false;
    for (size_t i = 0; edge != NULL && i < s->steps.count; i++) {
        const struct bl_segment *g = &s->steps.segment[i];
        if (g->state != BL_VALUE_VALID || g->before_ns == INT64_MIN) {
            below = g->state == BL_VALUE_VALID && g->value < level / 2;
            continue;
        }
        if (below && g->value >= level) {
            edge[n++] = bl_reach_local(r, s->recording, g->first_ns);
            below = false;
        }
        below = below || g->value < level / 2;
    }
    *count = n;
    return edge;
}

/* How much later than each of `first` the next of `later` comes, where it can
   be the same movement; `delay` has room for all of `first`. */
static size_t delays_of(const double *first, size_t a, const double *later,
                        size_t b, double *delay)
{
    size_t n = 0;
    for (size_t i = 0, j = 0; i < a; i++) {
        while (j < b && later[j] - first[i] < EARLIEST_S) {
            j++;
        }
        if (j < b && later[j] - first[i] < LONGEST_S) {
            delay[n++] = later[j] - first[i];
        }
    }
    return n;
}

bool bl_reach_related(const struct bl_reaching *r, size_t a, size_t b,
                      double *u_s)
{
    *u_s = 0;
    if (a == b) {
        return true;
    }
    const size_t both[] = {a, b};
    for (size_t i = 0; i < 2; i++) {
        const struct bl_clock_tie *tie = &r->clocks->tie[both[i]];
        if (tie->claim != BL_CLAIM_ABSOLUTE && tie->claim != BL_CLAIM_BOUNDED) {
            return false;
        }
        *u_s =
            hypot(*u_s, bl_clock_u(tie, r->data->recording[both[i]].first_ns));
    }
    return true;
}

static struct bl_figure delay_between(const struct bl_reaching *r, size_t from,
                                      size_t to, double *worst, size_t *pairs)
{
    struct bl_figure figure = {.reason = BL_REASON_NO_DATA};
    double u_clock;
    *pairs = 0;
    if (!bl_reach_related(r, r->series[from]->recording,
                          r->series[to]->recording, &u_clock)) {
        figure.reason = BL_REASON_CLOCKS_UNRELATED;
        return figure;
    }
    const double level = bl_reach_level(r, to);
    size_t a = 0;
    size_t b = 0;
    double *first = edges_of(r, r->series[from], level, &a);
    double *later = edges_of(r, r->series[to], level, &b);
    double *delay = bl_alloc(a + 1, sizeof(*delay));
    /* Memory that is short ends the whole (bl_reach_run). */
    const size_t n = first == NULL || later == NULL || delay == NULL
                         ? 0
                         : delays_of(first, a, later, b, delay);
    for (size_t i = 0; i < n; i++) {
        *worst = isnan(*worst) ? delay[i] : fmax(*worst, delay[i]);
    }
    const double middle_s = n == 0 ? NAN : bl_median(delay, n);
    bl_free(first);
    bl_free(later);
    bl_free(delay);
    if (n == 0) {
        return figure;
    }
    const double t1 = r->into->unit[from].nominal_s;
    const double t2 = r->into->unit[to].nominal_s;
    *pairs = n;
    figure.known = true;
    figure.reason = BL_REASON_NONE;
    figure.s = middle_s;
    figure.part.sampling = sqrt((t1 * t1 + t2 * t2) / 12);
    figure.part.clock = u_clock;
    figure.u_s = hypot(figure.part.sampling, u_clock);
    return figure;
}

double bl_reach_settled_at(const struct bl_reaching *r,
                           const struct bl_bus_series *s, double at_s)
{
    const double least =
        fmax(SETTLED_S, 3 * (double)s->steps.interval_ns * 1e-9);
    size_t low = 0; /* segments that begin by then */
    size_t high = s->steps.count;
    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        const int64_t first_ns = s->steps.segment[middle].first_ns;
        if (bl_reach_local(r, s->recording, first_ns) > at_s) {
            high = middle;
        } else {
            low = middle + 1;
        }
    }
    if (low == 0) {
        return NAN;
    }
    const struct bl_segment *g = &s->steps.segment[low - 1];
    const double first = bl_reach_local(r, s->recording, g->first_ns);
    const double last = bl_reach_local(r, s->recording, g->last_ns);
    return g->state == BL_VALUE_VALID && at_s - first >= least &&
                   at_s - last <= least
               ? g->value
               : NAN;
}

/* Times at which the demand of a hop is about to change after having stood: by
   then it has arrived behind. `at`: as many as it has segments, or NULL to
   count. */
static size_t compare_times(const struct bl_reaching *r, size_t k, double *at)
{
    const struct bl_bus_series *s = r->series[k];
    const double least =
        fmax(SETTLED_S, 3 * (double)s->steps.interval_ns * 1e-9);
    size_t n = 0;
    for (size_t i = 0; i < s->steps.count; i++) {
        const struct bl_segment *g = &s->steps.segment[i];
        const double length = (double)(g->last_ns - g->first_ns) * 1e-9;
        if (g->state == BL_VALUE_VALID && length > least + 0.25) {
            if (at != NULL) {
                at[n] = bl_reach_local(r, s->recording, g->last_ns);
            }
            n++;
        }
    }
    return n;
}

/* Have both times that may be set against each other at all? */
static bool comparable(const struct bl_reaching *r, size_t a, size_t b)
{
    const size_t one = r->series[a]->recording;
    const size_t other = r->series[b]->recording;
    return one == other || (bl_reach_tied(r, one) && bl_reach_tied(r, other));
}

double bl_reach_held_in(const struct bl_reaching *r, size_t k, size_t index)
{
    const struct bl_bus_series *s = r->series[k];
    double longest = fmax(SETTLED_S, 3 * (double)s->steps.interval_ns * 1e-9);
    double value = NAN;
    double apply_s;
    double release_s;
    if (!bl_reach_span(r, k, index, &apply_s, &release_s)) {
        return NAN;
    }
    for (size_t i = 0; i < s->steps.count; i++) {
        const struct bl_segment *g = &s->steps.segment[i];
        const double first = bl_reach_local(r, s->recording, g->first_ns);
        const double length = (double)(g->last_ns - g->first_ns) * 1e-9;
        if (g->state == BL_VALUE_VALID && first >= apply_s &&
            first < release_s && length > longest) {
            longest = length;
            value = g->value;
        }
    }
    return value;
}

struct value_pair {
    double first, later;
};

/* Settled values of two links that belong together: at the same times where
   those may be compared, else by application. To be freed; NULL: none, or no
   memory, which ends the whole (bl_reach_run). */
static struct value_pair *pairs_of(const struct bl_reaching *r, size_t first,
                                   size_t k, size_t *count)
{
    const bool by_time = comparable(r, first, k);
    *count = by_time          ? compare_times(r, first, NULL)
             : r->lag != NULL ? r->lag->applications
                              : 0;
    struct value_pair *pair =
        *count == 0 ? NULL : bl_alloc(*count, sizeof(*pair));
    double *at = pair == NULL ? NULL : bl_alloc(*count, sizeof(*at));
    if (at == NULL) {
        bl_free(pair);
        *count = 0;
        return NULL;
    }
    if (by_time) {
        compare_times(r, first, at);
    }
    for (size_t i = 0; i < *count; i++) {
        pair[i].first = by_time
                            ? bl_reach_settled_at(r, r->series[first], at[i])
                            : bl_reach_held_in(r, first, i);
        pair[i].later = by_time ? bl_reach_settled_at(r, r->series[k], at[i])
                                : bl_reach_held_in(r, k, i);
    }
    bl_free(at);
    return pair;
}

static void compare_with_first(struct bl_reaching *r, size_t first, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    size_t n = 0;
    struct value_pair *pair = pairs_of(r, first, k, &n);
    for (size_t i = 0; i < n; i++) {
        const double a = pair[i].first;
        const double b = pair[i].later;
        if (isnan(a) || isnan(b)) {
            continue;
        }
        const double count = unit->signal->scale;
        const double kpa = b - a;
        unit->compared++;
        unit->compared_braking += a >= BRAKING_KPA || b >= BRAKING_KPA;
        unit->differing += fabs(kpa) > 1.5 * fabs(count);
        if (isnan(unit->difference_kpa) ||
            fabs(kpa) > fabs(unit->difference_kpa)) {
            unit->difference_kpa = kpa;
            unit->difference_counts = round(kpa / count);
        }
    }
    bl_free(pair);
}

/* Own choice: what a cap keeps varies by less. */
static const double CAP_WITHIN_KPA = 3;

/* What is passed on of different values is one and the same, and a value below
   it is not changed: it is capped there. NaN: it is not. Of one value alone a
   cap and a share look the same. */
static double cap_of(const struct value_pair *pair, size_t n, double equal_kpa)
{
    double got[2] = {INFINITY, -INFINITY};
    double passed[2] = {INFINITY, -INFINITY};
    bool below = false;
    for (size_t i = 0; i < n; i++) {
        const double a = pair[i].first;
        const double b = pair[i].later;
        if (isnan(a) || isnan(b)) {
            continue;
        }
        if (fabs(b - a) <= equal_kpa) {
            below = below || a >= BRAKING_KPA;
            got[0] = a >= BRAKING_KPA ? fmin(got[0], a) : got[0];
            continue;
        }
        got[1] = fmax(got[1], a);
        passed[0] = fmin(passed[0], b);
        passed[1] = fmax(passed[1], b);
        if (b > a) {
            return NAN;
        }
    }
    return below && got[0] <= passed[1] &&
                   passed[1] - passed[0] <= CAP_WITHIN_KPA
               ? (passed[0] + passed[1]) / 2
               : NAN;
}

/* Against the hop before: that is where a change is the work of one unit. */
static void compare_with_front(struct bl_reaching *r, size_t front, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    size_t n = 0;
    struct value_pair *pair = pairs_of(r, front, k, &n);
    double *share = bl_alloc(n + 1, sizeof(*share));
    size_t shares = 0;
    for (size_t i = 0; share != NULL && i < n; i++) {
        const double a = pair[i].first;
        const double b = pair[i].later;
        if (isnan(a) || isnan(b) || !(a >= BRAKING_KPA || b >= BRAKING_KPA)) {
            continue;
        }
        unit->shares++;
        unit->shares_off += fabs(b - a) > 1.5 * fabs(unit->signal->scale);
        if (!(fabs(b - a) <= fabs(unit->passed_kpa - unit->got_kpa))) {
            unit->got_kpa = a;
            unit->passed_kpa = b;
        }
        if (a >= BRAKING_KPA) {
            share[shares++] = b / a;
        }
    }
    unit->share = shares == 0 ? NAN : bl_median(share, shares);
    unit->capped_kpa = cap_of(pair, n, 1.5 * fabs(unit->signal->scale));
    bl_free(share);
    bl_free(pair);
}

enum bl_status bl_reach_values(struct bl_reaching *r, struct bl_error *error)
{
    (void)error;
    for (size_t k = 0; k < r->into->units; k++) {
        struct bl_reach_unit *unit = &r->into->unit[k];
        size_t first = 0;
        if (!unit->found || bl_reach_first(r, k, &first) == NULL) {
            continue;
        }
        if (first == k || r->series[first] == r->series[k]) {
            /* The first hop itself, or one bus for all: nothing is added. */
            unit->delay = (struct bl_figure){.known = true};
            unit->worst_delay_s = 0;
            continue;
        }
        unit->delay =
            delay_between(r, first, k, &unit->worst_delay_s, &unit->edges);
        compare_with_first(r, first, k);
        const struct bl_reach_unit *front = bl_reach_front(r, k);
        if (front != NULL && front->found) {
            double worst = NAN;
            size_t pairs;
            unit->added = delay_between(r, k - 1, k, &worst, &pairs);
            compare_with_front(r, k - 1, k);
        }
    }
    return BL_OK;
}
