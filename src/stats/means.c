/* SPDX-License-Identifier: MIT */
/*
 * Differences of means by Student's t, scatter within and between groups,
 * Holm's adjustment. Sources: Welch 1947 with the degrees of freedom of
 * Satterthwaite 1946; Schuirmann 1987 for two one-sided tests; Searle, Casella
 * and McCulloch, "Variance components", 3.6, for groups of different size; Holm
 * 1979. All from memory; tests hold them to published figures.
 */
#include "stats/stats_common.h"

#include "base/alloc.h"

#include <math.h>
#include <stdlib.h>

static enum bl_status check_confidence(double confidence,
                                       struct bl_error *error)
{
    return confidence > 0 && confidence < 1
               ? BL_OK
               : bl_fail(error, BL_ARG, "",
                         "expected a confidence between 0 and 1, found %g",
                         confidence);
}

/* t, p and the interval from difference, u and dof. */
static void finish(struct bl_mean_difference *d)
{
    d->t = d->p = d->low = d->high = (double)NAN;
    if (isnan(d->u) || !(d->dof > 0)) {
        return;
    }
    if (d->u == 0) {
        d->p = d->difference == 0 ? 1 : 0;
        d->low = d->high = d->difference;
        return;
    }
    const double k = bl_student_quantile(0.5 + 0.5 * d->confidence, d->dof);
    d->t = d->difference / d->u;
    d->p = bl_student_p(d->t, d->dof);
    d->low = d->difference - k * d->u;
    d->high = d->difference + k * d->u;
}

enum bl_status bl_welch(struct bl_mean_difference *out,
                        const struct bl_two_samples *samples, double confidence,
                        struct bl_error *error)
{
    struct bl_description base;
    struct bl_description against;
    enum bl_status status = check_confidence(confidence, error);
    if (status == BL_OK) {
        status = bl_describe(&base, samples->base, samples->n_base, error);
    }
    if (status == BL_OK) {
        status =
            bl_describe(&against, samples->against, samples->n_against, error);
    }
    if (status != BL_OK) {
        return status;
    }
    struct bl_mean_difference d = {.n_base = base.n,
                                   .n_against = against.n,
                                   .difference = against.mean - base.mean,
                                   .confidence = confidence};
    const double vb = base.u_mean * base.u_mean;
    const double va = against.u_mean * against.u_mean;
    const double dof_b = (double)base.n - 1;
    const double dof_a = (double)against.n - 1;
    d.u = sqrt(vb + va);
    d.dof = (double)NAN;
    if (d.u > 0) {
        d.dof = (vb + va) * (vb + va) / (vb * vb / dof_b + va * va / dof_a);
    } else if (d.u == 0) {
        d.dof = dof_b + dof_a;
    }
    finish(&d);
    *out = d;
    return BL_OK;
}

enum bl_status bl_paired_t(struct bl_mean_difference *out,
                           const double *difference, size_t n,
                           double confidence, struct bl_error *error)
{
    struct bl_description all;
    enum bl_status status = check_confidence(confidence, error);
    if (status == BL_OK) {
        status = bl_describe(&all, difference, n, error);
    }
    if (status != BL_OK) {
        return status;
    }
    struct bl_mean_difference d = {.n_base = n,
                                   .n_against = n,
                                   .difference = all.mean,
                                   .u = all.u_mean,
                                   .dof = (double)n - 1,
                                   .confidence = confidence};
    finish(&d);
    *out = d;
    return BL_OK;
}

double bl_same_within_p(const struct bl_mean_difference *difference,
                        double margin)
{
    const double room = margin - fabs(difference->difference);
    if (isnan(difference->u) || !(difference->dof > 0)) {
        return (double)NAN;
    }
    if (difference->u == 0) {
        return room > 0 ? 0 : 1;
    }
    const double tail =
        0.5 * bl_student_p(room / difference->u, difference->dof);
    return room > 0 ? tail : 1 - tail;
}

enum bl_status bl_variance_of(struct bl_variance *out, const double *value,
                              const size_t *size, size_t groups,
                              struct bl_error *error)
{
    size_t n = 0;
    for (size_t g = 0; g < groups; g++) {
        n += size[g];
    }
    struct bl_description all;
    enum bl_status status = bl_describe(&all, value, n, error);
    double within = 0;
    double between = 0;
    double squares = 0;
    size_t at = 0;
    size_t used = 0;
    for (size_t g = 0; g < groups && status == BL_OK; g++) {
        struct bl_description own;
        if (size[g] == 0) {
            continue;
        }
        status = bl_describe(&own, value + at, size[g], error);
        if (status == BL_OK) {
            const double count = (double)size[g];
            within += size[g] > 1 ? own.s * own.s * (count - 1) : 0;
            between += count * (own.mean - all.mean) * (own.mean - all.mean);
            squares += count * count;
            at += size[g];
            used++;
        }
    }
    if (status != BL_OK) {
        return status;
    }
    struct bl_variance v = {.n = n, .groups = used};
    v.dof_between = (double)used - 1;
    v.dof_within = (double)n - (double)used;
    v.mean_size = used < 2 ? (double)n
                           : ((double)n - squares / (double)n) / v.dof_between;
    const double ms_within =
        v.dof_within > 0 ? within / v.dof_within : (double)NAN;
    const double ms_between =
        v.dof_between > 0 ? between / v.dof_between : (double)NAN;
    v.within_sd = sqrt(ms_within);
    v.f = ms_between / ms_within;
    const double more = (ms_between - ms_within) / v.mean_size;
    v.between_sd = isnan(more) ? (double)NAN : sqrt(fmax(0, more));
    *out = v;
    return BL_OK;
}

struct ranked {
    double p;
    size_t index;
};

static int by_p(const void *left, const void *right)
{
    const struct ranked *a = left;
    const struct ranked *b = right;
    if (a->p != b->p) {
        return a->p < b->p ? -1 : 1;
    }
    return (a->index > b->index) - (a->index < b->index);
}

enum bl_status bl_holm(double *adjusted, const double *p, size_t n,
                       struct bl_error *error)
{
    struct ranked *ranked = bl_alloc(n, sizeof(*ranked));
    if (ranked == NULL) {
        return bl_fail_memory(error);
    }
    size_t count = 0;
    for (size_t i = 0; i < n; i++) {
        if (isnan(p[i])) {
            adjusted[i] = (double)NAN;
        } else {
            ranked[count++] = (struct ranked){p[i], i};
        }
    }
    qsort(ranked, count, sizeof(*ranked), by_p);
    double most = 0;
    for (size_t i = 0; i < count; i++) {
        most = fmax(most, fmin(1, (double)(count - i) * ranked[i].p));
        adjusted[ranked[i].index] = most;
    }
    bl_free(ranked);
    return BL_OK;
}
