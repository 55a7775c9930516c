/* SPDX-License-Identifier: MIT */
/*
 * Location, spread, Type A uncertainty (JCGM 100, "GUM", 4.2), correlation and
 * effective degrees of freedom (GUM G.4.1).
 */
#include "stats/stats_common.h"

#include "base/alloc.h"
#include "base/limits.h"
#include "base/number.h"

#include <math.h>
#include <string.h>

enum bl_status bl_stats_check(const double *value, size_t n, size_t least,
                              const char *what, struct bl_error *error)
{
    if (n < least) {
        return bl_fail(error, BL_ARG, "",
                       "%s: expected at least %zu values, %s"
                       " %zu",
                       what, least, "found", n);
    }
    if (n > BL_LIMIT_STATS_VALUES) {
        return bl_fail(error, BL_LIMIT, "",
                       "%s: %zu values, at most %u are taken", what, n,
                       BL_LIMIT_STATS_VALUES);
    }
    for (size_t i = 0; i < n; i++) {
        if (!isfinite(value[i])) {
            return bl_fail(error, BL_ARG, "",
                           "%s: value %zu is not a finite number", what, i + 1);
        }
    }
    return BL_OK;
}

double bl_stats_sorted_median(const double *sorted, size_t n)
{
    if (n == 0) {
        return (double)NAN;
    }
    return 0.5 * (sorted[(n - 1) / 2] + sorted[n / 2]);
}

enum bl_status bl_describe(struct bl_description *out, const double *value,
                           size_t n, struct bl_error *error)
{
    enum bl_status status = bl_stats_check(value, n, 1, "description", error);
    if (status != BL_OK) {
        return status;
    }
    double *copy = bl_alloc(n, sizeof(*copy));
    if (copy == NULL) {
        return bl_fail_memory(error);
    }
    memcpy(copy, value, n * sizeof(*copy));
    bl_sort(copy, n);
    struct bl_description d = {.n = n, .s = (double)NAN, .u_mean = (double)NAN};
    d.smallest = copy[0];
    d.largest = copy[n - 1];
    d.median = bl_stats_sorted_median(copy, n);
    /* About the median first: large common parts would cost digits. */
    double sum = 0;
    for (size_t i = 0; i < n; i++) {
        sum += copy[i] - d.median;
    }
    d.mean = d.median + sum / (double)n;
    double squares = 0;
    for (size_t i = 0; i < n; i++) {
        const double r = copy[i] - d.mean;
        squares += r * r;
        copy[i] = fabs(copy[i] - d.median);
    }
    if (n > 1) {
        d.s = sqrt(squares / (double)(n - 1));
        d.u_mean = d.s / sqrt((double)n);
    }
    d.mad_sd = 1.4826 * bl_median(copy, n);
    bl_free(copy);
    *out = d;
    return BL_OK;
}

double bl_effective_dof(const double *u, const double *dof, size_t n)
{
    double total = 0;
    for (size_t i = 0; i < n; i++) {
        total += u[i] * u[i];
    }
    double shares = 0;
    for (size_t i = 0; i < n; i++) {
        const double share = u[i] * u[i] / total;
        if (u[i] != 0 && isfinite(dof[i])) {
            shares += share * share / dof[i];
        }
    }
    return shares > 0 ? 1 / shares : (double)INFINITY;
}
