/* SPDX-License-Identifier: MIT */
/*
 * Air in a long line: pressure waves and friction along one dimension.
 * A dp/dt = -c2 dG/dx; dG/dt = -A dp/dx - F f G|G| c2 / (2 D A p), F for what
 * fittings add. The head is fed and vented by a valve, the far end is a closed
 * volume; couplings, branches and changes of bore lie between.
 * Pressures here are gauge, kPa.
 */
#ifndef BRAKELAG_SRC_PHYSICS_LINE_H
#define BRAKELAG_SRC_PHYSICS_LINE_H

#include <stdbool.h>
#include <stddef.h>

#include "brakelag/status.h"
#include "physics/air.h"

/* A coupling, a branch, or both, at a place of the line. */
struct bl_air_fitting {
    double x_m;
    double c;          /* dm3/(s bar) of a coupling; 0: none */
    double volume_cm3; /* of a branch that ends blind */
};
/* The line up to a place has this bore and what its fittings add. */
struct bl_air_piece {
    double to_m;
    double bore_mm;
    double friction; /* factor on friction; 0: 1, a bare pipe */
};
struct bl_air_line_shape {
    double length_m;
    double bore_mm;
    double end_volume_cm3; /* closed volume at the far end */
    double speed_m_s;      /* of the wave; 0: isothermal at 293.15 K */
    double friction;       /* factor on friction; 0: 1, a bare pipe */
    const struct bl_air_fitting *fitting; /* used while creating only */
    size_t fittings;
    const struct bl_air_piece *piece; /* instead of bore and friction; the same
                                         holds; in order, the last one to the
                                         end */
    size_t pieces;
};

struct bl_air_line; /* owned by whoever created it */

/* A vented line. One step is `step_s` long; the number of cells follows from
   it (at least 4, and the step is cut where a line is too short for it:
   bl_air_line_step makes several steps then). Errors: ARG (a length, bore or
   step that is not positive), LIMIT (cells, or couplings), NOMEM. */
BL_MUST_CHECK enum bl_status
bl_air_line_create(struct bl_air_line **out,
                   const struct bl_air_line_shape *shape, double step_s,
                   struct bl_error *error);
void bl_air_line_destroy(struct bl_air_line *line);

/* One step with `target_kpa` ahead of the valve: the head is fed through
   `feed` while it is lower, vented through `vent` while it is higher. */
void bl_air_line_step(struct bl_air_line *line, double target_kpa,
                      const struct bl_restriction *feed,
                      const struct bl_restriction *vent);

/* Pressure at a place, by linear interpolation between cells. */
double bl_air_line_pressure(const struct bl_air_line *line, double x_m);
double bl_air_line_end(const struct bl_air_line *line);
/* Every cell is within `band_kpa` of the target. Only laminar friction damps
   the last ringing, so a band of some 10 Pa takes seconds. */
bool bl_air_line_quiet(const struct bl_air_line *line, double target_kpa,
                       double band_kpa);

#endif
