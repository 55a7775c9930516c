/* SPDX-License-Identifier: MIT */
/*
 * Every application of an unpowered run through the model, as often as the
 * train is drawn from what is known of it; the measured figures against the
 * band of these. docs/methods/predict.md.
 */
#include "brakelag/predict.h"

#include "base/alloc.h"
#include "base/limits.h"
#include "base/number.h"
#include "lag/as_one.h"
#include "study/predict/figures.h"
#include "study/predict/predicting.h"

#include <math.h>
#include <string.h>

#define KELVIN 273.15

/* ---- what the run allows */

static bool has_links(const struct bl_trial *trial)
{
    for (size_t i = 0; i < trial->units; i++) {
        if (trial->unit[i].address >= 0 || trial->unit[i].bus != NULL) {
            return true;
        }
    }
    return false;
}

static enum bl_predict_reason condition(const struct predicting *p)
{
    const struct bl_trial_run *run = &p->trial->run[p->lag->run];
    if (run->control_air == BL_AIR_BLOCKED) {
        return BL_PREDICT_WHY_CONTROL_BLOCKED;
    }
    if (run->power == BL_STATED_OFF || run->data == BL_STATED_OFF ||
        !has_links(p->trial)) {
        return BL_PREDICT_WHY_NONE;
    }
    return run->power == BL_STATED_UNKNOWN ||
                   run->power == BL_STATED_STOP_LAMP_ONLY
               ? BL_PREDICT_WHY_CONDITION_NOT_STATED
               : BL_PREDICT_WHY_POWERED;
}

static bool find_command(struct predicting *p)
{
    const struct bl_trial_unit *front = &p->trial->unit[p->first];
    if (front->command_kind != BL_COMMAND_TREADLE_PRESSURE &&
        front->command_kind != BL_COMMAND_ELECTRONIC_DEMAND) {
        return false;
    }
    bl_track_find(&p->command, p->trial, p->data, p->clocks, &front->command);
    return p->command.present && !p->command.is_state &&
           p->command.quantity == BL_QUANTITY_PRESSURE;
}

/* ---- inputs of each unit */

static double reservoir_kpa(const struct predicting *p, size_t unit)
{
    struct bl_track track;
    bl_track_find(&track, p->trial, p->data, p->clocks,
                  &p->trial->unit[unit].reservoir);
    if (!track.present || track.quantity != BL_QUANTITY_PRESSURE) {
        return NAN;
    }
    for (size_t a = 0; a < p->lag->applications; a++) {
        if (bl_predicting_usable(p, &p->lag->application[a])) {
            return bl_track_value(&track, p->lag->application[a].apply_ns);
        }
    }
    return NAN;
}

static enum bl_status keep_inputs(struct predicting *p,
                                  struct bl_predict_unit *unit,
                                  const struct bl_unit_inputs *in)
{
    unit->input = bl_alloc(BL_PREDICT_INPUTS, sizeof(*unit->input));
    if (unit->input == NULL) {
        return bl_fail_memory(p->error);
    }
    memcpy(unit->input, in->range, sizeof(in->range));
    unit->inputs = BL_PREDICT_INPUTS;
    return BL_OK;
}

/* Pipe from the unit in front, m: at least, or as usual. */
static double pipe_m(const struct bl_unit_inputs *in, bool least)
{
    const struct bl_predict_input *line = &in->range[BL_INPUT_LINE];
    const struct bl_predict_input *more = &in->range[BL_INPUT_PIPE];
    return line->usual * (least ? more->low : more->usual);
}

static bool line_known(const struct bl_trial_unit *unit)
{
    return !isnan(unit->pipe_m) || unit->length_m > 0;
}

/* The units from the front on to which every line is known. */
static enum bl_status lay_out(struct predicting *p)
{
    const struct bl_trial_unit *front = &p->trial->unit[p->first];
    const bool electronic = front->command_kind == BL_COMMAND_ELECTRONIC_DEMAND;
    p->own_line = !isnan(front->pipe_m);
    p->begin = p->own_line ? p->first : p->first + 1;
    p->modelled = 0;
    double path = 0;
    double least = 0;
    enum bl_status status = BL_OK;
    for (size_t u = p->begin; status == BL_OK && u < p->first + p->units; u++) {
        struct bl_predict_unit *into = &p->into->unit[u];
        if (!line_known(&p->trial->unit[u])) {
            break;
        }
        struct bl_unit_inputs *in = &p->in[p->modelled++];
        bl_inputs_of(in, p->trial, u, reservoir_kpa(p, u),
                     bl_predicting_gain(p, u), electronic);
        path += pipe_m(in, false);
        least += pipe_m(in, true);
        into->path_m = path;
        into->least_s = bl_predict_least_s(
            least, in->range[BL_INPUT_TEMPERATURE].high + KELVIN);
        if (u == p->first) {
            path = least = 0;
        }
        into->reason = p->trial->unit[u].outputs == 0
                           ? BL_PREDICT_WHY_NO_OUTPUT
                           : BL_PREDICT_WHY_NO_APPLICATION;
        status = keep_inputs(p, into, in);
    }
    return status;
}

