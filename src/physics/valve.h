/* SPDX-License-Identifier: MIT */
/*
 * Relay valves and brake chambers. Pressures are gauge, kPa; methods and
 * ranges with their sources in docs/methods/physics.md.
 */
#ifndef BRAKELAG_SRC_PHYSICS_VALVE_H
#define BRAKELAG_SRC_PHYSICS_VALVE_H

#include <stdbool.h>

#include "physics/air.h"

/* What a relay valve makes of its control pressure. */
struct bl_relay {
    double crack_kpa;        /* control pressure at which it opens */
    double differential_kpa; /* output stays so far below the control */
    double hysteresis_kpa;   /* falls only when the control fell so far */
    double gain;             /* output per control pressure above that */
    double most_kpa;         /* its reservoir */
};
struct bl_relay_state {
    bool open;
    double held_kpa; /* the target that the hysteresis holds */
};
/* Pressure that the output is brought to. */
double bl_relay_target(const struct bl_relay *relay,
                       struct bl_relay_state *state, double control_kpa);

/* How far a valve has travelled, -1 (exhaust open) to 1 (inlet open), after it
   moved by `part` of its way: it needs time to open, and shuts at once. */
double bl_valve_travel(double before, double difference_kpa, double part);

/* The same of a valve whose piston follows the difference that pushes it: it
   wants to be open in proportion, fully at `band_kpa`, and moves there by at
   most `part` of its way. */
double bl_valve_follow(double before, double difference_kpa, double band_kpa,
                       double part);

/* Chambers of one unit, taken together. */
struct bl_chamber {
    double dead_cm3;     /* before the stroke, hoses included */
    double stroke_cm3;   /* added by the full stroke */
    double push_out_kpa; /* the stroke begins */
    double stroked_kpa;  /* the stroke is done; above push_out_kpa */
    double exponent;
};
/* Volume at a pressure: dead up to push-out, growing linearly to the end of
   the stroke. */
double bl_chamber_volume(const struct bl_chamber *chamber, double kpa);
/* kPa per second for a flow: dp/dt = n R T q / (V + n p dV/dp). The growing
   volume is what makes the push-out shelf. */
double bl_chamber_rate(const struct bl_chamber *chamber, double kpa,
                       double flow_kg_s);

/* One step of a chamber behind a relay: filled from reservoir_kpa through
   `feed` while below the target, vented through `vent` while above. The
   opening grows over `open_band_kpa` of difference. Returns the new pressure;
   the target is met, never passed, within a step. */
struct bl_chamber_ways {
    struct bl_restriction feed, vent;
    double reservoir_kpa, open_band_kpa;
    double most_open; /* 0 to 1: how far the valve has travelled */
};
double bl_chamber_step(const struct bl_chamber *chamber,
                       const struct bl_chamber_ways *ways, double kpa,
                       double target_kpa, double step_s);

#endif
