/* SPDX-License-Identifier: MIT */
/*
 * A unit's whole life: every series looked at, then all of them together.
 * What is called a change is kept to the false rate over all series (Holm 1979)
 * and all looks of a life (judge.c). docs/methods/life.md.
 */
#include "brakelag/life.h"

#include "base/alloc.h"
#include "brakelag/stats.h"
#include "study/life/judge.h"
#include "study/life/rules.h"

#include <math.h>

/* No size that a measurement of the kind has. NaN is not recorded. */
static bool odd(double value, double least, double most)
{
    return value < least || value > most;
}

static enum bl_status check_options(const struct bl_life_options *o,
                                    struct bl_error *error)
{
    const bool good =
        o->confidence > 0 && o->confidence < 1 && o->false_rate > 0 &&
        o->false_rate < 1 && o->spread_s > 0 && isfinite(o->spread_s) &&
        o->spread_dof > 0 && isfinite(o->spread_dof) && o->least_s >= 0 &&
        isfinite(o->least_s) && o->odds >= 1 && isfinite(o->odds);
    return good ? BL_OK
                : bl_fail(
                      error, BL_ARG, "",
                      "life: expected a confidence and a false rate "
                      "between 0 and 1, a usual scatter above 0, odds from 1");
}

static enum bl_status check_visits(const struct bl_life *life,
                                   struct bl_error *error)
{
    for (size_t i = 0; i < life->visits; i++) {
        const struct bl_life_visit *visit = &life->visit[i];
        if (!(fabs(visit->day) <= BL_LIFE_MOST_DAYS) ||
            (i > 0 && visit->day < life->visit[i - 1].day)) {
            return bl_fail(error, BL_ARG, "",
                           "life: expected visits in the order of their days, "
                           "found visit %zu before the one in front of it",
                           i + 1);
        }
        if (odd(visit->supply_kpa, 0, BL_LIFE_MOST_KPA) ||
            odd(visit->temperature_c, -BL_LIFE_MOST_C, BL_LIFE_MOST_C) ||
            odd(visit->units_in_front, 0, BL_LIFE_MOST_UNITS)) {
            return bl_fail(error, BL_ARG, "",
                           "life: visit %zu: expected a supply pressure up to "
                           "20000 kPa, a temperature within 200 C, up to 100 "
                           "units in front",
                           i + 1);
        }
    }
    return BL_OK;
}

static enum bl_status check_series(const struct bl_life *life, size_t index,
                                   struct bl_error *error)
{
    const struct bl_life_series *series = &life->series[index];
    for (size_t i = 0; i < series->values; i++) {
        const struct bl_life_value *value = &series->value[i];
        if (value->visit >= life->visits ||
            (i > 0 && value->visit <= series->value[i - 1].visit)) {
            return bl_fail(error, BL_ARG, "",
                           "life: series %zu: expected one value a visit in "
                           "the order of visits, found visit %zu",
                           index + 1, value->visit + 1);
        }
        if (odd(value->value, -BL_LIFE_MOST, BL_LIFE_MOST) ||
            isnan(value->u_random) || odd(value->u_random, 0, BL_LIFE_MOST) ||
            odd(value->u_systematic, 0, BL_LIFE_MOST) ||
            odd(value->command_rise_s, 0, BL_LIFE_MOST)) {
            return bl_fail(error, BL_ARG, "",
                           "life: series %zu, visit %zu: expected numbers up "
                           "to 10000, uncertainties not below 0",
                           index + 1, value->visit + 1);
        }
    }
    return BL_OK;
}

static enum bl_status check(const struct bl_life *life,
                            const struct bl_life_options *options,
                            struct bl_error *error)
{
    enum bl_status status = check_options(options, error);
    if (status == BL_OK && (life->visits > BL_LIMIT_LIFE_KNOWN ||
                            life->series_count > BL_LIMIT_LIFE_SERIES)) {
        status = bl_fail(error, BL_LIMIT, "",
                         "life: %zu visits and %zu series, at most %u and %u "
                         "are taken",
                         life->visits, life->series_count, BL_LIMIT_LIFE_KNOWN,
                         BL_LIMIT_LIFE_SERIES);
    }
    if (status == BL_OK) {
        status = check_visits(life, error);
    }
    for (size_t i = 0; status == BL_OK && i < life->series_count; i++) {
        status = check_series(life, i, error);
    }
    return status;
}

/* What the work needs besides the result. */
struct work {
    const struct bl_life *life;
    const struct bl_life_options *options;
    struct bl_life_frame *frame, *part;
    struct bl_life_looked *looked; /* one per series */
    double *p, *p_bare;
    /* Student's factors by the number of visits, once asked for; 0: not yet. */
    double coverage[BL_LIMIT_LIFE_VISITS + 1],
        control[BL_LIMIT_LIFE_VISITS + 1];
};

