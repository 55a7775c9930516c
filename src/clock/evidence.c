/* SPDX-License-Identifier: MIT */
/*
 * Two ways in which a good fit may be worth nothing: many events fit by
 * chance, even pauses fit at every multiple. The first is counted a contrario
 * (Desolneux, Moisan and Morel 2000): how many such fits would unrelated lists
 * show.
 */
#include "clock/evidence.h"

#include <math.h>

/* P(at least k of n) with chance p each. */
static double binomial_tail(size_t n, size_t k, double p)
{
    double sum = 0;
    for (size_t i = k; i <= n; i++) {
        const double ways = lgamma((double)n + 1) - lgamma((double)i + 1) -
                            lgamma((double)(n - i) + 1);
        sum += exp(ways + (double)i * log(p) + (double)(n - i) * log1p(-p));
    }
    return fmin(1, sum);
}

static size_t count_within(const double *value, size_t n, double low,
                           double high)
{
    size_t count = 0;
    for (size_t i = 0; i < n; i++) {
        count += value[i] >= low && value[i] <= high;
    }
    return count;
}

/* A period shorter than so many widths has multiples everywhere; pauses are
   even where four of five keep to one (own choices: a missing and a false event
   among ten leave it so). */
static const double PERIOD_WIDTHS = 20, EVEN_SHARE = 0.8;
/* A pause may hold two missing events, as in pair.c. */
static const double MOST_TIMES = 3;
/* Recordings that hardly overlap: a rate needs a span (own choice). */
static const double LEAST_SPAN_S = 1;

double bl_evidence_chance(const struct events *e, double offset, size_t pairs,
                          double width, const struct bl_pair_options *options)
{
    const double slack = options->tolerance_s;
    const double low = fmax(e->a[0], e->b[0] - offset) - slack;
    const double high = fmin(e->a[e->na - 1], e->b[e->nb - 1] - offset) + slack;
    const double span = fmax(high - low, LEAST_SPAN_S);
    const size_t mine = count_within(e->a, e->na, low, high);
    const size_t theirs =
        count_within(e->b, e->nb, low + offset, high + offset);
    const double rate = (double)theirs / span;
    const double p = fmin(fmax(-expm1(-rate * 2 * width), 1e-12), 0.999);
    const double drifts = 1 + options->drift_most_ppm * 1e-6 * span / width;
    const size_t others = (mine > pairs ? mine : pairs) - 1;
    return (double)e->na * (double)e->nb * drifts *
           binomial_tail(others, pairs - 1, p);
}

static double pause(const struct events *e, const struct matched *m, size_t i)
{
    return e->a[m->a[i + 1]] - e->a[m->a[i]];
}

double bl_evidence_period(const struct events *e, const struct matched *m,
                          double width)
{
    const size_t pauses = m->count > 0 ? m->count - 1 : 0;
    for (size_t i = 0; i < pauses; i++) {
        const double period = pause(e, m, i);
        if (period < PERIOD_WIDTHS * width) {
            continue;
        }
        size_t even = 0;
        for (size_t k = 0; k < pauses; k++) {
            const double times = floor(pause(e, m, k) / period + 0.5);
            even += times >= 1 &&
                    fabs(pause(e, m, k) - times * period) <= 2 * width;
        }
        if ((double)even >= EVEN_SHARE * (double)pauses) {
            return period;
        }
    }
    return 0;
}

/* Share of the pairs of pauses that agree within `width`, one of them taken
   up to three times (events may be missing). */
static double share_alike(const double *value, const size_t *index, size_t n,
                          double width)
{
    size_t alike = 0;
    size_t all = 0;
    for (size_t i = 0; i + 2 < n; i++) {
        const double one = value[index == NULL ? i + 1 : index[i + 1]] -
                           value[index == NULL ? i : index[i]];
        for (size_t k = i + 1; k + 1 < n; k++) {
            const double other = value[index == NULL ? k + 1 : index[k + 1]] -
                                 value[index == NULL ? k : index[k]];
            const double low = fmin(one, other);
            const double high = fmax(one, other);
            const double times = floor(high / fmax(low, 1e-9) + 0.5);
            alike += times <= MOST_TIMES && fabs(high - times * low) <= width;
            all++;
        }
    }
    return all == 0 ? 0 : (double)alike / (double)all;
}

double bl_evidence_alike(const struct events *e, const struct matched *m,
                         double width)
{
    const double a = share_alike(e->a, NULL, e->na, 2 * width);
    const double b = share_alike(e->b, NULL, e->nb, 2 * width);
    const double both = share_alike(e->a, m->a, m->count, 2 * width);
    return (double)(e->na + e->nb) *
           pow(fmax(both, fmax(a, b)), (double)m->count - 1);
}
