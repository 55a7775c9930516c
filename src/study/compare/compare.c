/* SPDX-License-Identifier: MIT */
/*
 * One row: its values, what is taken off them, the conclusion (conclude.c), and
 * what stands beside it.
 */
#include "study/compare/compare.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"
#include "study/compare/commanded.h"
#include "study/compare/means.h"
#include "study/compare/outliers.h"
#include "study/travel.h"

#include <math.h>
#include <string.h>

const char *bl_verdict_name(enum bl_verdict verdict)
{
    static const char *const names[] = {
        "no-values", "run-more", "no-change-shown", "same",
        "earlier",   "later",    "command-differs"};
    return names[verdict];
}

const char *bl_compare_scope_name(enum bl_compare_scope scope)
{
    static const char *const names[] = {"these-runs", "runs", "pairs"};
    return names[scope];
}

struct sides {
    struct bl_values base, against;
};

static void finish_sides(struct sides *sides)
{
    bl_values_finish(&sides->base);
    bl_values_finish(&sides->against);
}

/* Largest clock uncertainty of one side: it is common to the run. */
static double clock_of(const struct bl_values *values)
{
    double u = 0;
    for (size_t i = 0; i < values->count; i++) {
        u = fmax(u, values->item[i].u_clock_s);
    }
    return u;
}

static enum bl_status plain(double **out, const struct bl_values *values,
                            struct bl_error *error)
{
    *out = bl_alloc(values->count, sizeof(**out));
    if (*out == NULL) {
        return bl_fail_memory(error);
    }
    for (size_t i = 0; i < values->count; i++) {
        (*out)[i] = values->item[i].s;
    }
    return BL_OK;
}

/* Median and trend of one side, as it was measured. */
static enum bl_status describe_side(double *median, struct bl_trend *trend,
                                    const struct bl_values *values,
                                    struct bl_error *error)
{
    double *value = NULL;
    struct bl_description d;
    enum bl_status status = plain(&value, values, error);
    if (status == BL_OK) {
        status = bl_describe(&d, value, values->count, error);
    }
    if (status == BL_OK) {
        *median = d.median;
        status = values->count < 3
                     ? BL_OK
                     : bl_trend(trend, value, values->count, error);
    }
    bl_free(value);
    return status;
}

static enum bl_status describe_row(struct bl_comparison_row *row,
                                   const struct sides *sides,
                                   struct bl_error *error)
{
    const enum bl_status status = describe_side(
        &row->base_median_s, &row->trend_base, &sides->base, error);
    return status == BL_OK
               ? describe_side(&row->against_median_s, &row->trend_against,
                               &sides->against, error)
               : status;
}

static enum bl_status travel_of(struct bl_comparison_row *row,
                                const struct bl_comparing *c,
                                struct bl_error *error)
{
    const struct bl_trial *trial = c->trial;
    row->travel = bl_alloc(trial->speeds, sizeof(*row->travel));
    if (row->travel == NULL) {
        return bl_fail_memory(error);
    }
    for (size_t i = 0; i < trial->speeds; i++) {
        const double kmh = trial->speed_kmh[i];
        const bool refused = row->metres_refused;
        row->travel[i] = (struct bl_travel){
            .kmh = kmh,
            .m = refused ? NAN : bl_travel_m(kmh, row->difference_s),
            .u_m = refused ? NAN : bl_travel_m(kmh, row->u_s)};
    }
    return BL_OK;
}

static enum bl_status collect_sides(struct sides *sides,
                                    const struct bl_comparing *c,
                                    const struct bl_values_wanted *base,
                                    const struct bl_values_wanted *against,
                                    struct bl_error *error)
{
    const enum bl_status status = bl_values_collect(
        &sides->base, c->trial, c->lag, c->base_condition, base, error);
    return status == BL_OK
               ? bl_values_collect(&sides->against, c->trial, c->lag,
                                   c->against_condition, against, error)
               : status;
}

/* Outliers, and how it would come out without them. */
static enum bl_status look_apart(struct bl_comparison_row *row,
                                 const struct bl_comparing *c,
                                 struct sides *sides, struct bl_error *error)
{
    bl_compare_outliers(row, &sides->base, &sides->against);
    if (row->outliers == 0) {
        return BL_OK;
    }
    struct bl_comparison_row without = *row;
    const enum bl_status status =
        bl_compare_conclude(&without, c, &sides->base, &sides->against, error);
    row->without = (struct bl_without){.difference_s = without.difference_s,
                                       .low_s = without.low_s,
                                       .high_s = without.high_s,
                                       .verdict = without.verdict};
    return status;
}

