/* SPDX-License-Identifier: MIT */
/* Made-up traces with known truth for the tests of the signal room. The noise
   comes from a generator of the tests' own. */
#ifndef BRAKELAG_TESTS_UNIT_SIGNAL_TRACE_H
#define BRAKELAG_TESTS_UNIT_SIGNAL_TRACE_H

#include "signal/signal.h"

struct noise {
    uint64_t state;
};

/* splitmix64, a published public-domain generator. */
static inline uint64_t noise_next(struct noise *noise)
{
    uint64_t z = (noise->state += 0x9e3779b97f4a7c15U);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9U;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebU;
    return z ^ (z >> 31);
}

static inline double noise_uniform(struct noise *noise)
{
    return ((double)(noise_next(noise) >> 11) + 0.5) / 9007199254740992.0;
}

static inline double noise_normal(struct noise *noise)
{
    const double radius = sqrt(-2 * log(noise_uniform(noise)));
    return radius * cos(6.283185307179586 * noise_uniform(noise));
}

/* value = rest before foot_s; then a ramp (tau_s 0) or an exponential to
   `hold`; from release_s on the same downwards. */
struct shape {
    double rest, hold, foot_s, slope, tau_s, release_s;
};

static inline double shape_rise(const struct shape *shape, double t)
{
    const double height = shape->hold - shape->rest;
    if (t <= 0) {
        return 0;
    }
    if (shape->tau_s > 0) {
        return height * (1 - exp(-t / shape->tau_s));
    }
    return fmin(shape->slope * t, height);
}

static inline double shape_value(const struct shape *shape, double t)
{
    double y = shape_rise(shape, t - shape->foot_s);
    if (t > shape->release_s) {
        y -= shape_rise(shape, t - shape->release_s);
    }
    return shape->rest + y;
}

/* When the rise (or the release, counted downwards) has done `height`. */
static inline double shape_passes(const struct shape *shape, double height)
{
    const double full = shape->hold - shape->rest;
    return shape->tau_s > 0 ? -shape->tau_s * log(1 - height / full)
                            : height / shape->slope;
}

struct trace {
    int64_t *time_ns;
    float *value;
    struct bl_samples samples;
};

static inline void trace_free(struct trace *trace)
{
    free(trace->time_ns);
    free(trace->value);
}

/* `count` samples at `rate`, the first at phase/rate. */
struct recorder {
    size_t count;
    double rate, phase; /* the first sample is at phase / rate */
    double sigma, step; /* of its noise; that it rounds to */
};

static inline void trace_make(struct trace *trace, const struct shape *shape,
                              struct recorder by, struct noise *noise)
{
    trace->time_ns = malloc(by.count * sizeof(int64_t));
    trace->value = malloc(by.count * sizeof(float));
    assert_non_null(trace->time_ns);
    assert_non_null(trace->value);
    for (size_t i = 0; i < by.count; i++) {
        const double t = ((double)i + by.phase) / by.rate;
        double y = shape_value(shape, t) + by.sigma * noise_normal(noise);
        if (by.step > 0) {
            y = by.step * floor(y / by.step + 0.5);
        }
        trace->time_ns[i] = llround(t * 1e9);
        trace->value[i] = (float)y;
    }
    memset(&trace->samples, 0, sizeof(trace->samples));
    trace->samples.time_ns = trace->time_ns;
    trace->samples.value = trace->value;
    trace->samples.count = by.count;
    trace->samples.interval_ns = llround(1e9 / by.rate);
    trace->samples.resolution = by.step;
}

/* Takes samples a..b-1 out. */
static inline void trace_cut(struct trace *trace, size_t a, size_t b)
{
    const size_t tail = trace->samples.count - b;
    memmove(trace->time_ns + a, trace->time_ns + b, tail * sizeof(int64_t));
    memmove(trace->value + a, trace->value + b, tail * sizeof(float));
    trace->samples.count -= b - a;
}

#endif
