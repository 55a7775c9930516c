/* SPDX-License-Identifier: MIT */
/*
 * What a trait is compared with besides the other units (others.c): what the
 * trial states, its limits, earlier runs, the chain as computed, the same unit
 * in the other condition, and what is usual. Each says how far off the unit
 * lies, in plain units and in u; beyond its tolerance, and four u, it would
 * stand out. Tolerances are those of docs/findings.md, where the looks of this
 * folder find by the same references.
 */
#include "study/causes/traits/traits.h"

#include "base/number.h"
#include "lag/as_one.h"
#include "study/predict/figures.h"

#include <math.h>
#include <string.h>

/* Pressure balance between axles, 4 psi (methods.md 2.1), and what opening
   pressures of one type differ by: as in levels.c and curves.c. */
static const double hold_tolerance_kpa = 28, opening_tolerance_kpa = 15;
/* Beyond a band, as in predicted.c: stated inputs, and usual ones. */
static const double stated_more_s = 0.02;
static const double usual_more_s = 0.05, usual_more = 0.25;
/* Of a normal distribution: from 5 to 95 %, and up to 99 %. */
static const double between_5_and_95 = 3.29, up_to_99 = 2.326;

/* One cell and where it stands. */
struct at {
    const struct bl_causing *c;
    size_t run, unit, group;
    enum bl_trait trait;
    struct bl_trait_cell *cell;
};

/* What one reference lets expect, and how far off is sound. u is NaN where a
   value is stated and nothing is said of it. */
struct expected {
    double value, u, more, less; /* NaN: never off that way */
    size_t n;
};

static void put(const struct at *at, enum bl_reference_kind kind,
                const struct expected *x)
{
    struct bl_trait_reference *to = &at->cell->reference[kind];
    if (!isfinite(x->value)) {
        return;
    }
    const double both = hypot(isnan(x->u) ? 0 : x->u, at->cell->u);
    to->known = true;
    to->value = x->value;
    to->u = x->u;
    to->n = x->n;
    to->off = at->cell->value - x->value;
    to->ratio = both > 0 ? to->off / both : NAN;
    to->high_off = isnan(x->more) ? NAN : fmax(x->more, 4 * both);
    to->low_off = isnan(x->less) ? NAN : -fmax(x->less, 4 * both);
}

static const struct bl_trait_cell *beside(const struct at *at, size_t run,
                                          enum bl_trait trait)
{
    return bl_trait_at(at->c->traits, run, at->unit, at->group, trait);
}

/* ---- what the trial states */

static void stated(const struct at *at)
{
    const struct bl_trial_unit *unit = &at->c->trial->unit[at->unit];
    const struct bl_trait_cell *asked = beside(at, at->run, BL_TRAIT_ASKED);
    struct expected x = {NAN, NAN, opening_tolerance_kpa, opening_tolerance_kpa,
                         1};
    if (at->trait == BL_TRAIT_OPENING || at->trait == BL_TRAIT_OPENS_AT) {
        x.value = unit->threshold_kpa;
    } else if (at->trait == BL_TRAIT_HOLD && asked->n > 0 &&
               !unit->gain_by_load) {
        x.value = unit->gain * (1 - unit->threshold_kpa / asked->value);
        x.more = x.less = hold_tolerance_kpa / asked->value;
    }
    put(at, BL_REFERENCE_STATED, &x);
}

/* ---- limits of the trial: of figures that count from the command */

static enum bl_figure_name figure_of(enum bl_trait trait)
{
    return trait == BL_TRAIT_RESPONSE        ? BL_FIGURE_RESPONSE
           : trait == BL_TRAIT_FILLED        ? BL_FIGURE_FILLED
           : trait == BL_TRAIT_RELEASE_BEGIN ? BL_FIGURE_RELEASE_START
           : trait == BL_TRAIT_EMPTIED       ? BL_FIGURE_EMPTIED
                                             : BL_FIGURES;
}

static void limit(const struct at *at)
{
    const struct bl_trial *trial = at->c->trial;
    const enum bl_figure_name figure = figure_of(at->trait);
    struct expected x = {NAN, NAN, 0, NAN, 0};
    for (size_t i = 0; figure < BL_FIGURES && i < trial->limits; i++) {
        const struct bl_trial_limit *one = &trial->limit[i];
        if (one->figure == figure &&
            (one->unit < 0 || one->unit == (long)at->unit)) {
            x.value = isnan(x.value) ? one->max_s : fmin(x.value, one->max_s);
            x.n++;
        }
    }
    put(at, BL_REFERENCE_LIMIT, &x);
}

/* ---- earlier visits of the same unit, of figures that count from the command
 */

