/* SPDX-License-Identifier: MIT */
/*
 * The curves of one unit: against its electronic demand and against its
 * control pressure, which of them explains it better, and the candidates.
 */
#include "study/characteristic/study.h"

#include "base/alloc.h"
#include "base/number.h"

#include <math.h>
#include <stdio.h>

enum { MOST_STEPS = 200 };
/* Lag of a brake where no step of the run tells it: 0 to 0.3 s, rectangular
   (common practice). */
static const double common_lag_s = 0.15;
/* A rest further from zero is residual pressure, not a zero error. */
static const double vented = 10.0;

/* Middle of the rise of output behind that of the input, over the run's
   steps. */
static struct bl_curve_lag find_lag(struct bl_curve *curve,
                                    const struct bl_study *study,
                                    const struct bl_track *in,
                                    const struct bl_track *out)
{
    double lag[MOST_STEPS];
    size_t n = 0;
    const size_t count = study->lag == NULL ? 0 : study->lag->applications;
    for (size_t i = 0; i < count && n < MOST_STEPS; i++) {
        const struct bl_application *a = &study->lag->application[i];
        if (a->shape != BL_SHAPE_STEP || !a->command_apply.known) {
            continue;
        }
        const int64_t from = a->apply_ns - 500000000;
        const int64_t to = a->apply_ns + 3000000000;
        const struct bl_extent x = bl_track_extent(in, from, to);
        const struct bl_extent y = bl_track_extent(out, from, to);
        if (!x.known || !y.known || x.largest - x.smallest < 50 ||
            y.largest - y.smallest < 50) {
            continue;
        }
        const struct bl_passage p = bl_track_passage(
            in, BL_UPWARDS, from, to,
            &(const struct bl_level_passed){(x.smallest + x.largest) / 2, 0, 5},
            BL_HELD_COMMAND);
        const struct bl_passage q = bl_track_passage(
            out, BL_UPWARDS, from, to,
            &(const struct bl_level_passed){(y.smallest + y.largest) / 2, 0, 5},
            BL_HELD_OUTPUT);
        if (p.found && q.found && q.time_ns > p.time_ns - 100000000) {
            lag[n++] = (double)(q.time_ns - p.time_ns) * 1e-9;
        }
    }
    curve->lag_measured = n > 0;
    curve->lag_steps = n;
    const double s = n > 0 ? fmax(bl_median(lag, n), 0) : common_lag_s;
    /* A step fills further than a ramp: half of it is the doubt. */
    const double u =
        n > 0 ? fmax(s / 2, 0.02) / sqrt(3) : common_lag_s / sqrt(3);
    curve->lag_s = (struct bl_measured){s, u};
    return (struct bl_curve_lag){s, u};
}

static void no_curve(struct bl_curve *curve, enum bl_curve_reason reason)
{
    const struct bl_measured none = {NAN, NAN};
    curve->rising = curve->falling = bl_branch_without(reason);
    curve->hysteresis = none;
    curve->lag_s = none;
    curve->u_zero = curve->u_gain = NAN;
}

static void stated(struct bl_curve *curve, const struct bl_track *in,
                   const struct bl_track *out)
{
    /* A digital demand has neither zero nor gain error. */
    curve->u_zero = curve->input_above_rest || in->channel == NULL
                        ? 0
                        : in->channel->u_zero;
    const double in_gain =
        in->channel == NULL ? 0 : in->channel->u_gain_fraction;
    curve->u_gain = out->channel == NULL
                        ? in_gain
                        : hypot(in_gain, out->channel->u_gain_fraction);
}

