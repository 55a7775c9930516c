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

#include <float.h>
#include <math.h>

/* A number and what it may be. NaN is "not recorded" where that may be. */
struct number {
    const char *name;
    double value, least, most;
    bool needed;
};

/* The first of `count` numbers that no measurement of its kind has; NULL. */
static const struct number *odd(const struct number *number, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        const double value = number[i].value;
        if (isnan(value) ? number[i].needed
                         : value < number[i].least || value > number[i].most) {
            return &number[i];
        }
    }
    return NULL;
}

static enum bl_status check_options(const struct bl_life_options *o,
                                    struct bl_error *error)
{
    const double above = DBL_MIN;
    const double below = 1 - DBL_EPSILON;
    const struct number number[] = {
        {"confidence", o->confidence, above, below, true},
        {"false_rate", o->false_rate, above, below, true},
        {"spread_s", o->spread_s, above, DBL_MAX, true},
        {"spread_dof", o->spread_dof, above, DBL_MAX, true},
        {"least_s", o->least_s, 0, DBL_MAX, true},
        {"odds", o->odds, 1, DBL_MAX, true},
    };
    const struct number *wrong =
        odd(number, sizeof(number) / sizeof(number[0]));
    return wrong == NULL
               ? BL_OK
               : bl_fail(error, BL_ARG, "",
                         "life: option %s: expected %s, found %g", wrong->name,
                         wrong->least >= 1   ? "1 or more"
                         : wrong->most < 1   ? "a number between 0 and 1"
                         : wrong->least == 0 ? "0 or more"
                                             : "a number above 0",
                         wrong->value);
}

static enum bl_status check_visits(const struct bl_life *life,
                                   struct bl_error *error)
{
    for (size_t i = 0; i < life->visits; i++) {
        const struct bl_life_visit *visit = &life->visit[i];
        const struct number number[] = {
            {"day", visit->day, -BL_LIFE_MOST_DAYS, BL_LIFE_MOST_DAYS, true},
            {"supply_kpa", visit->supply_kpa, 0, BL_LIFE_MOST_KPA, false},
            {"temperature_c", visit->temperature_c, -BL_LIFE_MOST_C,
             BL_LIFE_MOST_C, false},
            {"units_in_front", visit->units_in_front, 0, BL_LIFE_MOST_UNITS,
             false},
        };
        const struct number *wrong =
            odd(number, sizeof(number) / sizeof(number[0]));
        if (wrong != NULL) {
            return bl_fail(error, BL_ARG, "",
                           "life: visit %zu: expected %s from %.0f to %.0f, "
                           "found %g",
                           i + 1, wrong->name, wrong->least, wrong->most,
                           wrong->value);
        }
        if (i > 0 && visit->day < visit[-1].day) {
            return bl_fail(error, BL_ARG, "",
                           "life: expected visits in the order of their days, "
                           "found visit %zu before visit %zu",
                           i + 1, i);
        }
    }
    return BL_OK;
}

static enum bl_status check_value(const struct bl_life_value *value,
                                  size_t series, struct bl_error *error)
{
    const struct number number[] = {
        {"value", value->value, -BL_LIFE_MOST, BL_LIFE_MOST, false},
        {"u_random", value->u_random, 0, BL_LIFE_MOST, true},
        {"u_systematic", value->u_systematic, 0, BL_LIFE_MOST, false},
        {"command_rise_s", value->command_rise_s, 0, BL_LIFE_MOST, false},
    };
    const struct number *wrong =
        odd(number, sizeof(number) / sizeof(number[0]));
    return wrong == NULL
               ? BL_OK
               : bl_fail(error, BL_ARG, "",
                         "life: series %zu, visit %zu: expected %s from %.0f "
                         "to %.0f, found %g",
                         series + 1, value->visit + 1, wrong->name,
                         wrong->least, wrong->most, wrong->value);
}

static enum bl_status check_series(const struct bl_life *life, size_t index,
                                   struct bl_error *error)
{
    const struct bl_life_series *series = &life->series[index];
    for (size_t i = 0; i < series->values; i++) {
        const struct bl_life_value *value = &series->value[i];
        if (value->visit >= life->visits) {
            return bl_fail(error, BL_ARG, "",
                           "life: series %zu: expected one of %zu visits, "
                           "found visit %zu",
                           index + 1, life->visits, value->visit + 1);
        }
        if (i > 0 && value->visit <= value[-1].visit) {
            return bl_fail(error, BL_ARG, "",
                           "life: series %zu: expected one value a visit in "
                           "the order of visits, found visit %zu after %zu",
                           index + 1, value->visit + 1, value[-1].visit + 1);
        }
        const enum bl_status status = check_value(value, index, error);
        if (status != BL_OK) {
            return status;
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
    if (row->verdict == BL_LIFE_CANNOT_TELL || row->verdict == BL_LIFE_DRIFT ||
        row->verdict == BL_LIFE_DRIFT_OR_STEP) {
        return;
    }
    const bool behind =
        row->verdict == BL_LIFE_STEP || row->verdict == BL_LIFE_FIRST_APART;
    bl_life_frame_part(work->part, work->frame, behind ? row->step_at : 0,
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
