/* SPDX-License-Identifier: MIT */
/*
 * From values to a verdict. Method: docs/methods/comparison.md. Of three runs a
 * side or more: Welch over the means of runs, or Student over differences of
 * blocks. Of fewer: the applications of these runs by ranks (Hodges and
 * Lehmann), which says nothing of other runs.
 */
#include "study/compare/compare.h"

#include "stats/stats_common.h"
#include "study/compare/commanded.h"
#include "study/compare/means.h"

#include <math.h>
#include <string.h>

/* Of k = 2. */
static const double COVERS = 2;
/* An exact test that cannot be as sure as is usual is not used. */
static const double LEAST_SURE = 0.05;

/* All that one conclusion is made from. */
struct material {
    struct bl_run_means base, against, pairs;
    struct bl_pairs partners; /* of single applications */
};

static void finish(struct material *m)
{
    bl_run_means_finish(&m->base);
    bl_run_means_finish(&m->against);
    bl_run_means_finish(&m->pairs);
    bl_pairs_finish(&m->partners);
}

static enum bl_status prepare(struct material *m, const struct bl_comparing *c,
                              const struct bl_values *base,
                              const struct bl_values *against,
                              struct bl_error *error)
{
    enum bl_status status = bl_run_means_find(&m->base, base, error);
    if (status == BL_OK) {
        status = bl_run_means_find(&m->against, against, error);
    }
    if (status != BL_OK || !c->paired) {
        return status;
    }
    if (c->two_units) {
        status = bl_run_differences(&m->pairs, base, against, error);
        return status == BL_OK
                   ? bl_pairs_by_application(&m->partners, base, against, error)
                   : status;
    }
    status =
        bl_block_differences(&m->pairs, c->trial, &m->base, &m->against, error);
    return status == BL_OK
               ? bl_pairs_by_block(&m->partners, c->trial, base, against, error)
               : status;
}

static enum bl_compare_scope scope_of(const struct material *m,
                                      const struct bl_comparing *c)
{
    if (c->paired && m->pairs.count >= BL_RUNS_LEAST) {
        return BL_SCOPE_PAIRS;
    }
    return !c->two_units && m->base.count >= BL_RUNS_LEAST &&
                   m->against.count >= BL_RUNS_LEAST
               ? BL_SCOPE_RUNS
               : BL_SCOPE_THESE_RUNS;
}

static size_t lacking(size_t runs)
{
    return runs < BL_RUNS_LEAST ? BL_RUNS_LEAST - runs : 0;
}

static enum bl_status describe_runs(struct bl_comparison_row *row,
                                    const struct material *m,
                                    const struct bl_comparing *c,
                                    struct bl_error *error)
{
    struct bl_compared_runs *runs = &row->of_runs;
    *runs = (struct bl_compared_runs){.runs_base = m->base.count,
                                      .runs_against = m->against.count,
                                      .pairs = m->pairs.count,
                                      .mean_base_s = bl_mean_of_means(&m->base),
                                      .mean_against_s =
                                          bl_mean_of_means(&m->against),
                                      .least_s = NAN,
                                      .most_s = NAN};
    if (row->scope == BL_SCOPE_THESE_RUNS) {
        runs->more_base =
            lacking(c->two_units ? m->pairs.count : m->base.count);
        runs->more_against =
            lacking(c->two_units ? m->pairs.count : m->against.count);
    }
    const enum bl_status status = bl_scatter_of(&runs->base, &m->base, error);
    return status == BL_OK ? bl_scatter_of(&runs->against, &m->against, error)
                           : status;
}

/* --- of these runs --- */

