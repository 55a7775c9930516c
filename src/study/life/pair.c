/* SPDX-License-Identifier: MIT */
/*
 * Before and after: what one figure of a unit did between two visits, or since
 * the middle of several. The
 * difference, its u with the spread between visits, and what unrecorded facts
 * could make of it are those of judge.c; here all figures of the unit are
 * compared with each other (Holm 1979), since of forty one is off by chance.
 */
#include "brakelag/life.h"

#include "base/alloc.h"
#include "stats/stats_common.h"
#include "study/life/judge.h"
#include "study/life/rules.h"

#include <math.h>

static double p_bare(const struct bl_life_change *change)
{
    return bl_student_p(fabs(change->size) / change->u, change->dof);
}

/* Why there is nothing to compare. */
static enum bl_life_pair_reason missing(const struct bl_life_row *row,
                                        const struct bl_life_series *series,
                                        size_t last)
{
    bool now = false;
    bool then = false;
    for (size_t i = 0; i < series->values; i++) {
        const bool there = !isnan(series->value[i].value);
        now = now || (there && series->value[i].visit == last);
        then = then || (there && series->value[i].visit != last);
    }
    return !now              ? BL_LIFE_PAIR_REASON_ONLY_THEN
           : !then           ? BL_LIFE_PAIR_REASON_ONLY_NOW
           : row->lefts > 0  ? BL_LIFE_PAIR_REASON_NOT_COMPARABLE
           : row->points < 2 ? BL_LIFE_PAIR_REASON_ONLY_NOW
                             : BL_LIFE_PAIR_REASON_NOT_RECORDED;
}

/* "No change" that would not have seen the figure double assures of nothing:
   the rule of a whole life (docs/methods/life.md, no-power). */
static bool nothing_noticeable(const struct bl_life_row *row,
                               const struct bl_life_options *options)
{
    const struct bl_life_change *change = &row->last;
    const double mean =
        0.5 * (row->point[0].value + row->point[row->points - 1].value);
    return 0.5 * (change->high - change->low) >
           fmax(BL_LIFE_POWER_SHARE * fabs(mean),
                BL_LIFE_POWER_LEAST * options->least_s);
}

/* Is its last comparable value of the newest visit? */
static bool reaches(const struct bl_life_row *row, const struct bl_life *life)
{
    return row->points > 0 &&
           row->point[row->points - 1].visit == life->visits - 1;
}

static void judge(struct bl_life_pair *pair, const struct bl_life_row *row,
                  double p_bare_all, const struct bl_life_options *options)
{
    const struct bl_life_change *change = &row->last;
    const double least_p = 1 - options->confidence;
    const double least = options->least_s;
    pair->verdict = BL_LIFE_PAIR_CANNOT_TELL;
    pair->reason = BL_LIFE_PAIR_REASON_NONE;
    if (pair->p_all <= least_p) {
        pair->verdict = fabs(change->size) < least ? BL_LIFE_PAIR_SMALL
                        : change->size < 0         ? BL_LIFE_PAIR_FASTER
                                                   : BL_LIFE_PAIR_SLOWER;
    } else if (p_bare_all <= least_p) {
        pair->reason = BL_LIFE_PAIR_REASON_NOT_RECORDED;
    } else if (change->low > -least && change->high < least) {
        pair->verdict = BL_LIFE_PAIR_SAME;
    } else if (change->low > 0 || change->high < 0) {
        pair->reason = BL_LIFE_PAIR_REASON_BY_CHANCE;
    } else if (nothing_noticeable(row, options)) {
        pair->reason = BL_LIFE_PAIR_REASON_NO_POWER;
    } else {
        pair->verdict = BL_LIFE_PAIR_NONE_SHOWN;
    }
}

enum bl_status bl_life_pairs(struct bl_life_pair *out,
                             const struct bl_lives *lives,
                             const struct bl_life *life,
                             const struct bl_life_options *options,
                             struct bl_error *error)
{
    const struct bl_life_options usual = bl_life_options_default();
    const size_t rows = lives->rows;
    options = options == NULL ? &usual : options;
    if (life->visits < 2) {
        return bl_fail(error, BL_ARG, "",
                       "life: expected two visits to compare, found %zu",
                       life->visits);
    }
    double *p = bl_alloc(rows, sizeof(*p));
    double *bare = bl_alloc(rows, sizeof(*bare));
    enum bl_status status = BL_OK;
    if (rows > 0 && (p == NULL || bare == NULL)) {
        status = bl_fail_memory(error);
    }
    for (size_t i = 0; status == BL_OK && i < rows; i++) {
        const struct bl_life_row *row = &lives->row[i];
        const struct bl_life_change *change = &row->last;
        const bool known = change->known && reaches(row, life);
        const double looks = bl_life_looks(row, row->points);
        p[i] = known ? fmin(1, looks * change->p) : NAN;
        bare[i] = known ? fmin(1, looks * p_bare(change)) : NAN;
    }
    if (status == BL_OK) {
        status = bl_holm(p, p, rows, error);
    }
    if (status == BL_OK) {
        status = bl_holm(bare, bare, rows, error);
    }
    for (size_t i = 0; status == BL_OK && i < rows; i++) {
        const struct bl_life_row *row = &lives->row[i];
        out[i] = (struct bl_life_pair){.needs = row->needs, .p_all = p[i]};
        if (row->last.known && reaches(row, life)) {
            judge(&out[i], row, bare[i], options);
        } else {
            out[i].reason = missing(row, &life->series[i], life->visits - 1);
        }
    }
    bl_free(p);
    bl_free(bare);
    return status;
}
