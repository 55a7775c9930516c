/* SPDX-License-Identifier: MIT */
/*
 * What a late unit most probably has, from the pattern over onset, fill and
 * condition: the table of docs/methods/causes.md.
 */
#include "study/causes/causes.h"

#include <stdio.h>

/* Own choice: what pedal, bus and valves differ by. */
static const double as_quick_s = 0.03;

static const char *suspect(const struct bl_causing *c,
                           const struct bl_finding *late)
{
    bool powered = false;
    bool unpowered = false;
    bool late_powered = false;
    bool late_unpowered = false;
    for (size_t r = 0; r < c->trial->runs; r++) {
        if (c->run[r].lag == NULL) {
            continue;
        }
        const bool powered_here = bl_causes_powered(c, r);
        const bool also =
            bl_causes_found(c, late->code, late->unit, (long)r) != NULL;
        powered = powered || powered_here;
        unpowered = unpowered || !powered_here;
        late_powered = late_powered || (powered_here && also);
        late_unpowered = late_unpowered || (!powered_here && also);
    }
    if (late_powered && late_unpowered) {
        return "Late powered and unpowered: its line or its valve; where it is "
               "as late powered as unpowered, the demand is not used.";
    }
    if (late_powered && unpowered) {
        return "Late powered only: its air is in time, so look at the demand "
               "on "
               "its link, its electric supply and its modulator.";
    }
    if (late_unpowered && powered) {
        return "Late without power only: a control line that electronics hide, "
               "or the normal travel of air.";
    }
    return NULL;
}

/* What is measured wrongly, or asked for by something else, says nothing about
   the unit: while the one is found, the other cannot be told. */
struct doubt {
    enum bl_finding_code found, doubted;
};
#define DOUBT(found, doubted)                                                  \
    {                                                                          \
        BL_FINDING_##found, BL_FINDING_##doubted                               \
    }
#define DOUBT_FIGURES(found)                                                   \
    DOUBT(found, LATE_APPLY), DOUBT(found, SLOW_FILL),                         \
        DOUBT(found, LATE_RELEASE), DOUBT(found, SLOW_RELEASE),                \
        DOUBT(found, LOW_HOLD), DOUBT(found, HIGH_HOLD),                       \
        DOUBT(found, HIGH_THRESHOLD), DOUBT(found, UNEXPECTED_CHARACTERISTIC), \
        DOUBT(found, HOLD_FALLS), DOUBT(found, HOLD_UNSTEADY),                 \
        DOUBT(found, NO_OUTPUT), DOUBT(found, OUTPUT_WITHOUT_COMMAND)
