/* SPDX-License-Identifier: MIT */
/*
 * What the studies of characteristics and of doubled transducers show: a
 * threshold that is too high, a characteristic that was not called for,
 * transducers that part, demand that follows the wrong one.
 */
#include "study/causes/causes.h"
#include "study/characteristic/curve.h"
#include "study/findings/fill.h"

#include <math.h>
#include <stdio.h>

static const double threshold_tolerance_kpa = 15;

static const struct bl_characteristic *curve_of(const struct bl_causing *c,
                                                size_t run, size_t unit)
{
    const struct bl_characteristics *all = c->run[run].curves;
    for (size_t i = 0; all != NULL && i < all->count; i++) {
        if (all->item[i].unit == unit) {
            return &all->item[i];
        }
    }
    return NULL;
}

/* Against control where that was fitted, else against the demand. */
static const struct bl_curve *
rising_of(const struct bl_characteristic *characteristic)
{
    const struct bl_curve *control =
        &characteristic->curve[BL_CURVE_OF_CONTROL];
    const struct bl_curve *demand = &characteristic->curve[BL_CURVE_OF_DEMAND];
    if (control->rising.reason == BL_CURVE_FITTED) {
        return control;
    }
    return demand->rising.reason == BL_CURVE_FITTED ? demand : NULL;
}

static bool high_threshold(struct bl_causing *c, size_t run, size_t unit)
{
    const double stated = c->trial->unit[unit].threshold_kpa;
    const struct bl_characteristic *characteristic = curve_of(c, run, unit);
    const struct bl_curve *curve =
        characteristic == NULL ? NULL : rising_of(characteristic);
    if (isnan(stated) || curve == NULL) {
        return false;
    }
    const struct bl_measured on = curve->rising.on;
    const double u = hypot(on.u, isnan(curve->u_zero) || curve->input_above_rest
                                     ? 0
                                     : curve->u_zero);
    char text[128];
    bl_excess_clear(c);
    bl_excess_put(c, on.value - stated - threshold_tolerance_kpa, u);
    struct bl_finding *f =
        bl_excess_judge(c, BL_FINDING_HIGH_THRESHOLD, (long)unit, (long)run);
    if (f != NULL) {
        f->fired = f->judged = 0; /* a curve, not applications */
    }
    bl_finding_say(f, "the output of %s begins at %.0f kPa, stated is %.0f kPa",
                   bl_causes_unit(c, unit, text, sizeof(text)), on.value,
                   stated);
    bl_finding_evidence(f, "opening pressure found", on.value, u, "kPa");
    bl_finding_evidence(f, "opening pressure stated", stated, NAN, "kPa");
    return true;
}

static const char *called_for(const struct bl_causing *c, size_t run,
                              size_t unit)
{
    const struct bl_reach_unit *way = bl_reach_unit_of(c->run[run].reach, unit);
    return way != NULL && way->called_known ? way->called : NULL;
}

/* The one that was called for does not fit, and by more than 4 u as every
   finding asks. Where it fits and another does too it cannot be told. */
static bool unexpected(struct bl_causing *c, size_t run, size_t unit)
{
    const struct bl_characteristic *characteristic = curve_of(c, run, unit);
    const char *called = called_for(c, run, unit);
    const struct bl_candidate *wanted = NULL;
    const enum bl_answer follows =
        characteristic == NULL || called == NULL
            ? BL_UNKNOWN
            : bl_characteristic_follows(characteristic, called, &wanted);
    const struct bl_curve *curve =
        characteristic == NULL ? NULL : rising_of(characteristic);
    if (wanted == NULL || curve == NULL || isnan(wanted->off_threshold)) {
        return false;
    }
    const struct bl_candidate *used =
        characteristic->choice < 0
            ? NULL
            : &characteristic->candidate[characteristic->choice];
    const double off =
        fmax(fabs(wanted->off_threshold),
             isnan(wanted->off_gain) ? 0 : fabs(wanted->off_gain));
    const bool found = follows == BL_NO && off > 4;
    if (follows == BL_YES) {
        bl_findings_looked(c->into, BL_FINDING_UNEXPECTED_CHARACTERISTIC,
                           (long)unit, (long)run);
        return true;
    }
    char text[128];
    struct bl_finding *f = bl_findings_add(
        c->into, BL_FINDING_UNEXPECTED_CHARACTERISTIC,
        found ? BL_SHOWN_FOUND : BL_SHOWN_CANNOT_TELL, (long)unit, (long)run);
    if (f != NULL) {
        f->ratio = off;
    }
    bl_causes_unit(c, unit, text, sizeof(text));
    if (used != NULL) {
        bl_finding_say(f, "%s used '%s', called for was '%s'", text, used->name,
                       called);
    } else {
        bl_finding_say(f,
                       found ? "%s does not follow '%s', which was called for"
                             : "whether %s follows '%s', which was called for, "
                               "cannot be told from these pressures",
                       text, called);
    }
    bl_finding_evidence(f, "opening pressure found", curve->rising.on.value,
                        curve->rising.on.u, "kPa");
    bl_finding_evidence(f, "opening pressure called for", wanted->threshold,
                        NAN, "kPa");
    bl_finding_evidence(f, "gain found", curve->rising.gain.value,
                        curve->rising.gain.u, "");
    if (!isnan(wanted->gain)) {
        bl_finding_evidence(f, "gain called for", wanted->gain, NAN, "");
    }
    return true;
}

