/* SPDX-License-Identifier: MIT */
/*
 * Ready or not, after one application at the yard: is everything wired, does
 * it move, are zeros, rates and clocks fit for the figures that the trial is
 * to give. docs/methods/check.md has every item and its bound.
 */
#ifndef BRAKELAG_CHECK_H
#define BRAKELAG_CHECK_H

#include "brakelag/lag.h"

enum bl_check_state {
    BL_CHECK_GOOD,
    BL_CHECK_CAUTION,    /* figures come, but less sure than they could be */
    BL_CHECK_NOT_READY,  /* some figure would be missing or wrong */
    BL_CHECK_CANNOT_TELL /* not enough was recorded to say */
};
BL_API const char *bl_check_state_name(enum bl_check_state state);

struct bl_check_item {
    const char *code; /* what was looked at; static text */
    enum bl_check_state state;
    char text[BL_NOTE_TEXT_MAX]; /* what was found */
    const char *next;            /* what to do; "" when good; static text */
};

struct bl_check {
    size_t run;
    bool ready; /* no item is NOT_READY or CANNOT_TELL */
    struct bl_check_item *item;
    size_t items, capacity;
};

/* `clocks` and `lag` may be NULL where they could not be made; that is an item
   too. Errors: NOMEM. */
BL_API BL_MUST_CHECK enum bl_status
bl_check_run(struct bl_check **out, const struct bl_trial *trial,
             const struct bl_run_data *data, const struct bl_run_clocks *clocks,
             const struct bl_run_lag *lag, struct bl_error *error);
/* The check of a run of which nothing could be read, for the reason `why`.
   Errors: NOMEM. */
BL_API BL_MUST_CHECK enum bl_status bl_check_unread(struct bl_check **out,
                                                    size_t run,
                                                    const struct bl_error *why,
                                                    struct bl_error *error);
BL_API void bl_check_destroy(struct bl_check *check);

#endif