static enum bl_status
make_curve(struct bl_curve *curve, struct bl_curve_points *points,
           const struct bl_study *study, const struct bl_track *in,
           const struct bl_track *out, struct bl_error *error)
{
    if (!in->present || in->is_state || in->quantity != BL_QUANTITY_PRESSURE) {
        no_curve(curve, BL_CURVE_NO_INPUT);
        return BL_OK;
    }
    if (!out->present || out->is_state ||
        out->quantity != BL_QUANTITY_PRESSURE) {
        no_curve(curve, BL_CURVE_NO_OUTPUT);
        return BL_OK;
    }
    if (!bl_study_tied(in, out)) {
        no_curve(curve, BL_CURVE_UNRELATED);
        return BL_OK;
    }
    const double rest = in->samples == NULL ? 0 : bl_study_rest(in);
    curve->input_above_rest = in->samples != NULL && fabs(rest) <= vented;
    const double out_rest = bl_study_rest(out);
    const struct bl_curve_lag lag = find_lag(curve, study, in, out);
    struct bl_curve_block *block = NULL;
    size_t count = 0;
    const struct bl_study_pair pair = {in, out,
                                       curve->input_above_rest ? rest : 0,
                                       fabs(out_rest) <= vented ? out_rest : 0};
    enum bl_status status = bl_study_blocks(&block, &count, &pair, error);
    if (status == BL_OK) {
        status = bl_curve_collect(points, block, count, error);
    }
    if (status == BL_OK) {
        status = bl_curve_fit(&curve->rising, points, false, &lag, error);
    }
    if (status == BL_OK) {
        status = bl_curve_fit(&curve->falling, points, true, &lag, error);
    }
    curve->time = points->time;
    curve->hysteresis =
        bl_curve_hysteresis(&curve->rising, &curve->falling, &lag);
    stated(curve, in, out);
    bl_free(block);
    return status;
}

/* Every so many-th of `count`, so that at most BL_CURVE_SEEN are left. */
static size_t every(size_t count)
{
    return count == 0 ? 1 : (count - 1) / BL_CURVE_SEEN + 1;
}

/* What the drawing of a curve shows; holds and what moved are thinned apart,
   because holds are few and say most. */
static enum bl_status keep_seen(struct bl_curve *curve,
                                const struct bl_curve_points *points,
                                struct bl_error *error)
{
    size_t holds = 0;
    for (size_t i = 0; i < points->count; i++) {
        holds += points->item[i].hold ? 1 : 0;
    }
    if (points->count == 0) {
        return BL_OK;
    }
    curve->seen = bl_alloc((size_t)2 * BL_CURVE_SEEN, sizeof(*curve->seen));
    if (curve->seen == NULL) {
        return bl_fail_memory(error);
    }
    size_t hold = 0;
    size_t other = 0;
    for (size_t i = 0; i < points->count; i++) {
        const struct bl_curve_point *point = &points->item[i];
        const bool kept = point->hold
                              ? hold++ % every(holds) == 0
                              : other++ % every(points->count - holds) == 0;
        if (kept) {
            curve->seen[curve->seen_count++] = (struct bl_curve_seen){
                .in = point->in,
                .out = point->out,
                .rate = point->rate,
                .falling = point->falling,
                .hold = point->hold,
                .seconds = point->blocks * BL_CURVE_BLOCK};
        }
    }
    return BL_OK;
}

/* The smaller scatter, where it is smaller by more than chance: by a quarter,
   and with a likelihood ratio of e^5. */
static void choose_input(struct bl_characteristic *out)
{
    const struct bl_branch *d = &out->curve[0].rising;
    const struct bl_branch *c = &out->curve[1].rising;
    const bool has_d = d->reason == BL_CURVE_FITTED;
    const bool has_c = c->reason == BL_CURVE_FITTED;
    out->used = has_c ? 1 : has_d ? 0 : -1;
    out->demand_better = BL_UNKNOWN;
    if (!has_d || !has_c) {
        return;
    }
    const double ratio = fmax(c->s, 0.05) / fmax(d->s, 0.05);
    const double n = (double)(d->points < c->points ? d->points : c->points);
    if (fabs(log(ratio)) > log(1.25) && n * fabs(log(ratio)) > 5) {
        out->demand_better = ratio > 1 ? BL_YES : BL_NO;
        out->used = ratio > 1 ? 0 : 1;
    }
}

static void put_candidate(struct bl_characteristic *out, const char *name,
                          double threshold, double gain, bool is_stated)
{
    struct bl_candidate *c = &out->candidate[out->candidates++];
    *c = (struct bl_candidate){.threshold = threshold,
                               .gain = gain,
                               .stated = is_stated,
                               .residual = NAN,
                               .off_threshold = NAN,
                               .off_gain = NAN};
    snprintf(c->name, sizeof(c->name), "%s", name);
}

