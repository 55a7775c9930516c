/* SPDX-License-Identifier: MIT */
/*
 * Stages from output to output where a train has so few that none can be
 * accused: the longest may be one line too slow, its unit, or a unit in front
 * that is quicker than all. That it is longer by more than stages of sound
 * trains differ is said, and what would decide.
 */
#include "study/causes/causes.h"

#include "lag/as_one.h"
#include "study/causes/traits/traits.h"
#include "study/findings/fill.h"

#include <math.h>
#include <stdio.h>

enum { OTHERS_MOST = 2 }; /* with more the stages are judged: others.c */

static const char decides[] =
    "What decides: record the control pressure at the front coupling of "
    "that unit, or repeat with power and data on: what is still slow "
    "then is the unit's own. Without either couple the units in another "
    "order: what moves with a unit is the unit's.";

static const struct {
    enum bl_trait trait;
    enum bl_finding_code code;
    const char *does;
} looks[] = {
    {BL_TRAIT_STAGE_FILLED, BL_FINDING_CONTROL_LATE_APPLY, "reaches 75 %"},
    {BL_TRAIT_STAGE_EMPTIED, BL_FINDING_CONTROL_LATE_RELEASE, "falls to 10 %"},
};
enum { LOOKS = sizeof(looks) / sizeof(looks[0]) };

/* The longest stage of a combination, and the others of its run and group. */
struct stage {
    size_t unit, run, group;
    const struct bl_trait_cell *cell;
    double expected, u, low, high; /* of the others */
};

/* What the others let one expect; of one other, as much as of each. */
static bool expect(const struct bl_peer *peer, size_t count, double prior,
                   double *value, double *u)
{
    const struct bl_peers all = {.peer = peer, .count = count, .prior = prior};
    if (count == 1) {
        *value = peer[0].value;
        *u = sqrt(2) * hypot(prior, peer[0].u);
        return true;
    }
    return bl_peers_expect(&all, value, u);
}

/* As they are, and where all lengths are stated by the metre too: half of each,
   as where stages are judged. */
static bool of_others(const struct bl_causing *c, enum bl_trait trait,
                      const size_t *unit, struct bl_peer *peer, size_t count,
                      struct stage *s)
{
    const double own_m = c->trial->unit[s->unit].pipe_m;
    bool metres = isfinite(own_m);
    bool kinds = false;
    double by_metre;
    double u_metre;
    double sum = 0;
    for (size_t i = 0; i < count; i++) {
        metres = metres && isfinite(c->trial->unit[unit[i]].pipe_m);
        kinds = kinds || !bl_traits_one_kind(c, s->unit, unit[i]);
        sum += peer[i].value;
    }
    const double prior = bl_trait_spread(trait, sum / (double)count, kinds);
    if (!expect(peer, count, prior, &s->expected, &s->u)) {
        return false;
    }
    for (size_t i = 0; metres && i < count; i++) {
        const double share = own_m / c->trial->unit[unit[i]].pipe_m;
        peer[i].value *= share;
        peer[i].u *= share;
    }
    if (metres && expect(peer, count, prior, &by_metre, &u_metre)) {
        s->u = hypot(fmax(s->u, u_metre), (by_metre - s->expected) / 2);
        s->expected = (s->expected + by_metre) / 2;
    }
    return true;
}

/* Is this stage the longest of few, by more than sound ones differ? */
static bool stands_out(const struct bl_causing *c, enum bl_trait trait,
                       struct stage *s)
{
    struct bl_peer peer[OTHERS_MOST];
    size_t unit[OTHERS_MOST];
    size_t count = 0;
    s->cell = bl_trait_at(c->traits, s->run, s->unit, s->group, trait);
    s->low = INFINITY;
    s->high = -INFINITY;
    for (size_t u = 0; s->cell->n > 0 && u < c->trial->units; u++) {
        const struct bl_trait_cell *cell =
            bl_trait_at(c->traits, s->run, u, s->group, trait);
        if (u == s->unit || cell->n == 0 || cell->at_least ||
            c->trial->unit[u].combination !=
                c->trial->unit[s->unit].combination) {
            continue;
        }
        if (count == OTHERS_MOST) {
            return false;
        }
        s->low = fmin(s->low, cell->value);
        s->high = fmax(s->high, cell->value);
        unit[count] = u;
        peer[count++] = (struct bl_peer){cell->value, cell->u,
                                         (double)c->trial->unit[u].number};
    }
    if (count == 0 || !(s->cell->value > s->high) ||
        !of_others(c, trait, unit, peer, count, s)) {
        return false;
    }
    s->u = hypot(hypot(s->u, s->cell->u),
                 bl_trait_own_u(c, s->unit, s->group, trait));
    return !bl_trait_on_through_line(c, s->unit, trait) &&
           s->cell->value - s->expected >
               fmax(bl_trait_matters(trait, s->expected),
                    bl_doubt_ratio(1) * s->u);
}

