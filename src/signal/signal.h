/* SPDX-License-Identifier: MIT */
/*
 * What can be read from one series: rest and noise, level crossings, the foot
 * of a rise, switch edges, holds. Pure functions over arrays; definitions in
 * docs/methods/figures.md. All windows are half open: from <= t < to.
 */
#ifndef BRAKELAG_SRC_SIGNAL_SIGNAL_H
#define BRAKELAG_SRC_SIGNAL_SIGNAL_H

#include "brakelag/series.h"

/* Index of the first sample at or after time_ns (count if none). */
size_t bl_samples_at(const struct bl_samples *samples, int64_t time_ns);
/* Value by linear interpolation; NaN in a gap of more than 3 intervals, at a
   missing cell, across damage or a part, or outside. */
double bl_samples_value(const struct bl_samples *samples, int64_t time_ns);
/* Is anything of a recording damaged between two stamps? */
bool bl_damage_between(const struct bl_damage *damage, size_t damages,
                       int64_t from_ns, int64_t to_ns);
/* Do [from, to) touch more than one part? */
bool bl_samples_split(const struct bl_samples *samples, int64_t from_ns,
                      int64_t to_ns);
/* Is there a gap, damage or a jump of the clock between a sample or segment
   and the one before, so that no line may be drawn across? */
bool bl_samples_break(const struct bl_samples *samples, size_t index);
bool bl_steps_break(const struct bl_steps *steps, size_t index);
/* Extremes and median of the samples in a window; known is false for none. */
struct bl_extent {
    bool known;
    double smallest, largest, median;
    int64_t smallest_ns, largest_ns;
    size_t count;
};
struct bl_extent bl_samples_extent(const struct bl_samples *samples,
                                   int64_t from_ns, int64_t to_ns);

/* A quiet stretch: its median, its noise (1.4826 MAD, not below
   resolution / sqrt 12) and the standard uncertainty of the median. */
struct bl_rest {
    bool known;
    double value, noise, u;
    int64_t from_ns, to_ns;
    size_t count;
};
/*
 * The latest quiet stretch that ends at or before to_ns and lies in
 * [from_ns, to_ns): at least `least_ns` long and 8 samples, level (the medians
 * of its quarters and of its last samples differ by less than 2 of the noise
 * inside the quarters, or than `tolerance`). Stretches of up to `most_ns` are
 * used; none spans two parts. Nothing quiet: known is false.
 */
struct bl_rest bl_rest_before(const struct bl_samples *samples, int64_t from_ns,
                              int64_t to_ns, int64_t least_ns, int64_t most_ns,
                              double tolerance);

/* A passage through a level. Times of uncertainty in seconds, standard. */
struct bl_crossing {
    bool found;
    int64_t time_ns;  /* fitted: may lie before the window */
    int64_t seen_ns;  /* stamp of the first sample beyond, in the window */
    double slope;     /* of the signal there, per second, local robust fit */
    double u_noise_s; /* noise over slope, as the interpolation passes it on */
    double u_sampling_s; /* what interpolation cannot know: gaps, midpoints */
    double u_resolution_s;
    unsigned flags; /* enum bl_flag: IN_GAP, HELD_VALUE, STAIR_STEPS */
};
/*
 * First lasting passage upwards (downwards) through `level` in the window: the
 * signal is below before (or at the start of the window), and does not go back
 * by more than `band` within the next 20 ms (or 3 samples, if longer). Linear
 * interpolation between the two samples; across a gap of more than 3 intervals
 * the midpoint with u = width / sqrt 12 and IN_GAP; stair-step channels the
 * midpoint of the step with STAIR_STEPS. `noise` is the standard deviation of
 * one sample.
 */
struct bl_crossing bl_rising(const struct bl_samples *samples, int64_t from_ns,
                             int64_t to_ns, double level, double noise,
                             double band);
struct bl_crossing bl_falling(const struct bl_samples *samples, int64_t from_ns,
                              int64_t to_ns, double level, double noise,
                              double band);
/* Last passage downwards (upwards) in the window: after it the signal stays
   below (above). */
struct bl_crossing bl_last_falling(const struct bl_samples *samples,
                                   int64_t from_ns, int64_t to_ns, double level,
                                   double noise, double band);
struct bl_crossing bl_last_rising(const struct bl_samples *samples,
                                  int64_t from_ns, int64_t to_ns, double level,
                                  double noise, double band);

/*
 * The same on held values. As a command: the first frame at or beyond the
 * level, u_sampling 0. As an output, and across damage: the midpoint between
 * the previous frame and that one, u = width / sqrt 12. Values that are not
 * VALID are passed over (the gap widens).
 */
enum bl_held { BL_HELD_COMMAND, BL_HELD_OUTPUT };
struct bl_crossing bl_steps_rising(const struct bl_steps *steps,
                                   int64_t from_ns, int64_t to_ns, double level,
                                   enum bl_held as);
struct bl_crossing bl_steps_falling(const struct bl_steps *steps,
                                    int64_t from_ns, int64_t to_ns,
                                    double level, enum bl_held as);
/* Segment in force at time_ns (first_ns <= t); NULL before the first. */
const struct bl_segment *bl_steps_at(const struct bl_steps *steps,
                                     int64_t time_ns);

/* A switch channel (0 and 1): debounced edges in the window. An edge counts
   when the new state lasts `steady_ns`; shorter flips are chatter and the edge
   is dated to the first flip. Midpoint between samples, u = width / sqrt 12. */
struct bl_edge {
    bool found;
    int64_t time_ns;
    int64_t seen_ns; /* stamp of the sample with which it had lasted */
    double u_sampling_s;
    uint64_t chatter; /* flips beyond the first of this edge */
    unsigned flags;
};
struct bl_edge bl_switch_edge(const struct bl_samples *samples, int64_t from_ns,
                              int64_t to_ns, bool to_on, int64_t steady_ns);

/*
 * Onset of a rise: the last moment before the signal is 1 kPa above rest, from
 * all curves that fit the beginning of the rise, on the way to the first
 * passage of rest + 0.5 (hold - rest). u_fit_s holds noise and what is not
 * known of the curve. Not later than latest_ns (INT64_MAX: no bound), where a
 * higher level was passed.
 */
struct bl_foot {
    bool found;
    int64_t time_ns;
    double u_fit_s;
    double u_model_s; /* gap or stair-steps */
    double u_s;       /* both */
    unsigned flags;   /* IN_GAP: the midpoint of the gap is given */
};
struct bl_foot bl_rise_foot(const struct bl_samples *samples, int64_t from_ns,
                            int64_t to_ns, const struct bl_rest *rest,
                            double hold, int64_t latest_ns);

/* A settled hold in the window: longest stretch of at least 0.5 s with a slope
   under 1 % of (median - rest) per second. Median, u of the median. */
struct bl_hold {
    bool settled;
    double value, u;
    int64_t from_ns, to_ns;
};
struct bl_hold bl_hold_settled(const struct bl_samples *samples,
                               int64_t from_ns, int64_t to_ns, double rest,
                               double noise);

#endif