static void visits(const struct at *at)
{
    const struct bl_visits *all = at->c->visits;
    const enum bl_figure_name figure = figure_of(at->trait);
    const char *condition = bl_causes_condition_of(at->c, at->run);
    for (size_t i = 0; all != NULL && i < all->rows; i++) {
        const struct bl_visits_row *row = &all->row[i];
        if (row->unit == at->unit && row->key.figure == figure &&
            bl_trait_group(row->key.kind, row->key.shape) == at->group &&
            strcmp(row->key.condition, condition) == 0) {
            /* Where its own interval ends without 0 in it. */
            const double half = 0.5 * (row->high_s - row->low_s);
            const struct expected x = {row->now_s - row->off_s, row->u_s, half,
                                       half, row->visits};
            put(at, BL_REFERENCE_VISITS, &x);
        }
    }
}

/* ---- earlier runs of the same condition */

static double day_to_day(const struct at *at, double before)
{
    const struct bl_trait_cell *asked = beside(at, at->run, BL_TRAIT_ASKED);
    switch (bl_trait_entry(at->trait)->judged) {
    case BL_JUDGED_TIME:
        return at->trait == BL_TRAIT_FILL   ? 0.02 + 0.1 * fabs(before)
               : at->trait == BL_TRAIT_FALL ? 0.03 + 0.1 * fabs(before)
               : at->trait == BL_TRAIT_DELAY ||
                       at->trait == BL_TRAIT_LINE_APPLY ||
                       at->trait == BL_TRAIT_STAGE_APPLY
                   ? 0.02
                   : 0.03; /* as in timing.c */
    case BL_JUDGED_MEAN:
        return 0.03;
    case BL_JUDGED_HOLD:
        return asked->n > 0 ? hold_tolerance_kpa / asked->value : NAN;
    case BL_JUDGED_PRESSURE:
        return opening_tolerance_kpa;
    case BL_JUDGED_SHARE:
    case BL_JUDGED_COUNT:
        return bl_trait_matters(at->trait, before);
    case BL_JUDGED_NOT:
    case BL_JUDGES:
        break;
    }
    return NAN;
}

/* Middle of cells of this unit in the runs that `takes` allows; a run that has
   a cell has an application, for each of which there is room. */
static struct expected over_runs(const struct at *at,
                                 bool (*takes)(const struct at *, size_t run))
{
    double *value = at->c->room[0];
    double *u = at->c->room[1];
    struct expected x = {NAN, NAN, NAN, NAN, 0};
    size_t n = 0;
    for (size_t r = 0; r < at->c->trial->runs; r++) {
        const struct bl_trait_cell *cell = beside(at, r, at->trait);
        if (at->c->run[r].lag != NULL && takes(at, r) && cell->n > 0 &&
            !cell->at_least) {
            u[n] = cell->u;
            value[n++] = cell->value;
            x.n += cell->n;
        }
    }
    if (n > 0) {
        double scatter;
        const double u_one = bl_median(u, n);
        x.value = bl_causes_middle(value, n, &scatter);
        /* The middle of n is uncertain by 1.25 of one over root n. */
        x.u = 1.2533 * fmax(scatter, u_one) / sqrt((double)n);
    }
    return x;
}

/* A delay that counts from the demand is no measure of one that counts from the
   command, as where the capture is missing. */
static bool before(const struct at *at, size_t run)
{
    return run < at->run && bl_causes_like(at->c, run, at->run) &&
           beside(at, run, at->trait)->from_demand ==
               beside(at, at->run, at->trait)->from_demand &&
           (!bl_trait_is_of_line(at->trait) ||
            beside(at, run, at->trait)->couplings ==
                beside(at, at->run, at->trait)->couplings);
}

/* What a command that moved otherwise than then explains of a time. */
static double of_the_foot(const struct at *at)
{
    return bl_trait_entry(at->trait)->judged == BL_JUDGED_TIME
               ? bl_causes_pedal(at->c, at->run,
                                 at->c->trial->unit[at->unit].combination,
                                 at->group, bl_trait_of_release(at->trait))
                     .explains_s
               : 0;
}

static void earlier(const struct at *at)
{
    struct expected x = over_runs(at, before);
    x.more = x.less = day_to_day(at, x.value) + of_the_foot(at);
    put(at, BL_REFERENCE_EARLIER, &x);
}

/* ---- the chain as computed from what is stated, and its stages */

static void by_stages(const struct bl_stage *stage, struct expected *x)
{
    if (stage->limit_s > 0) {
        x->value = stage->expected_s;
        x->more = stage->limit_s - stage->expected_s;
        x->u = x->more / up_to_99;
        x->n = stage->others;
    }
}

static void by_band(const struct at *at, const struct bl_predict_unit *unit,
                    struct expected *x)
{
    const enum bl_figure_name figure = figure_of(at->trait);
    const bool usual =
        bl_predict_left_to_usual(at->c->trial, at->c->run[at->run].predict,
                                 at->unit) > 0;
    for (size_t i = 0; figure < BL_FIGURES && i < unit->rows; i++) {
        const struct bl_predict_row *row = &unit->row[i];
        if ((int)row->figure != (int)figure ||
            bl_trait_group(row->kind, row->shape) != at->group) {
            continue;
        }
        const double more =
            usual ? usual_more_s + usual_more * fmax(row->high_s, 0)
                  : stated_more_s;
        x->value = row->middle_s;
        x->u = (row->high_s - row->low_s) / between_5_and_95;
        x->more = row->high_s - row->middle_s + more;
        x->less = row->middle_s - row->low_s + more;
        x->n = row->points;
    }
}

