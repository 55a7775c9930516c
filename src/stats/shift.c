/* SPDX-License-Identifier: MIT */
/*
 * Shift between two conditions by ranks. Sources: Hodges and Lehmann 1963 for
 * the estimate; Wilcoxon 1945, Mann and Whitney 1947 for the tests; the
 * interval is the usual one from the ordered differences or Walsh averages.
 * Null distributions are counted exactly (counts.c) up to EXACT_VALUES.
 */
#include "stats/stats_common.h"

#include "base/alloc.h"
#include "base/limits.h"
#include "base/number.h"

#include <math.h>
#include <string.h>

/* Counting more takes over a second, and the normal form is good by then. */
enum { EXACT_VALUES = 60 };

/* Twice the midranks of ascending values; true when there are ties. */
static bool midranks(const double *sorted, size_t n, unsigned *twice)
{
    bool ties = false;
    for (size_t from = 0; from < n;) {
        size_t to = from + 1;
        while (to < n && sorted[to] == sorted[from]) {
            to++;
        }
        ties = ties || to - from > 1;
        for (size_t i = from; i < to; i++) {
            twice[i] = (unsigned)(from + to + 1);
        }
        from = to;
    }
    return ties;
}

static unsigned twice_rank_of(const double *sorted, const unsigned *twice,
                              size_t n, double value)
{
    for (size_t i = 0; i < n; i++) {
        if (sorted[i] == value) {
            return twice[i];
        }
    }
    return 0;
}

/* Two-sided p of `at` under p[0..size): twice the smaller tail. */
static double two_sided(const double *p, size_t size, size_t at)
{
    double low = 0;
    double high = 0;
    for (size_t k = 0; k < size; k++) {
        low += k <= at ? p[k] : 0;
        high += k >= at ? p[k] : 0;
    }
    return fmin(1, 2 * fmin(low, high));
}

/* The interval from ascending `value`: largest k whose [k, n + 1 - k] has the
   asked confidence under the null distribution p[0..n] of the statistic. */
static void exact_interval(struct bl_shift *out, const double *value, size_t n,
                           const double *p)
{
    double below = 0;
    size_t best = 0;
    for (size_t k = 1; k <= (n + 1) / 2; k++) {
        below += p[k - 1];
        const double confidence = 1 - 2 * below;
        if (k > 1 && confidence < out->asked - 1e-12) {
            break;
        }
        best = k;
        out->confidence = fmax(confidence, 0);
    }
    out->low = value[best - 1];
    out->high = value[n - best];
}

static void normal_interval(struct bl_shift *out, const double *value, size_t n,
                            double sd)
{
    const double z = bl_normal_quantile(0.5 + 0.5 * out->asked);
    const double k = floor(0.5 * (double)n - z * sd);
    const size_t best = k < 1 ? 1 : (size_t)k;
    out->confidence = out->asked;
    out->low = value[best - 1];
    out->high = value[n - best];
}

static double normal_p(double statistic, double mean, double sd)
{
    if (!(sd > 0)) {
        return 1;
    }
    const double z = fmax(0, fabs(statistic - mean) - 0.5) / sd;
    return erfc(z / sqrt(2.0));
}

static void finish(struct bl_shift *out)
{
    out->u = (double)NAN;
    if (out->confidence > 0 && out->confidence < 1) {
        out->u = 0.5 * (out->high - out->low) /
                 bl_normal_quantile(0.5 + 0.5 * out->confidence);
    }
}

double bl_p_smallest_paired(size_t n)
{
    return n == 0 ? 1 : fmin(1, ldexp(2, -(int)(n < 2000 ? n : 2000)));
}

double bl_p_smallest_two(size_t n_base, size_t n_against)
{
    const size_t n = n_base + n_against;
    const size_t k = n_base < n_against ? n_base : n_against;
    double ways = 1;
    for (size_t i = 1; i <= k && ways < 1e300; i++) {
        ways *= (double)(n - k + i) / (double)i;
    }
    return fmin(1, 2 / ways);
}

/* Sum of t^3 - t over groups of equal twice-midranks. */
static double tie_term(const unsigned *twice, size_t n)
{
    double sum = 0;
    for (size_t from = 0; from < n;) {
        size_t to = from + 1;
        while (to < n && twice[to] == twice[from]) {
            to++;
        }
        const double t = (double)(to - from);
        sum += t * t * t - t;
        from = to;
    }
    return sum;
}

