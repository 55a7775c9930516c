/* SPDX-License-Identifier: MIT */
/*
 * Method: docs/methods/comparison.md. Shift by Hodges and Lehmann with the
 * exact rank interval; what the clocks of the runs add does not average out
 * and widens the interval.
 */
#include "study/compare/compare.h"
#include "study/travel.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"

#include <math.h>
#include <string.h>

/* 1 - 0.95 is a little more than 0.05 in binary; so are its neighbours. */
static const double rounding = 1e-12;

const char *bl_verdict_name(enum bl_verdict verdict)
{
    static const char *const names[] = {"no-values", "run-more",
                                        "no-change-shown", "earlier", "later"};
    return names[verdict];
}

static double smallest_p(bool paired, size_t n_base, size_t n_against)
{
    return paired ? bl_p_smallest_paired(n_base)
                  : bl_p_smallest_two(n_base, n_against);
}

size_t bl_compare_more(bool paired, size_t n_base, size_t n_against,
                       double confidence)
{
    enum { ENOUGH = 64 }; /* 2 / 2^64 is below any p that is asked for */
    size_t more = 0;
    while (more < ENOUGH &&
           !(smallest_p(paired, n_base + more, n_against + more) <=
             1 - confidence + rounding)) {
        more++;
    }
    return more;
}

/* Raw values of one row, with the bias taken off "against". */
struct sides {
    struct bl_values base, against;
    double *b, *a;
    struct bl_pairs pairs;
};

static void finish_sides(struct sides *sides)
{
    bl_values_finish(&sides->base);
    bl_values_finish(&sides->against);
    bl_pairs_finish(&sides->pairs);
    bl_free(sides->b);
    bl_free(sides->a);
}

static enum bl_status plain(double **out, const struct bl_values *values,
                            double less, struct bl_error *error)
{
    *out = bl_alloc(values->count, sizeof(**out));
    if (*out == NULL) {
        return bl_fail_memory(error);
    }
    for (size_t i = 0; i < values->count; i++) {
        (*out)[i] = values->item[i].s - less;
    }
    return BL_OK;
}

