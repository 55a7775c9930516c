/* SPDX-License-Identifier: MIT */
/*
 * A constant, a line or a jump through values whose covariance is known but for
 * the spread between visits: generalised least squares (Aitken 1935). The
 * spread is what makes the weighted residuals as large as they should be
 * (Paule and Mandel 1982), with the usual spread of visits counted in as so
 * many more degrees of freedom (Smyth 2004): without anything shared that is
 * Smyth's (d0 s0^2 + d s^2) / (d0 + d).
 */
#include "study/life/frame.h"

#include "base/alloc.h"

#include <math.h>
#include <stdlib.h>

/* Jacobi's rotations (1846): `shared` and the random parts to eigenvalues. */
static void turn_once(struct bl_life_frame *f,
                      double (*a)[BL_LIMIT_LIFE_VISITS], size_t p, size_t q)
{
    const double theta = (a[q][q] - a[p][p]) / (2 * a[p][q]);
    const double t =
        (theta < 0 ? -1 : 1) / (fabs(theta) + sqrt(theta * theta + 1));
    const double c = 1 / sqrt(t * t + 1);
    const double s = t * c;
    for (size_t i = 0; i < f->n; i++) {
        const double ip = a[i][p];
        a[i][p] = c * ip - s * a[i][q];
        a[i][q] = s * ip + c * a[i][q];
        const double vp = f->turn[i][p];
        f->turn[i][p] = c * vp - s * f->turn[i][q];
        f->turn[i][q] = s * vp + c * f->turn[i][q];
    }
    for (size_t i = 0; i < f->n; i++) {
        const double pi = a[p][i];
        a[p][i] = c * pi - s * a[q][i];
        a[q][i] = s * pi + c * a[q][i];
    }
}

void bl_life_turn(struct bl_life_frame *frame)
{
    double a[BL_LIMIT_LIFE_VISITS][BL_LIMIT_LIFE_VISITS];
    double size = 0;
    for (size_t i = 0; i < frame->n; i++) {
        for (size_t k = 0; k < frame->n; k++) {
            a[i][k] = frame->shared[i][k];
            frame->turn[i][k] = i == k ? 1 : 0;
        }
        a[i][i] += frame->u_random[i] * frame->u_random[i];
        size += a[i][i];
    }
    /* Quadratic convergence: eight sweeps are usual, thirty never needed. */
    for (int sweep = 0; sweep < 30; sweep++) {
        double off = 0;
        for (size_t p = 0; p < frame->n; p++) {
            for (size_t q = p + 1; q < frame->n; q++) {
                off = fmax(off, fabs(a[p][q]));
                if (fabs(a[p][q]) > 1e-16 * size) {
                    turn_once(frame, a, p, q);
                }
            }
        }
        if (off <= 1e-16 * size) {
            break;
        }
    }
    for (size_t i = 0; i < frame->n; i++) {
        frame->lambda[i] = fmax(0, a[i][i]);
    }
}

/* The values and what they are put down to, turned. */
struct turned {
    const struct bl_life_frame *frame;
    size_t unknowns;
    double one[BL_LIMIT_LIFE_VISITS], change[BL_LIMIT_LIFE_VISITS],
        y[BL_LIMIT_LIFE_VISITS];
};
struct solved {
    double constant, change; /* estimates */
    double v00, v01, v11;    /* their covariance */
    double squares, log_weights;
};

static struct solved solve(const struct turned *x, double variance)
{
    double s00 = 0;
    double s01 = 0;
    double s11 = 0;
    double y0 = 0;
    double y1 = 0;
    struct solved out = {0};
    for (size_t i = 0; i < x->frame->n; i++) {
        const double w = 1 / (variance + x->frame->lambda[i]);
        s00 += w * x->one[i] * x->one[i];
        s01 += w * x->one[i] * x->change[i];
        s11 += w * x->change[i] * x->change[i];
        y0 += w * x->one[i] * x->y[i];
        y1 += w * x->change[i] * x->y[i];
        out.log_weights += log(w);
    }
    if (x->unknowns == 1) {
        out.v00 = 1 / s00;
        out.constant = y0 / s00;
    } else {
        const double det = s00 * s11 - s01 * s01;
        out.v00 = s11 / det;
        out.v01 = -s01 / det;
        out.v11 = s00 / det;
        out.constant = out.v00 * y0 + out.v01 * y1;
        out.change = out.v01 * y0 + out.v11 * y1;
    }
    for (size_t i = 0; i < x->frame->n; i++) {
        const double r =
            x->y[i] - out.constant * x->one[i] - out.change * x->change[i];
        out.squares += r * r / (variance + x->frame->lambda[i]);
    }
    return out;
}

/* How far squares / variance and the usual spread's share together are from
   their degrees of freedom; falls as the variance grows. */
static double excess(const struct turned *x, double variance, double usual,
                     double dof)
{
    return solve(x, variance).squares + usual / variance - dof;
}

/* The variance at which they are the same: false position in its logarithm,
   halving the weight of an end that stays (the "Illinois" rule; Dowell and
   Jarratt 1971). */
