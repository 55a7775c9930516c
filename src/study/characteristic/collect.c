/* SPDX-License-Identifier: MIT */
/*
 * Quasi-static points. The input's rate between neighbouring blocks decides;
 * what moved fast, and the three blocks after it in which the output may still
 * be on its way, is left out and counted.
 */
#include "study/characteristic/curve.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "base/number.h"

#include <math.h>

enum { SETTLE_BLOCKS = 3 };
/* Below this rate the input stands, and by so much neighbouring rates may
   differ in an even movement, kPa/s; more where noise makes them. */
static const double standing = 2.0;
static const double uneven = 4.0;
/* The input has turned when it came back by this, kPa. */
static const double turn = 3.0;

/* What is remembered from block to block. */
struct state {
    size_t slow; /* neighbouring rates within the limit, in a row */
    double peak, trough;
    bool falling;
    bool in_hold;
    double noise; /* of the rate between neighbouring blocks */
};

static bool add(struct bl_curve_points *points,
                const struct bl_curve_point *point)
{
    if (!bl_grow(&points->item, &points->capacity, points->count + 1,
                 sizeof(*points->item), BL_LIMIT_SEGMENTS)) {
        return false;
    }
    points->item[points->count++] = *point;
    return true;
}

static void follow(struct state *state, double in)
{
    state->peak = fmax(state->peak, in);
    state->trough = fmin(state->trough, in);
    if (!state->falling && in < state->peak - turn) {
        state->falling = true;
        state->trough = in;
    } else if (state->falling && in > state->trough + turn) {
        state->falling = false;
        state->peak = in;
    }
}

/* A block of a hold joins the point before it. */
static void join(struct bl_curve_point *point, const struct bl_curve_block *b)
{
    const double n = point->blocks;
    point->in = (point->in * n + b->in) / (n + 1);
    point->out = (point->out * n + b->out) / (n + 1);
    point->blocks++;
}

/* Noise of the rate, from how far each block lies off its neighbours' middle:
   even movement does not show there. */
static enum bl_status rate_noise(double *noise,
                                 const struct bl_curve_block *block,
                                 size_t count, struct bl_error *error)
{
    double *off = bl_alloc(count, sizeof(*off));
    if (off == NULL) {
        return bl_fail_memory(error);
    }
    size_t n = 0;
    for (size_t i = 2; i < count; i++) {
        const double d = block[i].in - 2 * block[i - 1].in + block[i - 2].in;
        if (!isnan(d)) {
            off[n++] = fabs(d);
        }
    }
    /* Three terms of weight 1, 2, 1 against two of weight 1. */
    const double sd = n > 0 ? 1.4826 * bl_median(off, n) / sqrt(6) : 0;
    *noise = sd * sqrt(2) / BL_CURVE_BLOCK;
    bl_free(off);
    return BL_OK;
}

static bool take(struct bl_curve_points *points, struct state *state,
                 const struct bl_curve_block *b, double rate)
{
    const bool hold = fabs(rate) <= fmax(standing, state->noise);
    const bool joins = hold && state->in_hold && points->count > 0 &&
                       fabs(points->item[points->count - 1].in - b->in) < 1.0;
    *(hold ? &points->time.hold_s : &points->time.ramp_s) += BL_CURVE_BLOCK;
    state->in_hold = hold;
    if (joins) {
        join(&points->item[points->count - 1], b);
        return true;
    }
    return add(points, &(struct bl_curve_point){.in = b->in,
                                                .out = b->out,
                                                .rate = hold ? 0 : rate,
                                                .falling = state->falling,
                                                .hold = hold,
                                                .blocks = 1});
}

/* Rate between neighbours; NaN where one is missing. */
static double step_rate(const struct bl_curve_block *block, size_t i)
{
    return i == 0 ? NAN : (block[i].in - block[i - 1].in) / BL_CURVE_BLOCK;
}

/* Has the input moved evenly and slowly up to block i? */
static bool quasi_static(const struct bl_curve_block *block, size_t i,
                         double noise, double *rate)
{
    if (i < SETTLE_BLOCKS) {
        return false;
    }
    *rate = (block[i].in - block[i - SETTLE_BLOCKS].in) /
            (SETTLE_BLOCKS * BL_CURVE_BLOCK);
    if (!(fabs(*rate) <= BL_CURVE_RATE * 1.05 + noise)) {
        return false;
    }
    for (size_t k = 0; k < SETTLE_BLOCKS; k++) {
        const double off = fabs(step_rate(block, i - k) - *rate);
        if (!(off <= fmax(uneven, 3 * noise)) || isnan(block[i - k].out)) {
            return false;
        }
    }
    return !isnan(block[i - SETTLE_BLOCKS].out);
}

enum bl_status bl_curve_collect(struct bl_curve_points *points,
                                const struct bl_curve_block *block,
                                size_t count, struct bl_error *error)
{
    struct state state = {.peak = -INFINITY, .trough = INFINITY};
    const enum bl_status status = rate_noise(&state.noise, block, count, error);
    if (status != BL_OK) {
        return status;
    }
    for (size_t i = 0; i < count; i++) {
        const struct bl_curve_block *b = &block[i];
        double rate;
        if (isnan(b->in) || isnan(b->out)) {
            points->time.missing_s += BL_CURVE_BLOCK;
            state.in_hold = false;
            continue;
        }
        follow(&state, b->in);
        points->time.fastest =
            fmax(points->time.fastest, fabs(step_rate(block, i)));
        if (!quasi_static(block, i, state.noise, &rate)) {
            points->time.fast_s += BL_CURVE_BLOCK;
            state.in_hold = false;
        } else if (!take(points, &state, b, rate)) {
            return bl_fail_memory(error);
        }
    }
    return BL_OK;
}

void bl_curve_points_finish(struct bl_curve_points *points)
{
    bl_free(points->item);
    *points = (struct bl_curve_points){.item = NULL};
}
