/* SPDX-License-Identifier: MIT */
/*
 * Output against input of one brake, from stretches in which both stand still
 * or move slowly. Pure functions over arrays; docs/methods/characteristic.md
 * says the same in words.
 */
#ifndef BRAKELAG_SRC_STUDY_CHARACTERISTIC_CURVE_H
#define BRAKELAG_SRC_STUDY_CHARACTERISTIC_CURVE_H

#include "brakelag/characteristic.h"

/* Faster than this is not quasi-static, kPa/s: at a lag of 0.15 s the onset
   would read 3 kPa high. */
#define BL_CURVE_RATE 20.0
/* Length of one averaged block, s. */
#define BL_CURVE_BLOCK 0.2

/* Means over one block of time; NaN where a value was missing. Blocks follow
   each other without a gap, or are parted by one whose `in` is NaN. */
struct bl_curve_block {
    double time_s, in, out;
};

struct bl_curve_point {
    double in, out;
    double rate;  /* of the input, kPa/s; 0 in a hold */
    bool falling; /* the input came from above */
    bool hold;
    unsigned blocks;
};

struct bl_curve_points {
    struct bl_curve_point *item;
    size_t count, capacity;
    struct bl_quasi_static time; /* what was used and what was not */
};

/* Quasi-static points of a row of blocks. A block counts when the input's
   rate has stayed within BL_CURVE_RATE for three blocks before it; blocks of
   one hold become one point. Errors: NOMEM, LIMIT. */
BL_MUST_CHECK enum bl_status
bl_curve_collect(struct bl_curve_points *points,
                 const struct bl_curve_block *block, size_t count,
                 struct bl_error *error);
void bl_curve_points_finish(struct bl_curve_points *points);

/* How long the output is behind the input, s: takes rate x lag off. */
struct bl_curve_lag {
    double s, u_s;
};

/* A branch of which nothing is known but why. */
struct bl_branch bl_branch_without(enum bl_curve_reason reason);

/* Fit one branch: out = 0 below `on`, jump + gain (in - on) from there, level
   from saturation on. What cannot be fitted says why. Errors: NOMEM. */
BL_MUST_CHECK enum bl_status bl_curve_fit(struct bl_branch *out,
                                          const struct bl_curve_points *points,
                                          bool falling,
                                          const struct bl_curve_lag *lag,
                                          struct bl_error *error);
/* Rising less falling input at the middle of the output that both have. */
struct bl_measured bl_curve_hysteresis(const struct bl_branch *rising,
                                       const struct bl_branch *falling,
                                       const struct bl_curve_lag *lag);
/* Residual standard deviation of the points of a branch from a candidate
   curve; a gain that is NaN is fitted. NaN: no points. */
double bl_curve_residual(const struct bl_curve_points *points, bool falling,
                         const struct bl_curve_lag *lag, double threshold,
                         double gain, double saturation);
/* What a branch cannot know of its place: zero and gain of the instruments, kPa
   and fraction; whether the vehicle is known to be empty. */
struct bl_curve_doubt {
    double kpa, gain;
    bool surely_empty;
};

/* Which candidate it is. */
struct bl_curve_choice {
    long index;       /* -1: none or several */
    double threshold; /* that all candidates near it share, kPa; NaN: none */
};

/* Decide between candidates by the rising branch: fills `fits` of each. */
struct bl_curve_choice bl_curve_choose(struct bl_candidate *candidate,
                                       size_t count,
                                       const struct bl_branch *rising,
                                       const struct bl_curve_doubt *doubt);
/* Does the curve follow the characteristic of that name, which was called for?
   YES where it is the one that was chosen, NO where it does not fit, UNKNOWN
   where others fit as well, or where the trial does not have that name. Their
   one candidate goes to `called` where that is not NULL; else NULL. */
enum bl_answer
bl_characteristic_follows(const struct bl_characteristic *characteristic,
                          const char *name, const struct bl_candidate **called);

#endif