/* How many of the same kind and shape were modelled before this one? */
static size_t before(const struct predicting *p, size_t application)
{
    const struct bl_application *braking = &p->lag->application[application];
    size_t n = 0;
    for (size_t a = 0; a < application; a++) {
        const struct bl_application *other = &p->lag->application[a];
        n += bl_predicting_usable(p, other) && other->kind == braking->kind &&
             other->shape == braking->shape;
    }
    return n;
}

/* ---- a combination */

static void say_reason(struct predicting *p, enum bl_predict_reason reason)
{
    for (size_t u = p->first; u < p->first + p->units; u++) {
        p->into->unit[u].reason = reason;
    }
}

static const struct bl_predict_row *like(const struct bl_predict_unit *unit,
                                         const struct bl_predict_row *row)
{
    for (size_t i = 0; i < unit->rows; i++) {
        const struct bl_predict_row *other = &unit->row[i];
        if (other->kind == row->kind && other->shape == row->shape &&
            other->figure == row->figure) {
            return other;
        }
    }
    return NULL;
}

/* Of the other units; `ratio` holds one per unit. */
static double pace_of(const struct predicting *p, size_t unit,
                      const struct bl_predict_row *row, double *ratio)
{
    size_t n = 0;
    for (size_t u = p->first; u < p->first + p->units; u++) {
        const struct bl_predict_row *other =
            u == unit ? NULL : like(&p->into->unit[u], row);
        ratio[n] = other == NULL ? NAN : bl_predict_ratio(other);
        n += !isnan(ratio[n]);
    }
    return bl_median(ratio, n);
}

static size_t usual_of(const struct bl_predict_unit *unit)
{
    size_t count = 0;
    for (size_t i = 0; i < unit->inputs; i++) {
        count += unit->input[i].from == BL_PREDICT_FROM_USUAL &&
                 bl_predict_may_be_stated(unit->input[i].what);
    }
    return count;
}

size_t bl_predict_left_to_usual(const struct bl_trial *trial,
                                const struct bl_predict *all, size_t unit)
{
    size_t count = 0;
    for (size_t i = 0; i < all->units; i++) {
        const size_t other = all->unit[i].unit;
        if (other <= unit &&
            trial->unit[other].combination == trial->unit[unit].combination) {
            count += usual_of(&all->unit[i]);
        }
    }
    return count;
}

static enum bl_status conclude(struct predicting *p)
{
    double *ratio = bl_alloc(p->units, sizeof(*ratio));
    bool done = ratio != NULL;
    for (size_t u = p->first; done && u < p->first + p->units; u++) {
        struct bl_predict_unit *unit = &p->into->unit[u];
        for (size_t i = 0; done && i < unit->rows; i++) {
            const struct bl_predict_context in = {
                unit->least_s, pace_of(p, u, &unit->row[i], ratio),
                usual_of(unit) > 0};
            done = bl_predict_conclude(&unit->row[i], &in);
        }
    }
    bl_free(ratio);
    return done ? BL_OK : bl_fail_memory(p->error);
}

static enum bl_status model_all(struct predicting *p)
{
    enum bl_status status = lay_out(p);
    for (size_t a = 0;
         status == BL_OK && p->modelled > 0 && a < p->lag->applications; a++) {
        if (!bl_predicting_usable(p, &p->lag->application[a])) {
            continue;
        }
        if (before(p, a) >= BL_LIMIT_PREDICT_APPLICATIONS) {
            p->into->left_out++;
            continue;
        }
        status = bl_predict_application(p, a);
    }
    return status == BL_OK ? conclude(p) : status;
}

static void forget_bands(struct predicting *p)
{
    for (size_t k = 0; k < BL_PREDICT_KINDS; k++) {
        for (size_t i = 0; i < BL_PREDICT_SHAPES; i++) {
            bl_free(p->band[k][i]);
            p->band[k][i] = NULL;
        }
    }
}