static void spread_of(struct bl_comparison_row *row, const struct material *m,
                      const struct bl_comparing *c)
{
    double least = INFINITY;
    double most = -INFINITY;
    if (c->paired && m->partners.count > 0) {
        for (size_t i = 0; i < m->partners.count; i++) {
            least = fmin(least, m->partners.difference[i]);
            most = fmax(most, m->partners.difference[i]);
        }
    } else {
        for (size_t i = 0; i < m->base.values; i++) {
            for (size_t k = 0; k < m->against.values; k++) {
                const double d = m->against.value[k] - m->base.value[i];
                least = fmin(least, d);
                most = fmax(most, d);
            }
        }
    }
    row->of_runs.least_s = least;
    row->of_runs.most_s = most;
}

static enum bl_status of_these_runs(struct bl_comparison_row *row,
                                    const struct material *m,
                                    const struct bl_comparing *c,
                                    struct bl_error *error)
{
    const double confidence = c->into->confidence;
    row->paired = c->paired && m->partners.count > 0;
    row->unpaired_left = c->paired ? m->partners.left : 0;
    const enum bl_status status =
        row->paired ? bl_shift_paired(&row->shift, m->partners.difference,
                                      m->partners.count, confidence, error)
                    : bl_shift_two(&row->shift,
                                   &(const struct bl_two_samples){
                                       m->base.value, m->base.values,
                                       m->against.value, m->against.values},
                                   confidence, error);
    if (status != BL_OK) {
        return status;
    }
    spread_of(row, m, c);
    row->difference_s = row->shift.shift;
    row->low_s = row->shift.low;
    row->high_s = row->shift.high;
    row->u_random_s = row->shift.u;
    row->confidence = row->shift.confidence;
    row->p = row->shift.p;
    return BL_OK;
}

/* --- of the conditions --- */

/* Of one mean of runs, by how well single values were read: means that agree
   because all were rounded alike do not agree any better than that. */
static double read_of(const struct bl_values *values, size_t runs)
{
    double squares = 0;
    for (size_t i = 0; i < values->count; i++) {
        squares += values->item[i].u_read_s * values->item[i].u_read_s;
    }
    const double n = (double)values->count;
    return sqrt(squares / n / n) * (runs > 0 ? 1 : 0);
}

static void no_better_than(struct bl_mean_difference *mean, double u)
{
    if (isnan(mean->u) || mean->u >= u) {
        return;
    }
    const double k =
        bl_student_quantile(0.5 + 0.5 * mean->confidence, mean->dof);
    mean->u = u;
    mean->t = mean->difference / u;
    mean->p = bl_student_p(mean->t, mean->dof);
    mean->low = mean->difference - k * u;
    mean->high = mean->difference + k * u;
}

/* The exact test of the means of runs stands beside: from four a side on it
   can be as sure as is usual. */
static enum bl_status beside(struct bl_comparison_row *row,
                             const struct material *m,
                             const struct bl_comparing *c,
                             struct bl_error *error)
{
    const double confidence = c->into->confidence;
    return row->scope == BL_SCOPE_PAIRS
               ? bl_shift_paired(&row->shift, m->pairs.mean, m->pairs.count,
                                 confidence, error)
               : bl_shift_two(&row->shift,
                              &(const struct bl_two_samples){
                                  m->base.mean, m->base.count, m->against.mean,
                                  m->against.count},
                              confidence, error);
}

static enum bl_status of_conditions(struct bl_comparison_row *row,
                                    const struct material *m,
                                    const struct bl_comparing *c,
                                    struct bl_error *error)
{
    const double confidence = c->into->confidence;
    row->paired = row->scope == BL_SCOPE_PAIRS;
    row->unpaired_left = 0;
    enum bl_status status =
        row->paired ? bl_paired_t(&row->mean, m->pairs.mean, m->pairs.count,
                                  confidence, error)
                    : bl_welch(&row->mean,
                               &(const struct bl_two_samples){
                                   m->base.mean, m->base.count, m->against.mean,
                                   m->against.count},
                               confidence, error);
    return status == BL_OK ? beside(row, m, c, error) : status;
}

/* Root of the sum of squares for what is as likely either way; what the
   command may have done has a direction, if an unknown one, and is the same in
   every run: its half-width is added whole. */
