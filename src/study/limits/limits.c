/* SPDX-License-Identifier: MIT */
/* Every published limit against every unit that it is about, then the trial's
   own limits. */
#include "brakelag/limits.h"
#include "study/limits/judge.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "lag/as_one.h"
#include "lag/summary.h"
#include "study/limits/evidence.h"

#include <math.h>

struct making {
    struct bl_limits *into;
    const struct bl_trial *trial;
    struct bl_run_lag *const *lag;
    struct bl_error *error;
};

static enum bl_status append(struct making *m, const struct bl_limit_row *row)
{
    struct bl_limits *into = m->into;
    if (!bl_grow(&into->row, &into->capacity, into->rows + 1,
                 sizeof(*into->row), BL_LIMIT_APPLICATIONS)) {
        return bl_fail_memory(m->error);
    }
    into->row[into->rows++] = *row;
    if (row->own != NULL) {
        into->own_failed += row->verdict == BL_LIMIT_OUTSIDE;
        into->own_not_shown += row->verdict == BL_LIMIT_NOT_DECIDED;
    }
    return BL_OK;
}

/* Last of its combination: units stand combination by combination. */
static bool tows_nothing(const struct bl_trial *trial, size_t unit)
{
    return unit + 1 == trial->units ||
           trial->unit[unit + 1].combination != trial->unit[unit].combination;
}

/* A trailer of the US rule is no dolly; where the trial does not say which a
   unit is, it is held to the limits of both. */
static bool is_about(const struct bl_published_limit *limit,
                     const struct bl_trial *trial, size_t unit)
{
    const struct bl_trial_unit *vehicle = &trial->unit[unit];
    const bool last = tows_nothing(trial, unit);
    if (vehicle->number == 0) {
        return limit->vehicle == BL_LIMIT_CLASS_MOTOR_VEHICLE;
    }
    switch (limit->vehicle) {
    case BL_LIMIT_CLASS_MOTOR_VEHICLE:
        return false;
    case BL_LIMIT_CLASS_TRAILER:
        return true;
    case BL_LIMIT_CLASS_TOWS:
        return !last;
    case BL_LIMIT_CLASS_LAST_TRAILER:
        return last && vehicle->kind != BL_UNIT_DOLLY;
    case BL_LIMIT_CLASS_TOWING_TRAILER:
        return !last && vehicle->kind != BL_UNIT_DOLLY;
    case BL_LIMIT_CLASS_DOLLY:
        break;
    }
    return vehicle->kind == BL_UNIT_DOLLY ||
           (!last && vehicle->kind == BL_UNIT_NOT_STATED);
}

/* Take one application into a row; `all_inside` says whether every one so far
   was. */
static void count(struct bl_limit_row *row, const struct bl_evidence *e,
                  double limit, bool to_tenth, bool *all_inside)
{
    if (isnan(e->low) && isnan(e->high)) {
        row->without++;
        return;
    }
    row->n++;
    row->bounds += e->is_bound;
    const enum bl_limit_verdict verdict =
        bl_limit_judge(e->low, e->u_low, e->high, e->u_high, limit, to_tenth);
    *all_inside = *all_inside && verdict == BL_LIMIT_INSIDE;
    if (verdict == BL_LIMIT_OUTSIDE) {
        row->verdict = verdict;
    }
    const double shown = isnan(row->high) ? row->low : row->high;
    const double now = isnan(e->high) ? e->low : e->high;
    if (row->n == 1 || now > shown) {
        row->low = e->low;
        row->high = e->high;
        row->u = isnan(e->high) ? e->u_low : e->u_high;
        row->most_kpa = e->most_kpa;
    }
}

static void conclude(struct bl_limit_row *row, bool all_inside,
                     bool counts_more)
{
    if (row->n == 0) {
        row->reason =
            row->without > 0 ? BL_LIMIT_NO_FIGURE : BL_LIMIT_NO_APPLICATION;
    } else if (row->verdict == BL_LIMIT_OUTSIDE && !counts_more) {
        return;
    } else if (row->verdict == BL_LIMIT_OUTSIDE) {
        row->verdict = BL_LIMIT_NOT_DECIDED;
        row->reason = BL_LIMIT_COUNTS_MORE;
    } else if (row->bounds > 0) {
        row->reason = BL_LIMIT_HOLD_LONGER;
    } else if (row->without > 0) {
        row->reason = BL_LIMIT_NO_FIGURE;
    } else if (all_inside) {
        row->verdict = BL_LIMIT_INSIDE;
    } else {
        row->reason = row->low < row->high || isnan(row->low + row->high)
                          ? BL_LIMIT_NO_LEVEL
                          : BL_LIMIT_WITHIN_UNCERTAINTY;
    }
}

