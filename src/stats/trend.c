/* SPDX-License-Identifier: MIT */
/*
 * Trend over the order of events: Kendall's S (Kendall 1938, Mann 1945). Its
 * exact null distribution with tied values is that of the inversions of a
 * multiset: group by group, the rank-sum distribution of the newcomers among
 * those already placed, all convolved.
 */
#include "stats/stats_common.h"

#include "base/alloc.h"
#include "base/limits.h"
#include "base/number.h"

#include <math.h>
#include <string.h>

enum { EXACT_VALUES = 60 };

/* p[0..*size) convolved with the inversions of `come` values placed among
   `have`; NULL: no memory (p is freed either way). */
static double *place_group(double *p, size_t *size, size_t have, size_t come)
{
    unsigned weight[EXACT_VALUES];
    for (size_t i = 0; i < have + come; i++) {
        weight[i] = (unsigned)(i + 1);
    }
    size_t sums = 0;
    double *q = bl_count_subset(weight, have + come, come, &sums);
    const size_t most = have * come;
    double *r = bl_alloc(*size + most, sizeof(*r));
    if (q != NULL && r != NULL) {
        const double *inversions = q + come * (come + 1) / 2;
        for (size_t i = 0; i < *size; i++) {
            for (size_t k = 0; k <= most; k++) {
                r[i + k] += p[i] * inversions[k];
            }
        }
        *size += most;
    } else {
        bl_free(r);
        r = NULL;
    }
    bl_free(q);
    bl_free(p);
    return r;
}

/* Two-sided exact p and the smallest possible one. */
static enum bl_status exact_p(struct bl_trend *out, const double *sorted)
{
    size_t size = 1;
    double *p = bl_alloc(1, sizeof(*p));
    if (p != NULL) {
        p[0] = 1;
    }
    for (size_t from = 0; p != NULL && from < out->n;) {
        size_t to = from + 1;
        while (to < out->n && sorted[to] == sorted[from]) {
            to++;
        }
        p = place_group(p, &size, from, to - from);
        from = to;
    }
    if (p == NULL) {
        return BL_NOMEM;
    }
    /* S = (size - 1) - 2 inversions; the distribution is symmetric. */
    const long most = (long)size - 1;
    const long far = out->s < 0 ? -out->s : out->s;
    double tail = 0;
    for (long k = 0; k <= (most - far) / 2; k++) {
        tail += p[k];
    }
    out->p = fmin(1, 2 * tail);
    out->p_smallest = fmin(1, 2 * p[0]);
    bl_free(p);
    return BL_OK;
}

static void normal_p(struct bl_trend *out, const double *sorted)
{
    const double n = (double)out->n;
    double variance = n * (n - 1) * (2 * n + 5);
    for (size_t from = 0; from < out->n;) {
        size_t to = from + 1;
        while (to < out->n && sorted[to] == sorted[from]) {
            to++;
        }
        const double t = (double)(to - from);
        variance -= t * (t - 1) * (2 * t + 5);
        from = to;
    }
    const double far = fmax(0, fabs((double)out->s) - 1);
    out->p = variance > 0 ? erfc(far / sqrt(variance / 9)) : 1;
    out->p_smallest = 0;
}

static void count_pairs(struct bl_trend *out, const double *value)
{
    double untied = 0;
    const double n = (double)out->n;
    for (size_t i = 0; i < out->n; i++) {
        for (size_t k = i + 1; k < out->n; k++) {
            out->s += (value[k] > value[i]) - (value[k] < value[i]);
            untied += value[k] != value[i];
        }
    }
    const double all = 0.5 * n * (n - 1);
    out->ties = untied < all;
    out->tau = untied > 0 ? (double)out->s / sqrt(all * untied) : (double)NAN;
}

enum bl_status bl_trend(struct bl_trend *out, const double *value, size_t n,
                        struct bl_error *error)
{
    const enum bl_status status = bl_stats_check(value, n, 2, "trend", error);
    if (status != BL_OK) {
        return status;
    }
    if (n > BL_LIMIT_STATS_PAIRWISE) {
        return bl_fail(error, BL_LIMIT, "",
                       "trend: %zu values, at most %u are taken", n,
                       BL_LIMIT_STATS_PAIRWISE);
    }
    double *sorted = bl_alloc(n, sizeof(*sorted));
    if (sorted == NULL) {
        return bl_fail_memory(error);
    }
    memcpy(sorted, value, n * sizeof(*sorted));
    bl_sort(sorted, n);
    struct bl_trend trend = {.n = n, .exact = n <= EXACT_VALUES};
    count_pairs(&trend, value);
    enum bl_status done = BL_OK;
    if (trend.exact) {
        done = exact_p(&trend, sorted);
    } else {
        normal_p(&trend, sorted);
    }
    bl_free(sorted);
    if (done != BL_OK) {
        return bl_fail_memory(error);
    }
    *out = trend;
    return BL_OK;
}
