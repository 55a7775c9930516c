/* SPDX-License-Identifier: MIT */
/* The table of traits: readings of single applications gathered per run, unit,
   kind and shape. The middle stands for them; its u joins that of one reading,
   the scatter and what a channel's stated delay adds. */
#include "study/causes/traits/traits.h"

#include "base/alloc.h"
#include "base/number.h"
#include "lag/trip.h"

#include <math.h>

/* Scratch for the readings of one cell. */
struct readings {
    double *value, *u;
    size_t count, couplings;
    bool at_least, parted, from_demand;
};

static bool is_bound(const struct bl_stretches *cell, enum bl_trait trait)
{
    return ((trait == BL_TRAIT_FILL || trait == BL_TRAIT_STAGE_FILLED) &&
            cell->fill_at_least) ||
           (trait == BL_TRAIT_LINE_RISE && cell->rise_at_least);
}

/* Where a cell of the table stands. */
struct place {
    size_t run, unit, group;
    enum bl_trait trait;
};

/* Those that are figures, or those that are bounds. */
static void gather_some(struct readings *to, const struct bl_causing *c,
                        const struct place *at, bool bounds)
{
    const struct bl_run_lag *lag = c->run[at->run].lag;
    for (size_t a = 0; a < lag->applications; a++) {
        const struct bl_application *one = &lag->application[a];
        const struct bl_stretches *cell =
            bl_causes_cell(c, at->run, a, at->unit);
        if (bl_trait_group(one->kind, one->shape) != at->group ||
            !isfinite(cell->value[at->trait]) ||
            !isfinite(cell->u[at->trait]) ||
            is_bound(cell, at->trait) != bounds) {
            continue;
        }
        to->value[to->count] = cell->value[at->trait];
        to->u[to->count++] = cell->u[at->trait];
        to->parted |= cell->control_wired;
        to->couplings = cell->couplings;
        to->from_demand |= at->trait == BL_TRAIT_DELAY && cell->from_demand;
    }
}

/* A press that was too short to settle gives a bound. Where more gave a figure,
   and no bound lies above them all, it adds nothing; else the cell is one. */
static void gather(struct readings *to, const struct bl_causing *c,
                   const struct place *at)
{
    to->count = to->couplings = 0;
    to->at_least = to->parted = to->from_demand = false;
    gather_some(to, c, at, false);
    const size_t figures = to->count;
    double highest = -INFINITY;
    for (size_t i = 0; i < figures; i++) {
        highest = fmax(highest, to->value[i]);
    }
    gather_some(to, c, at, true);
    for (size_t i = figures; i < to->count; i++) {
        to->at_least |= to->value[i] > highest;
    }
    to->at_least |= to->count > figures && to->count - figures >= figures;
    to->count = to->at_least ? to->count : figures;
}

/* A share of applications is a mean; everything else a middle. */
static void summarise(struct bl_trait_cell *into, struct readings *from,
                      enum bl_trait trait)
{
    const size_t n = from->count;
    double sum = 0;
    if (n == 0) {
        return;
    }
    for (size_t i = 0; i < n; i++) {
        sum += from->value[i];
    }
    const double u_one = bl_median(from->u, n);
    const double middle = bl_causes_middle(from->value, n, &into->scatter);
    into->n = n;
    into->value = trait == BL_TRAIT_NO_RESPONSE ? sum / (double)n : middle;
    /* The middle of n is uncertain by 1.25 of one over root n. */
    into->u = 1.2533 * fmax(into->scatter, u_one) / sqrt((double)n);
    into->at_least = from->at_least;
    into->parted = from->parted;
    into->from_demand = from->from_demand;
    into->couplings = from->couplings;
}

/* The unit of a place, and which of its outputs. */
static size_t unit_of(const struct bl_causing *c, size_t place, size_t *output)
{
    const struct bl_trial *trial = c->trial;
    *output = SIZE_MAX;
    for (size_t u = 0; place >= trial->units && u < trial->units; u++) {
        const size_t first = bl_trait_place(trial, u, 0);
        if (trial->unit[u].outputs > 1 && place >= first &&
            place - first < trial->unit[u].outputs) {
            *output = place - first;
            return u;
        }
    }
    return place;
}