static struct bl_limit_row empty_row(void)
{
    return (struct bl_limit_row){.run = -1,
                                 .unit = -1,
                                 .low = NAN,
                                 .high = NAN,
                                 .u = NAN,
                                 .most_kpa = NAN};
}

/* An electronically controlled unit, as its address or a demand says, in a run
   without supply or data. */
static bool is_without_supply(const struct making *m, size_t run, size_t unit)
{
    const struct bl_trial_run *made = &m->trial->run[run];
    bool electronic = m->trial->unit[unit].address >= 0;
    for (size_t r = 0; r < m->trial->runs && !electronic; r++) {
        for (size_t a = 0; m->lag[r] != NULL && a < m->lag[r]->applications;
             a++) {
            const struct bl_application *application =
                &m->lag[r]->application[a];
            for (size_t u = 0; u < application->units; u++) {
                electronic =
                    electronic || (application->unit[u].unit == unit &&
                                   application->unit[u]
                                       .figure[BL_FIGURE_DEMAND_ARRIVAL]
                                       .known);
            }
        }
    }
    return electronic && (made->power == BL_STATED_OFF ||
                          made->power == BL_STATED_STOP_LAMP_ONLY ||
                          made->data == BL_STATED_OFF);
}

/* Runs that no rule speaks of: the figures are shown, and not judged. */
static void withhold(const struct making *m, struct bl_limit_row *row)
{
    const size_t run = (size_t)row->run;
    const size_t unit = (size_t)row->unit;
    const bool tee = bl_lag_one_tee(m->trial, run, m->lag[run],
                                    m->trial->unit[unit].combination);
    if (tee || is_without_supply(m, run, unit)) {
        row->verdict = BL_LIMIT_NOT_DECIDED;
        row->reason = tee ? BL_LIMIT_REFERENCE_RUN : BL_LIMIT_UNPOWERED;
    }
}

static enum bl_status published_unit(struct making *m,
                                     const struct bl_published_limit *limit,
                                     size_t run, size_t unit)
{
    struct bl_limit_row row = empty_row();
    row.published = limit;
    row.run = (long)run;
    row.unit = (long)unit;
    bool all_inside = true;
    for (size_t a = 0; a < m->lag[run]->applications; a++) {
        const struct bl_application *application = &m->lag[run]->application[a];
        for (size_t u = 0; u < application->units; u++) {
            struct bl_evidence e;
            if (application->unit[u].unit != unit ||
                !bl_evidence_asked(limit, application, u)) {
                continue;
            }
            bl_evidence_of(&e, limit, m->trial, application, u);
            count(&row, &e, limit->limit, limit->to_tenth, &all_inside);
        }
    }
    if (row.n + row.without == 0) {
        return BL_OK;
    }
    conclude(&row, all_inside, limit->counts_more);
    withhold(m, &row);
    return append(m, &row);
}

static enum bl_status published(struct making *m,
                                const struct bl_published_limit *limit)
{
    const size_t before = m->into->rows;
    enum bl_status status = BL_OK;
    for (size_t r = 0; status == BL_OK && r < m->trial->runs; r++) {
        for (size_t u = 0;
             status == BL_OK && m->lag[r] != NULL && u < m->trial->units; u++) {
            if (is_about(limit, m->trial, u)) {
                status = published_unit(m, limit, r, u);
            }
        }
    }
    if (status != BL_OK || m->into->rows > before) {
        return status;
    }
    struct bl_limit_row row = empty_row();
    row.published = limit;
    row.reason = limit->by == BL_LIMIT_BY_NOTHING ? BL_LIMIT_NOT_MEASURED
                                                  : BL_LIMIT_NO_APPLICATION;
    return append(m, &row);
}

