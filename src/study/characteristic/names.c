/* SPDX-License-Identifier: MIT */
/* Names of the characteristic's closed lists, and the published loss. */
#include "brakelag/characteristic.h"

#include <math.h>

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

double bl_published_loss(double front_kpa, bool *from_memory)
{
    /* 49 CFR 571.121 S5.3.5: 1 psi for 5 to 20 psi, 2 psi for 20 to 40 psi;
       5 % above that from memory. */
    const double psi = 6.894757;
    *from_memory = front_kpa > 40 * psi;
    if (!(front_kpa >= 5 * psi)) {
        return NAN;
    }
    if (front_kpa < 20 * psi) {
        return psi;
    }
    return *from_memory ? 0.05 * front_kpa : 2 * psi;
}
