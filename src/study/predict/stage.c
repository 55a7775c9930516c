/* SPDX-License-Identifier: MIT */
/*
 * Stage against stage: what a unit's output takes longer than the output of the
 * unit that hands it its control air, per metre of pipe, against the other
 * stages of its own train. One type of part is in all of a train, so this sees
 * what no band of usual parts can. docs/methods/predict.md.
 */
#include "study/predict/predicting.h"

#include "base/number.h"
#include "brakelag/stats.h"
#include "lag/trip.h"
#include "study/predict/figures.h"
#include "study/predict/fit.h"

#include <math.h>

/* Stages of sound units of one make differ by 13 % per metre at 8 to 14 m (an
   independent computation of such chains); a train's own few stages say little
   of their spread, so that this weighs as much as twelve more. */
#define PRIOR_SHARE 0.13
#define PRIOR_DOF 12.0
/* Of sound units, shared by the stages that each is judged by. */
#define ONE_SIDED (0.01 / BL_STAGES)
#define LEAST_MORE_S 0.03 /* own choice: less than that is no fault */
enum { OTHERS_LEAST = 3, APPLICATIONS_MOST = 64 };

static bool all_lengths(const struct bl_stage *stage, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        if (stage[i].known && !(stage[i].length_m > 0)) {
            return false;
        }
    }
    return true;
}

static double weight(const struct bl_stage *stage, bool by_length)
{
    return by_length ? stage->length_m + BL_STAGE_FIXED_M : 1;
}

static void judge_one(struct bl_stage *stage, size_t count, size_t at,
                      bool by_length)
{
    struct bl_stage *own = &stage[at];
    double mean = 0;
    double squares = 0;
    double u_squares = 0;
    own->others = 0;
    for (size_t i = 0; i < count; i++) {
        if (i != at && stage[i].known) {
            mean += stage[i].s / weight(&stage[i], by_length);
            u_squares += stage[i].u_s * stage[i].u_s;
            own->others++;
        }
    }
    if (!own->known || own->others < OTHERS_LEAST || !(mean > 0)) {
        return;
    }
    const double n = (double)own->others;
    mean /= n;
    for (size_t i = 0; i < count; i++) {
        if (i != at && stage[i].known) {
            const double off =
                stage[i].s / weight(&stage[i], by_length) / mean - 1;
            squares += off * off;
        }
    }
    const double dof = PRIOR_DOF + n - 1;
    const double share = sqrt(
        (PRIOR_DOF * PRIOR_SHARE * PRIOR_SHARE + squares) / dof * (1 + 1 / n));
    own->expected_s = mean * weight(own, by_length);
    const double u = hypot(share * own->expected_s,
                           sqrt(own->u_s * own->u_s + u_squares / n / n));
    own->limit_s =
        own->expected_s +
        fmax(bl_student_quantile(1 - ONE_SIDED, dof) * u, LEAST_MORE_S);
    own->late = own->s > own->limit_s;
}

void bl_stage_judge(struct bl_stage *stage, size_t count)
{
    const bool by_length = all_lengths(stage, count);
    for (size_t i = 0; i < count; i++) {
        stage[i].expected_s = NAN;
        stage[i].limit_s = NAN;
        stage[i].late = false;
        judge_one(stage, count, i, by_length);
    }
}

/* The unit whose valve feeds this one; -1: the commanded valve, or not known.
 */
static long fed_by(const struct predicting *p, size_t unit)
{
    for (size_t u = unit; u > p->first + 1; u--) {
        const enum bl_control_line line = p->into->unit[u - 1].control_line;
        if (line == BL_CONTROL_LINE_RELAYED) {
            return (long)u - 1;
        }
        if (line == BL_CONTROL_LINE_UNKNOWN) {
            return -1;
        }
    }
    return -1;
}

static double pipe_between(const struct predicting *p, size_t from, size_t to)
{
    double sum = 0;
    for (size_t u = from + 1; u <= to; u++) {
        const struct bl_trial_unit *unit = &p->trial->unit[u];
        sum += isnan(unit->pipe_m) && unit->length_m > 0
                   ? BL_PIPE_PER_METRE * unit->length_m
                   : unit->pipe_m;
    }
    return sum;
}

static void measure(const struct predicting *p, size_t from, size_t unit,
                    enum bl_figure_name figure, struct bl_stage *out)
{
    double s[APPLICATIONS_MOST];
    double u_s = 0;
    size_t n = 0;
    for (size_t i = 0; i < p->lag->applications && n < APPLICATIONS_MOST; i++) {
        const struct bl_application *a = &p->lag->application[i];
        const struct bl_unit_lag *front = bl_application_unit(a, from);
        const struct bl_unit_lag *own = bl_application_unit(a, unit);
        if (!bl_predicting_hard(p, a) || front == NULL || own == NULL ||
            bl_unit_begins_elsewhere(front) || bl_unit_begins_elsewhere(own) ||
            !front->figure[figure].known || !own->figure[figure].known) {
            continue;
        }
        s[n++] = own->figure[figure].s - front->figure[figure].s;
        u_s = fmax(u_s,
                   hypot(own->figure[figure].u_s, front->figure[figure].u_s));
    }
    out->known = n > 0;
    out->s = bl_median(s, n);
    out->u_s = n > 0 ? u_s : NAN;
    out->n = n;
    out->from = from;
    out->length_m = pipe_between(p, from, unit);
}

static bool any_late(const struct bl_stage *stage, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        if (stage[i].late) {
            return true;
        }
    }
    return false;
}

/* A late stage is compared with the fits of all. */
static enum bl_status fit(const struct predicting *p, size_t edge,
                          struct bl_stage *stage)
{
    enum bl_status status = BL_OK;
    for (size_t i = 0; status == BL_OK && i < p->units; i++) {
        if (stage[i].known) {
            status = bl_predict_fit(p, p->first + i, edge, &stage[i]);
        }
    }
    bl_fit_judge(stage, p->units);
    return status;
}

/* Switches at brakes close where they close. */
static double u_closing(const struct predicting *p, size_t from, size_t i)
{
    const size_t all = SIZE_MAX;
    const struct bl_closing front =
        bl_unit_closes(p->trial, p->data, p->clocks, from, all);
    const struct bl_closing own =
        bl_unit_closes(p->trial, p->data, p->clocks, p->first + i, all);
    return bl_closing_u_s(p->trial, &own, &front);
}

enum bl_status bl_predict_stages(struct predicting *p, struct bl_stage *scratch)
{
    enum bl_status status = BL_OK;
    static const enum bl_figure_name figures[BL_STAGES] = {
        BL_FIGURE_RESPONSE, BL_FIGURE_RELEASE_START};
    for (size_t k = 0; status == BL_OK && k < BL_STAGES; k++) {
        for (size_t i = 0; i < p->units; i++) {
            const long from = i == 0 ? -1 : fed_by(p, p->first + i);
            scratch[i] = (struct bl_stage){.known = false};
            if (from >= 0) {
                measure(p, (size_t)from, p->first + i, figures[k], &scratch[i]);
            }
            if (scratch[i].known && figures[k] == BL_FIGURE_RESPONSE) {
                scratch[i].u_s =
                    hypot(scratch[i].u_s, u_closing(p, (size_t)from, i));
            }
        }
        bl_stage_judge(scratch, p->units);
        if (p->bands || any_late(scratch, p->units)) {
            status = fit(p, k, scratch);
        }
        for (size_t i = 0; i < p->units; i++) {
            p->into->unit[p->first + i].stage[k] = scratch[i];
        }
    }
    return status;
}
