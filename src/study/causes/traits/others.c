/* SPDX-License-Identifier: MIT */
/*
 * A unit compared with the other units of its train: leave one out, robust,
 * with the others' own spread as part of the u. Units of one make differ by
 * some 13 % from stage to stage (an independent computation of such chains);
 * few others say little of their spread, so that value counts as so many
 * further units.
 */
#include "study/causes/traits/traits.h"

#include "base/alloc.h"
#include "base/number.h"
#include "brakelag/stats.h"
#include "lag/as_one.h"

#include <math.h>

/* Spread of sound units: stages of one chain, 9 % at equal lengths and 13 % at
   8 to 14 m, from draws; it stands for everything that air fills. */
static const double spread_of_kind = 0.13;
/* Towing vehicle, trailer and dolly differ more: own choice. */
static const double spread_of_kinds = 0.3;
/* Lines whose lengths are not stated: units of 8 to 14 m, evenly, make the
   weights of line.c differ by so much. */
static const double spread_of_lengths = 0.21;
/* Lines that take over twice as much or under half say little of this one; if
   there are no others, they may be off by so much: own choice. */
static const double most_times = 2, far_is_off = 0.25;
/* The times of two parts one behind the other join as squares (Elmore 1948, for
   linear parts without overshoot); two like lags in series take 3.36 of one
   from 90 to 10 %, which is 8 % more than that. */
static const double squares_are_off = 0.08;
/* A valve that hands the air on keeps 10 to 60 kPa of it (common practice), of
   some 600: holds fall by this share at most from unit to unit. */
static const double kept_of_hold = 0.1;
/* Own choice: the prior weighs as much as so many others. */
static const double prior_weight = 4;
/* By chance one of all units lies so far off once in a hundred times: own
   choice (one-sided; Bonferroni over the units, any of which might). That the
   others are few is in their spread, by its prior. Size must be passed too. */
static const double by_chance = 0.01;

double bl_doubt_ratio(size_t units)
{
    return bl_normal_quantile(1 - by_chance / (double)units);
}

/* What is large enough to matter, and the least spread of sound parts: own
   choice. Holds are alike within 3 %, so that their prior is a quarter. */
static const struct {
    double matters;
    bool of_expected; /* the size is a share of what was to be expected */
    double least, part;
} sizes[BL_JUDGES] = {
    [BL_JUDGED_NOT] = {NAN, false, NAN, 1},
    [BL_JUDGED_TIME] = {0.10, false, 0.008, 1},
    /* A first-order lag of so much takes 0.10 s more to 75 % (1.39 of it). */
    [BL_JUDGED_MEAN] = {0.072, false, 0.008, 1},
    [BL_JUDGED_HOLD] = {0.15, true, 0.015, 0.25},
    [BL_JUDGED_SHARE] = {0.15, false, 0.015, 1},
    [BL_JUDGED_PRESSURE] = {30, false, 4, 1},
    [BL_JUDGED_COUNT] = {0.5, false, 0.015, 1},
};

double bl_trait_spread(enum bl_trait trait, double middle, bool kinds)
{
    const enum bl_judged by = bl_trait_entry(trait)->judged;
    return fmax((kinds ? spread_of_kinds : spread_of_kind) * sizes[by].part *
                    fabs(middle),
                sizes[by].least);
}

double bl_trait_matters(enum bl_trait trait, double expected)
{
    const enum bl_judged by = bl_trait_entry(trait)->judged;
    return sizes[by].matters * (sizes[by].of_expected ? fabs(expected) : 1);
}

/* Does it grow along the train where the air is not parted from the unit? */
static bool grows_along(const struct bl_causing *c, size_t run,
                        enum bl_trait trait, bool parted)
{
    return !parted && bl_trait_class_in(c, run, bl_trait_rule(trait)->grows);
}

