/* SPDX-License-Identifier: MIT */
/*
 * Does a unit brake with power as by its air? Two looks. A rough one finds whom
 * to ask: it allows for all that pedal, bus and valves may differ by from run
 * to run. A fine one, of the same unit's times with power and by air alone,
 * takes off what the command differs by and leaves only the rest of it: a unit
 * whose electronics are late may respond near to its air by chance, and then
 * nothing says that it ignores its demand.
 */
#include "study/causes/traits/rank.h"

#include "lag/rules.h"

#include <math.h>

/* Own choice: pedal, bus and valve differ from run to run by so much; what a
   slower pedal adds grows along the chain with the time that it takes. */
static const double same_s = 0.03, same = 0.05;

/* Runs with power and by air, and the kind of application. */
struct at {
    const struct bl_causing *c;
    size_t unit, run[2], group;
};

enum { POWERED, BY_AIR };

static const struct bl_trait_cell *cell_of(const struct at *at, int by,
                                           enum bl_trait trait)
{
    return bl_trait_at(at->c->traits, at->run[by], at->unit, at->group, trait);
}

/* Both runs have it: by how much later it is with power, and how sure. */
static bool later(const struct at *at, enum bl_trait trait, double *s,
                  double *u_s)
{
    const struct bl_trait_cell *with = cell_of(at, POWERED, trait);
    const struct bl_trait_cell *air = cell_of(at, BY_AIR, trait);
    *s = with->value - air->value;
    *u_s = hypot(with->u, air->u);
    return with->n > 0 && air->n > 0;
}

/* Is it the same but for `within_s`, its u, and up to `foot_s` that the command
   takes longer (or less long)? */
static bool is_same(double s, double u_s, double within_s, double foot_s)
{
    const double room_s = within_s + 3 * u_s;
    return s < fmax(0, foot_s) + room_s && s > fmin(0, foot_s) - room_s;
}

/* The fine look: behind the air at its coupling as by air alone where that was
   recorded, else behind the command; and then as long to 75 %. What a slower
   foot adds to either lies between nothing and all of it. */
static bool is_own_air(const struct at *at)
{
    double s;
    double u_s;
    double u_foot_s = 0;
    double foot_s = bl_causes_rise_apart(
        at->c, at->run, at->c->trial->unit[at->unit].combination, at->group,
        &u_foot_s);
    if (isnan(foot_s)) {
        foot_s = u_foot_s = 0; /* a switch or a state: nothing to take off */
    }
    if ((!later(at, BL_TRAIT_BEHIND_AIR, &s, &u_s) &&
         !later(at, BL_TRAIT_RESPONSE, &s, &u_s)) ||
        !is_same(s, hypot(u_s, u_foot_s), BL_SAME_RESPONSE_S, foot_s)) {
        return false;
    }
    double filled_s;
    double u_filled_s;
    if (!later(at, BL_TRAIT_FILLED, &filled_s, &u_filled_s)) {
        return true; /* no 75 %: a switch, or it was let go before */
    }
    (void)later(at, BL_TRAIT_RESPONSE, &s, &u_s);
    return is_same(filled_s - s, hypot(hypot(u_s, u_filled_s), u_foot_s),
                   BL_SAME_75_S, foot_s);
}

/* The rough look at the same pair. */
static bool is_near_air(const struct at *at)
{
    const struct bl_trait_cell *with = cell_of(at, POWERED, BL_TRAIT_RESPONSE);
    const struct bl_trait_cell *air = cell_of(at, BY_AIR, BL_TRAIT_RESPONSE);
    return fabs(with->value - air->value) <
           same_s + same * air->value + 3 * hypot(with->u, air->u);
}

/*
 * Is it clearly sooner with power than by air alone, behind the air at its
 * coupling where that was recorded in both? Then it does not wait for its valve
 * as it does by air. By no more than all the rest may differ it says nothing.
 */
static bool is_sooner(const struct at *at)
{
    double s;
    double u_s;
    const enum bl_trait trait = later(at, BL_TRAIT_BEHIND_AIR, &s, &u_s)
                                    ? BL_TRAIT_BEHIND_AIR
                                    : BL_TRAIT_RESPONSE;
    (void)later(at, trait, &s, &u_s);
    return -s > same_s + same * cell_of(at, BY_AIR, trait)->value + 3 * u_s;
}

/* And as early as who acts on a demand: what follows the air at its coupling
   by its electronics is sooner than its valve as well, but no sooner than that
   air. */
