/* SPDX-License-Identifier: MIT */
/* Ties found from the recordings themselves. */
#ifndef BRAKELAG_SRC_CLOCK_AUTO_H
#define BRAKELAG_SRC_CLOCK_AUTO_H

#include "clock/sources.h"

/* One run being tied. */
struct tying {
    const struct bl_trial *trial;
    const struct bl_run_data *data;
    struct bl_run_clocks *clocks;
    struct sources sources;
    size_t reference; /* index of the recording whose clock is the run's */
    struct bl_error *error;
};

const char *bl_tying_name(const struct tying *t, size_t recording);
/* The best usable pair of series of `recording` and the reference. What does
   not tie gets claim NONE or AMBIGUOUS and a note. Errors: NOMEM. */
enum bl_status bl_tie_auto(struct tying *t, size_t recording);
/* The channel and the signal that the trial names. */
enum bl_status bl_tie_sync(struct tying *t, size_t recording,
                           const struct bl_trial_clock *clock);
/* A tie that changes nothing: the recording's own time is the run's. */
struct bl_clock_tie bl_clock_own(void);

#endif
