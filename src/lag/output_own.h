/* SPDX-License-Identifier: MIT */
/* What output.c reads and output_hold.c finds the hold for. */
#ifndef BRAKELAG_SRC_LAG_OUTPUT_OWN_H
#define BRAKELAG_SRC_LAG_OUTPUT_OWN_H

#include "lag/output.h"

/* All that the figures of one output are read with. */
struct reading {
    struct bl_output_lag *lag;
    const struct bl_track *track;
    const struct bl_trial *trial;
    const struct bl_window *window;
    int64_t begin_ns, release_ns; /* of the command; release may be end */
    int64_t to_ns; /* as of the window, or before the output rose again */
    double band;
    enum bl_reason no_share; /* why no share of the hold can be passed */
    bool still_rising;       /* when the command let go */
    unsigned apply_doubt, release_doubt; /* of shares of the hold */
};

/* The output's recording, or the application's, ends before the release. */
bool bl_output_is_cut(const struct reading *r);
/* Fill hold, u_hold, hold_from and peak of r->lag, and what of the hold is in
   doubt: no_share, still_rising, apply_doubt, release_doubt. The rest must be
   there. */
void bl_output_hold(struct reading *r);

#endif
