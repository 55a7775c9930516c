/* SPDX-License-Identifier: MIT */
/*
 * How well the stated uncertainty of a passage covers its error, over many
 * seeds: 95.45 % of normal errors lie within k = 2 (JCGM 100:2008, table G.1).
 */
#ifndef BRAKELAG_TESTS_UNIT_SIGNAL_SWEEP_H
#define BRAKELAG_TESTS_UNIT_SIGNAL_SWEEP_H

#include "trace.h"

enum passage { RISING, FALLING, LAST_FALLING };

struct sweep {
    double slope, sigma, rate, step;
    bool exponential;
    enum passage passage;
};

struct sweep_result {
    unsigned runs, missed, covered, apart;
    double bias_ms, sd_ms, u_ms, ratio;
};

static inline struct bl_crossing sweep_one(const struct sweep *sweep,
                                           const struct bl_samples *samples,
                                           double level)
{
    const double sigma = fmax(sweep->sigma, sweep->step / sqrt(12));
    const double band = fmax(5 * sigma, 3 * sweep->step);
    const int64_t end = samples->time_ns[samples->count - 1] + 1;
    switch (sweep->passage) {
    case FALLING:
        return bl_falling(samples, 0, end, level, sigma, band);
    case LAST_FALLING:
        return bl_last_falling(samples, 0, end, level, sigma, band);
    case RISING:
    default:
        return bl_rising(samples, 0, end, level, sigma, band);
    }
}

static inline struct sweep_result sweep_run(const struct sweep *sweep,
                                            unsigned runs, uint64_t seed)
{
    struct sweep_result result = {.runs = runs};
    struct noise noise = {seed};
    double sum = 0;
    double squares = 0;
    double u_squares = 0;
    double ratio = 0;
    for (unsigned i = 0; i < runs; i++) {
        const bool up = sweep->passage == RISING;
        const double height = 20 + 60 * noise_uniform(&noise);
        struct shape shape = {.rest = 3 + noise_uniform(&noise),
                              .hold = 604,
                              .slope = sweep->slope};
        if (sweep->exponential) {
            shape.tau_s = (up ? 600 - height : height) / sweep->slope;
        }
        /* Only what matters is made: around the rise, or the release. The
           rise before a release is long over. */
        shape.foot_s = up ? 0.3 + noise_uniform(&noise) * 0.05 : -1e6;
        shape.release_s = up ? 1e6 : 0.3 + noise_uniform(&noise) * 0.05;
        const double full = shape.hold - shape.rest;
        const double truth =
            up ? shape.foot_s + shape_passes(&shape, height)
               : shape.release_s + shape_passes(&shape, full - height);
        const double from = fmax(0, truth - 2);
        const double to = truth + fmax(0.3, 30 / sweep->slope);
        struct shape moved = shape;
        moved.foot_s -= from;
        moved.release_s -= from;
        struct trace trace;
        trace_make(&trace, &moved,
                   (struct recorder){(size_t)((to - from) * sweep->rate),
                                     sweep->rate, noise_uniform(&noise),
                                     sweep->sigma, sweep->step},
                   &noise);
        const struct bl_crossing crossing =
            sweep_one(sweep, &trace.samples, shape.rest + height);
        trace_free(&trace);
        if (!crossing.found) {
            result.missed++;
            continue;
        }
        const double error = (double)crossing.time_ns * 1e-9 - (truth - from);
        const double u = hypot(hypot(crossing.u_noise_s, crossing.u_sampling_s),
                               crossing.u_resolution_s);
        sum += error;
        squares += error * error;
        u_squares += u * u;
        ratio += error * error / (u * u);
        result.covered += fabs(error) <= 2 * u;
        result.apart += fabs(error) > 4 * u;
    }
    const double n = runs - result.missed;
    result.bias_ms = 1e3 * sum / n;
    result.sd_ms = 1e3 * sqrt(squares / n - (sum / n) * (sum / n));
    result.u_ms = 1e3 * sqrt(u_squares / n);
    result.ratio = sqrt(ratio / n);
    return result;
}

static inline void sweep_print(const struct sweep *sweep,
                               const struct sweep_result *r)
{
    print_message(
        "%5g kPa/s %-5s %3g kPa %5g Hz step %3g %s: bias %8.4f sd "
        "%8.4f u %8.4f ms, k=2 covers %5.1f %% (ratio %.3f), beyond 4u %u, "
        "missed %u\n",
        sweep->slope, sweep->exponential ? "exp" : "ramp", sweep->sigma,
        sweep->rate, sweep->step,
        sweep->passage == RISING    ? "rise"
        : sweep->passage == FALLING ? "fall"
                                    : "last",
        r->bias_ms, r->sd_ms, r->u_ms,
        100.0 * r->covered / (r->runs - r->missed), r->ratio, r->apart,
        r->missed);
}

#endif
