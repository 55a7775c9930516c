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
#include <string.h>

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

/* Of a resample only how often each value was drawn matters: with the values
   in order once, a median is found by counting, without sorting each. */
struct drawing {
    double *sorted;
    size_t *rank;  /* of value[i] in sorted; equal ones share theirs */
    size_t *times; /* that sorted[i] was drawn */
    size_t n;
};

static enum bl_status drawing_start(struct drawing *d, const double *value,
                                    size_t n)
{
    *d = (struct drawing){.sorted = bl_alloc(n, sizeof(*d->sorted)),
                          .rank = bl_alloc(n, sizeof(*d->rank)),
                          .times = bl_alloc(n, sizeof(*d->times)),
                          .n = n};
    if (d->sorted == NULL || d->rank == NULL || d->times == NULL) {
        return BL_NOMEM;
    }
    memcpy(d->sorted, value, n * sizeof(*value));
    bl_stats_sort(d->sorted, n);
    for (size_t i = 0; i < n; i++) {
        size_t low = 0;
        for (size_t high = n; low < high;) {
            const size_t mid = low + (high - low) / 2;
            if (d->sorted[mid] < value[i]) {
                low = mid + 1;
            } else {
                high = mid;
            }
        }
        d->rank[i] = low;
    }
    return BL_OK;
}

static void drawing_finish(struct drawing *d)
{
    bl_free(d->sorted);
    bl_free(d->rank);
    bl_free(d->times);
}

/* The value that stands at `place` of what was drawn, in order. */
static double drawn_at(const struct drawing *d, size_t place)
{
    size_t i = 0;
    for (size_t before = 0; before + d->times[i] <= place; i++) {
        before += d->times[i];
    }
    return d->sorted[i];
}

static double statistic_of(const struct drawing *d, enum bl_statistic which)
{
    if (which == BL_STATISTIC_MEDIAN) {
        return 0.5 * (drawn_at(d, (d->n - 1) / 2) + drawn_at(d, d->n / 2));
    }
    double sum = 0;
    for (size_t i = 0; i < d->n; i++) {
        sum += (double)d->times[i] * d->sorted[i];
    }
    return sum / (double)d->n;
}

/* Each resample is a number in base n (enumerated), or drawn. */
static void resample(struct drawing *d, size_t index, struct bl_random *random)
{
    memset(d->times, 0, d->n * sizeof(*d->times));
    for (size_t i = 0; i < d->n; i++) {
        size_t pick;
        if (random == NULL) {
            pick = index % d->n;
            index /= d->n;
        } else {
            pick = (size_t)bl_random_below(random, d->n);
        }
        d->times[d->rank[pick]]++;
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
    struct drawing draw;
    if (drawing_start(&draw, value, n) != BL_OK || result == NULL) {
        status = bl_fail_memory(error);
        goto out;
    }
    for (size_t i = 0; i < n; i++) {
        draw.times[draw.rank[i]]++;
    }
    b.estimate = statistic_of(&draw, statistic);
    struct bl_random random;
    bl_random_seed(&random, seed);
    for (size_t i = 0; i < count; i++) {
        resample(&draw, i, b.enumerated ? NULL : &random);
        result[i] = statistic_of(&draw, statistic);
    }
    summarise(&b, result, count, confidence);
    b.resamples = count;
    *out = b;
out:
    bl_free(result);
    drawing_finish(&draw);
    return status;
}
