/* SPDX-License-Identifier: MIT */
/* Matching of two event lists under a supposed line between the clocks. */
#ifndef BRAKELAG_SRC_CLOCK_MATCH_H
#define BRAKELAG_SRC_CLOCK_MATCH_H

#include "clock/pair.h"

struct events {
    const double *a, *b;
    size_t na, nb;
};

/* b = a + offset + drift (a - centre); u_drift widens the corridor. */
struct supposed {
    double centre, offset, drift, u_drift;
    double sxx; /* of the matched a about the centre */
    size_t count;
};

/* Indices of matched events, ascending in both. Room for min(na, nb). */
struct matched {
    size_t *a, *b;
    size_t count;
};

double bl_supposed_at(const struct supposed *line, double a);
/*
 * Pair what lies within width + u_drift |a - centre| of the line and within
 * `reach` of the centre. Order is kept, each event is used once, of several
 * that would do the nearest is taken.
 */
void bl_match(const struct events *e, const struct supposed *line, double width,
              double reach, struct matched *out);
/* Least squares over the matches, the drift held towards 0 by its prior as if
   one pair scattered by `noise`. Nothing matched: the line stays. */
void bl_match_fit(const struct events *e, const struct matched *m, double noise,
                  double prior, struct supposed *line);
/* From one shift at one place to the line over everything, step by step: the
   reach doubles while the drift becomes known. */
void bl_match_refine(const struct events *e,
                     const struct bl_pair_options *options,
                     struct supposed *line, struct matched *work);

#endif
