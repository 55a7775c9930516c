/* SPDX-License-Identifier: MIT */
/*
 * The recorded control pressures of a stage, cut out and fitted (fit.c): up to
 * three applications of each edge, their medians.
 */
#include "study/predict/fit.h"
#include "study/predict/predicting.h"

#include "base/alloc.h"
#include "base/number.h"
#include "study/predict/chain.h"

#include <math.h>

#define BEFORE_S 0.1
#define WINDOW_S 3.0
#define REST_S 3.0
/* A shorter hold does not show what a valve keeps: the line still fills. */
#define HOLD_LEAST_S 3.0
#define HOLD_READ_S 0.5
#define MOVES_KPA 50.0 /* less in front says nothing of a stage */
/* What the fit itself may be off by: what sound stages of one make differ by
   (fit.c). */
#define U_DELAY_S 0.007
#define U_LN_FRICTION 0.26
enum { APPLICATIONS = 3 };

static const int64_t second_ns = 1000000000;

struct ends {
    struct bl_track front, behind;
    double front_rest, behind_rest;
};

static bool find_end(const struct predicting *p, size_t unit,
                     struct bl_track *track)
{
    bl_track_find(track, p->trial, p->data, p->clocks,
                  &p->trial->unit[unit].control);
    return track->present && !track->is_state &&
           track->quantity == BL_QUANTITY_PRESSURE;
}

static double rest_of(const struct bl_track *track, int64_t before_ns)
{
    const struct bl_rest rest =
        bl_track_rest(track, before_ns - (int64_t)(REST_S * 1e9), before_ns);
    return rest.known ? rest.value : NAN;
}

static double held(const struct bl_track *track, int64_t release_ns)
{
    const struct bl_extent e =
        bl_track_extent(track, release_ns - (int64_t)(HOLD_READ_S * 1e9),
                        release_ns - second_ns / 20);
    return e.known ? e.median : NAN;
}

/* Seconds from the release to the next application; no more than a window. */
static double room_after(const struct predicting *p,
                         const struct bl_application *braking)
{
    double room = WINDOW_S;
    for (size_t i = 0; i < p->lag->applications; i++) {
        const struct bl_application *a = &p->lag->application[i];
        if (a->command_apply.known && a->apply_ns > braking->release_ns) {
            room =
                fmin(room, (double)(a->apply_ns - braking->release_ns) * 1e-9 -
                               BEFORE_S);
        }
    }
    return room;
}

static void cut(double *out, size_t steps, const struct bl_track *track,
                int64_t from_ns, double rest)
{
    double last = 0;
    for (size_t i = 0; i < steps; i++) {
        const double s = (double)i * BL_CHAIN_STEP_S;
        const double kpa =
            bl_track_value(track, from_ns + (int64_t)llround(s * 1e9)) - rest;
        last = isnan(kpa) ? last : kpa;
        out[i] = last;
    }
}

struct fitted {
    double delay_s[APPLICATIONS], ln_friction[APPLICATIONS];
    double keeps_kpa[APPLICATIONS];
    size_t n, keeps;
    double misfit_kpa;
};

static enum bl_status fit_one(const struct predicting *p, struct ends *ends,
                              const struct bl_application *a, size_t edge_at,
                              const struct bl_fit_edge *parts,
                              struct fitted *into)
{
    ends->front_rest = rest_of(&ends->front, a->apply_ns);
    ends->behind_rest = rest_of(&ends->behind, a->apply_ns);
    const double front = held(&ends->front, a->release_ns) - ends->front_rest;
    const double behind =
        held(&ends->behind, a->release_ns) - ends->behind_rest;
    const double held_s = (double)(a->release_ns - a->apply_ns) * 1e-9;
    const bool apply = edge_at == BL_STAGE_APPLY;
    const double room_s = apply ? fmin(held_s, WINDOW_S) : room_after(p, a);
    if (!(front > MOVES_KPA && behind > MOVES_KPA && room_s > 0.5)) {
        return BL_OK;
    }
    const size_t steps = (size_t)((room_s + BEFORE_S) / BL_CHAIN_STEP_S);
    double *trace = bl_alloc(2 * steps, sizeof(*trace));
    if (trace == NULL) {
        return bl_fail_memory(p->error);
    }
    const int64_t from_ns =
        (apply ? a->apply_ns : a->release_ns) - (int64_t)(BEFORE_S * 1e9);
    cut(trace, steps, &ends->front, from_ns, ends->front_rest);
    cut(trace + steps, steps, &ends->behind, from_ns, ends->behind_rest);
    struct bl_fit_edge edge = *parts;
    edge.front = trace;
    edge.behind = trace + steps;
    edge.steps = steps;
    edge.keeps_kpa = front - behind;
    struct bl_fit_result result;
    const enum bl_status status = bl_fit_stage(&result, &edge, p->error);
    bl_free(trace);
    if (status != BL_OK) {
        return status;
    }
    if (held_s >= HOLD_LEAST_S) {
        into->keeps_kpa[into->keeps++] = front - behind;
    }
    into->delay_s[into->n] = result.delay_s;
    into->ln_friction[into->n++] = log(result.friction);
    into->misfit_kpa = fmax(into->misfit_kpa, result.misfit_kpa);
    return BL_OK;
}

static double half_range(const double *value, size_t n)
{
    double low = INFINITY;
    double high = -INFINITY;
    for (size_t i = 0; i < n; i++) {
        low = fmin(low, value[i]);
        high = fmax(high, value[i]);
    }
    return n > 0 ? (high - low) / 2 : 0;
}

static void conclude(struct bl_stage_fit *fit, struct fitted *all)
{
    fit->known = all->n > 0;
    fit->n = all->n;
    fit->u_delay_s = hypot(U_DELAY_S, half_range(all->delay_s, all->n));
    fit->u_ln_friction =
        hypot(U_LN_FRICTION, half_range(all->ln_friction, all->n));
    fit->u_keeps_kpa = hypot(1, half_range(all->keeps_kpa, all->keeps));
    fit->delay_s = bl_median(all->delay_s, all->n);
    fit->friction = exp(bl_median(all->ln_friction, all->n));
    fit->keeps_kpa = bl_median(all->keeps_kpa, all->keeps);
    fit->misfit_kpa = all->misfit_kpa;
}

enum bl_status bl_predict_fit(const struct predicting *p, size_t unit,
                              size_t edge_at, struct bl_stage *stage)
{
    struct ends ends;
    struct fitted all = {.n = 0};
    enum bl_status status = BL_OK;
    const struct bl_trial_unit *vehicle = &p->trial->unit[unit];
    if (!find_end(p, stage->from, &ends.front) ||
        !find_end(p, unit, &ends.behind)) {
        return BL_OK;
    }
    const struct bl_fit_edge parts = {.length_m = stage->length_m,
                                      .bore_mm = vehicle->bore_mm,
                                      .volume_cm3 = vehicle->volume_cm3};
    for (size_t i = 0;
         status == BL_OK && i < p->lag->applications && all.n < APPLICATIONS;
         i++) {
        const struct bl_application *a = &p->lag->application[i];
        if (bl_predicting_hard(p, a)) {
            status = fit_one(p, &ends, a, edge_at, &parts, &all);
        }
    }
    conclude(&stage->fit, &all);
    return status;
}