/* Middle of all slopes between two of them (Theil, Sen). What stands against
   how air goes is no trend, but one of them that is odd: valves keep some of
   the pressure that they hand on, so that holds fall along the train, and by no
   more than that; times and opening pressures add up. */
static double slope_of(const struct bl_peers *all, double *room)
{
    const struct bl_peer *peer = all->peer;
    const size_t count = all->count;
    size_t n = 0;
    for (size_t i = 0; i < count; i++) {
        for (size_t k = i + 1; k < count; k++) {
            if (peer[i].at != peer[k].at) {
                room[n++] =
                    (peer[k].value - peer[i].value) / (peer[k].at - peer[i].at);
            }
        }
    }
    const double slope = n == 0 ? 0 : bl_median(room, n);
    return all->falls ? fmin(fmax(slope, -all->falls_most), 0) : fmax(slope, 0);
}

/* What the others' own spread adds: squares about their middle, each clipped at
   three of the prior, so that a second odd unit does not hide the first. That
   takes a majority of all units that agrees: of two against two neither is the
   odd one. */
static double spread_about(const double *off, size_t count, double prior,
                           double lost)
{
    double sum = prior_weight * prior * prior;
    size_t agree = 0;
    for (size_t i = 0; i < count; i++) {
        agree += fabs(off[i]) <= 3 * prior;
    }
    const bool majority = 2 * agree > count + 1;
    for (size_t i = 0; i < count; i++) {
        const double one =
            majority ? fmin(fabs(off[i]), 3 * prior) : fabs(off[i]);
        sum += one * one;
    }
    const double freedom = fmax(0, (double)count - lost);
    return sqrt(sum / (prior_weight + freedom));
}

static void expect(const struct bl_peers *all, double *room, double *value,
                   double *u)
{
    const struct bl_peer *peer = all->peer;
    const double n = (double)all->count;
    const double slope = all->along ? slope_of(all, room) : 0;
    double middle_at = 0;
    double squares = 0;
    double u_one = 0;
    for (size_t i = 0; i < all->count; i++) {
        middle_at += peer[i].at / n;
        u_one = fmax(u_one, peer[i].u);
    }
    for (size_t i = 0; i < all->count; i++) {
        squares += (peer[i].at - middle_at) * (peer[i].at - middle_at);
        room[i] = peer[i].value - slope * (peer[i].at - all->at);
    }
    *value = bl_median(room, all->count);
    /* Two agree with any trend through them: their spread is about their mean.
     */
    const bool trend = all->along && all->count > 2;
    const double mean = (peer[0].value + peer[1].value) / 2;
    for (size_t i = 0; i < all->count; i++) {
        room[i] = peer[i].value - (trend || !all->along
                                       ? slope * (peer[i].at - all->at) + *value
                                       : mean);
    }
    const double spread =
        hypot(spread_about(room, all->count, all->prior, trend ? 2 : 1), u_one);
    const double away = all->at - middle_at;
    const double along = all->along && squares > 0 ? away * away / squares : 0;
    /* The middle of n is uncertain by 1.57 of the variance over n. */
    *u = spread * sqrt(1 + 1.57 / n + along);
}

bool bl_peers_expect(const struct bl_peers *all, double *value, double *u)
{
    if (all->count < 2) {
        return false;
    }
    double *room = bl_alloc(all->count * all->count + 1, sizeof(*room));
    if (room != NULL) {
        expect(all, room, value, u);
    }
    bl_free(room);
    return room != NULL;
}

static enum bl_unit_kind kind_of(const struct bl_causing *c, size_t unit)
{
    const struct bl_trial_unit *one = &c->trial->unit[unit];
    return one->kind == BL_UNIT_NOT_STATED ? BL_UNIT_TRAILER : one->kind;
}