static double moderated(const struct turned *x,
                        const struct bl_life_options *options)
{
    const double usual =
        options->spread_dof * options->spread_s * options->spread_s;
    const double dof =
        (double)(x->frame->n - x->unknowns) + options->spread_dof;
    double low = log(usual / dof); /* the residuals alone cannot be below 0 */
    double at_low = excess(x, exp(low), usual, dof);
    double high = low;
    double at_high = at_low;
    while (at_high > 0 && high < 600) {
        low = high;
        at_low = at_high;
        high += 1;
        at_high = excess(x, exp(high), usual, dof);
    }
    for (int i = 0, stays = 0; i < 100 && high - low > 1e-13; i++) {
        const double share = at_low / (at_low - at_high);
        const double middle =
            share > 0 && share < 1 ? low + share * (high - low) : low;
        const double at = excess(x, exp(middle), usual, dof);
        if (fabs(at) <= 1e-12 * dof) {
            return exp(middle);
        }
        if (at > 0) {
            low = middle;
            at_low = at;
            at_high *= stays > 0 ? 0.5 : 1;
            stays = 1;
        } else {
            high = middle;
            at_high = at;
            at_low *= stays < 0 ? 0.5 : 1;
            stays = -1;
        }
    }
    return exp(0.5 * (low + high));
}

static double change_at(const struct bl_life_frame *frame,
                        enum bl_life_model model, size_t at, size_t i)
{
    return model == BL_LIFE_LINE   ? frame->year[i]
           : model == BL_LIFE_JUMP ? (double)(i >= at)
                                   : 0;
}

void bl_life_fit(struct bl_life_fit *out, const struct bl_life_frame *frame,
                 enum bl_life_model model, size_t at,
                 const struct bl_life_options *options)
{
    const size_t n = frame->n;
    struct turned x = {.frame = frame,
                       .unknowns = model == BL_LIFE_STEADY ? 1 : 2};
    double mean = 0;
    double mean_change = 0;
    for (size_t i = 0; i < n; i++) {
        mean += frame->y[i] / (double)n;
        mean_change += change_at(frame, model, at, i) / (double)n;
    }
    for (size_t i = 0; i < n; i++) {
        for (size_t k = 0; k < n; k++) {
            x.one[i] += frame->turn[k][i];
            x.y[i] += frame->turn[k][i] * (frame->y[k] - mean);
            x.change[i] += frame->turn[k][i] *
                           (change_at(frame, model, at, k) - mean_change);
        }
    }
    *out = (struct bl_life_fit){.model = model, .at = at};
    out->variance = moderated(&x, options);
    out->dof = (double)(n - x.unknowns) + options->spread_dof;
    const struct solved s = solve(&x, out->variance);
    const double usual =
        options->spread_dof * options->spread_s * options->spread_s;
    out->likelihood = 0.5 * (s.log_weights - s.squares -
                             options->spread_dof * log(out->variance) -
                             usual / out->variance);
    const bool steady = model == BL_LIFE_STEADY;
    out->size = steady ? s.constant + mean : s.change;
    out->u = sqrt(steady ? s.v00 : s.v11);
    for (size_t i = 0; i < n; i++) {
        out->expected[i] =
            mean + s.constant +
            s.change * (change_at(frame, model, at, i) - mean_change);
        for (size_t k = 0; k < n; k++) {
            const double from = steady ? s.v00 * x.one[k]
                                       : s.v01 * x.one[k] + s.v11 * x.change[k];
            out->weight[i] +=
                frame->turn[i][k] * from / (out->variance + frame->lambda[k]);
        }
    }
}

void bl_life_adjust(double *adjusted, const struct bl_life_frame *frame,
                    const struct bl_life_fit *fit)
{
    double turned[BL_LIMIT_LIFE_VISITS] = {0};
    double weighted[BL_LIMIT_LIFE_VISITS] = {0};
    for (size_t i = 0; i < frame->n; i++) {
        for (size_t k = 0; k < frame->n; k++) {
            turned[i] += frame->turn[k][i] * (frame->y[k] - fit->expected[k]);
        }
        turned[i] /= fit->variance + frame->lambda[i];
    }
    for (size_t i = 0; i < frame->n; i++) {
        for (size_t k = 0; k < frame->n; k++) {
            weighted[i] += frame->turn[i][k] * turned[k];
        }
    }
    for (size_t i = 0; i < frame->n; i++) {
        adjusted[i] = frame->y[i];
        for (size_t k = 0; k < frame->n; k++) {
            adjusted[i] -= frame->shared[i][k] * weighted[k];
        }
    }
}

struct pair {
    double slope, weight;
};

static int by_slope(const void *a, const void *b)
{
    const double x = ((const struct pair *)a)->slope;
    const double y = ((const struct pair *)b)->slope;
    return (x > y) - (x < y);
}

enum bl_status bl_life_slope(double *slope, const struct bl_life_frame *frame,
                             const double *adjusted, struct bl_error *error)
{
    const size_t n = frame->n;
    struct pair *pair = bl_alloc(n * (n - 1) / 2, sizeof(*pair));
    if (pair == NULL) {
        return bl_fail_memory(error);
    }
    size_t pairs = 0;
    double whole = 0;
    for (size_t i = 0; i < n; i++) {
        for (size_t k = i + 1; k < n; k++) {
            const double years = frame->year[k] - frame->year[i];
            if (years > 0) {
                pair[pairs++] =
                    (struct pair){.slope = (adjusted[k] - adjusted[i]) / years,
                                  .weight = years};
                whole += years;
            }
        }
    }
    qsort(pair, pairs, sizeof(*pair), by_slope);
    *slope = 0;
    double sum = 0;
    for (size_t i = 0; i < pairs; i++) {
        sum += pair[i].weight;
        /* Half of the weight on either side: between the two. */
        const bool even = fabs(sum - 0.5 * whole) <= 1e-12 * whole;
        if (even || sum > 0.5 * whole) {
            *slope = even && i + 1 < pairs
                         ? 0.5 * (pair[i].slope + pair[i + 1].slope)
                         : pair[i].slope;
            break;
        }
    }
    bl_free(pair);
    return BL_OK;
}