static enum bl_status collect_sides(struct sides *sides,
                                    const struct bl_comparing *c,
                                    const struct bl_values_wanted *base,
                                    const struct bl_values_wanted *against,
                                    double bias_s, struct bl_error *error)
{
    enum bl_status status = bl_values_collect(&sides->base, c->trial, c->lag,
                                              c->base_condition, base, error);
    if (status == BL_OK) {
        status = bl_values_collect(&sides->against, c->trial, c->lag,
                                   c->against_condition, against, error);
    }
    if (status == BL_OK) {
        status = plain(&sides->b, &sides->base, 0, error);
    }
    if (status == BL_OK) {
        status = plain(&sides->a, &sides->against, bias_s, error);
    }
    if (status != BL_OK || !c->paired) {
        return status;
    }
    status = c->two_units
                 ? bl_pairs_by_application(&sides->pairs, &sides->base,
                                           &sides->against, error)
                 : bl_pairs_by_block(&sides->pairs, c->trial, &sides->base,
                                     &sides->against, error);
    for (size_t i = 0; i < sides->pairs.count; i++) {
        sides->pairs.difference[i] -= bias_s;
    }
    return status;
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

static enum bl_verdict verdict_of(const struct bl_comparison_row *row)
{
    if (isnan(row->difference_s)) {
        return BL_VERDICT_NO_VALUES;
    }
    if (row->more > 0) {
        return BL_VERDICT_RUN_MORE;
    }
    if (row->low_s <= 0 && row->high_s >= 0) {
        return BL_VERDICT_NO_CHANGE_SHOWN;
    }
    return row->difference_s < 0 ? BL_VERDICT_EARLIER : BL_VERDICT_LATER;
}

/* The shift of the row, and what widens it. */
static void conclude(struct bl_comparison_row *row, const struct sides *sides,
                     const struct bl_comparing *c)
{
    row->u_random_s = row->shift.u;
    /* Two units of one recorder share its clock: it cancels. */
    row->u_systematic_s =
        c->two_units ? 0
                     : hypot(clock_of(&sides->base), clock_of(&sides->against));
    const double fixed = hypot(row->u_systematic_s, row->u_reference_s);
    row->difference_s = row->shift.shift;
    row->low_s = row->difference_s -
                 hypot(row->difference_s - row->shift.low, 2 * fixed);
    row->high_s = row->difference_s +
                  hypot(row->shift.high - row->difference_s, 2 * fixed);
    row->u_s = hypot(isnan(row->u_random_s) ? 0 : row->u_random_s, fixed);
    if (isnan(row->u_random_s)) {
        row->u_s = NAN;
    }
}

static enum bl_status shift_of(struct bl_comparison_row *row,
                               const struct sides *sides,
                               const struct bl_comparing *c,
                               struct bl_error *error)
{
    const double confidence = c->into->confidence;
    if (c->paired) {
        row->paired = true;
        row->unpaired_left = sides->pairs.left;
        return sides->pairs.count == 0
                   ? BL_OK
                   : bl_shift_paired(&row->shift, sides->pairs.difference,
                                     sides->pairs.count, confidence, error);
    }
    return bl_shift_two(
        &row->shift,
        &(const struct bl_two_samples){sides->b, sides->base.count, sides->a,
                                       sides->against.count},
        confidence, error);
}

static enum bl_status describe_row(struct bl_comparison_row *row,
                                   const struct sides *sides,
                                   struct bl_error *error)
{
    struct bl_description base;
    struct bl_description against;
    enum bl_status status =
        bl_describe(&base, sides->b, sides->base.count, error);
    if (status == BL_OK) {
        status = bl_describe(&against, sides->a, sides->against.count, error);
    }
    if (status != BL_OK) {
        return status;
    }
    row->base_median_s = base.median;
    row->against_median_s = against.median + row->reference_s;
    if (sides->base.count >= 3) {
        status = bl_trend(&row->trend_base, sides->b, sides->base.count, error);
    }
    if (status == BL_OK && sides->against.count >= 3) {
        status = bl_trend(&row->trend_against, sides->a, sides->against.count,
                          error);
    }
    return status;
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
        row->travel[i] =
            (struct bl_travel){.kmh = kmh,
                               .m = bl_travel_m(kmh, row->difference_s),
                               .u_m = bl_travel_m(kmh, row->u_s)};
    }
    return BL_OK;
}

static enum bl_status fill_row(struct bl_comparison_row *row,
                               const struct bl_comparing *c,
                               const struct bl_values_wanted *base,
                               const struct bl_values_wanted *against,
                               struct sides *sides, struct bl_error *error)
{
    struct bl_reference_bias bias;
    enum bl_status status = bl_reference_bias(&bias, &c->reference, c->trial,
                                              c->lag, base, against, error);
    if (status != BL_OK) {
        return status;
    }
    row->reference_s = bias.known ? bias.s : NAN;
    row->u_reference_s = bias.known ? bias.u_s : NAN;
    row->reference_cancels = bias.cancels;
    row->n_reference = bias.n;
    status =
        collect_sides(sides, c, base, against, bias.known ? bias.s : 0, error);
    if (status != BL_OK) {
        return status;
    }
    row->n_base = sides->base.count;
    row->n_against = sides->against.count;
    row->null_base = sides->base.null;
    row->null_against = sides->against.null;
    row->flags = sides->base.flags | sides->against.flags;
    const bool some = row->n_base > 0 && row->n_against > 0 && bias.known &&
                      (!c->paired || sides->pairs.count > 0);
    row->difference_s = row->u_s = row->low_s = row->high_s = NAN;
    row->base_median_s = row->against_median_s = NAN;
    row->u_random_s = row->u_systematic_s = NAN;
    if (some) {
        status = shift_of(row, sides, c, error);
        if (status == BL_OK) {
            conclude(row, sides, c);
            status = describe_row(row, sides, error);
        }
    }
    if (status == BL_OK) {
        if (some) {
            row->more = bl_compare_more(
                c->paired, c->paired ? sides->pairs.count : row->n_base,
                row->n_against, c->into->confidence);
            row->more += row->more == 0 && isnan(row->low_s);
        }
        row->verdict = verdict_of(row);
        status = travel_of(row, c, error);
    }
    return status;
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
    struct sides sides = {.b = NULL};
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
