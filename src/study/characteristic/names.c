/* SPDX-License-Identifier: MIT */
/* Names of the characteristic's closed lists. */
#include "brakelag/characteristic.h"

static const struct {
    const char *name, *sentence;
} reasons[] = {
#define X(id, name, sentence) {name, sentence},
    BL_CURVE_REASON_LIST(X)
#undef X
};

const char *bl_curve_reason_name(enum bl_curve_reason reason)
{
    return reasons[reason].name;
}

const char *bl_curve_reason_sentence(enum bl_curve_reason reason)
{
    return reasons[reason].sentence;
}

const char *bl_curve_input_name(enum bl_curve_input input)
{
    switch (input) {
    case BL_CURVE_OF_DEMAND:
        return "electronic-demand";
    case BL_CURVE_OF_CONTROL:
        return "control-pressure";
    case BL_CURVE_OF_FRONT:
        break;
    }
    return "front-demand";
}