/* Something is found about it, its channels are not its own, or it is said
   already that two units differ. */
static bool told_otherwise(const struct bl_causing *c, const struct stage *s)
{
    const struct bl_trial_unit *unit = c->trial->unit;
    for (size_t i = 0; i < c->into->count; i++) {
        const struct bl_finding *f = &c->into->item[i];
        if (f->shown == BL_SHOWN_CANNOT_TELL && f->headline && f->unit < 0) {
            return true;
        }
        if (f->shown == BL_SHOWN_FOUND && f->unit >= 0 &&
            f->severity != BL_SEVERITY_NOTE &&
            unit[f->unit].combination == unit[s->unit].combination &&
            (f->unit == (long)s->unit || f->unit == (long)s->unit - 1 ||
             f->code == BL_FINDING_CHANNELS_SWAPPED)) {
            return true;
        }
    }
    return false;
}

static void tell(struct bl_causing *c, size_t look, const struct stage *s)
{
    char name[2][128];
    char others[64];
    struct bl_finding *f = bl_findings_add(
        c->into, looks[look].code, BL_SHOWN_CANNOT_TELL, -1, (long)s->run);
    if (f == NULL) {
        return;
    }
    bl_causes_unit(c, s->unit, name[0], sizeof(name[0]));
    bl_causes_unit(c, s->unit - 1, name[1], sizeof(name[1]));
    if (s->high - s->low < 0.005) {
        snprintf(others, sizeof(others), "%.2f s", s->low);
    } else {
        snprintf(others, sizeof(others), "%.2f to %.2f s", s->low, s->high);
    }
    f->headline = true;
    f->severity = BL_SEVERITY_WARNING;
    f->caution = "";
    f->ratio = (s->cell->value - s->expected) / s->u;
    bl_finding_say(f,
                   "cannot tell line from unit: %s %s %s%.2f s after %s, the "
                   "other stages of its train take %s, too few to say which "
                   "of them is the odd one.",
                   name[0], looks[look].does,
                   s->cell->at_least ? "at least " : "", s->cell->value,
                   name[1], others);
    snprintf(f->next_check, sizeof(f->next_check), "%s", decides);
    bl_finding_evidence(f, "stage", s->cell->value, s->cell->u, "s");
    bl_finding_evidence(f, "expected by the others", s->expected, NAN, "s");
}

static bool comparable(const struct bl_causing *c, size_t run, size_t unit)
{
    return c->run[run].lag != NULL && c->trial->unit[unit].number > 0 &&
           !bl_lag_as_one(c->run[run].lag, c->trial->unit[unit].combination);
}

void bl_causes_few(struct bl_causing *c)
{
    for (size_t i = 0; i < LOOKS; i++) {
        for (size_t u = 1; u < c->trial->units; u++) {
            struct stage best = {.cell = NULL};
            for (size_t n = 0; n < c->trial->runs * BL_TRAIT_GROUPS; n++) {
                struct stage s = {.unit = u,
                                  .run = n / BL_TRAIT_GROUPS,
                                  .group = n % BL_TRAIT_GROUPS};
                if (comparable(c, s.run, u) &&
                    stands_out(c, looks[i].trait, &s) &&
                    (best.cell == NULL ||
                     s.cell->value - s.expected >
                         best.cell->value - best.expected)) {
                    best = s;
                }
            }
            if (best.cell != NULL && !told_otherwise(c, &best)) {
                tell(c, i, &best);
            }
        }
    }
}
