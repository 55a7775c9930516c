/* SPDX-License-Identifier: MIT */
/* The rows of docs/findings.md, in the order of BL_FINDING_LIST: those of
   demand and unit, then those of air and measuring. */
#ifndef BRAKELAG_SRC_STUDY_FINDINGS_KINDS_H
#define BRAKELAG_SRC_STUDY_FINDINGS_KINDS_H

#include "brakelag/findings.h"

enum { BL_FINDING_FIRST_AIR = BL_FINDING_CONTROL_LATE_APPLY };

extern const struct bl_finding_kind bl_finding_kinds_unit[];
extern const struct bl_finding_kind bl_finding_kinds_air[];

/* Behind each table: as many rows as the list has codes. */
#define BL_FINDING_ROWS(table, codes)                                          \
    _Static_assert(sizeof(table) / sizeof((table)[0]) == (codes),              \
                   "a code of BL_FINDING_LIST has no row here, or a row no "   \
                   "code")

#endif
