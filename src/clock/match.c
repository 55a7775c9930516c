/* SPDX-License-Identifier: MIT */
/*
 * Matching two sorted event lists under a supposed line, and refining that
 * line. The lists are merged once, so order is kept and a missing or extra
 * event costs nothing but itself.
 */
#include "clock/match.h"

#include <math.h>

double bl_supposed_at(const struct supposed *line, double a)
{
    return line->offset + line->drift * (a - line->centre);
}

static double residual(const struct events *e, const struct supposed *line,
                       size_t i, size_t k)
{
    return e->b[k] - e->a[i] - bl_supposed_at(line, e->a[i]);
}

void bl_match(const struct events *e, const struct supposed *line, double width,
              double reach, struct matched *out)
{
    out->count = 0;
    size_t i = 0;
    size_t k = 0;
    while (i < e->na && k < e->nb) {
        const double away = fabs(e->a[i] - line->centre);
        const double most = width + line->u_drift * away;
        const double r = residual(e, line, i, k);
        if (away > reach || r > most) {
            i++;
        } else if (r < -most) {
            k++;
        } else if (k + 1 < e->nb &&
                   fabs(residual(e, line, i, k + 1)) < fabs(r)) {
            k++;
        } else if (i + 1 < e->na &&
                   fabs(residual(e, line, i + 1, k)) < fabs(r)) {
            i++;
        } else {
            out->a[out->count] = i++;
            out->b[out->count++] = k++;
        }
    }
}

void bl_match_fit(const struct events *e, const struct matched *m, double noise,
                  double prior, struct supposed *line)
{
    if (m->count == 0) {
        return;
    }
    const double n = (double)m->count;
    double x = 0;
    double y = 0;
    for (size_t p = 0; p < m->count; p++) {
        x += e->a[m->a[p]];
        y += e->b[m->b[p]] - e->a[m->a[p]];
    }
    x /= n;
    y /= n;
    double sxx = 0;
    double sxy = 0;
    for (size_t p = 0; p < m->count; p++) {
        const double dx = e->a[m->a[p]] - x;
        sxx += dx * dx;
        sxy += dx * (e->b[m->b[p]] - e->a[m->a[p]] - y);
    }
    const double ridge = noise * noise / (prior * prior);
    line->centre = x;
    line->offset = y;
    line->drift = sxx > 0 ? sxy / (sxx + ridge) : 0;
    line->sxx = sxx;
    line->u_drift = sxx + ridge > 0 ? 3 * noise / sqrt(sxx + ridge) : 0;
    line->count = m->count;
}

/* Over how far the drift may be unknown at first. */
static double first_reach(const struct bl_pair_options *options)
{
    return options->tolerance_s / (options->drift_most_ppm * 1e-6);
}

void bl_match_refine(const struct events *e,
                     const struct bl_pair_options *options,
                     struct supposed *line, struct matched *work)
{
    const double noise = 0.5 * options->tolerance_s;
    const double prior = options->drift_prior_ppm * 1e-6;
    const double most = options->drift_most_ppm * 1e-6;
    const double span = e->a[e->na - 1] - e->a[0];
    line->u_drift = most;
    double reach = first_reach(options);
    for (;;) {
        bl_match(e, line, options->tolerance_s, reach, work);
        bl_match_fit(e, work, noise, prior, line);
        line->u_drift = fmin(line->u_drift, most);
        if (reach > span) {
            break;
        }
        reach *= 2;
    }
    /* Settled: the corridor itself, twice, as the first pass may move it. */
    for (int i = 0; i < 2; i++) {
        line->u_drift = 0;
        bl_match(e, line, options->tolerance_s, (double)INFINITY, work);
        bl_match_fit(e, work, noise, prior, line);
    }
    line->u_drift = 0;
    line->count = work->count;
}
