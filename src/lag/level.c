/* SPDX-License-Identifier: MIT */
/* A pressure or voltage with the uncertainty of its instrument. */
#include "lag/unit.h"

#include <math.h>

struct bl_level bl_lag_level(const struct bl_track *track, bool known,
                             double value, double u)
{
    if (!known || isnan(value)) {
        return (struct bl_level){.reason = BL_REASON_NO_DATA,
                                 .value = NAN,
                                 .u = NAN,
                                 .quantity = track->quantity};
    }
    const struct bl_trial_channel *c = track->channel;
    double sum = u * u;
    if (c != NULL) {
        const double zero = isnan(c->u_zero) ? 0 : c->u_zero;
        const double gain =
            isnan(c->u_gain_fraction) ? 0 : c->u_gain_fraction * value;
        double accuracy = 0;
        if (!isnan(c->accuracy_value)) {
            accuracy = c->accuracy_value / sqrt(3);
        } else if (!isnan(c->accuracy_fraction)) {
            accuracy = c->accuracy_fraction * fabs(value) / sqrt(3);
        }
        const double resolution =
            track->samples == NULL ? 0 : track->samples->resolution / sqrt(12);
        sum += zero * zero + gain * gain + accuracy * accuracy +
               resolution * resolution;
    }
    return (struct bl_level){.known = true,
                             .value = value,
                             .u = sqrt(sum),
                             .quantity = track->quantity};
}
