/* SPDX-License-Identifier: MIT */
/* Offset, gain, delay and noise of two channels at one point. */
#include "study/transducers/pair.h"

#include "base/alloc.h"
#include "base/limits.h"
#include "base/number.h"
#include "brakelag/stats.h"

#include <math.h>

enum { LEAST_SAMPLES = 50, MOST_BLOCKS = 200 };
static const double moves = 20.0; /* range of a channel that moves, kPa */

struct bl_pair_rules bl_pair_rules_default(void)
{
    return (struct bl_pair_rules){.tolerance_kpa = 10,
                                  .tolerance_fraction = 0.05,
                                  .lasting_s = 0.2,
                                  .u_zero_a = NAN,
                                  .u_zero_b = NAN};
}

/* 1.4826 MAD of second differences: neither a level nor a ramp shows. */
static double noise_of(const struct bl_pair_data *pair, const double *value)
{
    size_t n = 0;
    for (size_t i = 2; i < pair->n; i++) {
        pair->scratch[n++] = fabs(value[i] - 2 * value[i - 1] + value[i - 2]);
    }
    return n == 0 ? NAN : 1.4826 * bl_median(pair->scratch, n) / sqrt(6);
}

static double range_of(const struct bl_pair_data *pair, const double *value,
                       double *low)
{
    double high = -INFINITY;
    *low = INFINITY;
    for (size_t i = 0; i < pair->n; i++) {
        high = fmax(high, value[i]);
        *low = fmin(*low, value[i]);
    }
    return high - *low;
}

/* Median of what in [low, high) of the mean of both is asked of it. */
static struct bl_measured median_where(const struct bl_pair_data *pair,
                                       double low, double high, double noise,
                                       double wa, double wb)
{
    size_t n = 0;
    for (size_t i = 2; i + 2 < pair->n; i++) {
        const double mean = (pair->a[i] + pair->b[i]) / 2;
        const double move = fabs(pair->a[i + 2] - pair->a[i - 2]);
        if (mean >= low && mean < high && move <= fmax(6 * noise, 1)) {
            pair->scratch[n++] = wa * pair->a[i] + wb * pair->b[i];
        }
    }
    if (n < 8) {
        return (struct bl_measured){NAN, NAN};
    }
    const double value = bl_median(pair->scratch, n);
    for (size_t i = 0; i < n; i++) {
        pair->scratch[i] = fabs(pair->scratch[i] - value);
    }
    const double sd = 1.4826 * bl_median(pair->scratch, n);
    /* Efficiency of a median: 1.2533 of the mean's. */
    return (struct bl_measured){value, 1.2533 * sd / sqrt((double)n)};
}

/* Robust line through means of equal blocks: every sample counts. */
static enum bl_status gain_of(struct bl_pair *out,
                              const struct bl_pair_data *pair, double *offset,
                              struct bl_error *error)
{
    const size_t each = pair->n / MOST_BLOCKS + 1;
    double x[MOST_BLOCKS], y[MOST_BLOCKS];
    size_t n = 0;
    for (size_t i = 0; i + each <= pair->n && n < MOST_BLOCKS; i += each) {
        x[n] = y[n] = 0;
        for (size_t k = 0; k < each; k++) {
            x[n] += pair->a[i + k] / (double)each;
            y[n] += pair->b[i + k] / (double)each;
        }
        n++;
    }
    struct bl_robust_line line;
    const enum bl_status status =
        bl_line_robust(&line,
                       &(const struct bl_line_points){
                           x, y, n, 4, hypot(out->noise_a, out->noise_b)},
                       NULL, error);
    if (status == BL_OK && line.straight.known) {
        out->gain =
            (struct bl_measured){line.straight.slope, line.straight.u_slope};
        *offset = line.straight.intercept;
    }
    return status;
}

static bool is_identical(const struct bl_pair_data *pair)
{
    for (size_t i = 0; i < pair->n; i++) {
        if (pair->a[i] != pair->b[i]) {
            return false;
        }
    }
    return true;
}

static void find_stuck(struct bl_pair *out, double range_a, double range_b)
{
    const double still_a = fmax(8 * out->noise_a, 2);
    const double still_b = fmax(8 * out->noise_b, 2);
    if (range_a <= still_a && range_b > moves) {
        out->stuck = BL_SIDE_A;
    } else if (range_b <= still_b && range_a > moves) {
        out->stuck = BL_SIDE_B;
    }
}