static enum bl_status weights_1_to(unsigned **weight, size_t n)
{
    *weight = bl_alloc(n, sizeof(**weight));
    for (size_t i = 0; *weight != NULL && i < n; i++) {
        (*weight)[i] = (unsigned)(i + 1);
    }
    return *weight == NULL ? BL_NOMEM : BL_OK;
}

static enum bl_status check_confidence(double confidence,
                                       struct bl_error *error)
{
    return confidence > 0 && confidence < 1
               ? BL_OK
               : bl_fail(error, BL_ARG, "",
                         "expected a confidence between 0 and 1, found %g",
                         confidence);
}

static enum bl_status check_size(size_t n, struct bl_error *error)
{
    return n <= BL_LIMIT_STATS_PAIRWISE
               ? BL_OK
               : bl_fail(error, BL_LIMIT, "",
                         "shift: %zu values, at most %u are taken", n,
                         BL_LIMIT_STATS_PAIRWISE);
}

/* --- two samples --- */

static enum bl_status two_differences(struct bl_shift *out, const double *base,
                                      const double *against)
{
    const size_t n = out->n_base;
    const size_t m = out->n_against;
    const bool exact = n + m <= EXACT_VALUES;
    double *value = bl_alloc(n * m, sizeof(*value));
    unsigned *weight = NULL;
    double *p = NULL;
    enum bl_status status = value == NULL ? BL_NOMEM : BL_OK;
    if (status == BL_OK && exact) {
        status = weights_1_to(&weight, n + m);
    }
    size_t size = 0;
    if (status == BL_OK && exact) {
        p = bl_count_subset(weight, n + m, m, &size);
        status = p == NULL ? BL_NOMEM : BL_OK;
    }
    if (status == BL_OK) {
        for (size_t i = 0; i < n; i++) {
            for (size_t k = 0; k < m; k++) {
                value[i * m + k] = against[k] - base[i];
            }
        }
        bl_sort(value, n * m);
        out->shift = bl_stats_sorted_median(value, n * m);
        if (exact) {
            exact_interval(out, value, n * m, p + m * (m + 1) / 2);
        } else {
            normal_interval(out, value, n * m,
                            sqrt((double)(n * m * (n + m + 1)) / 12));
        }
    }
    bl_free(value);
    bl_free(weight);
    bl_free(p);
    return status;
}

static enum bl_status two_ranks(struct bl_shift *out, const double *base,
                                const double *against)
{
    const size_t n = out->n_base;
    const size_t m = out->n_against;
    const size_t all = n + m;
    double *sorted = bl_alloc(all, sizeof(*sorted));
    unsigned *twice = bl_alloc(all, sizeof(*twice));
    double *p = NULL;
    enum bl_status status = BL_NOMEM;
    if (sorted == NULL || twice == NULL) {
        goto out;
    }
    memcpy(sorted, base, n * sizeof(*sorted));
    memcpy(sorted + n, against, m * sizeof(*sorted));
    bl_sort(sorted, all);
    out->ties = midranks(sorted, all, twice);
    size_t sum = 0;
    for (size_t i = 0; i < m; i++) {
        sum += twice_rank_of(sorted, twice, all, against[i]);
    }
    out->statistic = 0.5 * (double)sum - 0.5 * (double)(m * (m + 1));
    out->exact = all <= EXACT_VALUES;
    if (out->exact) {
        size_t size;
        p = bl_count_subset(twice, all, m, &size);
        if (p == NULL) {
            goto out;
        }
        out->p = two_sided(p, size, sum);
    } else {
        const double a = (double)all;
        const double part = tie_term(twice, all) / (a * (a - 1));
        out->p = normal_p(out->statistic, 0.5 * (double)(n * m),
                          sqrt((double)(n * m) / 12 * (a + 1 - part)));
    }
    status = BL_OK;
out:
    bl_free(sorted);
    bl_free(twice);
    bl_free(p);
    return status;
}

enum bl_status bl_shift_two(struct bl_shift *out,
                            const struct bl_two_samples *samples,
                            double confidence, struct bl_error *error)
{
    const double *base = samples->base;
    const double *against = samples->against;
    const size_t n_base = samples->n_base;
    const size_t n_against = samples->n_against;
    enum bl_status status = bl_stats_check(base, n_base, 1, "shift", error);
    if (status == BL_OK) {
        status = bl_stats_check(against, n_against, 1, "shift", error);
    }
    if (status == BL_OK) {
        status = check_confidence(confidence, error);
    }
    if (status == BL_OK) {
        status = check_size(n_base > n_against ? n_base : n_against, error);
    }
    if (status != BL_OK) {
        return status;
    }
    struct bl_shift shift = {.n_base = n_base, .n_against = n_against};
    shift.asked = confidence;
    shift.p_smallest = bl_p_smallest_two(n_base, n_against);
    if (two_differences(&shift, base, against) != BL_OK ||
        two_ranks(&shift, base, against) != BL_OK) {
        return bl_fail_memory(error);
    }
    finish(&shift);
    *out = shift;
    return BL_OK;
}

