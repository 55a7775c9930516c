/* SPDX-License-Identifier: MIT */
/* What the parts of reach share; inside the room only. */
#ifndef BRAKELAG_SRC_STUDY_REACH_REACH_H
#define BRAKELAG_SRC_STUDY_REACH_REACH_H

#include "brakelag/reach.h"

/* One run under examination. `series` and `link` go with reach->unit. */
struct bl_reaching {
    const struct bl_trial *trial;
    const struct bl_run_data *data;
    const struct bl_run_clocks *clocks;
    const struct bl_run_lag *lag; /* NULL: none */
    struct bl_reach *into;
    const struct bl_bus_series **series; /* the demand to each unit; NULL */
    const struct bl_link_id **link;      /* its identifier; NULL */
};

/* s after the run's t0; NaN where the recording's clock is untied. */
double bl_reach_time(const struct bl_reaching *r, size_t recording,
                     int64_t raw_ns);
/* Is the recording damaged inside this gap? Then nobody knows what was sent. */
bool bl_reach_damaged(const struct bl_reaching *r, size_t recording,
                      const struct bl_link_gap *gap);
/* Application number at a time after t0 within combination; 0: none. */
int bl_reach_application(const struct bl_reaching *r, char combination,
                         double from_s, double until_s);

/* hop.c: the demand to each unit, and what its frames do. */
void bl_reach_find(struct bl_reaching *r);
enum bl_status bl_reach_frames(struct bl_reaching *r, size_t k,
                               struct bl_error *error);
/* edges.c */
enum bl_status bl_reach_values(struct bl_reaching *r, struct bl_error *error);
/* frames.c: frames of each application. */
enum bl_status bl_reach_count(struct bl_reaching *r, size_t k,
                              struct bl_error *error);
/* status.c */
enum bl_status bl_reach_statuses(struct bl_reaching *r, size_t k,
                                 struct bl_error *error);
/* follow.c */
enum bl_status bl_reach_follow(struct bl_reaching *r, size_t k,
                               struct bl_error *error);
/* called.c */
void bl_reach_called(struct bl_reaching *r, size_t k);
/* verdict.c */
void bl_reach_judge(struct bl_reaching *r);
/* talk.c: what units and recorders themselves did. */
void bl_reach_judge_talk(struct bl_reaching *r);
/* Does the identifier belong to the unit? False too where neither tells an
   address. */
bool bl_reach_of_unit(const struct bl_reaching *r, const struct bl_link_id *l,
                      size_t unit);
/* Is it on the bus that the trial gives for the unit? */
bool bl_reach_on_link(const struct bl_reaching *r, const struct bl_link_id *l,
                      size_t unit);
/* When the unit falls silent on its link for good while that goes on for
 *length_s; NaN: it does not. */
double bl_reach_silent_from(const struct bl_reaching *r, size_t unit,
                            double *length_s);
/* Does the unit send anything, on any bus? 1 yes, 0 no, -1 cannot tell: its
   address is not known. */
int bl_reach_speaks(const struct bl_reaching *r, size_t unit);
/* An address of no unit that speaks on this unit's links, where it should; -1:
   there is none, or more than one. */
int bl_reach_stranger(const struct bl_reaching *r, size_t unit);
/* Does any towed unit send more than the demand it hands on? Then one that
   sends nothing is silent; else it may have nothing to say. */
bool bl_reach_any_tells(const struct bl_reaching *r);
bool bl_reach_any_demand(const struct bl_reaching *r);

/* A new finding of this run about a unit (-1: none); NULL: no memory. */
struct bl_finding *bl_reach_found(struct bl_reaching *r,
                                  enum bl_finding_code code, long unit);
enum { BL_REACH_LABEL = 32 };
const char *bl_reach_label(const struct bl_reaching *r, size_t unit,
                           char text[BL_REACH_LABEL]);

/* The reach entry of the unit in front, or NULL. */
struct bl_reach_unit *bl_reach_front(const struct bl_reaching *r, size_t k);
/* The first hop of the unit's combination that was found; NULL. */
struct bl_reach_unit *bl_reach_first(const struct bl_reaching *r, size_t k,
                                     size_t *index);
void bl_reach_why(struct bl_reach_unit *unit, const char *format, ...)
    BL_PRINTF(2, 3);

#endif