static void widen(struct bl_comparison_row *row)
{
    const double known = isnan(row->u_reference_s) ? 0 : row->u_reference_s;
    const double fixed = hypot(row->u_systematic_s, known);
    const double command = bl_command_half_width(row);
    row->low_s = row->difference_s - command -
                 hypot(row->difference_s - row->low_s, COVERS * fixed);
    row->high_s = row->difference_s + command +
                  hypot(row->high_s - row->difference_s, COVERS * fixed);
    row->u_s = hypot(row->u_random_s, hypot(fixed, row->u_command_s));
}

/* Two one-sided tests, with what is systematic in u and what the command may
   have done off the margin. */
static void judge_same(struct bl_comparison_row *row,
                       const struct bl_comparing *c)
{
    struct bl_mean_difference all = row->mean;
    const double known = isnan(row->u_reference_s) ? 0 : row->u_reference_s;
    all.difference = row->difference_s;
    all.u = hypot(row->u_random_s, hypot(row->u_systematic_s, known));
    row->same_within_s = c->same_within_s;
    row->p_same = row->scope == BL_SCOPE_THESE_RUNS
                      ? NAN
                      : bl_same_within_p(&all, row->same_within_s -
                                                   bl_command_half_width(row));
}

static enum bl_verdict verdict_of(const struct bl_comparison_row *row,
                                  const struct bl_comparing *c)
{
    static const double rounding = 1e-12;
    if (isnan(row->difference_s)) {
        return BL_VERDICT_NO_VALUES;
    }
    const struct bl_compared_command *command = bl_compared_command_of(c, row);
    if (command != NULL && command->hold_far) {
        return BL_VERDICT_COMMAND_DIFFERS;
    }
    if (row->scope == BL_SCOPE_THESE_RUNS || isnan(row->low_s)) {
        return BL_VERDICT_RUN_MORE;
    }
    if (row->low_s <= 0 && row->high_s >= 0) {
        if (row->p_same <= 1 - c->into->confidence + rounding) {
            return BL_VERDICT_SAME;
        }
        return row->metres_refused ? BL_VERDICT_COMMAND_DIFFERS
                                   : BL_VERDICT_NO_CHANGE_SHOWN;
    }
    return row->difference_s < 0 ? BL_VERDICT_EARLIER : BL_VERDICT_LATER;
}

enum bl_status bl_compare_conclude(struct bl_comparison_row *row,
                                   const struct bl_comparing *c,
                                   const struct bl_values *base,
                                   const struct bl_values *against,
                                   struct bl_error *error)
{
    struct material m = {0};
    enum bl_status status = prepare(&m, c, base, against, error);
    if (status == BL_OK) {
        row->scope = scope_of(&m, c);
        status = describe_runs(row, &m, c, error);
    }
    /* Two units that never answered the same application. */
    const bool none = base->count == 0 || against->count == 0 ||
                      (c->two_units && m.partners.count == 0);
    if (status != BL_OK || none) {
        finish(&m);
        row->verdict = BL_VERDICT_NO_VALUES;
        return status;
    }
    if (row->scope == BL_SCOPE_THESE_RUNS) {
        status = of_these_runs(row, &m, c, error);
    } else {
        status = of_conditions(row, &m, c, error);
        no_better_than(&row->mean, hypot(read_of(base, m.base.count),
                                         read_of(against, m.against.count)));
        row->difference_s = row->mean.difference;
        row->low_s = row->mean.low;
        row->high_s = row->mean.high;
        row->u_random_s = row->mean.u;
        row->confidence = row->mean.confidence;
        row->p = row->mean.p;
        row->p_exact = row->shift.p_smallest <= LEAST_SURE ? row->shift.p : NAN;
    }
    finish(&m);
    if (status == BL_OK) {
        widen(row);
        judge_same(row, c);
        row->verdict = verdict_of(row, c);
    }
    return status;
}
