/* SPDX-License-Identifier: MIT */
/*
 * Two lines that meet, least squares over every break. Method (Hudson 1966):
 * between two neighbouring x the best break is where the separate lines of
 * both sides cross, if that lies between them; else the best is at a point,
 * where the curve is linear in value and two slopes. All candidates are tried,
 * so no start value and no local minimum.
 */
#include "stats/stats_common.h"

#include <math.h>

/* Sums about a common origin of x[from..to). */
struct sums {
    double n, x, y, xx, xy, yy;
};

static struct sums sums_of(const double *x, const double *y, size_t from,
                           size_t to, double x0, double y0)
{
    struct sums s = {0};
    for (size_t i = from; i < to; i++) {
        const double a = x[i] - x0;
        const double b = y[i] - y0;
        s.n++;
        s.x += a;
        s.y += b;
        s.xx += a * a;
        s.xy += a * b;
        s.yy += b * b;
    }
    return s;
}

/* Solve the symmetric 3 by 3 system a z = b; false: singular. */
static bool solve3(double a[3][3], double b[3], double z[3])
{
    for (int k = 0; k < 3; k++) {
        int pivot = k;
        for (int i = k + 1; i < 3; i++) {
            pivot = fabs(a[i][k]) > fabs(a[pivot][k]) ? i : pivot;
        }
        if (!(fabs(a[pivot][k]) > 1e-300)) {
            return false;
        }
        for (int j = 0; j < 3; j++) {
            const double t = a[k][j];
            a[k][j] = a[pivot][j];
            a[pivot][j] = t;
        }
        const double t = b[k];
        b[k] = b[pivot];
        b[pivot] = t;
        for (int i = k + 1; i < 3; i++) {
            const double f = a[i][k] / a[k][k];
            for (int j = k; j < 3; j++) {
                a[i][j] -= f * a[k][j];
            }
            b[i] -= f * b[k];
        }
    }
    for (int k = 2; k >= 0; k--) {
        z[k] = b[k];
        for (int j = k + 1; j < 3; j++) {
            z[k] -= a[k][j] * z[j];
        }
        z[k] /= a[k][k];
    }
    return true;
}

static double rss_of(const double *x, const double *y, size_t n,
                     const struct bl_hinge *h)
{
    double rss = 0;
    for (size_t i = 0; i < n; i++) {
        const double dx = x[i] - h->at;
        const double r = y[i] - h->value - (dx < 0 ? h->before : h->after) * dx;
        rss += r * r;
    }
    return rss;
}

/* Best value and slopes with the break at `at`: left points [0, k). */
static bool at_point(struct bl_hinge *h, const double *x, const double *y,
                     size_t n, size_t k, double at)
{
    const double y0 = y[0];
    const struct sums l = sums_of(x, y, 0, k, at, y0);
    const struct sums r = sums_of(x, y, k, n, at, y0);
    double a[3][3] = {{l.n + r.n, l.x, r.x}, {l.x, l.xx, 0}, {r.x, 0, r.xx}};
    double b[3] = {l.y + r.y, l.xy, r.xy};
    double z[3];
    if (!(l.xx > 0) || !(r.xx > 0) || !solve3(a, b, z)) {
        return false;
    }
    h->at = at;
    h->value = y0 + z[0];
    h->before = z[1];
    h->after = z[2];
    return true;
}

/* Separate lines of [0, k) and [k, n) that cross between x[k - 1] and x[k]. */
static bool between(struct bl_hinge *h, const double *x, const double *y,
                    size_t n, size_t k)
{
    const double x0 = 0.5 * (x[k - 1] + x[k]);
    const struct sums l = sums_of(x, y, 0, k, x0, y[0]);
    const struct sums r = sums_of(x, y, k, n, x0, y[0]);
    const double dl = l.n * l.xx - l.x * l.x;
    const double dr = r.n * r.xx - r.x * r.x;
    if (!(dl > 0) || !(dr > 0)) {
        return false;
    }
    h->before = (l.n * l.xy - l.x * l.y) / dl;
    h->after = (r.n * r.xy - r.x * r.y) / dr;
    const double left = (l.y - h->before * l.x) / l.n;
    const double right = (r.y - h->after * r.x) / r.n;
    if (h->before == h->after) {
        return false;
    }
    const double cross = (left - right) / (h->after - h->before);
    h->at = x0 + cross;
    h->value = y[0] + left + h->before * cross;
    return h->at > x[k - 1] && h->at < x[k];
}

/* Linearised model: parameters value, before, after, at. The columns for value
   and at differ in sign of nothing but the side, so eliminate `at` by its
   residual on the other three. */
static void errors(struct bl_hinge *h, const double *x, size_t n,
                   double confidence)
{
    h->u_at = h->low = h->high = h->s = (double)NAN;
    if (n <= 4) {
        return;
    }
    h->s = sqrt(h->rss / (double)(n - 4));
    double a[3][3] = {{0}};
    double b[3] = {0};
    double own = 0;
    for (size_t i = 0; i < n; i++) {
        const double dx = x[i] - h->at;
        const double c[3] = {1, fmin(dx, 0), fmax(dx, 0)};
        const double d = dx < 0 ? -h->before : -h->after;
        for (int p = 0; p < 3; p++) {
            for (int q = 0; q < 3; q++) {
                a[p][q] += c[p] * c[q];
            }
            b[p] += c[p] * d;
        }
        own += d * d;
    }
    double z[3];
    const double right[3] = {b[0], b[1], b[2]};
    if (!solve3(a, b, z)) {
        return;
    }
    for (int p = 0; p < 3; p++) {
        own -= right[p] * z[p];
    }
    if (own > 0) {
        h->u_at = h->s / sqrt(own);
        const double t =
            bl_student_quantile(0.5 + 0.5 * confidence, (double)(n - 4));
        h->low = h->at - t * h->u_at;
        h->high = h->at + t * h->u_at;
    }
}

static void keep_better(struct bl_hinge *best, struct bl_hinge h,
                        const double *x, const double *y, size_t n)
{
    h.rss = rss_of(x, y, n, &h);
    if (!best->known || h.rss < best->rss) {
        h.known = true;
        *best = h;
    }
}

enum bl_status bl_hinge_fit(struct bl_hinge *out, const double *x,
                            const double *y, size_t n, double confidence,
                            struct bl_error *error)
{
    enum bl_status status = bl_stats_check(x, n, 0, "hinge, x", error);
    if (status == BL_OK) {
        status = bl_stats_check(y, n, 0, "hinge, y", error);
    }
    if (status != BL_OK) {
        return status;
    }
    for (size_t i = 1; i < n; i++) {
        if (x[i] < x[i - 1]) {
            return bl_fail(error, BL_ARG, "",
                           "hinge: expected x in ascending order, found %g "
                           "after %g",
                           x[i], x[i - 1]);
        }
    }
    struct bl_hinge best = {0};
    for (size_t k = 1; k < n; k++) {
        if (x[k] == x[k - 1]) {
            continue;
        }
        struct bl_hinge h = {0};
        if (between(&h, x, y, n, k)) {
            keep_better(&best, h, x, y, n);
        }
        if (at_point(&h, x, y, n, k, x[k])) {
            keep_better(&best, h, x, y, n);
        }
    }
    best.n = n;
    if (best.known) {
        errors(&best, x, n, confidence);
    }
    *out = best;
    return BL_OK;
}
