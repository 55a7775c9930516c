/* SPDX-License-Identifier: MIT */
/* Least squares that the signal room shares: small polynomials. Not for other
   rooms. */
#ifndef BRAKELAG_SRC_SIGNAL_FIT_H
#define BRAKELAG_SRC_SIGNAL_FIT_H

#include <stdbool.h>
#include <stddef.h>

/* Sums of powers of x up to 4 and of y times powers up to 2. */
struct bl_signal_sums {
    double n, x, x2, x3, x4, y, xy, x2y, y2;
};
void bl_signal_sums_add(struct bl_signal_sums *sums, double x, double y);

/* y = c[0] + c[1] x (+ c[2] x^2). `var[i][j]` is the covariance of the
   coefficients for a unit variance of one y; rss the sum of squares left. */
struct bl_signal_poly {
    double c[3], var[3][3], rss;
    unsigned terms;
};
/* terms 2 or 3; false when the points do not determine them. */
bool bl_signal_poly_fit(const struct bl_signal_sums *sums, unsigned terms,
                        struct bl_signal_poly *out);

#endif
