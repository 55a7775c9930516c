/* SPDX-License-Identifier: MIT */
/*
 * Two outputs that are one, by air: the second begins, falls and settles with
 * the first, where air would have to pass a line and a valve. Both transducers
 * hang at one unit, and the other one was not measured at all. The rest of the
 * train must take its time in the same run, so that it is not a run with power.
 */
#include "study/causes/causes.h"

#include "study/findings/fill.h"

#include <math.h>

/* Eight metres at 343 m/s take 0.023 s, and no valve opens in less than 0.01 s
   (common practice). */
static const double at_once_s = 0.010, takes_time_s = 0.030;
static const double same_hold = 0.01; /* of the unit in front: own choice */
enum { LEAST_OTHERS = 2 };

static const struct bl_trait_cell *hard(const struct bl_causing *c, size_t run,
                                        size_t unit, enum bl_trait trait)
{
    for (int kind = BL_KIND_FULL; kind >= BL_KIND_SERVICE; kind--) {
        const struct bl_trait_cell *cell = bl_trait_at(
            c->traits, run, unit,
            bl_trait_group((enum bl_application_kind)kind, BL_SHAPE_STEP),
            trait);
        if (cell->n > 0) {
            return cell;
        }
    }
    return NULL;
}

static bool within(const struct bl_trait_cell *cell, double middle, double most)
{
    return cell != NULL && cell->u < most / 2 &&
           fabs(cell->value - middle) < most;
}

static bool is_one(const struct bl_causing *c, size_t run, size_t unit)
{
    return within(hard(c, run, unit, BL_TRAIT_STAGE_APPLY), 0, at_once_s) &&
           within(hard(c, run, unit, BL_TRAIT_STAGE_RELEASE), 0, at_once_s) &&
           within(hard(c, run, unit, BL_TRAIT_STAGE_HOLD), 1, same_hold);
}

static size_t others_that_take_time(const struct bl_causing *c, size_t run,
                                    size_t unit)
{
    size_t count = 0;
    for (size_t u = 0; u < c->trial->units; u++) {
        const struct bl_trait_cell *stage =
            hard(c, run, u, BL_TRAIT_STAGE_APPLY);
        count += u != unit && stage != NULL && stage->value > takes_time_s;
    }
    return count;
}

void bl_causes_one_place(struct bl_causing *c)
{
    for (size_t r = 0; r < c->trial->runs; r++) {
        for (size_t u = 0; c->run[r].lag != NULL &&
                           c->traits->by[r] == BL_BY_AIR && u < c->trial->units;
             u++) {
            const long front = bl_causes_in_front(c, u);
            char here[128];
            char other[128];
            if (front < 0 || !is_one(c, r, u) ||
                others_that_take_time(c, r, u) < LEAST_OTHERS ||
                bl_causes_found(c, BL_FINDING_CHANNELS_SWAPPED, (long)u,
                                (long)r) != NULL) {
                continue;
            }
            struct bl_finding *f =
                bl_findings_add(c->into, BL_FINDING_CHANNELS_SWAPPED,
                                BL_SHOWN_FOUND, (long)u, (long)r);
            bl_finding_say(f,
                           "%s and %s show one and the same output by air, "
                           "which cannot be with a line and a valve between "
                           "them: both transducers seem to be on one unit. "
                           "Unplug one transducer at a time.",
                           bl_causes_unit(c, (size_t)front, here, sizeof(here)),
                           bl_causes_unit(c, u, other, sizeof(other)));
            bl_finding_evidence(f, "behind the unit in front",
                                hard(c, r, u, BL_TRAIT_STAGE_APPLY)->value,
                                hard(c, r, u, BL_TRAIT_STAGE_APPLY)->u, "s");
            if (f != NULL) {
                f->headline = true;
            }
            c->impossible[r] = true;
        }
    }
}
