/* SPDX-License-Identifier: MIT */
/*
 * Normal and Student's t distribution. Probabilities of t come from the
 * regularised incomplete beta function by its continued fraction (modified
 * Lentz; Abramowitz and Stegun 26.5.8 and 26.7.1); quantiles by bisection on
 * the probability, which cannot fail to converge.
 */
#include "brakelag/stats.h"
#include "stats/stats_common.h"

#include <math.h>

static const double TINY = 1e-300;

static double nonzero(double x)
{
    return fabs(x) < TINY ? TINY : x;
}

static double beta_fraction(double a, double b, double x)
{
    double c = 1;
    double d = 1 / nonzero(1 - (a + b) * x / (a + 1));
    double h = d;
    for (int i = 1; i <= 100000; i++) {
        const double m = i;
        double term = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m));
        d = 1 / nonzero(1 + term * d);
        c = nonzero(1 + term / c);
        h *= d * c;
        term = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1));
        d = 1 / nonzero(1 + term * d);
        c = nonzero(1 + term / c);
        h *= d * c;
        if (fabs(d * c - 1) < 1e-15) {
            break;
        }
    }
    return h;
}

/* y is 1 - x, given apart because x may be within rounding of 1. */
static double beta_share(double a, double b, double x, double y)
{
    if (x <= 0) {
        return 0;
    }
    if (y <= 0) {
        return 1;
    }
    const double front =
        exp(lgamma(a + b) - lgamma(a) - lgamma(b) + a * log(x) + b * log(y));
    if (x < (a + 1) / (a + b + 2)) {
        return front * beta_fraction(a, b, x) / a;
    }
    return 1 - front * beta_fraction(b, a, y) / b;
}

double bl_student_p(double t, double dof)
{
    if (isnan(t) || !(dof > 0)) {
        return (double)NAN;
    }
    if (isinf(t)) {
        return 0;
    }
    /* From here on the difference is below 1e-9. */
    if (dof > 1e9) {
        return erfc(fabs(t) / sqrt(2.0));
    }
    const double t2 = t * t;
    return beta_share(dof / 2, 0.5, dof / (dof + t2), t2 / (dof + t2));
}

static double upper_tail(double t, double dof)
{
    return 0.5 * bl_student_p(t, dof);
}

double bl_student_quantile(double p, double dof)
{
    if (!(p > 0 && p < 1) || !(dof > 0)) {
        return (double)NAN;
    }
    const double tail = p < 0.5 ? p : 1 - p;
    double low = 0;
    double high = 1;
    while (upper_tail(high, dof) > tail && high < 1e300) {
        high *= 2;
    }
    for (int i = 0; i < 200; i++) {
        const double middle = 0.5 * (low + high);
        if (middle <= low || middle >= high) {
            break;
        }
        if (upper_tail(middle, dof) > tail) {
            low = middle;
        } else {
            high = middle;
        }
    }
    const double t = 0.5 * (low + high);
    return p < 0.5 ? -t : t;
}

double bl_normal_quantile(double p)
{
    return bl_student_quantile(p, (double)INFINITY);
}

double bl_coverage_factor(double confidence, double dof)
{
    if (!(confidence > 0 && confidence < 1) || !(dof > 0)) {
        return (double)NAN;
    }
    const double whole = dof >= 1 && isfinite(dof) ? floor(dof) : dof;
    return bl_student_quantile(0.5 + 0.5 * confidence, whole);
}