/* The trial's sections, and no others: what nobody stated is no candidate. */
static bool list_candidates(struct bl_characteristic *out,
                            const struct bl_trial *trial)
{
    out->candidate =
        bl_alloc(trial->characteristics + 1, sizeof(*out->candidate));
    if (out->candidate == NULL) {
        return false;
    }
    for (size_t i = 0; i < trial->characteristics; i++) {
        const struct bl_trial_characteristic *c = &trial->characteristic[i];
        if (!isnan(c->threshold_kpa)) {
            put_candidate(out, c->name, c->threshold_kpa,
                          c->gain_by_load  ? NAN
                          : isnan(c->gain) ? 1
                                           : c->gain,
                          true);
        }
    }
    return true;
}

static void choose(struct bl_characteristic *out,
                   const struct bl_curve_points *points, bool empty)
{
    out->choice = -1;
    out->threshold_choice = NAN;
    if (out->used < 0) {
        return;
    }
    const struct bl_curve *curve = &out->curve[out->used];
    const struct bl_curve_lag lag = {curve->lag_s.value, curve->lag_s.u};
    for (size_t i = 0; i < out->candidates; i++) {
        struct bl_candidate *c = &out->candidate[i];
        c->residual = bl_curve_residual(
            &points[out->used], false, &lag, c->threshold, c->gain,
            curve->rising.saturates ? curve->rising.sat_in.value : INFINITY);
    }
    const struct bl_curve_doubt doubt = {
        isnan(curve->u_zero) ? 0 : curve->u_zero,
        isnan(curve->u_gain) ? 0 : curve->u_gain, empty};
    const struct bl_curve_choice choice = bl_curve_choose(
        out->candidate, out->candidates, &curve->rising, &doubt);
    out->choice = choice.index;
    out->threshold_choice = choice.threshold;
}

/* Every stage's threshold together: against what the front asks for. */
static enum bl_status cumulative(struct bl_characteristic *out,
                                 const struct bl_study *study, size_t unit,
                                 struct bl_error *error)
{
    const struct bl_trial_unit *u = &study->trial->unit[unit];
    struct bl_curve curve = {.input = BL_CURVE_OF_FRONT};
    struct bl_curve_points points = {.item = NULL};
    struct bl_track command;
    bool measured = u->number > 1;
    bool relayed = bl_trial_unit_control_line(study->trial, unit) ==
                   BL_CONTROL_LINE_RELAYED;
    for (size_t i = 0; i < study->units; i++) {
        const struct bl_trial_unit *other = &study->trial->unit[i];
        if (other->combination == u->combination && other->number > 0 &&
            other->number < u->number) {
            measured = measured && study->control[i].present &&
                       study->control_out[i].present;
            relayed = relayed || bl_trial_unit_control_line(study->trial, i) ==
                                     BL_CONTROL_LINE_RELAYED;
        }
    }
    out->cumulative_applies = u->number > 0 && (relayed || measured);
    const struct bl_track *front =
        bl_study_front(study, u->combination, &command);
    no_curve(&curve, BL_CURVE_NO_INPUT);
    enum bl_status status = BL_OK;
    if (out->cumulative_applies && front != NULL) {
        status = make_curve(&curve, &points, study, front, &study->output[unit],
                            error);
    }
    out->cumulative = curve.rising;
    bl_curve_points_finish(&points);
    return status;
}

enum bl_status bl_study_unit(struct bl_characteristic *out,
                             const struct bl_study *study, size_t unit,
                             struct bl_error *error)
{
    struct bl_curve_points points[2] = {{.item = NULL}, {.item = NULL}};
    const struct bl_track *const in[2] = {&study->demand[unit],
                                          &study->control[unit]};
    const bool empty = study->trial->unit[unit].load == BL_LOAD_EMPTY;
    enum bl_status status = BL_OK;
    out->unit = unit;
    out->output = study->output_index[unit];
    for (size_t i = 0; status == BL_OK && i < 2; i++) {
        out->curve[i].input = i == 0 ? BL_CURVE_OF_DEMAND : BL_CURVE_OF_CONTROL;
        status = make_curve(&out->curve[i], &points[i], study, in[i],
                            &study->output[unit], error);
        if (status == BL_OK) {
            status = keep_seen(&out->curve[i], &points[i], error);
        }
    }
    if (status == BL_OK && !list_candidates(out, study->trial)) {
        status = bl_fail_memory(error);
    }
    if (status == BL_OK) {
        choose_input(out);
        choose(out, points, empty);
        status = cumulative(out, study, unit, error);
    }
    bl_curve_points_finish(&points[0]);
    bl_curve_points_finish(&points[1]);
    return status;
}
