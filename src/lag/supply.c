/* SPDX-License-Identifier: MIT */
/*
 * What the supply of a unit fell to while the command was on: the least of the
 * middle values of a tenth of a second each, as one sample is no low supply.
 * A slower recorder has fewer values than that: then each counts by itself.
 */
#include "lag/unit.h"

#include <math.h>

/* One tenth of a second: shorter than any fall of a supply that a unit would
   feel, longer than a spike (own choice). */
static const int64_t block_ns = 100000000;

static struct bl_level least(const struct bl_track *track, int64_t from_ns,
                             int64_t to_ns)
{
    double smallest = NAN;
    double spread = NAN;
    if (!track->present || track->is_state) {
        return (struct bl_level){.reason = track->present ? BL_REASON_NO_CHANNEL
                                                          : track->absent,
                                 .value = NAN,
                                 .u = NAN,
                                 .quantity = track->quantity};
    }
    for (int64_t t = from_ns; t < to_ns; t += block_ns) {
        const int64_t end = t + block_ns < to_ns ? t + block_ns : to_ns;
        const struct bl_extent e = bl_track_extent(track, t, end);
        if (e.known && !(e.median >= smallest)) {
            smallest = e.median;
            /* of a middle value among several */
            spread = (e.largest - e.smallest) / sqrt(12.0 * (double)e.count);
        }
    }
    return bl_lag_level(track, !isnan(smallest), smallest, spread);
}

void bl_supply_measure(struct bl_unit_lag *out,
                       const struct bl_unit_tracks *tracks,
                       const struct bl_window *window)
{
    const struct bl_command_event *e = window->event;
    const int64_t from_ns = e->begun_before ? e->from_ns : e->apply.time_ns;
    const int64_t to_ns = e->release.found ? e->release.time_ns : e->end_ns;
    out->reservoir_least = least(&tracks->reservoir, from_ns, to_ns);
    out->voltage_least = least(&tracks->voltage, from_ns, to_ns);
}
