/* SPDX-License-Identifier: MIT */
/*
 * What lag costs on the road, by a rigid longitudinal model: stopping
 * distance, brake work per unit, push at the couplings. Computed from standing
 * figures and stated masses and forces, not measured on the road.
 * docs/methods/dynamics.md.
 */
#ifndef BRAKELAG_DYNAMICS_H
#define BRAKELAG_DYNAMICS_H

#include "brakelag/lag.h"
#include "brakelag/status.h"
#include "brakelag/trial.h"

enum { BL_BUILDUP_POINTS = 4 };

/* One unit. Its force is `force_n` times a share that runs along straight
   lines through the points, in order of time (two of one time: a step), 0
   before the first and as the last after it. */
struct bl_braked_unit {
    double mass_kg, force_n;
    struct {
        double s, share;
    } point[BL_BUILDUP_POINTS];
    size_t points;
};

struct bl_stop {
    double distance_m, time_s;
    double work_share[64]; /* of all brake work, per unit */
    /* At coupling k, between units k and k + 1: kN, push is positive. The
       greatest and the least while braking, and the steady one. */
    double push_most_kn[63], push_least_kn[63], push_steady_kn[63];
};
enum { BL_STOP_UNITS = 64 };

struct bl_dynamics_speed {
    double kmh, stop_m;
    double extra_m, u_extra_m; /* more than with full force at the command */
    double extra_first_m;      /* more than with all units as the first one */
    double first_only_m;       /* extra_m if only the first one's lag counted */
    double travel_m[BL_STOP_UNITS], u_travel_m[BL_STOP_UNITS]; /* in the lag */
    size_t hardest; /* unit with the most work for its mass; units: none */
    double hardest_times; /* its share of the work over its share of the mass */
    struct bl_stop stop;
};
/* A combination in one run, by the medians of one kind of step application. */
struct bl_dynamics_row {
    size_t run, first_unit, units;
    enum bl_application_kind kind;
    size_t n; /* applications of that kind */
    struct bl_braked_unit unit[BL_STOP_UNITS];
    double mass_share[BL_STOP_UNITS], force_share[BL_STOP_UNITS];
    double response_s[BL_STOP_UNITS], u_response_s[BL_STOP_UNITS];
    struct bl_dynamics_speed *speed; /* one per bl_trial.speed_kmh */
    size_t speeds;
};
struct bl_dynamics {
    struct bl_dynamics_row *row;
    size_t rows, capacity;
    struct bl_notes missing; /* what keeps a combination from an answer */
};

/* lag[i] belongs to trial run i, NULL where there is none. Nothing given is
   kept. Errors: NOMEM. */
BL_API BL_MUST_CHECK enum bl_status
bl_dynamics_create(struct bl_dynamics **out, const struct bl_trial *trial,
                   struct bl_run_lag *const *lag, struct bl_error *error);
BL_API void bl_dynamics_destroy(struct bl_dynamics *dynamics);

#endif
