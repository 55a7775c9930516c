/* SPDX-License-Identifier: MIT */
/* What output.c reads; output_rest.c and output_hold.c find rest and hold. */
#ifndef BRAKELAG_SRC_LAG_OUTPUT_OWN_H
#define BRAKELAG_SRC_LAG_OUTPUT_OWN_H

#include "lag/budget.h"
#include "lag/output.h"

/* All that the figures of one output are read with. */
struct reading {
    struct bl_output_lag *lag;
    const struct bl_track *track;
    const struct bl_trial *trial;
    const struct bl_window *window;
    int64_t begin_ns, release_ns; /* of the command; release may be end */
    int64_t to_ns; /* as of the window, or before the output rose again */
    int64_t rises_from_ns; /* where its rise is looked for */
    double band;
    enum bl_reason no_share; /* why no share of the hold can be passed */
    bool still_rising;       /* when the command let go */
    unsigned apply_doubt, release_doubt; /* of shares of the hold */
};

/* The output's recording, or the application's, ends before the release. */
bool bl_output_is_cut(const struct reading *r);
/* The rest before; else the earlier one; else, begun before the recording,
   the one after. Fills r->lag->rest and may flag r->lag; false: there is none.
   */
bool bl_output_find_rest(struct reading *r, struct bl_output_past *past);
/* From where on a rise may answer this press: a little before the command, as
   clocks may differ, but not where it may answer the press before. */
int64_t bl_output_rises_from(const struct reading *r,
                             const struct bl_output_past *past);
/* Not vented, does it stand above the response as the command begins? The rest
   must be there. */
bool bl_output_stands(const struct reading *r);
/* Was the level passed downwards after the release and before `p`, which is
   upwards? Then the output stood above it all the while, and noise passed it in
   the fall. */
bool bl_output_fell_first(const struct reading *r, const struct bl_passage *p,
                          const struct bl_level_origin *origin);
/* Fill hold, u_hold, hold_from and peak of r->lag, and what of the hold is in
   doubt: no_share, still_rising, apply_doubt, release_doubt. The rest must be
   there. */
void bl_output_hold(struct reading *r);

#endif