static const struct doubt doubts[] = {
    DOUBT_FIGURES(CHANNELS_SWAPPED),
    DOUBT_FIGURES(CHANNEL_DEAD),
    DOUBT_FIGURES(WRONG_PRESSURE_UNIT),
    DOUBT(CHANNEL_CLIPPED, LOW_HOLD),
    DOUBT(CHANNEL_CLIPPED, SLOW_FILL),
    DOUBT(CHANNEL_CLIPPED, LATE_RELEASE),
    DOUBT(CHANNEL_CLIPPED, SLOW_RELEASE),
    DOUBT(CHANNELS_SWAPPED, IMPLAUSIBLE_LAG),
    DOUBT(CHANNELS_SWAPPED, DEMAND_IGNORED),
    DOUBT(CHANNEL_DEAD, DEMAND_IGNORED),
    /* Its control pressure rises more slowly than a demand does. */
    DOUBT(DEMAND_IGNORED, SLOW_FILL),
    DOUBT(DEMAND_IGNORED, HOSE_RESTRICTED),
    DOUBT(DEMAND_IGNORED, SLOW_RELEASE),
    /* By air a unit opens later than by its demand. */
    DOUBT(DEMAND_IGNORED, HIGH_THRESHOLD),
    DOUBT(GAUGE_ABSOLUTE, RESIDUAL_PRESSURE),
    DOUBT(GAUGE_ABSOLUTE, ZERO_OFFSET),
    DOUBT(IMPLAUSIBLE_LAG, LATE_RELEASE),
    DOUBT(FALSE_DEMAND, OUTPUT_WITHOUT_COMMAND),
    DOUBT(PARK_BRAKE_ON, OUTPUT_WITHOUT_COMMAND),
    DOUBT(AUTOMATIC_BRAKING, OUTPUT_WITHOUT_COMMAND),
    /* A rise without command after the release looks like a slow one. */
    DOUBT(OUTPUT_WITHOUT_COMMAND, SLOW_RELEASE),
    /* Said better by one name. */
    DOUBT(HOSE_RESTRICTED, SLOW_FILL),
    DOUBT(HOSE_RESTRICTED, SLOW_RELEASE),
    DOUBT(AIR_PATH_SHUT, NO_OUTPUT),
    /* What swings has no level, and no end of its fill. */
    DOUBT(HOLD_UNSTEADY, LOW_HOLD),
    DOUBT(HOLD_UNSTEADY, HIGH_HOLD),
    DOUBT(HOLD_UNSTEADY, HOLD_FALLS),
    DOUBT(HOLD_UNSTEADY, SLOW_FILL),
    DOUBT(HOLD_UNSTEADY, LATE_RELEASE),
    DOUBT(HOLD_UNSTEADY, UNEXPECTED_CHARACTERISTIC),
    /* There is no control pressure to hold anything against. */
    DOUBT_FIGURES(SUPPLY_CROSSED),
    DOUBT(SUPPLY_CROSSED, CONTROL_LINE_LOSS),
    DOUBT(SUPPLY_CROSSED, CONTROL_LATE_APPLY),
    DOUBT(SUPPLY_CROSSED, CONTROL_LATE_RELEASE),
    DOUBT(SUPPLY_CROSSED, VALVE_KEEPS),
    DOUBT(SUPPLY_CROSSED, AIR_PATH_SHUT),
    DOUBT(SUPPLY_CROSSED, CHANNELS_SWAPPED),
    /* The reservoir falls for the leak. */
    DOUBT(RESERVOIR_FALLS, SUPPLY_SAG),
    /* The supply may be why. */
    DOUBT(SUPPLY_SAG, LOW_HOLD),
    DOUBT(SUPPLY_SAG, HOLD_FALLS),
    DOUBT(SUPPLY_SAG, SLOW_FILL),
};

/* A unit whose frames come from another address is silent at its own. */
static bool speaks_otherwise(const struct bl_causing *c,
                             const struct bl_finding *f)
{
    return f->code == BL_FINDING_UNIT_SILENT && f->unit >= 0 &&
           (bl_causes_found(c, BL_FINDING_ADDRESS_ORDER, f->unit, f->run) !=
                NULL ||
            bl_causes_found(c, BL_FINDING_ADDRESS_ORDER, f->unit + 1, f->run) !=
                NULL);
}

/* Powered it is as quick as units of which nobody says so: where the air comes
   early, demand and air cannot be told apart. */
static bool as_quick(const struct bl_causing *c, const struct bl_finding *f)
{
    if (f->code != BL_FINDING_DEMAND_IGNORED || f->unit < 0 || f->run < 0 ||
        f->headline) { /* the ranking of causes has asked this */
        return false;
    }
    for (size_t g = 0; g < BL_TRAIT_GROUPS; g++) {
        const struct bl_trait_cell *cell = bl_trait_at(
            c->traits, (size_t)f->run, (size_t)f->unit, g, BL_TRAIT_DELAY);
        const struct bl_trait_reference *others =
            &cell->reference[BL_REFERENCE_OTHERS];
        if (cell->n > 0 && others->known && others->off > as_quick_s) {
            return false;
        }
        if (cell->n > 0 && others->known && g / 3 == (size_t)BL_KIND_FULL) {
            return true;
        }
    }
    return false;
}

/* What a unit does by air too is not undone by what it makes of a demand. */
static bool by_air_too(const struct bl_causing *c, const struct bl_finding *f)
{
    bool air = f->run >= 0 && c->traits->by[f->run] == BL_BY_AIR;
    for (size_t k = 0; k < f->alsos; k++) {
        air = air || c->traits->by[f->also[k]] == BL_BY_AIR;
    }
    return air;
}

/* Another cause shows in it by air too, so that it was not the demand's way:
   what is late for another reason may happen to follow its air. */
static bool late_anyhow(const struct bl_causing *c, const struct bl_finding *f)
{
    for (size_t i = 0; f->code == BL_FINDING_DEMAND_IGNORED && !f->headline &&
                       i < c->into->count;
         i++) {
        const struct bl_finding *other = &c->into->item[i];
        if (other->headline && other->shown == BL_SHOWN_FOUND &&
            by_air_too(c, other) && other->unit == f->unit &&
            other->code != f->code) {
            return true;
        }
    }
    return false;
}