/* --- pairs --- */

static enum bl_status paired_averages(struct bl_shift *out,
                                      const double *difference)
{
    const size_t n = out->n_base;
    const size_t count = n * (n + 1) / 2;
    const bool exact = n <= EXACT_VALUES;
    double *value = bl_alloc(count, sizeof(*value));
    unsigned *weight = NULL;
    double *p = NULL;
    enum bl_status status = value == NULL ? BL_NOMEM : BL_OK;
    if (status == BL_OK && exact) {
        status = weights_1_to(&weight, n);
    }
    size_t size = 0;
    if (status == BL_OK && exact) {
        p = bl_count_signed(weight, n, &size);
        status = p == NULL ? BL_NOMEM : BL_OK;
    }
    if (status == BL_OK) {
        size_t at = 0;
        for (size_t i = 0; i < n; i++) {
            for (size_t k = i; k < n; k++) {
                value[at++] = 0.5 * (difference[i] + difference[k]);
            }
        }
        bl_sort(value, count);
        out->shift = bl_stats_sorted_median(value, count);
        if (exact) {
            exact_interval(out, value, count, p);
        } else {
            const double d = (double)n;
            normal_interval(out, value, count,
                            sqrt(d * (d + 1) * (2 * d + 1) / 24));
        }
    }
    bl_free(value);
    bl_free(weight);
    bl_free(p);
    return status;
}

static double signed_sd(const unsigned *twice, size_t n)
{
    double squares = 0;
    for (size_t i = 0; i < n; i++) {
        squares += 0.25 * twice[i] * twice[i];
    }
    return sqrt(squares) / 2;
}

static enum bl_status paired_ranks(struct bl_shift *out,
                                   const double *difference)
{
    const size_t n = out->n_base;
    double *sorted = bl_alloc(n, sizeof(*sorted));
    unsigned *twice = bl_alloc(n, sizeof(*twice));
    double *p = NULL;
    enum bl_status status = BL_NOMEM;
    if (sorted == NULL || twice == NULL) {
        goto out;
    }
    size_t used = 0;
    for (size_t i = 0; i < n; i++) {
        if (difference[i] != 0) {
            sorted[used++] = fabs(difference[i]);
        }
    }
    bl_sort(sorted, used);
    out->zeros = n - used;
    out->ties = midranks(sorted, used, twice);
    size_t sum = 0;
    for (size_t i = 0; i < n; i++) {
        if (difference[i] > 0) {
            sum += twice_rank_of(sorted, twice, used, difference[i]);
        }
    }
    out->statistic = 0.5 * (double)sum;
    out->p_smallest = bl_p_smallest_paired(used);
    out->exact = n <= EXACT_VALUES;
    if (out->exact) {
        size_t size;
        p = bl_count_signed(twice, used, &size);
        if (p == NULL) {
            goto out;
        }
        out->p = two_sided(p, size, sum);
    } else {
        out->p = normal_p(out->statistic, 0.25 * (double)(used * (used + 1)),
                          signed_sd(twice, used));
    }
    status = BL_OK;
out:
    bl_free(sorted);
    bl_free(twice);
    bl_free(p);
    return status;
}

enum bl_status bl_shift_paired(struct bl_shift *out, const double *difference,
                               size_t n, double confidence,
                               struct bl_error *error)
{
    enum bl_status status = bl_stats_check(difference, n, 1, "shift", error);
    if (status == BL_OK) {
        status = check_confidence(confidence, error);
    }
    if (status == BL_OK) {
        status = check_size(n, error);
    }
    if (status != BL_OK) {
        return status;
    }
    struct bl_shift shift = {.n_base = n, .n_against = n, .asked = confidence};
    if (paired_averages(&shift, difference) != BL_OK ||
        paired_ranks(&shift, difference) != BL_OK) {
        return bl_fail_memory(error);
    }
    finish(&shift);
    *out = shift;
    return BL_OK;
}