static void say_which(struct bl_finding *f, const struct bl_transducer_pair *p,
                      const char *begin)
{
    const struct bl_pair *pair = &p->pair;
    if (pair->wrong == BL_SIDE_UNKNOWN) {
        bl_finding_say(f, "%s; which one is wrong cannot be told", begin);
    } else {
        bl_finding_say(f, "%s; '%s' is wrong: %s", begin,
                       pair->wrong == BL_SIDE_A ? p->a : p->b, pair->wrong_by);
    }
}

static void disagree(struct bl_causing *c, size_t run,
                     const struct bl_transducer_pair *p)
{
    const struct bl_pair *pair = &p->pair;
    char begin[BL_FINDING_TEXT_MAX];
    if (pair->identical) {
        struct bl_finding *f =
            bl_findings_add(c->into, BL_FINDING_TRANSDUCERS_DISAGREE,
                            BL_SHOWN_CANNOT_TELL, (long)p->unit, (long)run);
        bl_finding_say(f,
                       "'%s' and '%s' are identical to the bit: one transducer "
                       "is wired twice, so nothing is doubled",
                       p->a, p->b);
        return;
    }
    if (pair->disagreements == 0) {
        bl_findings_looked(c->into, BL_FINDING_TRANSDUCERS_DISAGREE,
                           (long)p->unit, (long)run);
        return;
    }
    struct bl_finding *f =
        bl_findings_add(c->into, BL_FINDING_TRANSDUCERS_DISAGREE,
                        BL_SHOWN_FOUND, (long)p->unit, (long)run);
    const double u = hypot(pair->noise_a, pair->noise_b);
    snprintf(begin, sizeof(begin),
             "'%s' and '%s' differ by up to %.0f kPa, for %.1f s in %zu "
             "stretches, first at %.2f s",
             p->a, p->b, pair->largest, pair->disagree_s, pair->disagreements,
             pair->disagreement[0].from_s);
    say_which(f, p, begin);
    if (f != NULL && u > 0) {
        f->ratio = pair->largest / u;
    }
    bl_finding_evidence(f, "largest difference", pair->largest, u, "kPa");
    bl_finding_evidence(f, "time apart", pair->disagree_s, NAN, "s");
    bl_finding_evidence(f, "offset at released pressure",
                        pair->offset_rest.value, pair->offset_rest.u, "kPa");
}

static void false_demand(struct bl_causing *c, size_t run,
                         const struct bl_transducer_pair *p)
{
    const struct bl_pair *pair = &p->pair;
    if (pair->false_demands == 0) {
        bl_findings_looked(c->into, BL_FINDING_FALSE_DEMAND, (long)p->unit,
                           (long)run);
        return;
    }
    const struct bl_pair_episode *first = &pair->false_demand[0];
    const bool a = first->follows == BL_SIDE_A;
    struct bl_finding *f =
        bl_findings_add(c->into, BL_FINDING_FALSE_DEMAND, BL_SHOWN_FOUND,
                        (long)p->unit, (long)run);
    bl_finding_say(
        f,
        "at %.2f s %s of %.0f kPa followed '%s' while '%s' showed no "
        "pressure (%zu times)",
        first->from_s, p->by_output ? "an output" : "a demand", first->demand,
        a ? p->a : p->b, a ? p->b : p->a, pair->false_demands);
    bl_finding_evidence(f, "followed", a ? first->a : first->b,
                        a ? pair->noise_a : pair->noise_b, "kPa");
    bl_finding_evidence(f, "not followed", a ? first->b : first->a,
                        a ? pair->noise_b : pair->noise_a, "kPa");
    bl_finding_evidence(f, "from", first->from_s, NAN, "s");
    bl_finding_evidence(f, "to", first->to_s, NAN, "s");
}

/* Is something doubled in this unit, and in which run was it read? */
static bool pairs_of(struct bl_causing *c, size_t unit, bool *doubled)
{
    bool read = false;
    for (size_t r = 0; r < c->trial->runs; r++) {
        const struct bl_transducers *all = c->run[r].pairs;
        for (size_t i = 0; all != NULL && i < all->count; i++) {
            const struct bl_transducer_pair *p = &all->item[i];
            if (p->unit != unit) {
                continue;
            }
            *doubled = true;
            if (!p->known || p->pair.samples == 0) {
                continue;
            }
            read = true;
            disagree(c, r, p);
            if (p->pair.witness) {
                false_demand(c, r, p);
            } else {
                bl_findings_missing(c->into, BL_FINDING_FALSE_DEMAND,
                                    (long)unit, (long)r, NULL);
            }
        }
    }
    return read;
}

void bl_causes_curves(struct bl_causing *c)
{
    for (size_t u = 0; u < c->trial->units; u++) {
        bool threshold = false;
        bool choice = false;
        bool doubled = false;
        for (size_t r = 0; r < c->trial->runs; r++) {
            threshold = high_threshold(c, r, u) || threshold;
            choice = unexpected(c, r, u) || choice;
        }
        const bool read = pairs_of(c, u, &doubled);
        const bool towed = c->trial->unit[u].number > 0;
        if (!threshold && towed) {
            bl_findings_missing(c->into, BL_FINDING_HIGH_THRESHOLD, (long)u, -1,
                                NULL);
        }
        if (!choice && towed) {
            bl_findings_missing(c->into, BL_FINDING_UNEXPECTED_CHARACTERISTIC,
                                (long)u, -1, NULL);
        }
        if (doubled && !read) {
            bl_findings_missing(c->into, BL_FINDING_TRANSDUCERS_DISAGREE,
                                (long)u, -1, NULL);
        }
    }
}
