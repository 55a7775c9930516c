/* SPDX-License-Identifier: MIT */
/*
 * The pure core of tying two clocks: which event of one list is which of the
 * other, and the line between the clocks that follows. docs/methods/clocks.md
 * has the formulas and the reasons.
 */
#ifndef BRAKELAG_SRC_CLOCK_PAIR_H
#define BRAKELAG_SRC_CLOCK_PAIR_H

#include "brakelag/clock.h"
#include "brakelag/status.h"

struct bl_pair_options {
    double tolerance_s;      /* a pair lies this near to the line */
    double drift_most_ppm;   /* drifts that are looked for */
    double drift_prior_ppm;  /* standard uncertainty of the drift before any
                                event was seen */
    double u_event_s;        /* usual scatter of one pair about the line */
    double least_interval_s; /* intervals shorter than this start no search */
    size_t least_pairs;
    double chance; /* most fits as good as this that chance may give */
    double alike;  /* the same, of pauses that are like each other */
};
/* 20 ms, 200 ppm, 100 / sqrt 3 ppm, 5 ms, 0.1 s, 4 pairs, 1e-3, 0.05. */
struct bl_pair_options bl_pair_defaults(void);

enum bl_pair_outcome {
    BL_PAIR_TIED,
    BL_PAIR_TOO_FEW,   /* fewer than least_pairs events fit together */
    BL_PAIR_CHANCE,    /* so many events would fit as well by chance */
    BL_PAIR_AMBIGUOUS, /* another shift pairs nearly as many, or the pauses
                          are even */
    BL_PAIR_TOO_MANY   /* more events than BL_LIMIT_CLOCK_EVENTS */
};

/*
 * b = a + offset + drift (a - centre). Offset at the centre and drift are
 * uncorrelated, so u(a)^2 = u_offset^2 + (u_drift (a - centre))^2.
 */
struct bl_pair_result {
    enum bl_pair_outcome outcome;
    size_t pairs, outliers; /* outliers: matched, but off the line */
    double centre_s, offset_s, drift;
    double u_offset_s, u_drift;
    size_t releases;        /* paired too, of few events (signed.h); else 0 */
    double odds;            /* then: against every other shift and none */
    double residual_s;      /* robust scatter of the pairs */
    double first_s, last_s; /* a of the outermost pairs */
    double chance;          /* expected number of such fits by chance */
    double alike;           /* the same, as the pauses are like each other */
    size_t other_pairs;     /* of the second best shift; 0: none */
    double other_offset_s;  /* at the same centre */
    double period_s;        /* even pauses: they fit at every multiple; 0: no */
    struct bl_clock_residual residual[BL_CLOCK_RESIDUALS];
    size_t residuals;
};

/* Moments of one clock, ascending; borrowed. */
struct bl_moments {
    const double *s;
    size_t count;
};

/* Both lists ascending and finite. Errors: ARG, NOMEM; that the events cannot
   be paired is an outcome. */
BL_MUST_CHECK enum bl_status
bl_clock_pair(const struct bl_moments *a, const struct bl_moments *b,
              const struct bl_pair_options *options,
              struct bl_pair_result *result, struct bl_error *error);

#endif
