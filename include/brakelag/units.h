/* SPDX-License-Identifier: MIT */
/*
 * Quantities and the units that they are measured in.
 */
#ifndef BRAKELAG_UNITS_H
#define BRAKELAG_UNITS_H

#include "brakelag/status.h"

/* Canonical unit of each quantity: all values inside the library are in it. */
#define BL_QUANTITY_LIST(X)                                                    \
    X(NONE, "", "")                                                            \
    X(PRESSURE, "pressure", "kPa")                                             \
    X(SWITCH, "switch", "")                                                    \
    X(VOLTAGE, "voltage", "V")                                                 \
    X(CURRENT, "current", "A")                                                 \
    X(SPEED, "speed", "km/h")                                                  \
    X(ACCELERATION, "acceleration", "m/s2")                                    \
    X(LENGTH, "length", "m")                                                   \
    X(VOLUME, "volume", "cm3")                                                 \
    X(MASS, "mass", "kg")                                                      \
    X(TEMPERATURE, "temperature", "degC")                                      \
    X(TIME, "time", "s")                                                       \
    X(RATIO, "ratio", "%")                                                     \
    X(FORCE, "force", "kN")                                                    \
    X(FORCE_PER_PRESSURE, "force per pressure", "kN/kPa")                      \
    X(DRIFT, "drift", "ppm")                                                   \
    X(FREQUENCY, "frequency", "Hz")                                            \
    X(CONDUCTANCE, "conductance", "dm3/(s bar)")

enum bl_quantity {
#define X(id, name, unit) BL_QUANTITY_##id,
    BL_QUANTITY_LIST(X)
#undef X
        BL_QUANTITIES
};

/* Names and canonical units; never NULL. */
BL_API const char *bl_quantity_name(enum bl_quantity quantity);
BL_API const char *bl_quantity_unit(enum bl_quantity quantity);
/* The other way round: false when the text names no quantity. */
BL_API bool bl_quantity_from(const char *name, enum bl_quantity *out);

/*
 * Units. value_in_canonical = value * factor + shift.
 * `bl_measurement_unit_find` knows the units of docs/trial-file.md ("bar",
 * "psi", "kPa", "MPa", "mbar", "mmHg", "V", "mV", "km/h", "mph", "m/s", "kg",
 * "t", "m", "mm", "in", "cm3", "l", "in3", "s", "ms", "%", "ppm", "degC",
 * "degF", "K", ...).
 */
struct bl_measurement_unit {
    const char *name;
    enum bl_quantity quantity;
    double factor, shift;
};
BL_API const struct bl_measurement_unit *
bl_measurement_unit_find(const char *name);
/* "200 Hz" in the canonical unit of the quantity; false where the text is no
   number with one of its units. */
BL_API bool bl_quantity_read(const char *text, enum bl_quantity quantity,
                             double *canonical);
/* All units by index; NULL past the last. These, and what is found, are static
   data. */
BL_API const struct bl_measurement_unit *bl_measurement_unit_at(size_t index);

#endif
