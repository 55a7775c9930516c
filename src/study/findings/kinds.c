/* SPDX-License-Identifier: MIT */
/* Looking up the rows of docs/findings.md. */
#include "study/findings/kinds.h"

#include <string.h>

const struct bl_finding_kind *bl_finding_kind(enum bl_finding_code code)
{
    const size_t at = (size_t)code;
    return at < BL_FINDING_FIRST_AIR
               ? &bl_finding_kinds_unit[at]
               : &bl_finding_kinds_air[at - BL_FINDING_FIRST_AIR];
}

bool bl_finding_from(const char *code, enum bl_finding_code *out)
{
    for (size_t i = 0; i < BL_FINDINGS; i++) {
        const enum bl_finding_code at = (enum bl_finding_code)i;
        if (strcmp(code, bl_finding_kind(at)->code) == 0) {
            *out = at;
            return true;
        }
    }
    return false;
}
