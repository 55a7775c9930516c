/* SPDX-License-Identifier: MIT */
/*
 * Straight lines: least squares about the means, and the median of pairwise
 * slopes with least squares over the inliers. Sources: JCGM 100 ("GUM") H.3
 * for the uncertainties; Theil 1950 and Sen 1968 for the slope.
 */
#include "stats/stats_common.h"

#include "base/alloc.h"
#include "base/limits.h"
#include "base/number.h"

#include <math.h>

static double mean_where(const double *value, const bool *use, size_t n,
                         size_t *count)
{
    double first = 0;
    double sum = 0;
    *count = 0;
    for (size_t i = 0; i < n; i++) {
        if (use != NULL && !use[i]) {
            continue;
        }
        if (*count == 0) {
            first = value[i];
        }
        sum += value[i] - first;
        (*count)++;
    }
    return *count == 0 ? (double)NAN : first + sum / (double)*count;
}

static void errors(struct bl_straight_line *line)
{
    line->s = line->u_slope = line->u_intercept = (double)NAN;
    line->correlation = (double)NAN;
    const double n = (double)line->n;
    const double lever = 1 / n + line->x_mean * line->x_mean / line->sxx;
    line->correlation = -line->x_mean / sqrt(line->sxx * lever);
    if (line->n > 2) {
        line->s = sqrt(line->rss / (n - 2));
        line->u_slope = line->s / sqrt(line->sxx);
        line->u_intercept = line->s * sqrt(lever);
    }
}

static struct bl_straight_line fit(const double *x, const double *y,
                                   const bool *use, size_t n)
{
    struct bl_straight_line line = {0};
    line.x_mean = mean_where(x, use, n, &line.n);
    line.y_mean = mean_where(y, use, n, &line.n);
    double sxy = 0;
    for (size_t i = 0; i < n; i++) {
        if (use == NULL || use[i]) {
            const double dx = x[i] - line.x_mean;
            line.sxx += dx * dx;
            sxy += dx * (y[i] - line.y_mean);
        }
    }
    if (line.n < 2 || !(line.sxx > 0)) {
        return line;
    }
    line.slope = sxy / line.sxx;
    line.intercept = line.y_mean - line.slope * line.x_mean;
    for (size_t i = 0; i < n; i++) {
        if (use == NULL || use[i]) {
            const double r =
                y[i] - line.y_mean - line.slope * (x[i] - line.x_mean);
            line.rss += r * r;
        }
    }
    line.known = true;
    errors(&line);
    return line;
}

static enum bl_status check(const double *x, const double *y, size_t n,
                            struct bl_error *error)
{
    const enum bl_status status = bl_stats_check(x, n, 0, "line, x", error);
    return status != BL_OK ? status : bl_stats_check(y, n, 0, "line, y", error);
}

/* Slopes of all pairs with different x into `slope`; how many. */
static size_t pair_slopes(const double *x, const double *y, size_t n,
                          double *slope)
{
    size_t count = 0;
    for (size_t i = 0; i < n; i++) {
        for (size_t k = i + 1; k < n; k++) {
            if (x[k] != x[i]) {
                slope[count++] = (y[k] - y[i]) / (x[k] - x[i]);
            }
        }
    }
    return count;
}

/* `work` has room for n values. */
static void take_inliers(struct bl_robust_line *out,
                         const struct bl_line_points *points, double *work,
                         bool *use)
{
    const double *x = points->x;
    const double *y = points->y;
    const size_t n = points->n;
    for (size_t i = 0; i < n; i++) {
        work[i] = y[i] - out->slope * x[i];
    }
    out->intercept = bl_median(work, n);
    for (size_t i = 0; i < n; i++) {
        work[i] = fabs(y[i] - out->slope * x[i] - out->intercept);
    }
    out->mad_sd = 1.4826 * bl_median(work, n);
    const double most = fmax(points->cut * out->mad_sd, points->floor);
    for (size_t i = 0; i < n; i++) {
        use[i] = fabs(y[i] - out->slope * x[i] - out->intercept) <= most;
        out->outliers += !use[i];
    }
}

enum bl_status bl_line_robust(struct bl_robust_line *out,
                              const struct bl_line_points *points, bool *inlier,
                              struct bl_error *error)
{
    const double *x = points->x;
    const double *y = points->y;
    const size_t n = points->n;
    enum bl_status status = check(x, y, n, error);
    if (status != BL_OK) {
        return status;
    }
    if (n > BL_LIMIT_STATS_PAIRWISE) {
        return bl_fail(error, BL_LIMIT, "",
                       "robust line: %zu points, at most %u are taken", n,
                       BL_LIMIT_STATS_PAIRWISE);
    }
    struct bl_robust_line line = {0};
    const size_t room = n * (n > 0 ? n - 1 : 0) / 2 + n;
    double *work = bl_alloc(room, sizeof(*work));
    bool *use = bl_alloc(n, sizeof(*use));
    if (work == NULL || use == NULL) {
        status = bl_fail_memory(error);
        goto out;
    }
    line.pairs = pair_slopes(x, y, n, work);
    if (line.pairs > 0) {
        line.slope = bl_median(work, line.pairs);
        take_inliers(&line, points, work, use);
        line.straight = fit(x, y, use, n);
    }
    for (size_t i = 0; inlier != NULL && i < n; i++) {
        inlier[i] = use[i];
    }
    *out = line;
out:
    bl_free(work);
    bl_free(use);
    return status;
}