/* At what the limits of the flags are: docs/methods/transducers.md. */
static void flag(struct bl_pair *out, const struct bl_pair_rules *rules)
{
    const double zero = 3 * hypot(rules->u_zero_a, rules->u_zero_b);
    out->offset_off = fabs(out->offset_rest.value) > zero;
    out->gain_off = fabs(out->gain.value - 1) > fmax(0.02, 2 * out->gain.u);
    out->delay_off = fabs(out->delay_s.value) >
                     fmax(fmax(2 * out->interval_s, 0.005), 2 * out->delay_s.u);
}

static double interval_of(const struct bl_pair_data *pair)
{
    for (size_t i = 1; i < pair->n; i++) {
        pair->scratch[i - 1] = pair->time_s[i] - pair->time_s[i - 1];
    }
    return bl_median(pair->scratch, pair->n - 1);
}

static enum bl_status compare(struct bl_pair *out,
                              const struct bl_pair_data *pair,
                              const struct bl_pair_rules *rules,
                              struct bl_error *error)
{
    out->interval_s = interval_of(pair);
    out->noise_a = noise_of(pair, pair->a);
    out->noise_b = noise_of(pair, pair->b);
    double low_a, low_b;
    const double range_a = range_of(pair, pair->a, &low_a);
    const double range_b = range_of(pair, pair->b, &low_b);
    const double noise = fmax(out->noise_a, out->noise_b);
    const double low = (low_a + low_b) / 2;
    const double range = (range_a + range_b) / 2;
    /* The low stretch is a rest only where something rises above it. */
    const double rest_to =
        low + fmax(6 * noise, range > moves ? 0.05 * range : INFINITY);
    out->offset_rest = median_where(pair, low - 1, rest_to, noise, -1, 1);
    const double rest_a =
        median_where(pair, low - 1, rest_to, noise, 1, 0).value;
    const double rest_b =
        median_where(pair, low - 1, rest_to, noise, 0, 1).value;
    find_stuck(out, range_a, range_b);
    if (range > moves && out->stuck == BL_SIDE_UNKNOWN) {
        out->offset_hold =
            median_where(pair, low + range / 2, INFINITY, noise, -1, 1);
        double offset = NAN;
        const enum bl_status status = gain_of(out, pair, &offset, error);
        if (status != BL_OK) {
            return status;
        }
        out->identical = is_identical(pair);
        out->delay_s = bl_pair_delay(pair, out->interval_s, offset,
                                     out->gain.value, noise);
    }
    flag(out, rules);
    bl_pair_stretches(out, pair, rules);
    bl_pair_episodes(out, pair, rules, isnan(rest_a) ? low_a : rest_a,
                     isnan(rest_b) ? low_b : rest_b);
    bl_pair_judge(out, pair, rules, rest_a, rest_b);
    return BL_OK;
}

enum bl_status bl_pair_compare(struct bl_pair *out,
                               const struct bl_pair_samples *samples,
                               const struct bl_pair_rules *rules,
                               struct bl_error *error)
{
    const double *a = samples->a;
    const double *b = samples->b;
    const double *demand = samples->demand;
    const size_t n = samples->n;
    const struct bl_measured none = {NAN, NAN};
    *out = (struct bl_pair){.offset_rest = none,
                            .offset_hold = none,
                            .gain = none,
                            .delay_s = none,
                            .noise_a = NAN,
                            .noise_b = NAN,
                            .witness = demand != NULL};
    struct bl_pair_rules is_rules = *rules;
    is_rules.u_zero_a = isnan(rules->u_zero_a) ? 1 : rules->u_zero_a;
    is_rules.u_zero_b = isnan(rules->u_zero_b) ? 1 : rules->u_zero_b;
    if (n > BL_LIMIT_SAMPLES) {
        return bl_fail(error, BL_LIMIT, NULL, "%zu samples, at most %u", n,
                       BL_LIMIT_SAMPLES);
    }
    double *copy = bl_alloc(5 * (n + 1), sizeof(*copy));
    if (copy == NULL) {
        return bl_fail_memory(error);
    }
    double *t = copy, *x = copy + n, *y = copy + 2 * n, *w = copy + 3 * n;
    size_t m = 0;
    for (size_t i = 0; i < n; i++) {
        if (isnan(a[i]) || isnan(b[i])) {
            out->missing++;
            continue;
        }
        t[m] = samples->time_s[i];
        x[m] = a[i];
        y[m] = b[i];
        w[m++] = demand == NULL ? NAN : demand[i];
    }
    out->samples = m;
    const struct bl_pair_data pair = {
        t, x, y, demand == NULL ? NULL : w, m, copy + 4 * n};
    const enum bl_status status =
        m < LEAST_SAMPLES ? BL_OK : compare(out, &pair, &is_rules, error);
    bl_free(copy);
    return status;
}