long bl_causes_in_front(const struct bl_causing *c, size_t unit)
{
    const char combination = c->trial->unit[unit].combination;
    for (size_t u = unit; u-- > 0;) {
        if (c->trial->unit[u].combination == combination &&
            c->trial->unit[u].outputs > 0) {
            return (long)u;
        }
    }
    return -1;
}

/* What a switch adds that closes nobody knows where: the same in every
   application, so that no number of them makes it less. */
static void add_closing(const struct bl_causing *c, size_t run, size_t place)
{
    static const enum bl_trait firsts[] = {BL_TRAIT_DELAY, BL_TRAIT_RESPONSE,
                                           BL_TRAIT_BEHIND_AIR,
                                           BL_TRAIT_STAGE_APPLY};
    const struct bl_causes_run *measured = &c->run[run];
    size_t output;
    const size_t unit = unit_of(c, place, &output);
    const long front = bl_causes_in_front(c, unit);
    const struct bl_closing own = bl_unit_closes(
        c->trial, measured->data, measured->clocks, unit, output);
    const struct bl_closing before =
        front < 0 ? own
                  : bl_unit_closes(c->trial, measured->data, measured->clocks,
                                   (size_t)front, SIZE_MAX);
    for (size_t i = 0; i < sizeof(firsts) / sizeof(firsts[0]); i++) {
        const double u_s = bl_closing_u_s(
            c->trial, &own,
            firsts[i] == BL_TRAIT_STAGE_APPLY && front >= 0 ? &before : NULL);
        for (size_t g = 0; u_s > 0 && g < BL_TRAIT_GROUPS; g++) {
            struct bl_trait_cell *cell =
                bl_trait_at(c->traits, run, place, g, firsts[i]);
            cell->u = hypot(cell->u, u_s);
        }
    }
}

static bool gather_run(struct bl_causing *c, size_t run)
{
    const struct bl_run_lag *lag = c->run[run].lag;
    struct readings all = {bl_alloc(lag->applications + 1, sizeof(double)),
                           bl_alloc(lag->applications + 1, sizeof(double)),
                           0,
                           0,
                           false,
                           false,
                           false};
    const bool made = all.value != NULL && all.u != NULL;
    for (size_t u = 0; made && u < c->places; u++) {
        for (size_t g = 0; g < BL_TRAIT_GROUPS; g++) {
            for (int t = 0; t < BL_TRAITS; t++) {
                const enum bl_trait trait = (enum bl_trait)t;
                gather(&all, c, &(const struct place){run, u, g, trait});
                summarise(bl_trait_at(c->traits, run, u, g, trait), &all,
                          trait);
            }
        }
        add_closing(c, run, u);
    }
    bl_free(all.value);
    bl_free(all.u);
    return made;
}

/* Presses of one kind that differ by more than this ask for different pressures
   (own choice): what was held in some of them is not held against all. */
static const double alike_kpa = 5;

static bool other_presses(const struct bl_trait_cell *asked,
                          const struct bl_trait_cell *held)
{
    return asked->n != held->n && asked->scatter > alike_kpa;
}

/* What a unit keeps of the pressure that is asked of it, from a light hold and
   a hard one: the straight line through both meets zero at its opening
   pressure. It is entered with the light one. */
