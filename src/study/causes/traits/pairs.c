/* SPDX-License-Identifier: MIT */
/*
 * Two units, and nothing else to hold them against: that they differ can be
 * said, which of them is the odd one cannot. What would decide it is said with
 * it.
 */
#include "study/causes/causes.h"

#include "lag/as_one.h"
#include "study/causes/traits/rank.h"
#include "study/findings/fill.h"

#include <math.h>
#include <stdio.h>

static const char of_unit[] =
    "What decides: the same measurement with a sound third unit in the train, "
    "or what the makers state of the two, as [limit] or in [unit]. "
    "Exchange the two transducers first: what moves with them is no brake.";
static const char of_line[] =
    "What decides: couple the two in the other order and repeat. What moves "
    "with a unit is the unit's; what stays in its place is the line in front "
    "of it.";

static const struct {
    enum bl_trait trait;
    enum bl_finding_code code;
    const char *measure, *check;
} looks[] = {
    {BL_TRAIT_DELAY, BL_FINDING_LATE_APPLY, "from input to output", of_unit},
    {BL_TRAIT_FILL, BL_FINDING_SLOW_FILL, "to 75 % beyond the input", of_unit},
    {BL_TRAIT_RELEASE_DELAY, BL_FINDING_LATE_RELEASE,
     "from input to 90 % of settled", of_unit},
    {BL_TRAIT_FALL, BL_FINDING_SLOW_RELEASE, "from 90 to 10 % beyond the input",
     of_unit},
    {BL_TRAIT_HOLD, BL_FINDING_LOW_HOLD, "of what is asked", of_unit},
    {BL_TRAIT_OPENING, BL_FINDING_HIGH_THRESHOLD, "of opening pressure",
     of_unit},
    {BL_TRAIT_LINE_APPLY, BL_FINDING_CONTROL_LATE_APPLY,
     "from the control pressure in front to the own", of_line},
    {BL_TRAIT_LINE_RELEASE, BL_FINDING_CONTROL_LATE_RELEASE,
     "from the fall of the control pressure in front to that of the own",
     of_line},
    {BL_TRAIT_LINE_LOSS, BL_FINDING_CONTROL_LINE_LOSS,
     "less control pressure than in front", of_line},
};

/* The two that differ most, in sizes that matter. */
struct pair {
    size_t look, run, group, unit[2];
    const struct bl_trait_cell *cell[2];
    double sizes, u;
};

/* Two units of one kind that have no others. */
static bool alone(const struct bl_trait_cell *a, const struct bl_trait_cell *b,
                  enum bl_trait trait)
{
    return !bl_line_is_several(a, trait) && !bl_line_is_several(b, trait) &&
           a->n > 0 && b->n > 0 && !a->at_least && !b->at_least &&
           a->parted == b->parted && !a->reference[BL_REFERENCE_OTHERS].known &&
           !b->reference[BL_REFERENCE_OTHERS].known;
}

/* Is the loss in front of the unit what the valve there may keep? */
static bool kept(const struct bl_causing *c, const struct pair *at, size_t k)
{
    const struct bl_trait_cell *cell = bl_trait_at(
        c->traits, at->run, at->unit[k], at->group, BL_TRAIT_LINE_KEPT);
    const bool handed_on =
        at->unit[k] > 0 && c->trial->unit[at->unit[k]].number > 1 &&
        bl_trial_unit_control_line(c->trial, at->unit[k] - 1) ==
            BL_CONTROL_LINE_THROUGH;
    return cell->n > 0 && !handed_on &&
           cell->value - cell->u < BL_VALVE_KEEPS_KPA;
}

static void compare(const struct bl_causing *c, struct pair *best,
                    struct pair *at)
{
    const enum bl_trait trait = looks[at->look].trait;
    for (size_t k = 0; k < 2; k++) {
        at->cell[k] =
            bl_trait_at(c->traits, at->run, at->unit[k], at->group, trait);
    }
    const struct bl_trait_cell *const *cell = at->cell;
    if (!alone(cell[0], cell[1], trait) ||
        bl_trait_moves_along(c, at->run, trait, cell[0]->parted) ||
        (trait == BL_TRAIT_LINE_LOSS && kept(c, at, 0) && kept(c, at, 1))) {
        return;
    }
    const double middle = (cell[0]->value + cell[1]->value) / 2;
    const double spread = bl_trait_spread(trait, middle, false);
    const double by = fabs(cell[0]->value - cell[1]->value);
    const double matters = bl_trait_matters(trait, middle);
    at->u = hypot(spread * sqrt(2), hypot(cell[0]->u, cell[1]->u));
    at->sizes = by / matters;
    if (by > fmax(matters, bl_doubt_ratio(2) * at->u) &&
        at->sizes > best->sizes) {
        *best = *at;
    }
}

