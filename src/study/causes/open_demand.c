/* SPDX-License-Identifier: MIT */
/*
 * A unit that with power responds about as by its air, but not so closely that
 * nothing else explains it: it may ignore its demand, or act on it late. That
 * is no accusation; which run decides is said instead.
 */
#include "study/causes/causes.h"
#include "study/causes/traits/rank.h"
#include "study/findings/fill.h"

#include <math.h>
#include <stdio.h>

void bl_causes_say_like_air(char *text, size_t size, const struct bl_causing *c,
                            const struct bl_named_cause *named)
{
    double s[BL_CLASSES] = {NAN, NAN, NAN};
    for (size_t r = 0; r < c->trial->runs; r++) {
        const struct bl_trait_cell *cell = bl_trait_at(
            c->traits, r, named->unit, named->shown.group, BL_TRAIT_RESPONSE);
        if (cell->n > 0 && isnan(s[c->traits->by[r]])) {
            s[c->traits->by[r]] = cell->value;
        }
    }
    if (isfinite(s[BL_BY_AIR])) {
        snprintf(text, size,
                 "it responds %.2f s after the command with power, %.2f s by "
                 "air alone",
                 s[BL_BY_DEMAND], s[BL_BY_AIR]);
    } else {
        snprintf(text, size,
                 "it responds %.2f s after the command, behind the air at its "
                 "coupling",
                 s[BL_BY_DEMAND]);
    }
}

/* Is it later with power than every other towed unit of its train? */
static bool is_latest(const struct bl_causing *c,
                      const struct bl_named_cause *named)
{
    const struct bl_trial_unit *unit = c->trial->unit;
    const size_t run = (size_t)named->shown.run;
    const struct bl_trait_cell *own = bl_trait_at(
        c->traits, run, named->unit, named->shown.group, BL_TRAIT_RESPONSE);
    for (size_t u = 0; u < c->trial->units; u++) {
        const struct bl_trait_cell *cell = bl_trait_at(
            c->traits, run, u, named->shown.group, BL_TRAIT_RESPONSE);
        if (u != named->unit && unit[u].number > 0 && cell->n > 0 &&
            unit[u].combination == unit[named->unit].combination &&
            cell->value > own->value) {
            return false;
        }
    }
    return true;
}

/* Is this open already, by the way of its demand? */
static bool is_open(const struct bl_causing *c,
                    const struct bl_named_cause *named)
{
    for (size_t i = 0; i < c->into->count; i++) {
        const struct bl_finding *f = &c->into->item[i];
        if (f->code == BL_FINDING_DEMAND_IGNORED &&
            f->unit == (long)named->unit && f->run == named->shown.run) {
            return true;
        }
    }
    return false;
}

struct bl_finding *bl_causes_open_demand(struct bl_causing *c,
                                         const struct bl_named_cause *named,
                                         const struct bl_unit_state *unit)
{
    char name[128];
    char numbers[160];
    const char *next =
        unit->held_by_air
            ? "Record a run with its control air blocked (control_air = "
              "blocked) "
              "and the power on: what responds then acts on its demand."
            : "Record a run without power, and one with its control air "
              "blocked (control_air = blocked) and the power on: what responds "
              "then acts on its demand.";
    struct bl_finding *f =
        is_open(c, named)
            ? NULL
            : bl_findings_add(c->into, BL_FINDING_DEMAND_IGNORED,
                              BL_SHOWN_CANNOT_TELL, (long)named->unit,
                              named->shown.run);
    if (f == NULL) {
        return NULL;
    }
    bl_causes_say_like_air(numbers, sizeof(numbers), c, named);
    bl_finding_say(
        f, "%s may ignore its demand, or act on it late: %s%s",
        bl_causes_unit(c, named->unit, name, sizeof(name)), numbers,
        is_latest(c, named) ? ", and later with power than the others" : "");
    f->severity = BL_SEVERITY_WARNING; /* nothing else says so */
    f->ratio = fabs(named->shown.ratio);
    snprintf(f->next_check, sizeof(f->next_check), "%s", next);
    return f;
}