static void opening(struct bl_causing *c, size_t run, size_t unit, size_t light,
                    size_t hard)
{
    const struct bl_traits *all = c->traits;
    const struct bl_trait_cell *held[2] = {
        bl_trait_at(all, run, unit, light, BL_TRAIT_HELD),
        bl_trait_at(all, run, unit, hard, BL_TRAIT_HELD)};
    const struct bl_trait_cell *asked[2] = {
        bl_trait_at(all, run, unit, light, BL_TRAIT_ASKED),
        bl_trait_at(all, run, unit, hard, BL_TRAIT_ASKED)};
    struct bl_trait_cell *into =
        bl_trait_at(all, run, unit, light, BL_TRAIT_OPENING);
    const double apart = asked[1]->value - asked[0]->value;
    const double rise = held[1]->value - held[0]->value;
    if (held[0]->n == 0 || held[1]->n == 0 || asked[0]->n == 0 ||
        asked[1]->n == 0 || into->n > 0 || !(apart > 100) || !(rise > 50) ||
        other_presses(asked[0], held[0]) || other_presses(asked[1], held[1])) {
        return;
    }
    const double gain = rise / apart;
    into->n = held[0]->n;
    into->value = asked[0]->value - held[0]->value / gain;
    into->scatter = held[0]->scatter / gain;
    into->parted = held[0]->parted;
    into->u =
        hypot(hypot(asked[0]->u, held[0]->u / gain),
              hypot(asked[1]->u, held[1]->u / gain) * held[0]->value / rise);
}

/*
 * The same from the moments at which its output begins, in a light and a hard
 * application: the valve's delay is in both, and what its input needs up to the
 * opening pressure differs with the pace of the input. A line is laid through
 * the input's rise from response_at to 75 %.
 */
static void opens_at(struct bl_causing *c, size_t run, size_t unit,
                     size_t light, size_t hard)
{
    const struct bl_traits *all = c->traits;
    const struct bl_trait_cell *onset[2] = {
        bl_trait_at(all, run, unit, light, BL_TRAIT_ONSET),
        bl_trait_at(all, run, unit, hard, BL_TRAIT_ONSET)};
    const struct bl_trait_cell *pace[2] = {
        bl_trait_at(all, run, unit, light, BL_TRAIT_PACE),
        bl_trait_at(all, run, unit, hard, BL_TRAIT_PACE)};
    struct bl_trait_cell *into =
        bl_trait_at(all, run, unit, light, BL_TRAIT_OPENS_AT);
    if (onset[0]->n == 0 || onset[1]->n == 0 || pace[0]->n == 0 ||
        pace[1]->n == 0 || into->n > 0 || !(pace[0]->value > 0) ||
        !(pace[1]->value > 2 * pace[0]->value)) {
        return;
    }
    const double slower = 1 / pace[0]->value - 1 / pace[1]->value;
    into->n = onset[0]->n;
    into->value = c->trial->response_at_kpa +
                  (onset[0]->value - onset[1]->value) / slower;
    into->u = hypot(onset[0]->u, onset[1]->u) / slower;
    into->scatter = onset[0]->scatter / slower;
    into->parted = onset[0]->parted;
}

/* Of every lighter kind with the hardest that was made. */
static void openings(struct bl_causing *c, size_t run, size_t unit)
{
    for (size_t shape = 0; shape < 3; shape++) {
        for (size_t light = BL_KIND_LIGHT; light < BL_KIND_FULL; light++) {
            for (size_t hard = BL_KIND_FULL; hard > light; hard--) {
                opening(c, run, unit, light * 3 + shape, hard * 3 + shape);
                opens_at(c, run, unit, light * 3 + shape, hard * 3 + shape);
            }
        }
    }
}

/*
 * The stage of the first towed unit, where nothing in front of it was measured:
 * what it takes by air after the command, less what it takes by itself, which
 * the demand shows.
 */
static void first_stage(struct bl_causing *c, size_t run, size_t powered,
                        size_t unit)
{
    static const enum bl_trait parts[][3] = {
        {BL_TRAIT_STAGE_APPLY, BL_TRAIT_RESPONSE, BL_TRAIT_DELAY},
        {BL_TRAIT_STAGE_RELEASE, BL_TRAIT_RELEASE_DELAY,
         BL_TRAIT_RELEASE_DELAY},
        {BL_TRAIT_STAGE_FILLED, BL_TRAIT_FILLED, BL_TRAIT_FILLED},
        {BL_TRAIT_STAGE_EMPTIED, BL_TRAIT_EMPTIED, BL_TRAIT_EMPTIED}};
    const struct bl_traits *all = c->traits;
    for (size_t g = 0; g < BL_TRAIT_GROUPS; g++) {
        for (size_t i = 0; i < sizeof(parts) / sizeof(parts[0]); i++) {
            struct bl_trait_cell *into =
                bl_trait_at(all, run, unit, g, parts[i][0]);
            const struct bl_trait_cell *air =
                bl_trait_at(all, run, unit, g, parts[i][1]);
            const struct bl_trait_cell *own =
                bl_trait_at(all, powered, unit, g, parts[i][2]);
            if (into->n == 0 && air->n > 0 && own->n > 0 && !air->parted) {
                into->n = air->n;
                into->value = air->value - own->value;
                into->u = hypot(air->u, own->u);
                into->scatter = air->scatter;
            }
        }
    }
}