/* What a frame needs besides its numbers. */
static void prepare(struct work *work, struct bl_life_frame *frame)
{
    const struct bl_life_options *o = work->options;
    const size_t n = frame->n;
    bl_life_turn(frame);
    if (n >= 2 && work->coverage[n] == 0) {
        const double dof = (double)n + o->spread_dof;
        work->coverage[n] =
            bl_student_quantile(0.5 + 0.5 * o->confidence, dof - 2);
        work->control[n] =
            bl_student_quantile(1 - 0.5 * BL_LIFE_CONTROL_P, dof - 1);
    }
    frame->coverage = work->coverage[n];
    frame->control = work->control[n];
}

static enum bl_status look(struct work *work, struct bl_lives *lives,
                           struct bl_error *error)
{
    for (size_t i = 0; i < lives->rows; i++) {
        struct bl_life_row *row = &lives->row[i];
        const struct bl_life_series *series = &work->life->series[i];
        row->key = series->key;
        row->point = bl_alloc(BL_LIMIT_LIFE_VISITS, sizeof(*row->point));
        row->left = bl_alloc(series->values, sizeof(*row->left));
        if (row->point == NULL || row->left == NULL) {
            return bl_fail_memory(error);
        }
        bl_life_compare(work->frame, row, work->life, series);
        prepare(work, work->frame);
        const enum bl_status status = bl_life_look(
            &work->looked[i], row, work->frame, work->options, error);
        if (status != BL_OK) {
            return status;
        }
        work->p[i] = work->looked[i].p;
        work->p_bare[i] = work->looked[i].p_bare;
        lives->looked_at += work->looked[i].may_tell;
    }
    return BL_OK;
}

static void control(struct work *work, struct bl_life_row *row)
{
    const size_t n = work->frame->n;
    const bool apart = row->verdict == BL_LIFE_LAST_APART;
    row->middle_line = row->control_low = row->control_high = (double)NAN;
    if (row->verdict == BL_LIFE_DRIFT ||
        row->verdict == BL_LIFE_DRIFT_OR_STEP) {
        return;
    }
    bl_life_frame_part(work->part, work->frame,
                       row->verdict == BL_LIFE_STEP ? row->step_at : 0,
                       n - apart);
    prepare(work, work->part);
    bl_life_control(row, work->part, work->options);
}

static void conclude(struct work *work, struct bl_lives *lives)
{
    for (size_t i = 0; i < lives->rows; i++) {
        struct bl_life_row *row = &lives->row[i];
        row->p_life = work->p[i];
        bl_life_judge(row, &work->looked[i], work->p_bare[i], work->options);
        bl_life_compare(work->frame, row, work->life, &work->life->series[i]);
        prepare(work, work->frame);
        bl_life_complete(row, work->frame, &work->life->series[i],
                         lives->looked_at, work->options);
        control(work, row);
    }
}

static enum bl_status run(struct work *work, struct bl_lives *lives,
                          struct bl_error *error)
{
    enum bl_status status = look(work, lives, error);
    if (status == BL_OK) {
        status = bl_holm(work->p, work->p, lives->rows, error);
    }
    if (status == BL_OK) {
        status = bl_holm(work->p_bare, work->p_bare, lives->rows, error);
    }
    if (status == BL_OK) {
        conclude(work, lives);
    }
    return status;
}

struct bl_lives *bl_life_create(const struct bl_life *life,
                                const struct bl_life_options *options,
                                struct bl_error *error)
{
    const struct bl_life_options usual = bl_life_options_default();
    options = options == NULL ? &usual : options;
    if (check(life, options, error) != BL_OK) {
        return NULL;
    }
    const size_t count = life->series_count;
    struct bl_lives *lives = bl_alloc(1, sizeof(*lives));
    struct work work = {.life = life,
                        .options = options,
                        .frame = bl_alloc(1, sizeof(*work.frame)),
                        .part = bl_alloc(1, sizeof(*work.part)),
                        .looked = bl_alloc(count, sizeof(*work.looked)),
                        .p = bl_alloc(count, sizeof(*work.p)),
                        .p_bare = bl_alloc(count, sizeof(*work.p_bare))};
    enum bl_status status = BL_OK;
    if (lives != NULL) {
        lives->row = bl_alloc(count, sizeof(*lives->row));
        lives->rows = lives->row == NULL ? 0 : count;
    }
    if (lives == NULL || lives->row == NULL || work.frame == NULL ||
        work.part == NULL || work.looked == NULL || work.p == NULL ||
        work.p_bare == NULL) {
        status = bl_fail_memory(error);
    } else {
        status = run(&work, lives, error);
    }
    bl_free(work.frame);
    bl_free(work.part);
    bl_free(work.looked);
    bl_free(work.p);
    bl_free(work.p_bare);
    if (status != BL_OK) {
        bl_life_destroy(lives);
        return NULL;
    }
    return lives;
}

void bl_life_destroy(struct bl_lives *lives)
{
    for (size_t i = 0; lives != NULL && i < lives->rows; i++) {
        bl_free(lives->row[i].point);
        bl_free(lives->row[i].left);
    }
    if (lives != NULL) {
        bl_free(lives->row);
        bl_free(lives);
    }
}