static void chain(const struct at *at)
{
    const struct bl_predict *all = at->c->run[at->run].predict;
    struct expected x = {NAN, NAN, NAN, NAN, 0};
    for (size_t i = 0; all != NULL && i < all->units; i++) {
        const struct bl_predict_unit *unit = &all->unit[i];
        if (unit->unit != at->unit) {
            continue;
        }
        const bool hard_steps =
            at->group == bl_trait_group(BL_KIND_FULL, BL_SHAPE_STEP);
        if (at->trait == BL_TRAIT_STAGE_APPLY && hard_steps) {
            by_stages(&unit->stage[BL_STAGE_APPLY], &x);
        } else if (at->trait == BL_TRAIT_STAGE_RELEASE && hard_steps) {
            by_stages(&unit->stage[BL_STAGE_RELEASE], &x);
        } else {
            by_band(at, unit, &x);
        }
    }
    put(at, BL_REFERENCE_CHAIN, &x);
}

/* ---- the same unit in the other condition */

/* What a unit does by itself is alike with the demand and by air: where its air
   is parted from it, or where time does not come into it. Not fill and fall:
   what a slow input takes is in them only where it is slower than the unit. */
static bool of_the_unit(enum bl_trait trait, bool parted)
{
    return trait == BL_TRAIT_HOLD || trait == BL_TRAIT_OPENING ||
           trait == BL_TRAIT_NO_RESPONSE ||
           (parted && (trait == BL_TRAIT_DELAY || trait == BL_TRAIT_OPENS_AT ||
                       trait == BL_TRAIT_RELEASE_DELAY));
}

/* Nor a run with all transducers at one tee: its pressures are no unit's own.
 */
static bool at_one_tee(const struct at *at, size_t run)
{
    return bl_lag_one_tee(at->c->trial, run, at->c->run[run].lag,
                          at->c->trial->unit[at->unit].combination);
}

static bool other_condition(const struct at *at, size_t run)
{
    const enum bl_trait_class own = at->c->traits->by[at->run];
    const enum bl_trait_class there = at->c->traits->by[run];
    const size_t air = own == BL_BY_AIR ? at->run : run;
    return own != there && own != BL_BY_UNKNOWN && there != BL_BY_UNKNOWN &&
           of_the_unit(at->trait, beside(at, air, at->trait)->parted) &&
           !at_one_tee(at, at->run) && !at_one_tee(at, run);
}

static void condition(const struct at *at)
{
    struct expected x = over_runs(at, other_condition);
    x.more = x.less = bl_trait_matters(at->trait, x.value);
    put(at, BL_REFERENCE_CONDITION, &x);
}

/* ---- what is usual: worth knowing, nothing to find by */

static const struct {
    enum bl_trait trait;
    double low, high;
} usual_ranges[] = {
    /* Braking begins at 20 to 100 kPa at the coupling head (UN R13 Annex 10,
       from memory). */
    {BL_TRAIT_OPENING, 20, 100},
    {BL_TRAIT_OPENS_AT, 20, 100},
    /* 49 CFR 571.121 S5.3.5, above 40 psi, from memory: 5 %. */
    {BL_TRAIT_LINE_LOSS, -0.05, 0.05},
    /* An independent computation for units of 8 to 14 m: 5 to 95 % of a sixth
       of what six of them take, 0.89 to 2.08 s. */
    {BL_TRAIT_STAGE_APPLY, 0.15, 0.35},
};

static void usual(const struct at *at)
{
    for (size_t i = 0; i < sizeof(usual_ranges) / sizeof(usual_ranges[0]);
         i++) {
        if (usual_ranges[i].trait == at->trait) {
            const double half =
                (usual_ranges[i].high - usual_ranges[i].low) / 2;
            const struct expected x = {usual_ranges[i].low + half,
                                       2 * half / between_5_and_95, half, half,
                                       0};
            put(at, BL_REFERENCE_USUAL, &x);
        }
    }
}

static void one_cell(const struct at *at)
{
    if (at->cell->n == 0) {
        return;
    }
    stated(at);
    limit(at);
    visits(at);
    earlier(at);
    chain(at);
    condition(at);
    usual(at);
}

void bl_traits_against_rest(struct bl_causing *c)
{
    for (size_t r = 0; r < c->trial->runs; r++) {
        for (size_t u = 0; c->run[r].lag != NULL && u < c->trial->units; u++) {
            for (size_t g = 0; g < BL_TRAIT_GROUPS; g++) {
                for (int t = 0; t < BL_TRAITS; t++) {
                    const enum bl_trait trait = (enum bl_trait)t;
                    const struct at at = {
                        c, r,     u,
                        g, trait, bl_trait_at(c->traits, r, u, g, trait)};
                    one_cell(&at);
                }
            }
        }
    }
}
