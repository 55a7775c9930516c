/* SPDX-License-Identifier: MIT */
/* What is not known of a switch's trip point, as time. */
#include "lag/trip.h"

#include <math.h>

/* Own choice: switches that are put to brakes close somewhere here. Those of
   stop lamps do below 41 kPa (6 psi: 49 CFR 571.121, from memory), the yard's
   timers at 35 kPa (common practice), others when a brake bites. */
static const double closes_from_kpa = 15, closes_to_kpa = 100;
/* Own choice: the slowest that a sound output rises at its begin, by air in a
   long train: 430 kPa in 0.54 s (an independent computation of such chains, 95
   % of its draws), and half of that while chambers still travel. */
static const double slowest_kpa_s = 400;

struct bl_closing bl_output_closes(const struct bl_trial *trial,
                                   const struct bl_track *output)
{
    struct bl_closing out = {false, trial->response_at_kpa,
                             trial->response_at_kpa};
    if (!output->present || !output->is_state) {
        return out;
    }
    out.by_switch = true;
    out.low_kpa = closes_from_kpa;
    out.high_kpa = closes_to_kpa;
    if (output->channel != NULL && !isnan(output->channel->trips_at_kpa)) {
        out.low_kpa = out.high_kpa = output->channel->trips_at_kpa;
    }
    return out;
}

struct bl_closing bl_unit_closes(const struct bl_trial *trial,
                                 const struct bl_run_data *data,
                                 const struct bl_run_clocks *clocks,
                                 size_t unit, size_t output)
{
    const struct bl_trial_unit *vehicle = &trial->unit[unit];
    struct bl_closing out = {false, trial->response_at_kpa,
                             trial->response_at_kpa};
    for (size_t o = 0; data != NULL && clocks != NULL && o < vehicle->outputs;
         o++) {
        struct bl_track track;
        if (output < vehicle->outputs && output != o) {
            continue;
        }
        bl_track_find(&track, trial, data, clocks, &vehicle->output[o]);
        const struct bl_closing one = bl_output_closes(trial, &track);
        if (one.by_switch &&
            (!out.by_switch ||
             one.high_kpa - one.low_kpa > out.high_kpa - out.low_kpa)) {
            out = one;
        }
    }
    return out;
}

double bl_closing_u_s(const struct bl_trial *trial, const struct bl_closing *a,
                      const struct bl_closing *b)
{
    const struct bl_closing level = {false, trial->response_at_kpa,
                                     trial->response_at_kpa};
    const struct bl_closing *other = b == NULL ? &level : b;
    if (a->low_kpa == other->low_kpa && a->high_kpa == other->high_kpa &&
        a->low_kpa == a->high_kpa) {
        return 0;
    }
    /* Evenly anywhere between; between two middles from nothing to the slowest
       rise. */
    const double apart =
        fabs(a->low_kpa + a->high_kpa - other->low_kpa - other->high_kpa) / 2;
    return hypot(apart, hypot(a->high_kpa - a->low_kpa,
                              other->high_kpa - other->low_kpa)) /
           sqrt(12) / slowest_kpa_s;
}
