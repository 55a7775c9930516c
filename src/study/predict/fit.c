/* SPDX-License-Identifier: MIT */
/*
 * What a slow stage has, by the recorded control pressure at both of its ends:
 * the model of a stage (a valve that keeps some of its control, its delay, a
 * line) is driven by the pressure in front, and its delay and the friction of
 * its line are fitted to the pressure behind; what is kept is read from the two
 * holds. Nothing in a stage depends on when it begins, so that a delay is a
 * shift: one run of the model for each friction, and the shift that fits best.
 * Bore, couplings and branches slow a rise in the same way: one friction stands
 * for them. docs/methods/predict.md.
 */
#include "study/predict/fit.h"

#include "base/alloc.h"
#include "brakelag/stats.h"
#include "physics/line.h"
#include "physics/valve.h"
#include "study/predict/inputs.h"

#include <math.h>

/* What is usual of a stage (inputs.h); its valve's travel is 15 ms. */
#define USUAL_BORE_MM 8.0
#define USUAL_VOLUME_CM3 300.0
#define USUAL_C 15.0
#define USUAL_HYSTERESIS_KPA 8.0
#define TRAVEL_S 0.015
#define B_RATIO 0.3
#define OPEN_BAND_KPA 15.0
#define SETTLE_S 1.0 /* to bring the line to what it holds at the beginning */

#define FRICTION_LOW 0.3
#define FRICTION_HIGH 60.0
#define DELAY_MOST_S 0.8
enum { COARSE = 14, FINE = 10, EVERY = 4 };

/* Sound stages of one make differ by 7 ms and 0.26 in ln of friction (an
   independent computation), and by 5 kPa in what they keep (own choice: a tenth
   of what is usual, and the reading of two holds); weighed as stage.c does. */
#define DELAY_PRIOR_S 0.007
#define FRICTION_PRIOR 0.26
#define KEEPS_PRIOR_KPA 5.0
#define PRIOR_DOF 12.0
#define ONE_SIDED 0.01
enum { OTHERS_LEAST = 2 };

static double or_usual(double value, double usual)
{
    return value > 0 ? value : usual;
}

/* The stage without delay; `out` is filled. */
static enum bl_status run_stage(const struct bl_fit_edge *edge, double friction,
                                double *out, struct bl_error *error)
{
    const double length_m = or_usual(edge->length_m, BL_STAGE_USUAL_M);
    const double bore_mm = or_usual(edge->bore_mm, USUAL_BORE_MM);
    const struct bl_air_line_shape shape = {
        .length_m = length_m,
        .bore_mm = bore_mm,
        .end_volume_cm3 = or_usual(edge->volume_cm3, USUAL_VOLUME_CM3),
        .friction = friction};
    const double keeps = fmax(edge->keeps_kpa, 0);
    const struct bl_relay relay = {
        fmax(keeps, 1), keeps, fmin(USUAL_HYSTERESIS_KPA, keeps / 2), 1, 1e9};
    struct bl_relay_state state = {false, 0};
    struct bl_air_line *line;
    const enum bl_status status =
        bl_air_line_create(&line, &shape, BL_CHAIN_STEP_S, error);
    if (status != BL_OK) {
        return status;
    }
    double travel = 0;
    const size_t settle = (size_t)(SETTLE_S / BL_CHAIN_STEP_S);
    for (size_t i = 0; i < settle + edge->steps; i++) {
        const double control = edge->front[i < settle ? 0 : i - settle];
        const double kpa = bl_relay_target(&relay, &state, control);
        const double more = kpa - bl_air_line_pressure(line, 0);
        travel = bl_valve_follow(travel, more, OPEN_BAND_KPA,
                                 BL_CHAIN_STEP_S / TRAVEL_S);
        const struct bl_restriction way = {
            USUAL_C * (travel * more > 0 ? fabs(travel) : 0), B_RATIO, 0};
        bl_air_line_step(line, kpa, &way, &way);
        if (i >= settle) {
            out[i - settle] = bl_air_line_end(line);
        }
    }
    bl_air_line_destroy(line);
    return BL_OK;
}

/* Mean square of what is left with the model `shift` steps later. */
static double square_of(const struct bl_fit_edge *edge, const double *model,
                        size_t shift)
{
    double sum = 0;
    size_t n = 0;
    for (size_t i = 0; i < edge->steps; i += EVERY) {
        const double off = edge->behind[i] - model[i < shift ? 0 : i - shift];
        if (!isnan(off)) {
            sum += off * off;
            n++;
        }
    }
    return n > 0 ? sum / (double)n : INFINITY;
}

static double best_shift(const struct bl_fit_edge *edge, const double *model,
                         size_t *shift)
{
    const size_t most = (size_t)(DELAY_MOST_S / BL_CHAIN_STEP_S);
    double least = INFINITY;
    *shift = 0;
    for (size_t i = 0; i <= most && i < edge->steps / 2; i += EVERY) {
        const double square = square_of(edge, model, i);
        if (square < least) {
            least = square;
            *shift = i;
        }
    }
    const size_t from = *shift > EVERY ? *shift - EVERY : 0;
    for (size_t i = from; i <= from + (size_t)2 * EVERY && i < edge->steps;
         i++) {
        const double square = square_of(edge, model, i);
        if (square < least) {
            least = square;
            *shift = i;
        }
    }
    return least;
}

