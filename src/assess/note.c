/* SPDX-License-Identifier: MIT */
/* What one part failed for, beside those that were made all the same. */
#include "assess/assess.h"

enum bl_status bl_assess_note(struct bl_error *first, enum bl_status status,
                              const struct bl_error *why)
{
    if (status != BL_OK && first->status == BL_OK) {
        *first = *why;
        first->status = status;
    }
    return status == BL_NOMEM ? BL_NOMEM : BL_OK;
}