/* What is to be taken off, and the conclusion; *sides is used up. */
static enum bl_status judge_row(struct bl_comparison_row *row,
                                const struct bl_comparing *c,
                                struct sides *sides, struct bl_error *error)
{
    for (size_t i = 0; i < sides->against.count; i++) {
        sides->against.item[i].s -= row->reference_s;
    }
    bl_compare_take_off(row, bl_compared_command_of(c, row), &sides->base,
                        &sides->against);
    /* Two units of one recorder share its clock: it cancels. */
    row->u_systematic_s =
        c->two_units ? 0
                     : hypot(clock_of(&sides->base), clock_of(&sides->against));
    const enum bl_status status =
        bl_compare_conclude(row, c, &sides->base, &sides->against, error);
    if (status != BL_OK || row->verdict == BL_VERDICT_NO_VALUES) {
        return status;
    }
    row->aim.half_width_s = c->aim_s;
    bl_compare_aim(row, hypot(row->u_systematic_s, row->u_reference_s));
    return look_apart(row, c, sides, error);
}

static void nothing_yet(struct bl_comparison_row *row)
{
    row->difference_s = row->u_s = row->low_s = row->high_s = NAN;
    row->base_median_s = row->against_median_s = NAN;
    row->u_random_s = row->u_systematic_s = NAN;
    row->confidence = row->p = row->p_holm = row->p_exact = row->p_same = NAN;
    row->of_runs.mean_base_s = row->of_runs.mean_against_s = NAN;
    row->of_runs.least_s = row->of_runs.most_s = NAN;
    row->of_runs.base = row->of_runs.against =
        (struct bl_variance){.within_sd = NAN, .between_sd = NAN};
    row->mean.p = row->mean.dof = NAN;
    row->aim.half_width_s = NAN;
}

static enum bl_status fill_row(struct bl_comparison_row *row,
                               const struct bl_comparing *c,
                               const struct bl_values_wanted *base,
                               const struct bl_values_wanted *against,
                               struct sides *sides, struct bl_error *error)
{
    struct bl_reference_bias bias;
    const struct bl_values_wanted wanted[2] = {*base, *against};
    enum bl_status status = bl_reference_bias(&bias, &c->reference, c->trial,
                                              c->lag, wanted, error);
    if (status == BL_OK) {
        status = collect_sides(sides, c, base, against, error);
    }
    if (status != BL_OK) {
        return status;
    }
    row->reference_s = bias.known ? bias.s : NAN;
    row->u_reference_s = bias.known ? bias.u_s : NAN;
    row->reference_cancels = bias.cancels;
    row->n_reference = bias.n;
    row->n_base = sides->base.count;
    row->n_against = sides->against.count;
    row->null_base = sides->base.null;
    row->null_against = sides->against.null;
    row->flags = sides->base.flags | sides->against.flags;
    nothing_yet(row);
    row->paired = c->paired;
    if (row->n_base > 0 && row->n_against > 0 && bias.known) {
        status = describe_row(row, sides, error);
        if (status == BL_OK) {
            status = judge_row(row, c, sides, error);
        }
    }
    return status == BL_OK ? travel_of(row, c, error) : status;
}

enum bl_status bl_compare_row(struct bl_comparing *c,
                              const struct bl_values_wanted *base,
                              const struct bl_values_wanted *against,
                              struct bl_error *error)
{
    struct bl_comparison *into = c->into;
    struct bl_comparison_row row = {
        .unit = against->unit,
        .unit_base = base->unit,
        .kind = against->kind,
        .shape = against->shape,
        .figure = against->figure,
        .level_kpa = against->figure == BL_FIGURE_LEVEL
                         ? c->trial->level_kpa[against->level]
                         : NAN};
    struct sides sides = {.base = {0}};
    enum bl_status status = fill_row(&row, c, base, against, &sides, error);
    const bool asked =
        row.n_base + row.null_base > 0 || row.n_against + row.null_against > 0;
    finish_sides(&sides);
    if (status == BL_OK && asked) {
        if (bl_grow(&into->row, &c->row_capacity, into->rows + 1,
                    sizeof(*into->row), BL_LIMIT_APPLICATIONS)) {
            into->row[into->rows++] = row;
            return BL_OK;
        }
        status = bl_fail_memory(error);
    }
    bl_free(row.travel);
    return status;
}
