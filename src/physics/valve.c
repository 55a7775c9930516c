/* SPDX-License-Identifier: MIT */
/* Relay valves and chambers: see valve.h. */
#include "physics/valve.h"

#include <math.h>

static double limited(double value, double least, double most)
{
    return value < least ? least : value > most ? most : value;
}

double bl_relay_target(const struct bl_relay *relay,
                       struct bl_relay_state *state, double control_kpa)
{
    if (!state->open && control_kpa >= relay->crack_kpa) {
        state->open = true;
    } else if (state->open &&
               control_kpa < relay->crack_kpa - relay->hysteresis_kpa) {
        state->open = false;
    }
    if (!state->open) {
        state->held_kpa = 0;
        return 0;
    }
    const double rising =
        limited(relay->gain * (control_kpa - relay->differential_kpa), 0,
                relay->most_kpa);
    const double falling =
        limited(relay->gain * (control_kpa + relay->hysteresis_kpa -
                               relay->differential_kpa),
                0, relay->most_kpa);
    /* Between the two branches the valve is lapped and holds. */
    state->held_kpa = limited(state->held_kpa, rising, falling);
    return state->held_kpa;
}

double bl_valve_travel(double before, double difference_kpa, double part)
{
    if (difference_kpa > 0) {
        return limited(limited(before, 0, 1) + part, 0, 1);
    }
    if (difference_kpa < 0) {
        return limited(limited(before, -1, 0) - part, -1, 0);
    }
    return 0;
}

double bl_valve_follow(double before, double difference_kpa, double band_kpa,
                       double part)
{
    const double wanted = limited(difference_kpa / band_kpa, -1, 1);
    return before + limited(wanted - before, -part, part);
}

double bl_chamber_volume(const struct bl_chamber *chamber, double kpa)
{
    const double part = (kpa - chamber->push_out_kpa) /
                        (chamber->stroked_kpa - chamber->push_out_kpa);
    return chamber->dead_cm3 + chamber->stroke_cm3 * limited(part, 0, 1);
}

double bl_chamber_rate(const struct bl_chamber *chamber, double kpa,
                       double flow_kg_s)
{
    double volume = bl_chamber_volume(chamber, kpa);
    if (kpa >= chamber->push_out_kpa && kpa < chamber->stroked_kpa) {
        volume += chamber->exponent * (kpa + BL_AIR_ATMOSPHERE_KPA) *
                  chamber->stroke_cm3 /
                  (chamber->stroked_kpa - chamber->push_out_kpa);
    }
    return bl_air_rate(flow_kg_s, volume, chamber->exponent,
                       BL_AIR_REFERENCE_KELVIN);
}

/* Change in one step, to be held at the kink of the volume so that a large
   step does not jump over the stroke. */
static double moved(const struct bl_chamber *chamber, double kpa, double flow,
                    double step_s)
{
    const double kink[2] = {chamber->push_out_kpa, chamber->stroked_kpa};
    double left = step_s;
    for (int i = 0; i < 3 && left > 0; i++) {
        const bool up = flow > 0;
        /* The rate of the side that is entered. */
        const double rate =
            bl_chamber_rate(chamber, up ? kpa : nextafter(kpa, -1e9), flow);
        double stop = kpa + rate * left;
        for (int k = 0; k < 2; k++) {
            if (up ? kpa < kink[k] && kink[k] < stop
                   : kpa > kink[k] && kink[k] > stop) {
                stop = kink[k];
            }
        }
        if (rate == 0) {
            break;
        }
        left -= (stop - kpa) / rate;
        kpa = stop;
    }
    return kpa;
}

double bl_chamber_step(const struct bl_chamber *chamber,
                       const struct bl_chamber_ways *ways, double kpa,
                       double target_kpa, double step_s)
{
    const double here = kpa + BL_AIR_ATMOSPHERE_KPA;
    const double open = limited(fabs(target_kpa - kpa) / ways->open_band_kpa, 0,
                                ways->most_open);
    if (target_kpa > kpa) {
        const double source = ways->reservoir_kpa + BL_AIR_ATMOSPHERE_KPA;
        if (source <= here) {
            return kpa;
        }
        const double flow = open * bl_air_flow(&ways->feed, source, here);
        const double next = moved(chamber, kpa, flow, step_s);
        return next < target_kpa ? next : target_kpa;
    }
    if (target_kpa < kpa) {
        const double flow =
            open * bl_air_flow(&ways->vent, here, BL_AIR_ATMOSPHERE_KPA);
        const double next = moved(chamber, kpa, -flow, step_s);
        return next > target_kpa ? next : target_kpa;
    }
    return kpa;
}