/* The unit behind has its air in time: the line holds neither of them up, see
   exchange.c. */
static bool behind_in_time(const struct bl_causing *c,
                           const struct bl_finding *f)
{
    for (size_t i = 0; (f->code == BL_FINDING_HOSE_RESTRICTED ||
                        f->code == BL_FINDING_CONTROL_LATE_APPLY ||
                        f->code == BL_FINDING_CONTROL_LATE_RELEASE) &&
                       i < c->into->count;
         i++) {
        const struct bl_finding *other = &c->into->item[i];
        if (other->code == BL_FINDING_CHANNELS_SWAPPED && other->headline &&
            other->shown == BL_SHOWN_CANNOT_TELL && other->unit == f->unit &&
            other->run == f->run) {
            return true;
        }
    }
    return false;
}

static bool doubted(const struct bl_causing *c, const struct bl_finding *f,
                    const struct doubt *by)
{
    return f->code == by->doubted && f->shown == BL_SHOWN_FOUND &&
           bl_causes_found(c, by->found, f->unit, f->run) != NULL &&
           !(by->found == BL_FINDING_DEMAND_IGNORED &&
             f->code == BL_FINDING_HIGH_THRESHOLD && by_air_too(c, f));
}

static void undecide(struct bl_causing *c)
{
    for (size_t i = 0; i < c->into->count; i++) {
        struct bl_finding *f = &c->into->item[i];
        if (f->shown == BL_SHOWN_FOUND &&
            (speaks_otherwise(c, f) || as_quick(c, f) || late_anyhow(c, f) ||
             behind_in_time(c, f))) {
            f->shown = BL_SHOWN_CANNOT_TELL;
        }
        for (size_t k = 0; k < sizeof(doubts) / sizeof(doubts[0]); k++) {
            if (doubted(c, f, &doubts[k])) {
                f->shown = BL_SHOWN_CANNOT_TELL;
            }
        }
    }
}

/* Does the demand stand on the link of this unit, or in front of it, from where
   units pass it on? */
static bool demand_stands(const struct bl_causing *c, long unit, long run)
{
    for (long u = unit; u >= 0; u--) {
        if (c->trial->unit[u].combination == c->trial->unit[unit].combination &&
            bl_causes_found(c, BL_FINDING_DEMAND_STANDS, u, run) != NULL) {
            return true;
        }
    }
    return false;
}

/* No output, where the demand to the unit is dead in that run: it follows from
   it, unless the unit gives none by air either. */
static void follow_the_demand(struct bl_causing *c)
{
    for (size_t i = 0; i < c->into->count; i++) {
        struct bl_finding *f = &c->into->item[i];
        if (f->code != BL_FINDING_NO_OUTPUT || f->shown != BL_SHOWN_FOUND ||
            f->unit < 0 || f->run < 0 ||
            c->traits->by[f->run] != BL_BY_DEMAND) {
            continue;
        }
        bool by_air = false;
        for (size_t r = 0; r < c->trial->runs; r++) {
            by_air = by_air ||
                     (c->traits->by[r] == BL_BY_AIR &&
                      bl_causes_found(c, f->code, f->unit, (long)r) != NULL);
        }
        f->follows = f->follows ||
                     (!by_air && (demand_stands(c, f->unit, f->run) ||
                                  bl_causes_found(c, BL_FINDING_DEMAND_MISSING,
                                                  f->unit, f->run) != NULL));
    }
}

void bl_causes_explain(struct bl_causing *c)
{
    undecide(c);
    follow_the_demand(c);
    for (size_t i = 0; i < c->into->count; i++) {
        struct bl_finding *f = &c->into->item[i];
        if (f->code != BL_FINDING_LATE_APPLY || f->shown != BL_SHOWN_FOUND ||
            f->severity == BL_SEVERITY_NOTE) {
            continue;
        }
        const bool slow =
            bl_causes_found(c, BL_FINDING_SLOW_FILL, f->unit, f->run) != NULL;
        const char *text = slow ? NULL : suspect(c, f);
        if (text != NULL) {
            char whole[2 * BL_FINDING_TEXT_MAX];
            snprintf(whole, sizeof(whole), "%s %s", text, f->next_check);
            snprintf(f->next_check, sizeof(f->next_check), "%.*s",
                     BL_FINDING_TEXT_MAX - 1, whole);
        }
    }
}
