/* SPDX-License-Identifier: MIT */
/*
 * What the control line to a unit may take beside the lines to other units: by
 * its length, by what hangs behind it until the next valve, and by whether
 * units in it pass the air straight through. What a piece of pipe delays is its
 * resistance times all the volume that is filled through it (the mean delay of
 * resistances and volumes one behind the other). Sound, valves and a flow that
 * saturates make it less than that, down to what goes with the length: the
 * root. Where nobody says whether units pass the air straight through, the two
 * views are that they all do and that none does.
 */
#include "study/causes/traits/traits.h"

#include "study/predict/inputs.h"

#include <math.h>

static double stated_m(const struct bl_trial_unit *unit)
{
    return isnan(unit->pipe_m) && unit->length_m > 0
               ? BL_PIPE_PER_METRE * unit->length_m
               : unit->pipe_m;
}

bool bl_line_lengths(const struct bl_trial *trial, size_t unit)
{
    for (size_t u = 0; u < trial->units; u++) {
        if (trial->unit[u].combination == trial->unit[unit].combination &&
            trial->unit[u].number > 0 && !(stated_m(&trial->unit[u]) > 0)) {
            return false;
        }
    }
    return true;
}

/* The unit behind; -1: it is the last. */
static long behind(const struct bl_trial *trial, size_t unit)
{
    return bl_trial_unit_index(trial, trial->unit[unit].combination,
                               trial->unit[unit].number + 1);
}

/* Does the line go on behind the unit without a valve, or where that is not
   known as `otherwise` says? */
static bool goes_on(const struct bl_trial *trial, size_t unit,
                    enum bl_control_line otherwise)
{
    const enum bl_control_line line = bl_trial_unit_control_line(trial, unit);
    return trial->unit[unit].number > 0 && behind(trial, unit) >= 0 &&
           (line == BL_CONTROL_LINE_UNKNOWN ? otherwise : line) ==
               BL_CONTROL_LINE_THROUGH;
}

static double weight(const struct bl_trial *trial, size_t unit,
                     enum bl_control_line otherwise)
{
    const bool stated = bl_line_lengths(trial, unit);
    const double own = stated ? stated_m(&trial->unit[unit]) : BL_STAGE_USUAL_M;
    double filled = own / 2 + BL_STAGE_FIXED_M;
    for (size_t u = unit; goes_on(trial, u, otherwise);) {
        u = (size_t)behind(trial, u);
        filled += (stated ? stated_m(&trial->unit[u]) : BL_STAGE_USUAL_M) +
                  BL_STAGE_FIXED_M;
    }
    return (own + BL_STAGE_FIXED_M) * filled;
}

static bool not_known(const struct bl_trial *trial, char combination)
{
    for (size_t u = 0; u < trial->units; u++) {
        if (trial->unit[u].combination == combination &&
            trial->unit[u].number > 0 && behind(trial, u) >= 0 &&
            bl_trial_unit_control_line(trial, u) == BL_CONTROL_LINE_UNKNOWN) {
            return true;
        }
    }
    return false;
}

double bl_line_weight(const struct bl_trial *trial, size_t unit,
                      enum bl_line_view view)
{
    if (not_known(trial, trial->unit[unit].combination)) {
        return weight(trial, unit,
                      view == BL_LINE_BY_VOLUME ? BL_CONTROL_LINE_RELAYED
                                                : BL_CONTROL_LINE_THROUGH);
    }
    const double by_volume = weight(trial, unit, BL_CONTROL_LINE_RELAYED);
    return view == BL_LINE_BY_VOLUME ? by_volume : sqrt(by_volume);
}
