/* SPDX-License-Identifier: MIT */
/* Events of one series, for pairing with those of another recorder. */
#ifndef BRAKELAG_SRC_CLOCK_EVENTS_H
#define BRAKELAG_SRC_CLOCK_EVENTS_H

#include "brakelag/series.h"

/* Raw stamps, ascending. Zero-initialise; finish frees. */
struct bl_event_list {
    int64_t *time_ns;
    size_t count, capacity;
    int64_t *off_ns; /* ends of these events, where they are sure enough */
    size_t offs, off_capacity;
    double u_s;       /* usual uncertainty of one event by sampling */
    double rise_s;    /* mean time from rest to the level, by the slope there;
                         0 where there is no slope */
    size_t uncertain; /* left out: they fell into a gap */
    bool cut;         /* more than BL_LIMIT_CLOCK_EVENTS: the first ones */
};

/* Each: the first part of the recording only, since a clock that jumped is
   another clock. Moves upwards measure; the way back of air is slow and differs
   from the way back of a pedal, and only tells which event is which (signed.h).
   Errors: NOMEM. */
enum bl_status bl_events_switch(struct bl_event_list *list,
                                const struct bl_samples *samples);
/* Through rest + level; rest is the middle of the low end of all samples. */
enum bl_status bl_events_rising(struct bl_event_list *list,
                                const struct bl_samples *samples, double level);
/* Through lowest value + level; the middle between the frame before and the
   frame that says so, which takes off half the sending interval. */
enum bl_status bl_events_steps(struct bl_event_list *list,
                               const struct bl_steps *steps, double level);
void bl_events_finish(struct bl_event_list *list);

#endif