bool bl_traits_one_kind(const struct bl_causing *c, size_t a, size_t b)
{
    if (c->trial->unit[a].combination != c->trial->unit[b].combination) {
        return false;
    }
    const bool tows[2] = {c->trial->unit[a].number == 0,
                          c->trial->unit[b].number == 0};
    return tows[0] == tows[1] && (tows[0] || kind_of(c, a) == kind_of(c, b));
}

bool bl_trait_moves_along(const struct bl_causing *c, size_t run,
                          enum bl_trait trait, bool parted)
{
    const struct bl_trait_rule *rule = bl_trait_rule(trait);
    return !parted && bl_trait_class_in(c, run, rule->grows | rule->chain);
}

/* Where a cell stands: what trait, in which run and group. */
struct place {
    size_t run, unit, group;
    enum bl_trait trait;
};

static const struct bl_trait_cell *cell_of(const struct bl_causing *c,
                                           const struct place *at, size_t unit)
{
    return bl_trait_at(c->traits, at->run, unit, at->group, at->trait);
}

/* ---- what bars a unit from being compared with others, or others from it */

static bool nothing_there(const struct bl_causing *c, const struct place *at,
                          size_t unit)
{
    const struct bl_trait_cell *cell = cell_of(c, at, unit);
    return cell->n == 0 || cell->at_least;
}

/* Is this cell one of the chain in front of it? Unit 0 has its input, the
   command, at hand. */
static bool of_the_chain(const struct bl_causing *c, const struct place *at,
                         size_t unit)
{
    const struct bl_trait_rule *rule = bl_trait_rule(at->trait);
    const bool light =
        bl_trait_effort(c->traits, at->run, unit, at->group) == BL_EFFORT_LIGHT;
    return !cell_of(c, at, unit)->parted && c->trial->unit[unit].number != 0 &&
           bl_trait_class_in(c, at->run,
                             rule->chain | (light ? rule->chain_light : 0));
}

/* A demand has reached both; by air both have their input taken off, or
   neither. */
static bool of_other_input(const struct bl_causing *c, const struct place *at,
                           size_t unit)
{
    const bool tows = c->trial->unit[at->unit].number == 0 ||
                      c->trial->unit[unit].number == 0;
    const bool any = tows ? bl_trait_rule(at->trait)->beside_towing
                          : bl_trait_class_in(c, at->run, BL_IN_DEMAND);
    return !any &&
           cell_of(c, at, unit)->parted != cell_of(c, at, at->unit)->parted;
}

static bool of_other_load(const struct bl_causing *c, const struct place *at,
                          size_t unit)
{
    return bl_trait_rule(at->trait)->of_load &&
           c->trial->unit[unit].load != c->trial->unit[at->unit].load;
}

/* It has units in between whose control pressure was not recorded: several
   lines and the valves between them, and no line. */
static bool of_several_lines(const struct bl_causing *c, const struct place *at,
                             size_t unit)
{
    return bl_line_is_several(cell_of(c, at, unit), at->trait);
}

static bool of_other_train(const struct bl_causing *c, const struct place *at,
                           size_t unit)
{
    return c->trial->unit[unit].combination !=
           c->trial->unit[at->unit].combination;
}

static bool exchanged(const struct bl_causing *c, const struct place *at,
                      size_t unit)
{
    return bl_causes_found(c, BL_FINDING_CHANNELS_SWAPPED, (long)unit,
                           (long)at->run) != NULL;
}

static bool is_barred(const struct bl_causing *c, const struct place *at,
                      size_t unit)
{
    static bool (*const bars[])(const struct bl_causing *, const struct place *,
                                size_t unit) = {
        nothing_there,  of_other_input, of_the_chain,    of_other_load,
        of_other_train, exchanged,      of_several_lines};
    for (size_t i = 0; i < sizeof(bars) / sizeof(bars[0]); i++) {
        if (bars[i](c, at, unit)) {
            return true;
        }
    }
    return false;
}

static double length_of(const struct bl_causing *c, const struct place *at,
                        size_t unit)
{
    return bl_trait_rule(at->trait)->by_metre ? c->trial->unit[unit].pipe_m
                                              : NAN;
}

