/* SPDX-License-Identifier: MIT */
/* What the parts of reach share; inside the room only. */
#ifndef BRAKELAG_SRC_STUDY_REACH_REACH_H
#define BRAKELAG_SRC_STUDY_REACH_REACH_H

#include "brakelag/reach.h"

/* A rise and fall of a demand, s of its recording; NaN: none. */
struct bl_reach_beat {
    double rise_s, fall_s;
};

/* One run under examination. `series` and `link` go with reach->unit. */
struct bl_reaching {
    const struct bl_trial *trial;
    const struct bl_run_data *data;
    const struct bl_run_clocks *clocks;
    const struct bl_run_lag *lag; /* NULL: none */
    struct bl_reach *into;
    const struct bl_bus_series **series; /* the demand to each unit; NULL */
    const struct bl_link_id **link;      /* its identifier; NULL */
    /* Of each recording that no clock ties: its movement in each of the lag's
       applications; NULL where that is not known. */
    struct bl_reach_beat **beat;
};

/* rhythm.c */
enum bl_status bl_reach_rhythm(struct bl_reaching *r, struct bl_error *error);
void bl_reach_rhythm_finish(struct bl_reaching *r);
bool bl_reach_tied(const struct bl_reaching *r, size_t recording);
/* s of the run where a clock ties the recording, else of the recording. */
double bl_reach_local(const struct bl_reaching *r, size_t recording,
                      int64_t raw_ns);

/* Height above its rest from which a demand counts as arrived, kPa. */
double bl_reach_level(const struct bl_reaching *r, size_t k);
/* May times of two recordings be subtracted, and with what uncertainty? */
bool bl_reach_related(const struct bl_reaching *r, size_t a, size_t b,
                      double *u_s);
/* edges.c: the value that series s has held for three intervals at a time of
   the run; NaN: none. */
double bl_reach_settled_at(const struct bl_reaching *r,
                           const struct bl_bus_series *s, double at_s);
/* The value that the demand to unit k held longest in an application, for three
   intervals at least; NaN: none. */
double bl_reach_held_in(const struct bl_reaching *r, size_t k, size_t index);
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
const struct bl_link_id *bl_reach_link_of(const struct bl_reaching *r,
                                          const struct bl_bus_series *series);
void bl_reach_find(struct bl_reaching *r);
enum bl_status bl_reach_frames(struct bl_reaching *r, size_t k,
                               struct bl_error *error);
/* edges.c */
enum bl_status bl_reach_values(struct bl_reaching *r, struct bl_error *error);
/* senders.c: all who send a demand. */
enum bl_status bl_reach_senders(struct bl_reaching *r, struct bl_error *error);
/* The second sender of a demand to the unit on its link; NULL. */
const struct bl_bus_series *bl_reach_second(const struct bl_reaching *r,
                                            size_t k);
/* moves.c: does an application plainly ask for braking? */
bool bl_reach_plain(const struct bl_application *a, double level_kpa);
/* From its apply to its release (INFINITY: not seen), as bl_reach_local of unit
   k's recording; false: not known there. */
bool bl_reach_span(const struct bl_reaching *r, size_t k, size_t index,
                   double *apply_s, double *release_s);
/* Does the demand rise and fall in application `a`? */
void bl_reach_move(const struct bl_reaching *r, size_t k, size_t a,
                   struct bl_reach_count *into);
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
/* From the claims alone. */
void bl_reach_conclude(struct bl_reach_unit *unit);
/* A claim's answer. A no stays; its reason goes to the unit's `why`, too.
 */
void bl_reach_claim(struct bl_reach_unit *unit, enum bl_reach_claim claim,
                    enum bl_answer answer, const char *format, ...)
    BL_PRINTF(4, 5);
/* by_order.c: the demand to unit k is in a recording without times; what is
   claimed from order alone; and figures that nobody knows then. */
bool bl_reach_untimed(const struct bl_reaching *r, size_t k);
void bl_reach_arrives_by_order(struct bl_reaching *r, size_t k);
void bl_reach_unchanged_by_order(struct bl_reaching *r, size_t first, size_t k);
void bl_reach_without_times(struct bl_reaching *r, size_t k);
/* arrives.c, unchanged.c, rate.c, acted.c: one claim or two each. */
void bl_reach_judge_arrives(struct bl_reaching *r, size_t k);
void bl_reach_judge_unchanged(struct bl_reaching *r, size_t k);
void bl_reach_judge_rate(struct bl_reaching *r, size_t k);
void bl_reach_judge_time(struct bl_reaching *r, size_t k);
void bl_reach_judge_acted(struct bl_reaching *r, size_t k);
/* Has the demand in front a defect from which this one follows? */
bool bl_reach_front_spoilt(const struct bl_reaching *r, size_t k);
/* Are addresses further in front out of order? */
bool bl_reach_order_upset(const struct bl_reaching *r, size_t k);
/* Is it the series that a unit further in front has too? What it lacks is named
   there. */
bool bl_reach_heard_in_front(const struct bl_reaching *r, size_t k);
/* Does the towing vehicle itself send it, so that nobody hands it on? */
bool bl_reach_from_towing(const struct bl_reaching *r, size_t k);
/* "1, 2 and 5 to 9": the applications of unit k for which `is_one` holds. */
typedef bool (*bl_reach_test)(const struct bl_reach_count *count);
size_t bl_reach_numbers(const struct bl_reach_unit *unit, bl_reach_test is_one,
                        char text[BL_REACH_TEXT]);
/* talk.c: what units and recorders themselves did. */
void bl_reach_judge_talk(struct bl_reaching *r);
/* The unit's address: as the trial says, else as taken from its link; -1. */
int bl_reach_address(const struct bl_reaching *r, size_t unit);
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
enum { BL_REACH_LABEL = BL_UNIT_CALLED };
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