/* Own choice: a unit that holds less than this of what is asked with the demand
   has a fault of its own there. */
static const double least_share = 0.2;

/*
 * Where no light hold by air is there, as when the unit does not brake in light
 * applications at all: from a hard one, and from the share of what is asked
 * that the unit holds in the same kind with the demand. It is what the way of
 * the air keeps more than that of the demand.
 */
static void opening_by_air(struct bl_causing *c, size_t run, size_t powered,
                           size_t unit, size_t group)
{
    const struct bl_traits *all = c->traits;
    const struct bl_trait_cell *held =
        bl_trait_at(all, run, unit, group, BL_TRAIT_HELD);
    const struct bl_trait_cell *asked =
        bl_trait_at(all, run, unit, group, BL_TRAIT_ASKED);
    const struct bl_trait_cell *share =
        bl_trait_at(all, powered, unit, group, BL_TRAIT_HOLD);
    struct bl_trait_cell *into =
        bl_trait_at(all, run, unit, group, BL_TRAIT_OPENING);
    if (held->n == 0 || asked->n == 0 || share->n == 0 || into->n > 0 ||
        !held->parted || !(share->value > least_share) ||
        other_presses(asked, held)) {
        return;
    }
    const double needed = held->value / share->value;
    into->n = held->n;
    into->value = asked->value - needed;
    into->scatter = held->scatter / share->value;
    into->parted = held->parted;
    into->u = hypot(hypot(asked->u, held->u / share->value),
                    needed * share->u / share->value);
}

static void openings_by_air(struct bl_causing *c, size_t run, size_t powered)
{
    for (size_t place = 0; place < c->places; place++) {
        for (size_t g = BL_KIND_SERVICE * 3; g < BL_TRAIT_GROUPS; g++) {
            opening_by_air(c, run, powered, place, g);
        }
    }
}

/* What a run by air and one with the demand give together. */
static void air_beside_demand(struct bl_causing *c)
{
    for (size_t r = 0; r < c->trial->runs; r++) {
        for (size_t p = 0; c->traits->by[r] == BL_BY_AIR && p < c->trial->runs;
             p++) {
            if (c->traits->by[p] != BL_BY_DEMAND) {
                continue;
            }
            for (size_t u = 0; u < c->trial->units; u++) {
                if (c->trial->unit[u].number == 1) {
                    first_stage(c, r, p, u);
                }
            }
            openings_by_air(c, r, p);
        }
    }
}

bool bl_traits_make(struct bl_causing *c)
{
    struct bl_traits *all = bl_alloc(1, sizeof(*all));
    if (all == NULL) {
        return false;
    }
    c->into->traits = c->traits = all;
    all->runs = c->trial->runs;
    all->units = c->trial->units;
    all->places = c->places;
    all->by = bl_alloc(all->runs + 1, sizeof(*all->by));
    all->cell =
        bl_alloc(all->runs * all->places * BL_TRAIT_GROUPS * BL_TRAITS + 1,
                 sizeof(*all->cell));
    bool made = all->by != NULL && all->cell != NULL;
    for (size_t r = 0; made && r < all->runs; r++) {
        all->by[r] = bl_causes_class(c, r);
        made = c->run[r].lag == NULL || gather_run(c, r);
        for (size_t p = 0; made && p < all->places; p++) {
            openings(c, r, p);
        }
        made = made && bl_traits_of_outputs(c, r);
    }
    if (made) {
        air_beside_demand(c);
    }
    return made;
}