static size_t gather(const struct bl_causing *c, const struct place *at,
                     bool kinds, bool *metres, struct bl_peer *peer)
{
    size_t count = 0;
    *metres = isfinite(length_of(c, at, at->unit));
    for (size_t u = 0; u < c->trial->units; u++) {
        const struct bl_trait_cell *cell = cell_of(c, at, u);
        if (u == at->unit || is_barred(c, at, u) ||
            (!kinds && !bl_traits_one_kind(c, u, at->unit))) {
            continue;
        }
        *metres = *metres && isfinite(length_of(c, at, u));
        peer[count++] = (struct bl_peer){cell->value, cell->u,
                                         (double)c->trial->unit[u].number};
    }
    return count;
}

/* Divide by the length of each one's line. */
static void by_metre(const struct bl_causing *c, const struct place *at,
                     struct bl_peer *peer, size_t count)
{
    const char combination = c->trial->unit[at->unit].combination;
    for (size_t i = 0; i < count; i++) {
        const long u =
            bl_trial_unit_index(c->trial, combination, (int)peer[i].at);
        const double metre = length_of(c, at, (size_t)u);
        peer[i].value /= metre;
        peer[i].u /= metre;
    }
}

/* How long an output takes that would take `own` behind a sudden input, behind
   one that takes `in` itself; beyond that. */
static double behind_input(double in, double own)
{
    return hypot(in, own) - in;
}

static double input_of(const struct bl_causing *c, const struct place *at,
                       size_t unit)
{
    const enum bl_trait input = bl_trait_rule(at->trait)->input;
    const struct bl_trait_cell *cell =
        bl_trait_at(c->traits, at->run, unit, at->group, input);
    return input != BL_TRAIT_DELAY && cell->n > 0 ? cell->value : NAN;
}

/*
 * A slow input hides what a unit takes by itself: what the others would take
 * behind this one's input. Those whose own input hides it are left out where
 * two others are there. Out: what the rule of squares adds to the u of this
 * one; 0 where no input is recorded.
 */
static double by_input(const struct bl_causing *c, const struct place *at,
                       struct bl_peer *peer, size_t *count)
{
    const char combination = c->trial->unit[at->unit].combination;
    const double in = input_of(c, at, at->unit);
    size_t tell = 0;
    if (isnan(in)) {
        return 0;
    }
    for (size_t i = 0; i < *count; i++) {
        const long u =
            bl_trial_unit_index(c->trial, combination, (int)peer[i].at);
        const double theirs = input_of(c, at, (size_t)u);
        const double all = peer[i].value + theirs;
        if (isnan(theirs)) {
            continue;
        }
        const double own = sqrt(fmax(0, all * all - theirs * theirs));
        const double u_all =
            hypot(peer[i].u, squares_are_off * theirs * theirs / all);
        const double most =
            sqrt(fmax(0, (all + u_all) * (all + u_all) - theirs * theirs));
        peer[i].value = behind_input(in, own);
        peer[i].u = behind_input(in, most) - peer[i].value;
        tell += peer[i].u < bl_trait_matters(at->trait, peer[i].value);
    }
    for (size_t i = *count; tell >= 2 && i-- > 0;) {
        if (!(peer[i].u < bl_trait_matters(at->trait, peer[i].value))) {
            peer[i] = peer[--*count];
        }
    }
    return squares_are_off * in;
}

static double middle_of(const struct bl_peer *peer, size_t count, double *room)
{
    for (size_t i = 0; i < count; i++) {
        room[i] = peer[i].value;
    }
    return bl_median(room, count);
}

/* A line or a stage begins at the unit in front: are its channels its own? */
static bool front_exchanged(const struct bl_causing *c, const struct place *at)
{
    const struct bl_trial_unit *own = &c->trial->unit[at->unit];
    const long front =
        bl_trial_unit_index(c->trial, own->combination, own->number - 1);
    return bl_trait_rule(at->trait)->of_coupling && front >= 0 &&
           exchanged(c, at, (size_t)front);
}

