/* SPDX-License-Identifier: MIT */
/*
 * Percentile bootstrap (Efron 1979) of mean or median; all resamples where
 * they can be enumerated. Quantiles are the inverse of the empirical
 * distribution.
 *
 * Of a resample only how often each value was drawn matters. So a median is
 * found by counting, without sorting each; and of all n^n resamples those that
 * draw each value equally often are made once and weigh n! over the product of
 * the factorials of their counts: 1,716 in place of 823,543 for seven values.
 */
#include "stats/stats_common.h"

#include "base/alloc.h"
#include "base/limits.h"
#include "base/number.h"
#include "base/random.h"

#include <math.h>
#include <string.h>

enum {
    ENUMERATE = 823543, /* 7^7 */
    ENUMERATE_N = 7
};

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

struct drawing {
    double *sorted;
    size_t *rank;    /* of value[i] in sorted; equal ones share theirs */
    uint32_t *times; /* that sorted[i] was drawn */
    size_t n;
};

/* What a resample gave, and how many gave it in the same way. */
struct result {
    double value;
    uint32_t weight;
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
    bl_sort(d->sorted, n);
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

static double drawn_median(const struct drawing *d)
{
    const size_t low = (d->n - 1) / 2;
    const size_t high = d->n / 2;
    size_t i = 0;
    size_t before = d->times[0];
    while (before <= low) {
        before += d->times[++i];
    }
    const double lower = d->sorted[i];
    while (before <= high) {
        before += d->times[++i];
    }
    return 0.5 * (lower + d->sorted[i]);
}

static double statistic_of(const struct drawing *d, enum bl_statistic which)
{
    if (which == BL_STATISTIC_MEDIAN) {
        return drawn_median(d);
    }
    double sum = 0;
    for (size_t i = 0; i < d->n; i++) {
        sum += (double)d->times[i] * d->sorted[i];
    }
    return sum / (double)d->n;
}

/*
 * As bl_random_below, without a division. For fewer than 2^20 values the
 * product with the inverse is less than one part in 2^52 beside a quotient
 * below 2^52, so it can only fall short at a multiple, and by one.
 */
static size_t draw_below(struct bl_random *random, uint64_t below,
                         double inverse)
{
    if (below >= 1u << 20) {
        return (size_t)bl_random_below(random, below);
    }
    uint64_t x;
    do {
        x = bl_random_next(random);
    } while (x < below && x < (UINT64_MAX - below + 1) % below);
    uint64_t rest = 0;
    for (int half = 0; half < 2; half++) {
        const uint64_t part = rest << 32 | x >> 32;
        const double share = (double)(int64_t)part * inverse;
        rest = part - (uint64_t)(int64_t)share * below;
        rest -= rest >= below ? below : 0;
        x <<= 32;
    }
    return (size_t)rest;
}

static void draw_all(struct drawing *d, enum bl_statistic which, uint64_t seed,
                     struct result *result, size_t count)
{
    struct bl_random random;
    bl_random_seed(&random, seed);
    const double inverse = 1 / (double)d->n;
    for (size_t i = 0; i < count; i++) {
        memset(d->times, 0, d->n * sizeof(*d->times));
        for (size_t k = 0; k < d->n; k++) {
            d->times[d->rank[draw_below(&random, d->n, inverse)]]++;
        }
        result[i] = (struct result){statistic_of(d, which), 1};
    }
}

/* The counts n, 0 .. 0 first, 0 .. 0, n last. */
static bool next_counts(uint32_t *times, size_t n)
{
    size_t i = n - 1;
    const uint32_t last = times[i];
    do {
        if (i == 0) {
            return false;
        }
        i--;
    } while (times[i] == 0);
    times[n - 1] = 0;
    times[i]--;
    times[i + 1] = last + 1;
    return true;
}

static size_t enumerate(struct drawing *d, enum bl_statistic which,
                        struct result *result)
{
    static const uint32_t factorial[ENUMERATE_N + 1] = {1,  1,   2,   6,
                                                        24, 120, 720, 5040};
    memset(d->times, 0, d->n * sizeof(*d->times));
    d->times[0] = (uint32_t)d->n;
    size_t count = 0;
    do {
        uint32_t weight = factorial[d->n];
        for (size_t i = 0; i < d->n; i++) {
            weight /= factorial[d->times[i]];
        }
        result[count++] = (struct result){statistic_of(d, which), weight};
    } while (next_counts(d->times, d->n));
    return count;
}

static uint64_t weight_of(const struct result *result, size_t low, size_t high)
{
    uint64_t weight = 0;
    for (size_t i = low; i < high; i++) {
        weight += result[i].weight;
    }
    return weight;
}

/*
 * The value that stands at `place` when each result is there as often as it
 * weighs, in order. Hoare's selection, with the middle of three as pivot and
 * the equal ones, which are many, in the middle.
 */
static double value_at(struct result *result, size_t count, uint64_t place)
{
    size_t low = 0;
    size_t high = count;
    for (;;) {
        const double a = result[low].value;
        const double b = result[low + (high - low) / 2].value;
        const double c = result[high - 1].value;
        const double pivot = fmax(fmin(a, b), fmin(fmax(a, b), c));
        size_t smaller = low;
        size_t larger = high;
        for (size_t i = low; i < larger;) {
            const struct result x = result[i];
            if (x.value < pivot) {
                result[i++] = result[smaller];
                result[smaller++] = x;
            } else if (x.value > pivot) {
                result[i] = result[--larger];
                result[larger] = x;
            } else {
                i++;
            }
        }
        const uint64_t below = weight_of(result, low, smaller);
        const uint64_t equal = weight_of(result, smaller, larger);
        if (place >= below && place < below + equal) {
            return pivot;
        }
        if (place < below) {
            high = smaller;
        } else {
            low = larger;
            place -= below + equal;
        }
    }
}

static void summarise(struct bl_bootstrap *out, struct result *result,
                      size_t count, double confidence)
{
    const double all = (double)out->resamples;
    double sum = 0;
    for (size_t i = 0; i < count; i++) {
        sum += result[i].weight * (result[i].value - out->estimate);
    }
    const double mean = out->estimate + sum / all;
    double squares = 0;
    for (size_t i = 0; i < count; i++) {
        const double from_mean = result[i].value - mean;
        squares += result[i].weight * (from_mean * from_mean);
    }
    /* Of all resamples, so over their number; for draws that is no matter. */
    out->sd = sqrt(squares / all);
    const size_t n = (size_t)out->resamples;
    const double half = 0.5 * confidence;
    out->low = value_at(result, count, bl_stats_quantile_place(n, 0.5 - half));
    out->high = value_at(result, count, bl_stats_quantile_place(n, 0.5 + half));
}

/* Ways to draw n of n without regard to order: 1716 for seven. */
static size_t ways_to_draw(size_t n)
{
    size_t ways = 1;
    for (size_t i = 1; i < n; i++) {
        ways = ways * (n + i) / i;
    }
    return ways;
}

enum bl_status bl_bootstrap(struct bl_bootstrap *out, const double *value,
                            size_t n, const struct bl_resampling *how,
                            struct bl_error *error)
{
    const enum bl_statistic statistic = how->statistic;
    const double confidence = how->confidence;
    enum bl_status status = bl_stats_check(value, n, 1, "bootstrap", error);
    if (status != BL_OK) {
        return status;
    }
    struct bl_bootstrap b = {0};
    const size_t all = all_resamples(n);
    b.enumerated = all > 0;
    const size_t count = b.enumerated ? all : how->resamples;
    b.seed = b.enumerated ? 0 : how->seed;
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
    size_t results = b.enumerated ? ways_to_draw(n) : count;
    struct result *result = bl_alloc(results, sizeof(*result));
    struct drawing draw;
    if (drawing_start(&draw, value, n) != BL_OK || result == NULL) {
        status = bl_fail_memory(error);
        goto out;
    }
    for (size_t i = 0; i < n; i++) {
        draw.times[draw.rank[i]]++;
    }
    b.estimate = statistic_of(&draw, statistic);
    b.resamples = count;
    if (b.enumerated) {
        results = enumerate(&draw, statistic, result);
    } else {
        draw_all(&draw, statistic, how->seed, result, count);
    }
    summarise(&b, result, results, confidence);
    *out = b;
out:
    bl_free(result);
    drawing_finish(&draw);
    return status;
}