/* Every trait, run and kind in which the two can be compared. */
static bool differ(struct bl_causing *c, size_t a, size_t b, struct pair *best)
{
    bool compared = false;
    best->sizes = 0;
    for (size_t i = 0; i < sizeof(looks) / sizeof(looks[0]); i++) {
        for (size_t r = 0; r < c->trial->runs; r++) {
            if (c->run[r].lag == NULL ||
                bl_lag_as_one(c->run[r].lag, c->trial->unit[a].combination)) {
                continue;
            }
            for (size_t g = 0; g < BL_TRAIT_GROUPS; g++) {
                struct pair at = {
                    .look = i, .run = r, .group = g, .unit = {a, b}};
                compare(c, best, &at);
                compared =
                    compared || alone(at.cell[0], at.cell[1], looks[i].trait);
            }
        }
    }
    return compared && best->sizes > 0;
}

/* Was anything measured of the unit? */
static bool measured(const struct bl_causing *c, size_t unit)
{
    for (size_t i = 0; i < sizeof(looks) / sizeof(looks[0]); i++) {
        for (size_t r = 0; r < c->trial->runs; r++) {
            for (size_t g = 0; c->run[r].lag != NULL && g < BL_TRAIT_GROUPS;
                 g++) {
                if (bl_trait_at(c->traits, r, unit, g, looks[i].trait)->n > 0) {
                    return true;
                }
            }
        }
    }
    return false;
}

/* Then there are others, though a light demand may leave all but two out. */
static bool has_third(const struct bl_causing *c, size_t a, size_t b)
{
    for (size_t u = 0; u < c->trial->units; u++) {
        if (u != a && u != b && bl_traits_one_kind(c, a, u) && measured(c, u)) {
            return true;
        }
    }
    return false;
}

static void tell(struct bl_causing *c, const struct pair *pair)
{
    const enum bl_trait trait = looks[pair->look].trait;
    const struct bl_trait_entry *entry = bl_trait_entry(trait);
    const double scale = entry->unit[0] == '\0' ? 100 : 1;
    char name[2][128];
    char value[2][32];
    struct bl_finding *f =
        bl_findings_add(c->into, looks[pair->look].code, BL_SHOWN_CANNOT_TELL,
                        -1, (long)pair->run);
    for (size_t k = 0; k < 2; k++) {
        bl_causes_unit(c, pair->unit[k], name[k], sizeof(name[k]));
        bl_trait_say(value[k], sizeof(value[k]), trait, pair->cell[k]->value);
    }
    if (f == NULL) {
        return;
    }
    f->headline = true;
    f->severity = BL_SEVERITY_WARNING;
    f->caution = "";
    f->ratio = fabs(pair->cell[0]->value - pair->cell[1]->value) / pair->u;
    bl_finding_say(f,
                   "%s and %s differ: %s and %s %s. With one other unit it "
                   "cannot be told which is the odd one.",
                   name[0], name[1], value[0], value[1],
                   looks[pair->look].measure);
    snprintf(f->next_check, sizeof(f->next_check), "%s",
             looks[pair->look].check);
    for (size_t k = 0; k < 2; k++) {
        bl_finding_evidence(f, name[k], scale * pair->cell[k]->value,
                            scale * pair->cell[k]->u,
                            scale > 1 ? "%" : entry->unit);
    }
}

void bl_causes_pairs(struct bl_causing *c)
{
    for (size_t a = 0; a < c->trial->units; a++) {
        for (size_t b = a + 1; b < c->trial->units; b++) {
            struct pair best;
            if (bl_traits_one_kind(c, a, b) && !has_third(c, a, b) &&
                differ(c, a, b, &best)) {
                tell(c, &best);
            }
        }
    }
}
