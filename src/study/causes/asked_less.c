/* SPDX-License-Identifier: MIT */
/*
 * A towing unit that seems to hold too much with power, where the demand that
 * it sends is less than its command, and the units behind hold what it asks of
 * them: the demand may be too small as well as its own pressure too high.
 * Neither is accused; both are named, with the check that parts them.
 */
#include "study/causes/causes.h"
#include "study/causes/traits/rank.h"
#include "study/findings/fill.h"

#include <math.h>
#include <stdio.h>

/* Reach left open whether the demand on the first link of this run is meant so;
   NULL: it did not. */
static struct bl_finding *open_at_first(const struct bl_causing *c,
                                        const struct bl_named_cause *named)
{
    for (size_t i = 0; i < c->into->count; i++) {
        struct bl_finding *f = &c->into->item[i];
        if (f->code == BL_FINDING_DEMAND_ALTERED &&
            f->shown == BL_SHOWN_CANNOT_TELL && f->unit == (long)named->unit &&
            f->run == named->shown.run) {
            return f;
        }
    }
    return NULL;
}

/* The share of its command that it asks of the units behind; NaN. */
static double share_asked(const struct bl_causing *c,
                          const struct bl_named_cause *named)
{
    const struct bl_reach *reach = c->run[named->shown.run].reach;
    const struct bl_reach_unit *hop =
        reach == NULL ? NULL : bl_reach_unit_of(reach, named->unit + 1);
    return hop == NULL ? NAN : hop->passed_kpa / hop->got_kpa;
}

/* By air: does it hold too much there, too; was it compared there at all? */
static bool high_by_air(const struct bl_unit_state *unit, bool *compared)
{
    bool high = false;
    *compared = false;
    for (size_t e = 0; e < BL_EFFORTS; e++) {
        const enum bl_off off = unit->at[BL_BY_AIR][e][BL_TRAIT_HOLD].off;
        high = high || off == BL_OFF_UP;
        *compared = *compared || off == BL_OFF_NOT;
    }
    return high;
}

bool bl_causes_asked_less(struct bl_causing *c,
                          const struct bl_named_cause *named,
                          const struct bl_unit_state *unit)
{
    const struct bl_trait_state *shown = &named->shown;
    bool compared;
    char name[128];
    if (named->row->code != BL_FINDING_HIGH_HOLD ||
        c->trial->unit[named->unit].number != 0 ||
        c->traits->by[shown->run] != BL_BY_DEMAND ||
        high_by_air(unit, &compared)) {
        return false;
    }
    struct bl_finding *f = open_at_first(c, named);
    const double asked = share_asked(c, named);
    /* They hold what they are asked for, rather than what it holds. */
    if (f == NULL ||
        !(fabs(shown->other - asked) < fabs(shown->other - shown->value))) {
        return false;
    }
    bl_causes_unit(c, named->unit, name, sizeof(name));
    bl_finding_say(
        f,
        "%s asks the units behind for %.0f %% of what its command holds, and "
        "they hold about that; itself it holds %.0f %%: it sends them less "
        "than it brakes with, by design or altered, or its own setting is too "
        "high%s",
        name, 100 * asked, 100 * shown->value,
        compared ? " (by air it holds no more than they do, which speaks "
                   "against its setting)"
                 : "");
    snprintf(f->next_check, sizeof(f->next_check), "%s",
             compared
                 ? "Ask the maker's data what demand belongs to the pedal's "
                   "pressure, laden as now, and compare the capture of the "
                   "first link; if it should be more, look for an adapter "
                   "on that link and at what makes the demand."
                 : "Press without power: if it then holds no more than the "
                   "others, its setting is in order. Then compare the "
                   "demand with the maker's data for that pedal pressure, "
                   "and look for an adapter on the first link.");
    f->ratio = fabs(shown->ratio);
    return true;
}
