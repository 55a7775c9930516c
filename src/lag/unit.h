/* SPDX-License-Identifier: MIT */
/*
 * From the outputs of one unit to the unit's figures: least favourable output,
 * taken against the command, with clock claim and full uncertainty.
 */
#ifndef BRAKELAG_SRC_LAG_UNIT_H
#define BRAKELAG_SRC_LAG_UNIT_H

#include "lag/output.h"

/* A unit's tracks in one run, found once. */
struct bl_unit_tracks {
    size_t unit;
    struct bl_track *output;
    size_t outputs;
    struct bl_output_past *past; /* one per output */
    struct bl_output_lag *lag;   /* scratch, one per output */
    struct bl_track control, reservoir, voltage;
    struct bl_track demand; /* electronic demand sent to this unit */
    double demand_level;    /* in the demand's unit */
    struct bl_track report; /* the unit's word that it brakes */
    bool towed;
    struct bl_time_point demand_point; /* of the application at hand */
};

/* Times of the response kept for stagger: on the run's time. */
struct bl_response_time {
    struct bl_time_point point;
    const struct bl_track *track;
    enum bl_reason trip; /* TRIP_UNKNOWN for switches without trip points */
};

void bl_unit_measure(struct bl_unit_lag *out, struct bl_response_time *response,
                     struct bl_unit_tracks *tracks,
                     const struct bl_track *command,
                     const struct bl_trial *trial,
                     const struct bl_window *window);

/* reservoir_least and voltage_least. */
void bl_supply_measure(struct bl_unit_lag *out,
                       const struct bl_unit_tracks *tracks,
                       const struct bl_window *window);

/* Legs of the unit's path; `first`: tracks of the first towed unit, whose link
   the towing unit sends on. After bl_unit_measure of both. */
void bl_path_measure(struct bl_unit_lag *out,
                     const struct bl_response_time *response,
                     const struct bl_unit_tracks *tracks,
                     const struct bl_unit_tracks *first,
                     const struct bl_track *command,
                     const struct bl_window *window);

/* What the unit followed. After bl_unit_measure. */
void bl_follow_measure(struct bl_unit_lag *out,
                       const struct bl_response_time *response,
                       const struct bl_unit_tracks *tracks,
                       const struct bl_trial *trial,
                       const struct bl_window *window);

/* Stagger of each unit and spread, from the kept response times. */
void bl_application_stagger(struct bl_application *application,
                            const struct bl_response_time *response);

/* A time point against the command's passage; null with its reason where the
   point is not known or the clocks do not allow it. */
struct bl_figure bl_lag_figure(const struct bl_time_point *point,
                               const struct bl_track *track,
                               const struct bl_track *command,
                               const struct bl_command_event *e, bool release);

/* level.c: a value of a track with what its instrument is stated to do; `u` is
   that of reading it. */
struct bl_level bl_lag_level(const struct bl_track *track, bool known,
                             double value, double u);

/* The command's own uncertainty: passage `p` at `origin`. */
struct bl_uncertainty bl_command_uncertainty(const struct bl_track *command,
                                             const struct bl_command_event *e,
                                             bool release);

/* Why nothing of the two may be compared with each other in time: their clocks
   were never tied, or in more than one way. NONE: it may. */
enum bl_reason bl_clock_refuses(const struct bl_track *a,
                                const struct bl_track *b);
/* May a figure between two tracks be given, and under which flag? NONE if so.
 */
enum bl_reason bl_clock_allows(const struct bl_track *a,
                               const struct bl_track *b, int64_t a_ns,
                               int64_t b_ns);
/* Uncertainty that the ties add to a difference of times of two tracks; of one
   recorder: that of its rate. */
double bl_clock_between(const struct bl_track *a, const struct bl_track *b,
                        int64_t a_ns, int64_t b_ns);

#endif
