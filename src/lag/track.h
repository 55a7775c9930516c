/* SPDX-License-Identifier: MIT */
/*
 * One input of the trial as a series on the run's time: an analog channel or
 * a bus signal, with its clock tie and what its instrument is stated to do.
 * Everything in this room works on tracks, so that it need not know which of
 * the two it has.
 */
#ifndef BRAKELAG_SRC_LAG_TRACK_H
#define BRAKELAG_SRC_LAG_TRACK_H

#include "brakelag/lag.h"
#include "signal/signal.h"

struct bl_track {
    bool present;
    enum bl_reason absent;            /* why not present */
    const struct bl_samples *samples; /* one of the two */
    const struct bl_steps *steps;
    const struct bl_clock_tie *tie;
    const struct bl_trial_channel *channel; /* NULL for bus signals */
    const struct bl_signal *signal;         /* NULL for channels */
    size_t recording;
    enum bl_quantity quantity;
    bool is_state;    /* on or off: gives edges only */
    int64_t delay_ns; /* stated, taken off every time */
    double u_delay_s; /* NaN: not stated */
    double u_stamp_s; /* of one time stamp, against others of its recorder */
    double u_phase_s; /* common to all stamps of its recorder */
    int64_t first_ns, last_ns; /* extent, run time */
    uint64_t at_range_end;
};

/* A passage of a track through a level, run time. */
struct bl_passage {
    bool found;
    int64_t time_ns; /* fitted: may lie before the window */
    int64_t seen_ns; /* where a search goes on from (signal/walk.h) */
    double slope;
    double u_noise_s, u_sampling_s, u_resolution_s;
    unsigned flags;
    uint64_t chatter;
};

/* What an input of the trial means in this run. Never fails: what cannot be
   had is absent with its reason. */
void bl_track_find(struct bl_track *track, const struct bl_trial *trial,
                   const struct bl_run_data *data,
                   const struct bl_run_clocks *clocks,
                   const struct bl_trial_input *input);
/* Wrap one series. */
void bl_track_series(struct bl_track *track, const struct bl_run_data *data,
                     const struct bl_run_clocks *clocks,
                     const struct bl_bus_series *series);

/* The last one upwards is looked for backwards from the end of the window, on
   samples only: else it is the first. */
/* Noise on what is held passes a level by itself that is not this far from it:
   when the signal left for it cannot be dated then. */
bool bl_level_stands_clear(double distance, double noise);

enum bl_way { BL_UPWARDS, BL_DOWNWARDS, BL_LAST_DOWNWARDS, BL_LAST_UPWARDS };

/* A level in the unit of the track, with the noise there and the band of it
   that a passage may fall back through (0 for values that are held). */
struct bl_level_passed {
    double level, noise, band;
};

/* First (last) lasting passage in [from, to), run time. `noise` and `band` as
   in signal.h; held values are read as `held` says. */
struct bl_passage bl_track_passage(const struct bl_track *track,
                                   enum bl_way way, int64_t from_ns,
                                   int64_t to_ns,
                                   const struct bl_level_passed *at,
                                   enum bl_held held);

/* Rest before to_ns, looking back to from_ns at most. For held values: the
   last one that stood for 0.3 s, else the one in force at to_ns. */
struct bl_rest bl_track_rest(const struct bl_track *track, int64_t from_ns,
                             int64_t to_ns);
/* Value at a time; NaN where there is none. */
double bl_track_value(const struct bl_track *track, int64_t time_ns);
struct bl_extent bl_track_extent(const struct bl_track *track, int64_t from_ns,
                                 int64_t to_ns);
/* NEAR_DAMAGE when the track's recording is damaged within 0.25 s of the
   stretch between two times, else 0. */
unsigned bl_track_damage(const struct bl_track *track, int64_t a_ns,
                         int64_t b_ns);
/* Which part of its recording a time lies in, from 0. */
size_t bl_track_part(const struct bl_track *track, int64_t time_ns);

/* Stamps of the track's recorder and the run's time, stated delay included. */
int64_t bl_track_raw(const struct bl_track *track, int64_t run_ns);
int64_t bl_track_run(const struct bl_track *track, int64_t raw_ns);

#endif
