/* SPDX-License-Identifier: MIT */
/*
 * Percentile bootstrap (Efron 1979) of mean or median; all resamples where
 * they can be enumerated. Quantiles are the inverse of the empirical
 * distribution.
 */
#include "stats/stats_common.h"

#include "base/alloc.h"
#include "base/limits.h"
#include "base/random.h"

#include <math.h>

enum { ENUMERATE = 823543 }; /* 7^7 */

static size_t all_resamples(size_t n)
{
    size_t count = 1;
    for (size_t i = 0; i < n; i++) {
        if (count > ENUMERATE / n) {
            return 0;
        }
        count *= n;
    }
    return count;
}

static double statistic_of(double *value, size_t n, enum bl_statistic which)
{
    if (which == BL_STATISTIC_MEDIAN) {
        bl_stats_sort(value, n);
        return bl_stats_sorted_median(value, n);
    }
    double sum = 0;
    for (size_t i = 0; i < n; i++) {
        sum += value[i];
    }
    return sum / (double)n;
}

/* Each resample is a number in base n (enumerated), or drawn. */
static void resample(double *draw, const double *value, size_t n, size_t index,
                     struct bl_random *random)
{
    for (size_t i = 0; i < n; i++) {
        size_t pick;
        if (random == NULL) {
            pick = index % n;
            index /= n;
        } else {
            pick = (size_t)bl_random_below(random, n);
        }
        draw[i] = value[pick];
    }
}

static void summarise(struct bl_bootstrap *out, double *result, size_t count,
                      double confidence)
{
    double sum = 0;
    for (size_t i = 0; i < count; i++) {
        sum += result[i] - out->estimate;
    }
    const double mean = out->estimate + sum / (double)count;
    double squares = 0;
    for (size_t i = 0; i < count; i++) {
        squares += (result[i] - mean) * (result[i] - mean);
    }
    /* Of all resamples, so over their number; for draws that is no matter. */
    out->sd = sqrt(squares / (double)count);
    bl_stats_sort(result, count);
    out->low = bl_stats_sorted_quantile(result, count, 0.5 - 0.5 * confidence);
    out->high = bl_stats_sorted_quantile(result, count, 0.5 + 0.5 * confidence);
}

enum bl_status bl_bootstrap(struct bl_bootstrap *out, const double *value,
                            size_t n, enum bl_statistic statistic,
                            size_t resamples, uint64_t seed, double confidence,
                            struct bl_error *error)
{
    enum bl_status status = bl_stats_check(value, n, 1, "bootstrap", error);
    if (status != BL_OK) {
        return status;
    }
    struct bl_bootstrap b = {0};
    const size_t all = all_resamples(n);
    b.enumerated = all > 0;
    const size_t count = b.enumerated ? all : resamples;
    b.seed = b.enumerated ? 0 : seed;
    if (!(confidence > 0 && confidence < 1) || count == 0) {
        return bl_fail(error, BL_ARG, "",
                       "bootstrap: expected a confidence between 0 and 1 and "
                       "resamples, found %g and %zu",
                       confidence, count);
    }
    if (count > BL_LIMIT_STATS_VALUES) {
        return bl_fail(error, BL_LIMIT, "",
                       "bootstrap: %zu resamples, at most %u are made", count,
                       BL_LIMIT_STATS_VALUES);
    }
    double *result = bl_alloc(count, sizeof(*result));
    double *draw = bl_alloc(n, sizeof(*draw));
    if (result == NULL || draw == NULL) {
        status = bl_fail_memory(error);
        goto out;
    }
    for (size_t i = 0; i < n; i++) {
        draw[i] = value[i];
    }
    b.estimate = statistic_of(draw, n, statistic);
    struct bl_random random;
    bl_random_seed(&random, seed);
    for (size_t i = 0; i < count; i++) {
        resample(draw, value, n, i, b.enumerated ? NULL : &random);
        result[i] = statistic_of(draw, n, statistic);
    }
    summarise(&b, result, count, confidence);
    b.resamples = count;
    *out = b;
out:
    bl_free(result);
    bl_free(draw);
    return status;
}
