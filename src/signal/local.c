/* SPDX-License-Identifier: MIT */
/*
 * Parabolas through the samples near a passage: where a signal climbs slowly
 * against its noise, they say more than the two samples around it.
 */
#include "signal/fit.h"
#include "signal/view.h"

/* Two fits to some of the same samples differ by so many variances by chance
   (own choice: two standard deviations of a difference are 4); and a climb is
   no flatter than so many times less than where the level is passed (own
   choice). */
static const double CHANCE = 2;
static const double LEAST_SLOPE = 2;

/* One local fit to the samples within half_s of centre_s. */
bool bl_local_fit_near(const struct bl_view *view, size_t near, int64_t origin,
                       double centre_s, double half_s, struct bl_local_fit *out)
{
    struct bl_signal_sums sums = {0};
    const size_t count = bl_view_count(view);
    size_t i = near;
    while (i > 0 && bl_view_moment(view, i, origin) >= centre_s - half_s) {
        i--;
    }
    for (; i < count; i++) {
        const double x = (bl_view_moment(view, i, origin) - centre_s) / half_s;
        const double h = bl_view_height(view, i);
        if (x > 1) {
            break;
        }
        if (x >= -1 && !isnan(h) && bl_view_one_part(view, i, near)) {
            bl_signal_sums_add(&sums, x, h);
        }
    }
    struct bl_signal_poly poly;
    const unsigned terms = 3;
    if (sums.n < BL_LOCAL_FIT_LEAST ||
        !bl_signal_poly_fit(&sums, terms, &poly)) {
        return false;
    }
    const double root = poly.c[1] * poly.c[1] - 4 * poly.c[2] * poly.c[0];
    if (!(poly.c[1] > 0) || !(root > 0)) {
        return false;
    }
    const double x = -2 * poly.c[0] / (poly.c[1] + sqrt(root));
    const double g[3] = {1, x, x * x};
    double q = 0;
    for (unsigned a = 0; a < terms; a++) {
        for (unsigned b = 0; b < terms; b++) {
            q += g[a] * g[b] * poly.var[a][b];
        }
    }
    const double freedom = sums.n - terms;
    const double excess =
        freedom > 0 ? poly.rss / freedom / (view->noise * view->noise) : 0;
    out->straight = freedom < 1 || excess <= 1 + 3 * sqrt(2 / freedom);
    /* What is left over says more than a noise that was given too small. */
    out->sigma = view->noise * sqrt(fmax(excess, 1));
    out->at_s = centre_s + x * half_s;
    out->half_s = half_s;
    out->mean_slope = poly.c[1] / half_s;
    out->slope = (poly.c[1] + 2 * poly.c[2] * x) / half_s;
    /* The window was placed by the same samples, which adds to the variance:
       about 3/n of it by simulation (tests/unit/signal/sweep_test.c). The least
       there can be leave no choice. */
    const double placed = sums.n > BL_LOCAL_FIT_LEAST ? 3 / fmax(sums.n, 8) : 0;
    out->unit_error = sqrt(fmax(q, 0) * (1 + placed));
    out->points = sums.n;
    return fabs(x) <= 1.5 && out->slope > 0;
}

/* Local fits in turn, each centred on the passage that the last one found and
   as wide as its slope asks for. */
bool bl_local_fit_settle(const struct bl_view *view, size_t near,
                         int64_t origin, double low_s, double high_s,
                         struct bl_local_fit *out)
{
    const double least_s = 2.1e-9 * (double)view->samples->interval_ns;
    double half_s = fmax((high_s - low_s) / 2, least_s);
    double centre_s = (low_s + high_s) / 2;
    const double widest_s = 4 * half_s;
    bool done = false;
    for (unsigned round = 0; round < 6; round++) {
        struct bl_local_fit fit;
        if (!bl_local_fit_near(view, near, origin, centre_s, half_s, &fit)) {
            half_s = fmin(1.7 * half_s, widest_s);
            continue;
        }
        /* A window over a bend may put the passage anywhere: it gives way to
           any fit that agrees with the noise, and never replaces one. */
        if (!done || fit.straight || !out->straight) {
            *out = fit;
        }
        done = true;
        centre_s = fmin(fmax(fit.at_s, low_s - half_s), high_s + half_s);
        /* A slope that noise has flattened asks for too wide a window. */
        half_s = fmin(bl_view_clearance(view) / fit.slope,
                      fmin(2 * half_s, widest_s));
        if (!fit.straight && fit.points > 4 * BL_LOCAL_FIT_LEAST) {
            half_s /= 2; /* a bend lies within the window */
        }
        half_s = fmax(half_s, least_s);
    }
    return done;
}

/* A corner within the window, as a shelf ends with one, bends the parabola by
   more than the scatter around it says, and of few samples noise may have
   chosen a window beside it, or a steep one. What windows half and twice as
   wide, which agree with the noise, differ by beyond it is uncertainty; and the
   climb over the wider one is what noise counts by where that is less. */
void bl_local_fit_heed_others(const struct bl_view *view, size_t near,
                              int64_t origin, struct bl_local_fit *fit)
{
    static const double widths[] = {0.5, 2};
    double slope = fit->slope;
    double most_s2 = 0;
    const double u_s = fit->sigma / fit->slope * fit->unit_error;
    for (size_t i = 0; i < sizeof(widths) / sizeof(widths[0]); i++) {
        struct bl_local_fit other;
        if (!bl_local_fit_near(view, near, origin, fit->at_s,
                               widths[i] * fit->half_s, &other)) {
            continue;
        }
        slope = widths[i] > 1 ? fmin(slope, other.mean_slope) : slope;
        if (other.straight) {
            const double off_s = other.at_s - fit->at_s;
            const double other_s = other.sigma / other.slope * other.unit_error;
            most_s2 =
                fmax(most_s2,
                     off_s * off_s - CHANCE * (u_s * u_s + other_s * other_s));
        }
    }
    slope = fmax(slope, fit->slope / LEAST_SLOPE);
    fit->unit_error =
        fit->slope / fit->sigma *
        hypot(fit->sigma / slope * fit->unit_error, sqrt(most_s2));
}