static enum bl_status combination(struct predicting *p)
{
    enum bl_predict_reason reason = condition(p);
    if (reason == BL_PREDICT_WHY_NONE && !find_command(p)) {
        reason = BL_PREDICT_WHY_COMMAND_NOT_PRESSURE;
    }
    if (reason == BL_PREDICT_WHY_NONE &&
        bl_lag_as_one(p->lag, p->trial->unit[p->first].combination)) {
        reason = BL_PREDICT_WHY_ONE_TEE;
    }
    if (reason != BL_PREDICT_WHY_NONE) {
        say_reason(p, reason);
        return BL_OK;
    }
    say_reason(p, BL_PREDICT_WHY_NO_LINE);
    p->in = bl_alloc(p->units, sizeof(*p->in));
    p->values = bl_alloc(p->units, sizeof(*p->values));
    p->chain = bl_alloc(p->units, sizeof(*p->chain));
    struct bl_stage *stage = bl_alloc(p->units, sizeof(*stage));
    enum bl_status status =
        p->in == NULL || p->values == NULL || p->chain == NULL || stage == NULL
            ? bl_fail_memory(p->error)
            : bl_predict_stages(p, stage);
    bl_free(stage);
    if (status == BL_OK) {
        bl_predict_ladder(p);
        status = model_all(p);
    }
    forget_bands(p);
    bl_free(p->in);
    bl_free(p->values);
    bl_free(p->chain);
    return status;
}

static enum bl_status begin(struct predicting *p)
{
    p->into->unit = bl_alloc(p->trial->units, sizeof(*p->into->unit));
    if (p->into->unit == NULL) {
        return bl_fail_memory(p->error);
    }
    p->into->units = p->trial->units;
    for (size_t u = 0; u < p->trial->units; u++) {
        p->into->unit[u] = (struct bl_predict_unit){
            .run = p->lag->run,
            .unit = u,
            .control_line = bl_trial_unit_control_line(p->trial, u),
            .path_m = NAN,
            .least_s = NAN};
        for (size_t k = 0; k < BL_STAGES; k++) {
            p->into->unit[u].stage[k] = (struct bl_stage){.s = NAN,
                                                          .u_s = NAN,
                                                          .length_m = NAN,
                                                          .expected_s = NAN,
                                                          .limit_s = NAN};
        }
    }
    return BL_OK;
}

static enum bl_status predict(struct bl_predict **out, struct predicting *p)
{
    const struct bl_trial *trial = p->trial;
    const uint64_t refused = bl_alloc_refused();
    *out = NULL;
    p->into = bl_alloc(1, sizeof(*p->into));
    if (p->into == NULL) {
        return bl_fail_memory(p->error);
    }
    enum bl_status status = begin(p);
    for (size_t u = 0; status == BL_OK && u < trial->units; u += p->units) {
        p->first = u;
        p->units = 1;
        while (u + p->units < trial->units &&
               trial->unit[u + p->units].combination ==
                   trial->unit[u].combination) {
            p->units++;
        }
        status = combination(p);
    }
    if (status == BL_OK && bl_alloc_refused() != refused) {
        status = bl_fail_memory(p->error);
    }
    if (status != BL_OK) {
        bl_predict_destroy(p->into);
        return status;
    }
    *out = p->into;
    return BL_OK;
}

enum bl_status bl_predict_run(struct bl_predict **out,
                              const struct bl_trial *trial,
                              const struct bl_run_data *data,
                              const struct bl_run_clocks *clocks,
                              const struct bl_run_lag *lag,
                              struct bl_error *error)
{
    return predict(out, &(struct predicting){.trial = trial,
                                             .data = data,
                                             .clocks = clocks,
                                             .lag = lag,
                                             .error = error,
                                             .bands = true});
}

enum bl_status bl_predict_run_without_bands(struct bl_predict **out,
                                            const struct bl_trial *trial,
                                            const struct bl_run_data *data,
                                            const struct bl_run_clocks *clocks,
                                            const struct bl_run_lag *lag,
                                            struct bl_error *error)
{
    return predict(out, &(struct predicting){.trial = trial,
                                             .data = data,
                                             .clocks = clocks,
                                             .lag = lag,
                                             .error = error});
}

void bl_predict_destroy(struct bl_predict *predict)
{
    if (predict == NULL) {
        return;
    }
    for (size_t u = 0; predict->unit != NULL && u < predict->units; u++) {
        struct bl_predict_unit *unit = &predict->unit[u];
        for (size_t i = 0; i < unit->rows; i++) {
            bl_free(unit->row[i].point);
        }
        bl_free(unit->row);
        bl_free(unit->input);
    }
    bl_free(predict->unit);
    bl_free(predict);
}