struct search {
    const struct bl_fit_edge *edge;
    double *model;
    double least, at; /* mean square, and ln of the friction that gives it */
    size_t shift;
};

static enum bl_status try_friction(struct search *s, double ln_friction,
                                   struct bl_error *error)
{
    size_t shift;
    const enum bl_status status =
        run_stage(s->edge, exp(ln_friction), s->model, error);
    if (status == BL_OK) {
        const double square = best_shift(s->edge, s->model, &shift);
        if (square < s->least) {
            s->least = square;
            s->at = ln_friction;
            s->shift = shift;
        }
    }
    return status;
}

enum bl_status bl_fit_stage(struct bl_fit_result *out,
                            const struct bl_fit_edge *edge,
                            struct bl_error *error)
{
    struct search s = {.edge = edge, .least = INFINITY};
    s.model = bl_alloc(edge->steps + 1, sizeof(*s.model));
    if (s.model == NULL) {
        return bl_fail_memory(error);
    }
    const double low = log(FRICTION_LOW);
    double width = (log(FRICTION_HIGH) - low) / (COARSE - 1);
    enum bl_status status = BL_OK;
    for (int i = 0; status == BL_OK && i < COARSE; i++) {
        status = try_friction(&s, low + i * width, error);
    }
    for (int i = 0; status == BL_OK && i < FINE; i += 2) {
        const double at = s.at;
        width /= 2;
        status = try_friction(&s, at - width, error);
        if (status == BL_OK) {
            status = try_friction(&s, at + width, error);
        }
    }
    bl_free(s.model);
    *out = (struct bl_fit_result){(double)s.shift * BL_CHAIN_STEP_S, exp(s.at),
                                  sqrt(s.least)};
    return status;
}

/* ---- which one it is */

static double value_of(const struct bl_stage *stage, enum bl_stage_cause cause)
{
    return cause == BL_STAGE_DELAY        ? stage->fit.delay_s
           : cause == BL_STAGE_RESISTANCE ? log(stage->fit.friction)
                                          : stage->fit.keeps_kpa;
}

/* How far a stage lies above the others, in parts of what one in a hundred
   sound ones does; the others' mean goes to *mean. NaN: too few others. */
static double above_others(const struct bl_stage *stage, size_t count,
                           size_t at, enum bl_stage_cause cause, double *mean)
{
    static const double prior[] = {[BL_STAGE_DELAY] = DELAY_PRIOR_S,
                                   [BL_STAGE_RESISTANCE] = FRICTION_PRIOR,
                                   [BL_STAGE_KEEPS] = KEEPS_PRIOR_KPA};
    double n = 0;
    double sum = 0;
    double squares = 0;
    *mean = NAN;
    for (size_t i = 0; i < count; i++) {
        if (i != at && stage[i].fit.known &&
            !isnan(value_of(&stage[i], cause))) {
            sum += value_of(&stage[i], cause);
            n++;
        }
    }
    if (n < OTHERS_LEAST) {
        return NAN;
    }
    *mean = sum / n;
    for (size_t i = 0; i < count; i++) {
        if (i != at && stage[i].fit.known &&
            !isnan(value_of(&stage[i], cause))) {
            const double off = value_of(&stage[i], cause) - *mean;
            squares += off * off;
        }
    }
    const double dof = PRIOR_DOF + n - 1;
    const double u = sqrt((PRIOR_DOF * prior[cause] * prior[cause] + squares) /
                          dof * (1 + 1 / n));
    return (value_of(&stage[at], cause) - *mean) /
           (bl_student_quantile(1 - ONE_SIDED, dof) * u);
}

void bl_fit_judge(struct bl_stage *stage, size_t count)
{
    static const enum bl_stage_cause causes[] = {
        BL_STAGE_DELAY, BL_STAGE_RESISTANCE, BL_STAGE_KEEPS};
    for (size_t i = 0; i < count; i++) {
        struct bl_stage_fit *fit = &stage[i].fit;
        if (!fit->known) {
            continue;
        }
        double most = 1; /* beyond what one sound stage in a hundred has */
        double mean;
        for (size_t k = 0; k < sizeof(causes) / sizeof(causes[0]); k++) {
            const double above =
                above_others(stage, count, i, causes[k], &mean);
            if (causes[k] == BL_STAGE_DELAY) {
                fit->others_delay_s = mean;
            } else if (causes[k] == BL_STAGE_RESISTANCE) {
                fit->others_friction = exp(mean);
            } else {
                fit->others_keeps_kpa = mean;
            }
            if (stage[i].late && above > most) {
                most = above;
                fit->cause = causes[k];
            }
        }
    }
}
