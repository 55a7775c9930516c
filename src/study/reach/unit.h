/* SPDX-License-Identifier: MIT */
#ifndef BRAKELAG_SRC_STUDY_REACH_UNIT_H
#define BRAKELAG_SRC_STUDY_REACH_UNIT_H

#include "brakelag/reach.h"

/* The demand's way to a unit of the trial; NULL: it was not looked for. `reach`
   may be NULL. */
static inline const struct bl_reach_unit *
bl_reach_unit_of(const struct bl_reach *reach, size_t unit)
{
    for (size_t k = 0; reach != NULL && k < reach->units; k++) {
        if (reach->unit[k].unit == unit) {
            return &reach->unit[k];
        }
    }
    return NULL;
}

#endif
