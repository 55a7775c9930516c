/* SPDX-License-Identifier: MIT */
/*
 * Two transducers at one point: do they agree, and if not, which is wrong?
 * docs/methods/transducers.md has the definitions. Pairs are control and
 * control_b of a unit, and outputs labelled NAME and NAME_b. All statistics
 * run over all samples of the run. Differences are b less a; pressures kPa.
 */
#ifndef BRAKELAG_TRANSDUCERS_H
#define BRAKELAG_TRANSDUCERS_H

#include "brakelag/characteristic.h"

enum bl_pair_side { BL_SIDE_UNKNOWN, BL_SIDE_A, BL_SIDE_B };

/* A stretch of time, seconds as given. */
struct bl_pair_episode {
    double from_s, to_s;
    double a, b, demand; /* where the difference was largest; demand may be
                            NaN */
    enum bl_pair_side follows; /* false demand: the one that the demand
                                  follows */
};
enum { BL_PAIR_EPISODES = 32, BL_PAIR_STRETCHES = 80 };

/* b less a over a stretch of time: smallest, median and largest of all samples
   in it, and the greatest mean of the two there. */
struct bl_pair_stretch {
    double from_s, to_s;
    double least, middle, most;
    double pressure;
    double may_differ; /* apart by more is a disagreement */
};

struct bl_pair {
    size_t samples; /* with both values */
    size_t missing; /* without one of them */
    double interval_s;
    struct bl_measured offset_rest, offset_hold, gain, delay_s;
    double noise_a, noise_b;
    bool identical; /* bit by bit, while moving: one channel wired twice */
    enum bl_pair_side stuck;
    bool offset_off, gain_off, delay_off; /* beyond what is allowed */
    struct bl_pair_episode disagreement[BL_PAIR_EPISODES];
    size_t disagreements; /* all of them; the first 32 are kept */
    double disagree_s, largest;
    struct bl_pair_episode false_demand[BL_PAIR_EPISODES];
    size_t false_demands;
    struct bl_pair_stretch stretch[BL_PAIR_STRETCHES]; /* those with samples */
    size_t stretches;
    bool witness; /* a demand was there to tell by */
    enum bl_pair_side wrong;
    const char *wrong_by; /* static text: what decided it; NULL */
};

struct bl_transducer_pair {
    size_t unit;
    char a[64], b[64]; /* as the trial names them */
    bool known;        /* both were recorded with clocks that are tied */
    bool zero_stated;  /* the trial states both zero errors */
    bool by_output;    /* no demand was recorded: the unit's output stands in */
    struct bl_pair pair;
};
struct bl_transducers {
    size_t run;
    struct bl_transducer_pair *item;
    size_t count;
};

/* Every pair of one run; times are seconds since the run's t0. Errors: NOMEM,
   LIMIT, TRIAL (the demand is on two buses). Nothing given is kept. */
BL_API BL_MUST_CHECK enum bl_status
bl_transducers_run(struct bl_transducers **out, const struct bl_trial *trial,
                   const struct bl_run_data *data,
                   const struct bl_run_clocks *clocks, struct bl_error *error);
BL_API void bl_transducers_destroy(struct bl_transducers *all);

#endif
