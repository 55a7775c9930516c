/* SPDX-License-Identifier: MIT */
/* Units that come later than a unit behind them, beyond doubt. */
#include "brakelag/lag.h"

#include "lag/summary.h"

#include <math.h>

bool bl_overtaken(struct bl_overtaken *out,
                  const struct bl_application *application, size_t index,
                  enum bl_figure_name figure)
{
    const struct bl_figure *own =
        bl_unit_figure(&application->unit[index], figure, 0);
    *out = (struct bl_overtaken){.figure = figure,
                                 .unit = application->unit[index].unit};
    for (size_t k = index + 1; own->known && k < application->units; k++) {
        const struct bl_figure *one =
            bl_unit_figure(&application->unit[k], figure, 0);
        const double by_s = own->s - one->s;
        if (one->known && by_s > 2 * hypot(own->u_s, one->u_s) &&
            by_s > out->by_s) {
            out->by_s = by_s;
            out->behind = application->unit[k].unit;
        }
    }
    return out->by_s > 0;
}