/* What the peers let one expect; `scale` is the length where they are taken by
   the metre, else 1. */
struct expecting {
    const struct bl_peer *peer;
    size_t count;
    double share, scale, *room;
    double value, u; /* out */
};

static bool expecting(const struct bl_causing *c, const struct place *at,
                      bool parted, struct expecting *x)
{
    const enum bl_judged by = bl_trait_entry(at->trait)->judged;
    const double middle =
        x->count == 0 ? 0 : middle_of(x->peer, x->count, x->room);
    const struct bl_peers all = {
        .peer = x->peer,
        .count = x->count,
        .at = (double)c->trial->unit[at->unit].number,
        .along = grows_along(c, at->run, at->trait, parted),
        .falls = bl_trait_rule(at->trait)->falls,
        .falls_most = kept_of_hold * fabs(middle),
        .prior = fmax(x->share * sizes[by].part * fabs(middle),
                      sizes[by].least / x->scale)};
    const bool known = bl_peers_expect(&all, &x->value, &x->u);
    x->value *= x->scale;
    x->u *= x->scale;
    return known;
}

static void conclude(struct bl_trait_cell *cell, enum bl_trait trait,
                     size_t units)
{
    struct bl_trait_reference *to = &cell->reference[BL_REFERENCE_OTHERS];
    to->off = cell->value - to->value;
    const double both = hypot(to->u, cell->u);
    to->ratio = to->off / both;
    to->high_off =
        fmax(bl_trait_matters(trait, to->value), bl_doubt_ratio(units) * both);
    to->low_off = -to->high_off;
}

/* The other lines by their weights. `far`: those too that take over twice as
   much or under half. */
static size_t gather_lines(const struct bl_causing *c, const struct place *at,
                           enum bl_line_view view, bool far,
                           struct bl_peer *peer)
{
    const double own = bl_line_weight(c->trial, at->unit, view);
    size_t count = 0;
    for (size_t u = 0; u < c->trial->units; u++) {
        const struct bl_trait_cell *cell = cell_of(c, at, u);
        if (u == at->unit || is_barred(c, at, u)) {
            continue;
        }
        const double other = bl_line_weight(c->trial, u, view);
        const double volume =
            bl_line_weight(c->trial, u, BL_LINE_BY_VOLUME) /
            bl_line_weight(c->trial, at->unit, BL_LINE_BY_VOLUME);
        if (far || fabs(log(volume)) <= log(most_times)) {
            peer[count++] = (struct bl_peer){cell->value * own / other,
                                             cell->u * own / other,
                                             (double)c->trial->unit[u].number};
        }
    }
    return count;
}

/*
 * A line against the other lines, by both views of what each takes: the middle
 * of the two is expected, and either may be right (a rectangle between them,
 * GUM 4.3.7). The spread is that about the view which the others fit better.
 */
static void one_line(struct bl_causing *c, const struct place *at,
                     struct bl_peer *peer, double *room)
{
    struct bl_trait_cell *cell =
        bl_trait_at(c->traits, at->run, at->unit, at->group, at->trait);
    struct bl_trait_reference *to = &cell->reference[BL_REFERENCE_OTHERS];
    struct expecting x[BL_LINE_VIEWS];
    double more = 0;
    for (int view = 0; view < BL_LINE_VIEWS; view++) {
        x[view] = (struct expecting){
            .peer = peer, .share = spread_of_kind, .scale = 1, .room = room};
        if (!bl_line_lengths(c->trial, at->unit)) {
            x[view].share = hypot(spread_of_kind, spread_of_lengths);
        }
        x[view].count =
            gather_lines(c, at, (enum bl_line_view)view, false, peer);
        if (x[view].count < 2) {
            more = far_is_off;
            x[view].count =
                gather_lines(c, at, (enum bl_line_view)view, true, peer);
        }
        if (!expecting(c, at, cell->parted, &x[view])) {
            return;
        }
    }
    to->known = true;
    to->n = x[0].count;
    to->value = (x[0].value + x[1].value) / 2;
    to->u = hypot(hypot(fmin(x[0].u, x[1].u), more * to->value),
                  (x[0].value - x[1].value) / 2 / sqrt(3));
    conclude(cell, at->trait, to->n + 1);
}

