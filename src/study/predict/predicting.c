/* SPDX-License-Identifier: MIT */
/* Applications that the model is driven by, and what their units hold. */
#include "study/predict/predicting.h"

#include "base/number.h"

#include <math.h>

bool bl_predicting_usable(const struct predicting *p,
                          const struct bl_application *a)
{
    return a->combination == p->trial->unit[p->first].combination &&
           bl_application_usable(a);
}

double bl_level_above(const struct bl_level *hold, const struct bl_level *rest)
{
    return hold->known && rest->known && hold->quantity == BL_QUANTITY_PRESSURE
               ? hold->value - rest->value
               : NAN;
}

/* What a unit holds in an application; NaN where it did not settle. */
double bl_predicting_held(const struct bl_application *a, size_t unit)
{
    const struct bl_unit_lag *measured = bl_application_unit(a, unit);
    return measured == NULL || measured->responded != BL_YES ||
                   measured->hold_from != BL_HOLD_SETTLED
               ? NAN
               : bl_level_above(&measured->hold, &measured->rest);
}

/* Output per command in the hardest settled application. */
double bl_predicting_gain(const struct predicting *p, size_t unit)
{
    double most = 0;
    double gain = NAN;
    for (size_t a = 0; a < p->lag->applications; a++) {
        const struct bl_application *application = &p->lag->application[a];
        const double hold = bl_predicting_usable(p, application)
                                ? bl_predicting_held(application, unit)
                                : NAN;
        const double command = bl_level_above(&application->command_hold,
                                              &application->command_rest);
        if (hold > 0 && command > most) {
            most = command;
            gain = hold / command;
        }
    }
    return gain;
}

/* Hard and quick ones only: a light one hangs on opening pressures. */
bool bl_predicting_hard(const struct predicting *p,
                        const struct bl_application *a)
{
    return bl_predicting_usable(p, a) && a->shape == BL_SHAPE_STEP &&
           (a->kind == BL_KIND_FULL || a->kind == BL_KIND_SERVICE);
}
