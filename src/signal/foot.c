/* SPDX-License-Identifier: MIT */
/* The foot of a rise: two-line fit, and how far the tangent disagrees. */
#include "signal/internal.h"

#include <math.h>

#include "base/alloc.h"
#include "signal/fit.h"

/* The fit needs some hundred points; more only cost time. */
enum { FOOT_POINTS = 2048, TANGENT_PARTS = 6 };

struct points {
    double *x, *y; /* seconds from the window's end; value above rest */
    size_t count;
};

/* Means of so many neighbours that the window gives FOOT_POINTS at most. */
static void gather(const struct bl_samples *samples, size_t first, size_t end,
                   double rest, struct points *out)
{
    const size_t each = (end - first) / FOOT_POINTS + 1;
    const int64_t origin = samples->time_ns[end - 1];
    for (size_t i = first; i < end; i += each) {
        double x = 0;
        double y = 0;
        size_t n = 0;
        for (size_t j = i; j < i + each && j < end; j++) {
            if (!isnan(samples->value[j])) {
                x += (double)(samples->time_ns[j] - origin) * 1e-9;
                y += samples->value[j] - rest;
                n++;
            }
        }
        if (n > 0) {
            out->x[out->count] = x / (double)n;
            out->y[out->count++] = y / (double)n;
        }
    }
}

/* Where the steepest line over a part of the rise meets rest; NaN if none. *u
   is the standard error of that. */
static double tangent(const struct points *points, double foot, double noise,
                      double *u)
{
    size_t start = 0;
    while (start < points->count && points->x[start] < foot) {
        start++;
    }
    const size_t rising = points->count - start;
    size_t width = rising / TANGENT_PARTS;
    width = width < 3 ? 3 : width;
    double steepest = 0;
    double meets = NAN;
    for (size_t i = start; i + width <= points->count; i += (width + 1) / 2) {
        struct bl_signal_sums sums = {0};
        struct bl_signal_poly poly;
        const double origin = points->x[i];
        for (size_t j = i; j < i + width; j++) {
            bl_signal_sums_add(&sums, points->x[j] - origin, points->y[j]);
        }
        if (bl_signal_poly_fit(&sums, 2, &poly) && poly.c[1] > steepest) {
            steepest = poly.c[1];
            const double to_rest = -poly.c[0] / poly.c[1];
            const double q = poly.var[0][0] + 2 * to_rest * poly.var[0][1] +
                             to_rest * to_rest * poly.var[1][1];
            meets = origin + to_rest;
            *u = noise / steepest * sqrt(fmax(q, 0));
        }
    }
    return meets;
}

static void fit(const struct points *points, int64_t origin, double noise,
                struct bl_foot *out)
{
    struct bl_signal_hinge hinge;
    if (!bl_signal_hinge_fit(points->x, points->y, points->count, true,
                             &hinge) ||
        !(hinge.slope_after > 0) || !isfinite(hinge.u_x0)) {
        return;
    }
    double u_tangent = 0;
    const double meets = tangent(points, hinge.x0, noise, &u_tangent);
    out->found = true;
    out->time_ns = origin + (int64_t)llround(hinge.x0 * 1e9);
    out->slope = hinge.slope_after;
    out->tangent_difference_s = isnan(meets) ? NAN : meets - hinge.x0;
    out->u_fit_s = hinge.u_x0;
    if (!isnan(meets)) {
        /* What noise alone makes of the difference is in u_x0 already; the
           steepest of several parts is steep by chance too, hence twice. The
           difference and a quarter is a half-width (GUM 4.3.7): the tangent
           runs over a part that bends as well. */
        const double apart = meets - hinge.x0;
        const double excess = apart * apart - 4 * u_tangent * u_tangent;
        out->u_model_s = excess > 0 ? 1.25 * sqrt(excess / 3) : 0;
    }
    out->u_s = hypot(out->u_fit_s, out->u_model_s);
}

/* A foot between two samples that nothing may be interpolated between: only
   that it lies there is known. */
static void foot_in_gap(const struct bl_samples *samples, struct bl_foot *foot)
{
    size_t after = bl_samples_at(samples, foot->time_ns);
    size_t before = after;
    while (before > 0 && (before == after || isnan(samples->value[before]))) {
        before--;
    }
    while (after < samples->count && isnan(samples->value[after])) {
        after++;
    }
    if (before >= after || after == samples->count ||
        !bl_signal_gap(samples, before, after)) {
        return;
    }
    const int64_t width = samples->time_ns[after] - samples->time_ns[before];
    foot->flags |= BL_FLAG_IN_GAP;
    foot->time_ns = samples->time_ns[before] + width / 2;
    foot->u_model_s = (double)width * 1e-9 / sqrt(12);
    foot->u_s = hypot(foot->u_fit_s, foot->u_model_s);
}

struct bl_foot bl_rise_foot(const struct bl_samples *samples, int64_t from_ns,
                            int64_t to_ns, const struct bl_rest *rest,
                            double hold)
{
    struct bl_foot foot = {.slope = NAN, .u_s = NAN};
    if (!rest->known || !(hold > rest->value)) {
        return foot;
    }
    const double half = rest->value + 0.5 * (hold - rest->value);
    const struct bl_crossing up =
        bl_rising(samples, from_ns, to_ns, half, rest->noise, 5 * rest->noise);
    if (!up.found || bl_samples_split(samples, from_ns, up.time_ns)) {
        return foot;
    }
    const size_t first = bl_samples_at(samples, from_ns);
    const size_t end = bl_samples_at(samples, up.time_ns);
    if (end < first + 5) {
        return foot;
    }
    struct points points = {
        .x = bl_alloc(FOOT_POINTS + 1, sizeof(double)),
        .y = bl_alloc(FOOT_POINTS + 1, sizeof(double)),
    };
    if (points.x != NULL && points.y != NULL) {
        gather(samples, first, end, rest->value, &points);
        fit(&points, samples->time_ns[end - 1], rest->noise, &foot);
        if (foot.found) {
            foot_in_gap(samples, &foot);
        }
    }
    bl_free(points.x);
    bl_free(points.y);
    return foot;
}
