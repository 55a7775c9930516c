/* SPDX-License-Identifier: MIT */
#include "study/dynamics/shares.h"
#include "study/travel.h"

#include "brakelag/compare.h"

static void at_speed(struct bl_dynamics_speed *at,
                     const struct bl_dynamics_row *row)
{
    at->first_only_m = at->extra_m - at->extra_first_m;
    at->hardest = row->units;
    at->hardest_times = 0;
    for (size_t k = 0; k < row->units; k++) {
        const double times = at->stop.work_share[k] / row->mass_share[k];
        at->travel_m[k] = bl_travel_m(at->kmh, row->response_s[k]);
        at->u_travel_m[k] = bl_travel_m(at->kmh, row->u_response_s[k]);
        if (times > at->hardest_times) {
            at->hardest_times = times;
            at->hardest = k;
        }
    }
}

void bl_dynamics_shares(struct bl_dynamics_row *row)
{
    double mass_kg = 0;
    double force_n = 0;
    for (size_t k = 0; k < row->units; k++) {
        mass_kg += row->unit[k].mass_kg;
        force_n += row->unit[k].force_n;
    }
    for (size_t k = 0; k < row->units; k++) {
        row->mass_share[k] = row->unit[k].mass_kg / mass_kg;
        row->force_share[k] = row->unit[k].force_n / force_n;
    }
    for (size_t i = 0; i < row->speeds; i++) {
        at_speed(&row->speed[i], row);
    }
}
