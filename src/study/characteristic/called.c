/* SPDX-License-Identifier: MIT */
/* Which characteristic the messages that a unit saw call for, beside the curve
   that it followed. */
#include "brakelag/reach.h"
#include "study/characteristic/curve.h"

#include <string.h>

bool bl_called_for(struct bl_called *out, const struct bl_trial *trial,
                   const struct bl_characteristics *curves, size_t index,
                   const struct bl_reach *reach)
{
    const struct bl_characteristic *curve = &curves->item[index];
    /* Nothing can be called for where the trial names nothing to choose. */
    for (size_t k = 0; trial->characteristics > 0 && k < reach->units; k++) {
        const struct bl_reach_unit *unit = &reach->unit[k];
        if (unit->unit == curve->unit && unit->called_known) {
            *out = (struct bl_called){
                .name = unit->called,
                .saw = unit->towing_kind,
                .followed =
                    unit->called == NULL
                        ? BL_UNKNOWN
                        : bl_characteristic_follows(curve, unit->called, NULL)};
            return true;
        }
    }
    return false;
}