static bool acts_in_time(const struct at *at)
{
    const struct bl_trait_cell *with = cell_of(at, POWERED, BL_TRAIT_RESPONSE);
    return with->value < BL_LATEST_BY_DEMAND_S - 3 * with->u;
}

/* Without a run by air: a valve needs so long behind the air at its coupling,
   and no longer, and who acts on a demand is not so late. */
static bool waits_for_air(const struct at *at)
{
    const struct bl_trait_cell *behind =
        cell_of(at, POWERED, BL_TRAIT_BEHIND_AIR);
    return behind->n > 0 && behind->value < BL_VALVE_S + 3 * behind->u &&
           !acts_in_time(at);
}

struct seen {
    size_t near, fine; /* groups of hard applications */
};

static const struct {
    enum bl_trait trait;
    double same_s;
} times[BL_WITH_POWER] = {
    [BL_FIRST_AIR] = {BL_TRAIT_RESPONSE, BL_SAME_RESPONSE_S},
    [BL_AT_75] = {BL_TRAIT_FILLED, BL_SAME_75_S}};

/* Beside the first run by air that has them. */
static void note_times(struct at *at, struct bl_unit_state *state)
{
    for (size_t i = 0; i < BL_WITH_POWER; i++) {
        for (size_t r = 0; isnan(state->later_s[i]) && r < at->c->trial->runs;
             r++) {
            double s;
            double u_s;
            at->run[BY_AIR] = r;
            if (at->c->traits->by[r] == BL_BY_AIR &&
                later(at, times[i].trait, &s, &u_s)) {
                state->later_s[i] = s;
                state->u_later_s[i] = u_s;
            }
        }
    }
}

/* One run with power and one group. */
static void look(struct at *at, struct bl_unit_state *state, struct seen *seen)
{
    const struct bl_causing *c = at->c;
    const struct bl_trait_cell *behind =
        cell_of(at, POWERED, BL_TRAIT_BEHIND_AIR);
    const enum bl_trait_effort effort =
        bl_trait_effort(c->traits, at->run[POWERED], at->unit, at->group);
    bool known = behind->n > 0;
    bool follows = known && behind->value > -3 * behind->u;
    bool by_air = false;
    bool fine = false;
    bool sooner = true; /* than in every run by air */
    for (size_t r = 0; r < c->trial->runs; r++) {
        at->run[BY_AIR] = r;
        if (c->traits->by[r] != BL_BY_AIR ||
            cell_of(at, BY_AIR, BL_TRAIT_RESPONSE)->n == 0) {
            continue;
        }
        by_air = true;
        fine = fine || is_own_air(at);
        sooner = sooner && is_sooner(at);
        if (!known) {
            known = true;
            follows = is_near_air(at);
        }
    }
    if (!known) {
        return;
    }
    sooner = sooner && by_air;
    follows = follows && !(sooner && acts_in_time(at));
    fine = fine && !sooner;
    struct bl_trait_state *like =
        &state->at[BL_BY_DEMAND][effort][BL_SIGN_LIKE_AIR];
    like->off = follows ? BL_OFF_UP : BL_OFF_NOT;
    like->run = (long)at->run[POWERED];
    state->held_by_air = state->held_by_air || by_air;
    if (effort == BL_EFFORT_HARD) {
        note_times(at, state);
    }
    if (effort == BL_EFFORT_HARD) {
        seen->near += follows;
        seen->fine += follows && (by_air ? fine : waits_for_air(at));
    }
}

/* Powered, does it respond as by air alone, or behind the air? That it may by
   chance is asked of all units together (without_demand). */
static void like_air(const struct bl_causing *c, size_t unit,
                     struct bl_unit_state *state)
{
    struct seen seen = {0, 0};
    for (size_t i = 0; i < BL_WITH_POWER; i++) {
        state->later_s[i] = state->u_later_s[i] = NAN;
    }
    for (size_t p = 0; p < c->trial->runs; p++) {
        for (size_t g = 0;
             c->traits->by[p] == BL_BY_DEMAND && g < BL_TRAIT_GROUPS; g++) {
            struct at at = {c, unit, {p, p}, g};
            if (cell_of(&at, POWERED, BL_TRAIT_RESPONSE)->n > 0) {
                look(&at, state, &seen);
            }
        }
    }
    state->like_air_only_roughly =
        seen.fine == 0 || seen.fine < seen.near ||
        state->at[BL_BY_DEMAND][BL_EFFORT_LIGHT][BL_SIGN_LIKE_AIR].off ==
            BL_OFF_NOT;
}

