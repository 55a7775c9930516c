/* SPDX-License-Identifier: MIT */
/*
 * Air through restrictions and into volumes. Pressures are absolute and in
 * kPa, flow in kg/s, conductance C in dm3/(s bar) = 1e-8 m3/(s Pa).
 * Method and sources: docs/methods/physics.md.
 */
#ifndef BRAKELAG_SRC_PHYSICS_AIR_H
#define BRAKELAG_SRC_PHYSICS_AIR_H

#include <stddef.h>

#define BL_AIR_ATMOSPHERE_KPA 101.325
#define BL_AIR_GAS_CONSTANT 287.05     /* J/(kg K) */
#define BL_AIR_REFERENCE_KELVIN 293.15 /* ISO 8778: 20 degC */
#define BL_AIR_REFERENCE_DENSITY 1.185 /* kg/m3, ISO 8778 */
#define BL_AIR_VISCOSITY 1.82e-5       /* Pa s at 20 degC */
#define BL_AIR_ADIABATIC 1.4
#define BL_AIR_ISOTHERMAL 1.0
#define BL_AIR_BRAKE_EVENT 1.2 /* fits fills of a few tenths of a second */

/* sqrt(n R T), m/s: n = 1.4 for sound in the open, 1.0 for a line whose wall
   holds the temperature. */
double bl_air_speed(double exponent, double kelvin);

/* An ISO 6358 restriction. */
struct bl_restriction {
    double c;      /* dm3/(s bar) */
    double b;      /* critical pressure ratio, 0 to 1 */
    double kelvin; /* of the air upstream; 0: 293.15 K */
};

/* Mass flow from p1 to p2, p1 >= p2; negative when p2 is higher (the same law
   the other way round). */
double bl_air_flow(const struct bl_restriction *way, double p1_kpa,
                   double p2_kpa);

/* Conductance of one restriction and `times` of another behind it, by
   1/C2 = sum 1/Ci2; `more` 0: nothing is behind it. */
double bl_air_in_series(double c, double more, size_t times);

/* kPa per second in a rigid volume that takes `flow`. */
double bl_air_rate(double flow_kg_s, double volume_cm3, double exponent,
                   double kelvin);

/* A volume that is filled from a reservoir through one restriction. */
struct bl_air_fill {
    struct bl_restriction way;
    double source_kpa;        /* at the start */
    double source_volume_cm3; /* 0: so large that its pressure stays */
    double volume_cm3;
    double exponent; /* n of both volumes */
};
/* Seconds from from_kpa to to_kpa; NaN when to_kpa is never reached. The
   source stands at source_kpa when the volume is at start_kpa. */
double bl_air_fill_time(const struct bl_air_fill *fill, double start_kpa,
                        double from_kpa, double to_kpa);
/* Seconds for a volume to empty from from_kpa to to_kpa into sink_kpa. */
double bl_air_empty_time(const struct bl_restriction *way, double volume_cm3,
                         double exponent, double from_kpa, double to_kpa,
                         double sink_kpa);

#endif
