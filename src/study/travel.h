/* SPDX-License-Identifier: MIT */
#ifndef BRAKELAG_SRC_STUDY_TRAVEL_H
#define BRAKELAG_SRC_STUDY_TRAVEL_H

/* Metres at a speed in km/h during a time: v t. */
static inline double bl_travel_m(double speed_kmh, double time_s)
{
    return speed_kmh / 3.6 * time_s;
}

#endif
