/* SPDX-License-Identifier: MIT */
/*
 * Units and their exact factors. Sources: SI definitions; the international
 * yard and pound agreement (1 in = 25.4 mm, 1 lb = 0.45359237 kg); standard
 * gravity 9.80665 m/s2; 1 psi = 6.894757293168361 kPa follows from these.
 */
#include "brakelag/units.h"
#include "base/number.h"

#include "base/psi.h"

#include <string.h>

static const struct {
    const char *name, *unit;
} quantities[] = {
#define X(id, name, unit) {name, unit},
    BL_QUANTITY_LIST(X)
#undef X
};

#define U(name, quantity, factor)                                              \
    {                                                                          \
        name, BL_QUANTITY_##quantity, factor, 0                                \
    }

static const struct bl_measurement_unit units[] = {
    U("kPa", PRESSURE, 1),
    U("Pa", PRESSURE, 0.001),
    U("hPa", PRESSURE, 0.1),
    U("mbar", PRESSURE, 0.1),
    U("bar", PRESSURE, 100),
    U("MPa", PRESSURE, 1000),
    U("psi", PRESSURE, BL_PSI_KPA),
    U("kgf/cm2", PRESSURE, 98.0665),
    U("mmHg", PRESSURE, 0.133322387415),
    U("V", VOLTAGE, 1),
    U("mV", VOLTAGE, 0.001),
    U("A", CURRENT, 1),
    U("mA", CURRENT, 0.001),
    U("km/h", SPEED, 1),
    U("m/s", SPEED, 3.6),
    U("mph", SPEED, 1.609344),
    U("m/s2", ACCELERATION, 1),
    U("g", ACCELERATION, 9.80665),
    U("m", LENGTH, 1),
    U("cm", LENGTH, 0.01),
    U("mm", LENGTH, 0.001),
    U("in", LENGTH, 0.0254),
    U("ft", LENGTH, 0.3048),
    U("cm3", VOLUME, 1),
    U("l", VOLUME, 1000),
    U("L", VOLUME, 1000),
    U("dm3", VOLUME, 1000),
    U("in3", VOLUME, 16.387064),
    U("kg", MASS, 1),
    U("t", MASS, 1000),
    U("lb", MASS, 0.45359237),
    U("degC", TEMPERATURE, 1),
    U("\xC2\xB0"
      "C",
      TEMPERATURE, 1),
    {"K", BL_QUANTITY_TEMPERATURE, 1, -273.15},
    {"degF", BL_QUANTITY_TEMPERATURE, 5.0 / 9, -160.0 / 9},
    U("s", TIME, 1),
    U("ms", TIME, 0.001),
    U("us", TIME, 1e-6),
    U("ns", TIME, 1e-9),
    U("min", TIME, 60),
    U("h", TIME, 3600),
    U("%", RATIO, 1),
    U("kN", FORCE, 1),
    U("N", FORCE, 0.001),
    U("kN/kPa", FORCE_PER_PRESSURE, 1),
    U("kN/bar", FORCE_PER_PRESSURE, 0.01),
    U("N/kPa", FORCE_PER_PRESSURE, 0.001),
    U("ppm", DRIFT, 1),
    U("Hz", FREQUENCY, 1),
    U("kHz", FREQUENCY, 1000),
    U("dm3/(s bar)", CONDUCTANCE, 1),
    U("l/(s bar)", CONDUCTANCE, 1),
};

const char *bl_quantity_name(enum bl_quantity quantity)
{
    return quantity < BL_QUANTITIES ? quantities[quantity].name : "";
}

const char *bl_quantity_unit(enum bl_quantity quantity)
{
    return quantity < BL_QUANTITIES ? quantities[quantity].unit : "";
}

bool bl_quantity_from(const char *name, enum bl_quantity *out)
{
    for (size_t i = 0; i < BL_QUANTITIES; i++) {
        if (strcmp(quantities[i].name, name) == 0) {
            *out = (enum bl_quantity)i;
            return true;
        }
    }
    return false;
}

const struct bl_measurement_unit *bl_measurement_unit_at(size_t index)
{
    return index < sizeof(units) / sizeof(units[0]) ? &units[index] : NULL;
}

const struct bl_measurement_unit *bl_measurement_unit_find(const char *name)
{
    for (size_t i = 0; bl_measurement_unit_at(i) != NULL; i++) {
        if (strcmp(units[i].name, name) == 0) {
            return &units[i];
        }
    }
    return NULL;
}

bool bl_quantity_read(const char *text, enum bl_quantity quantity,
                      double *canonical)
{
    const size_t digits = strspn(text, "+-0123456789.");
    const char *name = text + digits + strspn(text + digits, " ");
    const struct bl_measurement_unit *found = bl_measurement_unit_find(name);
    double number;
    if (found == NULL || found->quantity != quantity ||
        !bl_number_parse(text, digits, &number)) {
        return false;
    }
    *canonical = number * found->factor + found->shift;
    return true;
}
