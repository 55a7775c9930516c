/* SPDX-License-Identifier: MIT */
/*
 * Flow of air by ISO 6358 and filling of volumes by the energy balance with a
 * polytropic exponent. Times are quadratures over pressure, so they do not
 * depend on a time step. Only sqrt is used of the mathematics library: it is
 * exact on every platform, and with it every simulated recording.
 */
#include "physics/air.h"

#include <math.h>

enum { QUADRATURE_STEPS = 512 };
/* Above this ratio the square root's slope grows without bound; the law is
   continued by the straight line to zero flow at equal pressures. */
#define LINEAR_FROM 0.999

static double kelvin_of(double kelvin)
{
    return kelvin > 0 ? kelvin : BL_AIR_REFERENCE_KELVIN;
}

double bl_air_speed(double exponent, double kelvin)
{
    return sqrt(exponent * BL_AIR_GAS_CONSTANT * kelvin);
}

/* Share of the choked flow at pressure ratio r. */
static double share(double r, double b)
{
    if (r <= b) {
        return 1;
    }
    if (r > LINEAR_FROM) {
        return share(LINEAR_FROM, b) * (1 - r) / (1 - LINEAR_FROM);
    }
    const double x = (r - b) / (1 - b);
    return sqrt(1 - x * x);
}

double bl_air_flow(const struct bl_restriction *way, double p1_kpa,
                   double p2_kpa)
{
    if (p2_kpa > p1_kpa) {
        return -bl_air_flow(way, p2_kpa, p1_kpa);
    }
    if (p1_kpa <= 0) {
        return 0;
    }
    const double cold = sqrt(BL_AIR_REFERENCE_KELVIN / kelvin_of(way->kelvin));
    return way->c * 1e-8 * BL_AIR_REFERENCE_DENSITY * p1_kpa * 1e3 * cold *
           share(p2_kpa / p1_kpa, way->b);
}

double bl_air_in_series(double c, double more, size_t times)
{
    const double rest = more > 0 ? (double)times / (more * more) : 0;
    return 1 / sqrt(1 / (c * c) + rest);
}

double bl_air_rate(double flow_kg_s, double volume_cm3, double exponent,
                   double kelvin)
{
    return exponent * BL_AIR_GAS_CONSTANT * kelvin_of(kelvin) * flow_kg_s /
           (volume_cm3 * 1e-6) * 1e-3;
}

static double fill_seconds_per_kpa(const struct bl_air_fill *fill,
                                   double start_kpa, double p_kpa)
{
    double source = fill->source_kpa;
    if (fill->source_volume_cm3 > 0) {
        source -=
            (p_kpa - start_kpa) * fill->volume_cm3 / fill->source_volume_cm3;
    }
    const double flow = bl_air_flow(&fill->way, source, p_kpa);
    return flow > 0 ? 1 / bl_air_rate(flow, fill->volume_cm3, fill->exponent,
                                      fill->way.kelvin)
                    : NAN;
}

double bl_air_fill_time(const struct bl_air_fill *fill, double start_kpa,
                        double from_kpa, double to_kpa)
{
    const double h = (to_kpa - from_kpa) / QUADRATURE_STEPS;
    double sum = 0;
    for (int i = 0; i < QUADRATURE_STEPS; i++) {
        const double a = from_kpa + i * h;
        sum += fill_seconds_per_kpa(fill, start_kpa, a) +
               4 * fill_seconds_per_kpa(fill, start_kpa, a + h / 2) +
               fill_seconds_per_kpa(fill, start_kpa, a + h);
    }
    return sum * h / 6;
}

static double empty_seconds_per_kpa(const struct bl_restriction *way,
                                    double volume_cm3, double exponent,
                                    double p_kpa, double sink_kpa)
{
    const double flow = bl_air_flow(way, p_kpa, sink_kpa);
    return flow > 0 ? 1 / bl_air_rate(flow, volume_cm3, exponent, way->kelvin)
                    : NAN;
}

double bl_air_empty_time(const struct bl_restriction *way, double volume_cm3,
                         double exponent, double from_kpa, double to_kpa,
                         double sink_kpa)
{
    const double h = (from_kpa - to_kpa) / QUADRATURE_STEPS;
    double sum = 0;
    for (int i = 0; i < QUADRATURE_STEPS; i++) {
        const double a = to_kpa + i * h;
        sum +=
            empty_seconds_per_kpa(way, volume_cm3, exponent, a, sink_kpa) +
            4 * empty_seconds_per_kpa(way, volume_cm3, exponent, a + h / 2,
                                      sink_kpa) +
            empty_seconds_per_kpa(way, volume_cm3, exponent, a + h, sink_kpa);
    }
    return sum * h / 6;
}
