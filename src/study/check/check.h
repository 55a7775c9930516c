/* SPDX-License-Identifier: MIT */
/* What the parts of check share; inside the room only. */
#ifndef BRAKELAG_SRC_STUDY_CHECK_CHECK_H
#define BRAKELAG_SRC_STUDY_CHECK_CHECK_H

#include "brakelag/check.h"
#include "brakelag/reach.h"
#include "lag/application.h"

struct bl_checking {
    struct bl_check *into;
    const struct bl_trial *trial;
    const struct bl_run_data *data;
    const struct bl_run_clocks *clocks;
    const struct bl_run_lag *lag;
    const struct bl_reach *reach; /* the same answer as everywhere; NULL */
    bool failed;                  /* out of memory */
};

/* One more item; `next` is static text. */
void bl_check_add(struct bl_checking *c, const char *code,
                  enum bl_check_state state, const char *next,
                  const char *format, ...) BL_PRINTF(5, 6);

void bl_check_channels(struct bl_checking *c);
void bl_check_units(struct bl_checking *c);
void bl_check_demand(struct bl_checking *c);
/* Does the run have a capture at all? */
bool bl_check_captured(const struct bl_checking *c);
/* runs.c: enough of them to compare conditions? */
void bl_check_runs(struct bl_checking *checking);

#endif
