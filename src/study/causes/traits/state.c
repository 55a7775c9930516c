/* SPDX-License-Identifier: MIT */
/*
 * A trait of a unit over all runs of one class and groups of one effort,
 * compared with what decides: the other units; where there are too few of them,
 * what the trial states or earlier runs. What the trial states and the unit
 * keeps is not odd, however the others are.
 */
#include "study/causes/traits/traits.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum bl_off bl_reference_off(const struct bl_trait_reference *to)
{
    return !to->known               ? BL_OFF_UNKNOWN
           : to->off > to->high_off ? BL_OFF_UP
           : to->off < to->low_off  ? BL_OFF_DOWN
                                    : BL_OFF_NOT;
}

void bl_trait_say(char *text, size_t size, enum bl_trait trait, double value)
{
    const char *unit = bl_trait_entry(trait)->unit;
    if (strcmp(unit, "s") == 0) {
        snprintf(text, size, "%.2f s", value);
    } else if (strcmp(unit, "kPa") == 0) {
        snprintf(text, size, "%.0f kPa", value);
    } else {
        snprintf(text, size, "%.0f %%", 100 * value);
    }
}

/* Which reference decides of this cell; BL_REFERENCES: none does. Earlier runs
   do only of what is the unit's own: a chain is late for every unit behind, and
   a valve in front may have been set anew. */
static enum bl_reference_kind decides(const struct bl_trait_cell *cell,
                                      bool own)
{
    static const enum bl_reference_kind others[] = {
        BL_REFERENCE_OTHERS, BL_REFERENCE_STATED, BL_REFERENCE_EARLIER};
    if (bl_reference_off(&cell->reference[BL_REFERENCE_STATED]) == BL_OFF_NOT) {
        return BL_REFERENCE_STATED;
    }
    for (size_t i = 0; i < sizeof(others) / sizeof(others[0]); i++) {
        if (cell->reference[others[i]].known &&
            (own || others[i] != BL_REFERENCE_EARLIER)) {
            return others[i];
        }
    }
    return BL_REFERENCES;
}

struct count {
    size_t seen, up, down;
};

static void take(struct bl_trait_state *out, struct count *count,
                 const struct bl_trait_cell *cell,
                 enum bl_reference_kind reference)
{
    const struct bl_trait_reference *to = &cell->reference[reference];
    const enum bl_off off = bl_reference_off(to);
    if (cell->at_least && off != BL_OFF_UP) {
        return; /* a bound that shows nothing */
    }
    count->seen++;
    count->up += off == BL_OFF_UP;
    count->down += off == BL_OFF_DOWN;
    if (isnan(out->by) || fabs(to->off) > fabs(out->by)) {
        out->cell = cell;
        out->reference = reference;
        out->by = to->off;
        out->ratio = to->ratio;
        out->value = cell->value;
        out->other = to->value;
    }
}

/* Half of the runs and groups at least must show it; the one that shows it
   best lends its figures. */
struct bl_trait_state bl_trait_state(const struct bl_causing *c, size_t unit,
                                     enum bl_trait_class by,
                                     enum bl_trait_effort effort,
                                     enum bl_trait trait)
{
    struct bl_trait_state out = {
        .off = BL_OFF_UNKNOWN, .run = -1, .by = NAN, .cell = NULL};
    struct count count = {0, 0, 0};
    for (size_t r = 0; r < c->trial->runs; r++) {
        for (size_t g = 0; c->traits->by[r] == by && g < BL_TRAIT_GROUPS; g++) {
            const struct bl_trait_cell *cell =
                bl_trait_at(c->traits, r, unit, g, trait);
            const enum bl_reference_kind reference = decides(
                cell, !bl_trait_rule(trait)->of_coupling &&
                          !bl_trait_moves_along(c, r, trait, cell->parted));
            if (cell->n > 0 && reference < BL_REFERENCES &&
                bl_trait_entry(trait)->judged != BL_JUDGED_NOT &&
                bl_trait_effort(c->traits, r, unit, g) == effort) {
                take(&out, &count, cell, reference);
                out.run = out.cell == cell ? (long)r : out.run;
                out.group = out.cell == cell ? g : out.group;
            }
        }
    }
    if (count.seen > 0) {
        out.off = 2 * count.up >= count.seen && count.up > 0       ? BL_OFF_UP
                  : 2 * count.down >= count.seen && count.down > 0 ? BL_OFF_DOWN
                                                                   : BL_OFF_NOT;
    }
    return out;
}