/* Response of a unit with the demand in hard applications, the latest; NaN. */
static double powered_s(const struct bl_causing *c, size_t unit)
{
    double most = NAN;
    for (size_t r = 0; r < c->trial->runs; r++) {
        for (size_t g = 0; g < BL_TRAIT_GROUPS; g++) {
            const struct bl_trait_cell *cell =
                bl_trait_at(c->traits, r, unit, g, BL_TRAIT_RESPONSE);
            if (c->traits->by[r] == BL_BY_DEMAND && cell->n > 0 &&
                bl_trait_effort(c->traits, r, unit, g) == BL_EFFORT_HARD) {
                most = isnan(most) ? cell->value : fmax(most, cell->value);
            }
        }
    }
    return most;
}

static enum bl_off like_of(const struct bl_unit_state *state)
{
    const struct bl_trait_state *like = state->at[BL_BY_DEMAND][BL_EFFORT_HARD];
    return like[BL_SIGN_LIKE_AIR].off;
}

/* Powered it responds as by air. In a short train the air is there by the time
   of who acts on a demand: then it must be clearly later than every unit that
   does, or where there is none the units must respond one after the other, as
   by air, the last of them too late for a demand. */
static bool without_demand(const struct bl_causing *c,
                           const struct bl_unit_state *state, size_t unit)
{
    double others = -INFINITY;
    double first = INFINITY;
    double last = -INFINITY;
    for (size_t u = 0; u < c->trial->units; u++) {
        const double s = powered_s(c, u);
        if (c->trial->unit[u].combination != c->trial->unit[unit].combination ||
            c->trial->unit[u].number == 0 || isnan(s)) {
            continue;
        }
        first = fmin(first, s);
        last = fmax(last, s);
        others = like_of(&state[u]) == BL_OFF_UP ? others : fmax(others, s);
    }
    const double own = powered_s(c, unit);
    const double apart = bl_trait_matters(BL_TRAIT_DELAY, 0);
    if (isfinite(others)) {
        return own > others + (own > BL_LATEST_BY_DEMAND_S ? same_s : apart);
    }
    return last - first > apart && last > BL_LATEST_BY_DEMAND_S;
}

/* Near the front the air is there about when a demand is. What a slower foot
   makes of the time by air grows along the train: who gains more by power than
   one further to the rear that brakes as by its air may act on its demand. */
static bool gains_more(const struct bl_unit_state *own,
                       const struct bl_unit_state *rear)
{
    for (size_t i = 0; i < BL_WITH_POWER; i++) {
        const double u_s = hypot(own->u_later_s[i], rear->u_later_s[i]);
        if (own->later_s[i] <
            fmin(0, rear->later_s[i]) - times[i].same_s - 3 * u_s) {
            return true;
        }
    }
    return false;
}

static void compare_along(const struct bl_causing *c,
                          struct bl_unit_state *state, size_t unit)
{
    for (size_t u = unit + 1; u < c->trial->units; u++) {
        if (c->trial->unit[u].combination == c->trial->unit[unit].combination &&
            like_of(&state[u]) == BL_OFF_UP &&
            !state[u].like_air_only_roughly &&
            gains_more(&state[unit], &state[u])) {
            state[unit].like_air_only_roughly = true;
        }
    }
}

void bl_states_like_air(const struct bl_causing *c, struct bl_unit_state *state)
{
    for (size_t u = 0; u < c->trial->units; u++) {
        if (c->trial->unit[u].number > 0) {
            like_air(c, u, &state[u]);
        }
    }
    for (size_t u = 0; u < c->trial->units; u++) {
        state[u].follows = without_demand(c, state, u); /* before any changes */
    }
    for (size_t u = 0; u < c->trial->units; u++) {
        for (size_t e = 0; e < BL_EFFORTS; e++) {
            struct bl_trait_state *like =
                &state[u].at[BL_BY_DEMAND][e][BL_SIGN_LIKE_AIR];
            if (like->off == BL_OFF_UP && !state[u].follows) {
                like->off = BL_OFF_UNKNOWN;
            }
        }
        state[u].follows = false;
    }
    for (size_t u = 0; u < c->trial->units; u++) {
        compare_along(c, state, u);
    }
}