/* A stage that has the units' own times in it takes three others: one unit that
   is slow by itself makes two of them odd. */
static size_t least_others(enum bl_trait trait)
{
    return bl_trait_rule(trait)->own == BL_TRAIT_DELAY ? 2 : 3;
}

static void one_cell(struct bl_causing *c, const struct place *at,
                     struct bl_peer *peer, double *room)
{
    struct bl_trait_cell *cell =
        bl_trait_at(c->traits, at->run, at->unit, at->group, at->trait);
    struct bl_trait_reference *to = &cell->reference[BL_REFERENCE_OTHERS];
    struct expecting x = {
        .peer = peer, .share = spread_of_kind, .scale = 1, .room = room};
    bool metres = false;
    if (cell->n == 0 || bl_trait_entry(at->trait)->judged == BL_JUDGED_NOT ||
        of_the_chain(c, at, at->unit) || front_exchanged(c, at) ||
        of_several_lines(c, at, at->unit)) {
        return;
    }
    if (bl_trait_rule(at->trait)->by_line) {
        one_line(c, at, peer, room);
        return;
    }
    x.count = gather(c, at, false, &metres, peer);
    if (x.count < least_others(at->trait)) {
        x.count = gather(c, at, true, &metres, peer);
        x.share = spread_of_kinds;
    }
    const double more =
        hypot(by_input(c, at, peer, &x.count),
              bl_trait_own_u(c, at->unit, at->group, at->trait));
    if (x.count < least_others(at->trait) ||
        !expecting(c, at, cell->parted, &x)) {
        return;
    }
    to->known = true;
    to->value = x.value;
    to->u = hypot(x.u, more);
    to->n = x.count;
    if (metres) {
        by_metre(c, at, peer, x.count);
        x.scale = length_of(c, at, at->unit);
        (void)expecting(c, at, cell->parted, &x);
        /* Pipe grows with the length, valves and volumes do not: half of
           each, and half of the difference is in the u. Own choice. */
        to->u = hypot(fmax(to->u, hypot(x.u, more)), (x.value - to->value) / 2);
        to->value = (to->value + x.value) / 2;
    }
    conclude(cell, at->trait, x.count + 1);
    if (bl_trait_on_through_line(c, at->unit, at->trait)) {
        to->high_off = to->low_off = NAN;
    }
}

void bl_traits_against_others(struct bl_causing *c)
{
    struct bl_peer *peer = bl_alloc(c->trial->units + 1, sizeof(*peer));
    double *room = bl_alloc(c->trial->units + 1, sizeof(*room));
    c->failed = c->failed || peer == NULL || room == NULL;
    for (size_t r = 0; !c->failed && r < c->trial->runs; r++) {
        for (size_t u = 0; u < c->trial->units; u++) {
            /* With all transducers at one tee there are no units. */
            if (c->run[r].lag == NULL ||
                bl_lag_as_one(c->run[r].lag, c->trial->unit[u].combination)) {
                continue;
            }
            for (size_t g = 0; g < BL_TRAIT_GROUPS; g++) {
                for (int t = 0; t < BL_TRAITS; t++) {
                    const struct place at = {r, u, g, (enum bl_trait)t};
                    one_cell(c, &at, peer, room);
                }
            }
        }
    }
    bl_free(peer);
    bl_free(room);
}
