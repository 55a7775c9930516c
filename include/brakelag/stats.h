/* SPDX-License-Identifier: MIT */
/*
 * Statistics for few, precious values: straight lines, shifts between
 * conditions with exact tests, trends. docs/methods/comparison.md and
 * docs/methods/clocks.md say what is used for what, and why.
 *
 * Conventions: inputs are borrowed and left alone; every value must be finite
 * (error ARG otherwise); NaN in a result means "not shown by so few
 * values", never 0. Probabilities are two-sided unless the name says so.
 * Errors of all functions that return a status: ARG, LIMIT (more values than
 * BL_LIMIT_STATS_*; src/base/limits.h), NOMEM.
 */
#ifndef BRAKELAG_STATS_H
#define BRAKELAG_STATS_H

#include "brakelag/status.h"

/* One set of values. `s` and `u_mean` (s / sqrt n, GUM 4.2, "Type A") are NaN
   for one value; `mad_sd` is 1.4826 times the median absolute deviation. */
struct bl_description {
    size_t n;
    double mean, s, u_mean;
    double median, mad_sd;
    double smallest, largest;
};
BL_API BL_MUST_CHECK enum bl_status bl_describe(struct bl_description *out,
                                                const double *value, size_t n,
                                                struct bl_error *error);

/* Quantiles of the normal and of Student's distribution, 0 < p < 1. `dof` may
   be a fraction, or INFINITY for the normal one. */
BL_API double bl_normal_quantile(double p);
BL_API double bl_student_quantile(double p, double dof);
/* k with P(|t| <= k) = confidence; `dof` is cut down to a whole number first,
   as GUM G.4.1 has it. */
BL_API double bl_coverage_factor(double confidence, double dof);
/* Welch-Satterthwaite (GUM G.4.1) for independent components u with degrees
   of freedom dof (INFINITY: exactly known). INFINITY when all are. */
BL_API double bl_effective_dof(const double *u, const double *dof, size_t n);

/*
 * A straight line by least squares: y = intercept + slope x. Standard errors
 * rest on the residual standard deviation `s` with n - 2 degrees of freedom;
 * with two points s and all u are NaN. known is false for fewer than two
 * different x.
 */
struct bl_straight_line {
    bool known;
    size_t n;
    double intercept, slope;
    double u_intercept, u_slope;
    double correlation; /* of the two coefficients */
    double s, rss;
    double x_mean, y_mean, sxx; /* of the points used */
};

/*
 * A line that bad points do not bend: slope = median of the slopes of all
 * pairs with different x, intercept = median of y - slope x (up to 29 % of bad
 * points do no harm). Then least squares over the inliers: points within
 * `cut` robust standard deviations of that line, and within `floor` always.
 * `inlier` (n of them, may be NULL) says which.
 */
struct bl_robust_line {
    double slope, intercept;          /* of the medians */
    double mad_sd;                    /* of all residuals from that line */
    size_t pairs;                     /* slopes that went into the median */
    struct bl_straight_line straight; /* least squares over the inliers */
    size_t outliers;
};
struct bl_line_points {
    const double *x, *y;
    size_t n;
    double cut, floor;
};
BL_API BL_MUST_CHECK enum bl_status
bl_line_robust(struct bl_robust_line *out, const struct bl_line_points *points,
               bool *inlier, struct bl_error *error);

/*
 * Shift between two conditions. `shift` is the middle difference, [low, high]
 * the exact rank interval: the narrowest whose confidence is at least what
 * was asked for. Few values may not be able to give that: then the widest one
 * is given and `confidence` says what it is worth (compare `asked`).
 * `p` tests "no shift"; `p_smallest` is the least that so many values could
 * give at all: where it is above the wished level, the answer is "make more
 * runs", not "no difference".
 * With ties, p is exact for the values as they are (all arrangements of the
 * tied ranks); the interval then covers at least its stated confidence.
 * `exact` is false when there are too many values for exact counting and a
 * normal approximation stands in.
 */
struct bl_shift {
    size_t n_base, n_against; /* paired: both the number of pairs */
    double shift, low, high;
    double asked, confidence;
    double u; /* half the interval over the normal quantile of its confidence;
                 NaN where there is no interval */
    double statistic; /* U of the second sample, or V of the signed ranks */
    double p, p_smallest;
    bool exact, ties;
    size_t zeros; /* paired: differences that are 0, not in V and p */
};
struct bl_two_samples {
    const double *base;
    size_t n_base;
    const double *against;
    size_t n_against;
};
/* Two samples: median of all against - base differences; Mann-Whitney. */
BL_API BL_MUST_CHECK enum bl_status
bl_shift_two(struct bl_shift *out, const struct bl_two_samples *samples,
             double confidence, struct bl_error *error);
/* Paired: `difference` is against - base per pair; median of all averages of
   two (Walsh), signed ranks. */
BL_API BL_MUST_CHECK enum bl_status bl_shift_paired(struct bl_shift *out,
                                                    const double *difference,
                                                    size_t n, double confidence,
                                                    struct bl_error *error);

/*
 * Difference of two means by Student's t: of independent samples whose scatter
 * may differ (Welch 1947), or of pairs. `dof` may be a fraction. u, t, p and
 * the interval are NaN where one value on a side leaves no scatter to go by;
 * no scatter at all gives u 0 and an interval of no width.
 */
struct bl_mean_difference {
    size_t n_base, n_against; /* paired: both the number of pairs */
    double difference, u;     /* against less base; standard uncertainty */
    double dof, t, p;
    double low, high, confidence;
};
BL_API BL_MUST_CHECK enum bl_status
bl_welch(struct bl_mean_difference *out, const struct bl_two_samples *samples,
         double confidence, struct bl_error *error);
BL_API BL_MUST_CHECK enum bl_status bl_paired_t(struct bl_mean_difference *out,
                                                const double *difference,
                                                size_t n, double confidence,
                                                struct bl_error *error);
/* Two one-sided tests (Schuirmann 1987): the larger p of "the difference is
   -margin or less" and "it is margin or more". Below 0.05: the same within
   the margin. NaN where u is. */
BL_API double bl_same_within_p(const struct bl_mean_difference *difference,
                               double margin);

/*
 * Scatter within groups and between them, by one-way analysis of variance
 * (Satterthwaite's mean size where groups are of different size). `value` has
 * the groups one after the other, `size` of each. `within_sd` is NaN where no
 * group has two values, `between_sd` where there is one group or no scatter
 * within is known; it is 0 where groups scatter no more than values do.
 */
struct bl_variance {
    size_t n, groups;
    double within_sd, between_sd;
    double dof_within, dof_between;
    double f; /* mean square between over that within */
    double mean_size;
};
BL_API BL_MUST_CHECK enum bl_status
bl_variance_of(struct bl_variance *out, const double *value, const size_t *size,
               size_t groups, struct bl_error *error);

/* Holm's adjustment (1979) of n single p, NaN passed over: however many are
   looked at, a wrong one below `a` comes with probability a at most.
   `adjusted` may be `p`. Errors: NOMEM. */
BL_API BL_MUST_CHECK enum bl_status bl_holm(double *adjusted, const double *p,
                                            size_t n, struct bl_error *error);

/* Trend over the order of events: Kendall's S (later greater minus later
   smaller pairs), tau-b, exact two-sided p, ties counted in. */
struct bl_trend {
    size_t n;
    long s;
    double tau, p, p_smallest;
    bool exact, ties;
};
BL_API BL_MUST_CHECK enum bl_status bl_trend(struct bl_trend *out,
                                             const double *value, size_t n,
                                             struct bl_error *error);

#endif
