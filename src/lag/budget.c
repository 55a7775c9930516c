/* SPDX-License-Identifier: MIT */
/*
 * Method: docs/methods/uncertainty.md, after JCGM 100:2008 (GUM) 5.1.2. A
 * stated accuracy is a half-width and is divided by root 3 (GUM 4.3.7).
 */
#include "lag/budget.h"

#include <math.h>

static double square(double x)
{
    return isnan(x) ? 0 : x * x;
}

double bl_budget_total(const struct bl_uncertainty *u)
{
    return sqrt(square(u->crossing) + square(u->sampling) +
                square(u->resolution) + square(u->gain) + square(u->zero) +
                square(u->delay) + square(u->rest) + square(u->command) +
                square(u->clock));
}

double bl_budget_common(const struct bl_uncertainty *u)
{
    return sqrt(square(u->gain) + square(u->zero) + square(u->delay) +
                square(u->clock));
}

/* Standard uncertainty, in kPa, that gain and stated accuracy give to a
   pressure `height` above rest. An accuracy of so much of the range is taken
   to grow with height over range: its part that is constant is zero error. */
static double gain_kpa(const struct bl_trial_channel *channel, double height)
{
    double sum = NAN;
    if (!isnan(channel->u_gain_fraction)) {
        sum = channel->u_gain_fraction * height;
    }
    double accuracy = NAN;
    if (!isnan(channel->accuracy_fraction)) {
        accuracy = channel->accuracy_fraction * height / sqrt(3);
    } else if (!isnan(channel->accuracy_value)) {
        const double range = channel->range_high - channel->range_low;
        const double share = isnan(range) || !(range > 0) ? 1 : height / range;
        accuracy = channel->accuracy_value * share / sqrt(3);
    }
    if (isnan(sum)) {
        return accuracy;
    }
    return sqrt(sum * sum + square(accuracy));
}

static double zero_kpa(const struct bl_trial_channel *channel)
{
    if (!isnan(channel->u_zero)) {
        return channel->u_zero;
    }
    return isnan(channel->accuracy_value) ? NAN
                                          : channel->accuracy_value / sqrt(3);
}

double bl_budget_error_kpa(const struct bl_track *track, double level)
{
    return track->channel == NULL || track->steps != NULL
               ? 0
               : sqrt(square(zero_kpa(track->channel)) +
                      square(gain_kpa(track->channel, fabs(level))));
}

struct bl_uncertainty bl_budget_passage(const struct bl_track *track,
                                        const struct bl_passage *passage,
                                        const struct bl_level_origin *origin)
{
    struct bl_uncertainty u = {
        .crossing = passage->u_noise_s,
        .sampling = passage->u_sampling_s,
        .resolution =
            sqrt(square(passage->u_resolution_s) + square(track->u_stamp_s)),
        /* A bus value has neither; of a channel they are unknown until there is
           a slope. */
        .gain = track->channel == NULL ? 0 : NAN,
        .zero = track->channel == NULL ? 0 : NAN,
        .delay = track->channel == NULL ? 0 : track->u_delay_s,
    };
    const double slope = fabs(passage->slope);
    if (track->steps != NULL || isnan(slope) || !(slope > 0)) {
        return u; /* edges and held values have no slope to divide by */
    }
    const bool share = !isnan(origin->fraction);
    if (track->channel != NULL) {
        /* A share of the unit's own hold: its gain cancels. */
        const double height =
            origin->absolute ? origin->level : origin->level - origin->rest;
        u.gain = share ? 0 : gain_kpa(track->channel, fabs(height)) / slope;
        u.zero = origin->absolute ? zero_kpa(track->channel) / slope : 0;
    }
    if (!origin->absolute) {
        const double f = share ? origin->fraction : 0;
        u.rest = sqrt(square((1 - f) * origin->u_rest) +
                      square(f * origin->u_hold)) /
                 slope;
    }
    return u;
}