/* Index of the level that a limit names; past the last where none is. */
static size_t level_of(const struct bl_trial *trial, double kpa)
{
    size_t i = 0;
    while (i < trial->levels && !(fabs(trial->level_kpa[i] - kpa) < 1e-6)) {
        i++;
    }
    return i;
}

static void own_count(struct bl_limit_row *row, const struct bl_figure *f,
                      bool *all_inside)
{
    /* A unit without the channel is passed over, unless it was asked for. */
    if (!f->known && f->reason == BL_REASON_NO_CHANNEL && row->own->unit < 0) {
        return;
    }
    const double s = f->known ? f->s : NAN;
    const struct bl_evidence e =
        f->bounded ? (struct bl_evidence){f->later_than_s,
                                          f->u_later_s,
                                          NAN,
                                          NAN,
                                          NAN,
                                          true}
                   : (struct bl_evidence){s, f->u_s, s, f->u_s, NAN, false};
    count(row, &e, row->own->max_s, false, all_inside);
}

static enum bl_status own_unit(struct making *m,
                               const struct bl_trial_limit *limit, size_t run,
                               long unit)
{
    struct bl_limit_row row = empty_row();
    row.own = limit;
    row.run = (long)run;
    row.unit = unit;
    bool all_inside = true;
    const size_t level = level_of(m->trial, limit->level_kpa);
    for (size_t a = 0; a < m->lag[run]->applications; a++) {
        const struct bl_application *application = &m->lag[run]->application[a];
        if (application->excluded) {
            continue;
        }
        if (unit < 0) {
            own_count(&row, &application->spread, &all_inside);
        }
        for (size_t u = 0; u < application->units; u++) {
            if (unit < 0 || application->unit[u].unit != (size_t)unit) {
                continue;
            }
            if (limit->figure == BL_FIGURE_LEVEL && level >= m->trial->levels) {
                row.without++;
                continue;
            }
            own_count(
                &row,
                bl_unit_figure(&application->unit[u], limit->figure, level),
                &all_inside);
        }
    }
    if (row.n + row.without == 0) {
        return BL_OK;
    }
    conclude(&row, all_inside, false);
    return append(m, &row);
}

static enum bl_status own(struct making *m, const struct bl_trial_limit *limit)
{
    const size_t before = m->into->rows;
    enum bl_status status = BL_OK;
    for (size_t r = 0; status == BL_OK && r < m->trial->runs; r++) {
        if (m->lag[r] == NULL) {
            continue;
        }
        if (limit->figure == BL_FIGURE_SPREAD) {
            status = own_unit(m, limit, r, -1);
            continue;
        }
        for (size_t u = 0; status == BL_OK && u < m->trial->units; u++) {
            if (limit->unit < 0 || (size_t)limit->unit == u) {
                status = own_unit(m, limit, r, (long)u);
            }
        }
    }
    if (status != BL_OK || m->into->rows > before) {
        return status;
    }
    struct bl_limit_row row = empty_row();
    row.own = limit;
    row.unit = limit->unit;
    row.reason = BL_LIMIT_NO_APPLICATION;
    return append(m, &row);
}

enum bl_status bl_limits_create(struct bl_limits **out,
                                const struct bl_trial *trial,
                                struct bl_run_lag *const *lag,
                                struct bl_error *error)
{
    *out = NULL;
    const uint64_t refused = bl_alloc_refused();
    struct bl_limits *limits = bl_alloc(1, sizeof(*limits));
    if (limits == NULL) {
        return bl_fail_memory(error);
    }
    struct making m = {limits, trial, lag, error};
    enum bl_status status = BL_OK;
    for (size_t i = 0; status == BL_OK && i < trial->limits; i++) {
        status = own(&m, &trial->limit[i]);
    }
    for (size_t i = 0; status == BL_OK && bl_published_limit(i) != NULL; i++) {
        status = published(&m, bl_published_limit(i));
    }
    if (status == BL_OK && bl_alloc_refused() != refused) {
        status = bl_fail_memory(error);
    }
    if (status != BL_OK) {
        bl_limits_destroy(limits);
        return status;
    }
    *out = limits;
    return BL_OK;
}

void bl_limits_destroy(struct bl_limits *limits)
{
    if (limits != NULL) {
        bl_free(limits->row);
        bl_free(limits);
    }
}
