/* SPDX-License-Identifier: MIT */
/* Looking up the rows of docs/findings.md. */
#include "study/findings/kinds.h"

const struct bl_finding_kind *bl_finding_kind(enum bl_finding_code code)
{
    const size_t at = (size_t)code;
    return at < BL_FINDING_FIRST_AIR
               ? &bl_finding_kinds_unit[at]
               : &bl_finding_kinds_air[at - BL_FINDING_FIRST_AIR];
}
