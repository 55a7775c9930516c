/* SPDX-License-Identifier: MIT */
/*
 * A stage from output to output holds the line to the unit, and besides what
 * the unit itself takes less what the unit in front takes. Sound units differ
 * in that, and by so much a stage may be longer although its line is as the
 * others.
 */
#include "study/causes/traits/traits.h"

#include <math.h>

/* The least that a towed unit of a combination takes of it in a run; INFINITY:
   not known. */
static double least_of(const struct bl_causing *c, size_t run, size_t unit,
                       size_t group, enum bl_trait own)
{
    double least = INFINITY;
    for (size_t u = 0; u < c->trial->units; u++) {
        const struct bl_trait_cell *cell =
            bl_trait_at(c->traits, run, u, group, own);
        if (c->trial->unit[u].combination == c->trial->unit[unit].combination &&
            c->trial->unit[u].number > 0 && cell->n > 0 && !cell->at_least) {
            least = fmin(least, fmax(0, cell->value));
        }
    }
    return least;
}

double bl_trait_own_u(const struct bl_causing *c, size_t unit, size_t group,
                      enum bl_trait trait)
{
    const enum bl_trait own = bl_trait_rule(trait)->own;
    const struct bl_trial_unit *here = &c->trial->unit[unit];
    const long front =
        bl_trial_unit_index(c->trial, here->combination, here->number - 1);
    if (own == BL_TRAIT_DELAY) {
        return 0;
    }
    /* By air the slow pressure of the chain is in it, all the more behind a
       slow line: the least is nearest to what units take by themselves. */
    double least = INFINITY;
    for (size_t r = 0; r < c->trial->runs; r++) {
        least = fmin(least, least_of(c, r, unit, group, own));
    }
    /* Of the unit, and of the one in front; where that was not measured the
       unit's own with the demand is taken off (table.c). */
    const bool kinds = front >= 0 && c->trial->unit[front].outputs > 0 &&
                       !bl_traits_one_kind(c, unit, (size_t)front);
    return isfinite(least) ? sqrt(2) * bl_trait_spread(own, least, kinds) : 0;
}

bool bl_trait_on_through_line(const struct bl_causing *c, size_t unit,
                              enum bl_trait trait)
{
    const struct bl_trial_unit *own = &c->trial->unit[unit];
    const long front =
        bl_trial_unit_index(c->trial, own->combination, own->number - 1);
    const long at[] = {(long)unit, front};
    for (size_t i = 0; bl_trait_rule(trait)->own != BL_TRAIT_DELAY && i < 2;
         i++) {
        const enum bl_control_line line =
            at[i] < 0 || c->trial->unit[at[i]].number == 0
                ? BL_CONTROL_LINE_RELAYED
                : bl_trial_unit_control_line(c->trial, (size_t)at[i]);
        if (line == BL_CONTROL_LINE_THROUGH ||
            (line == BL_CONTROL_LINE_UNKNOWN &&
             c->trial->unit[at[i]].kind == BL_UNIT_DOLLY)) {
            return true;
        }
    }
    return false;
}
