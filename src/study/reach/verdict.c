/* SPDX-License-Identifier: MIT */
/*
 * Verdict per unit, and findings of the demand. A defect is named where it
 * arises: what follows from a defect further in front is not named again.
 */
#include "study/reach/reach.h"

#include "lag/condition.h"
#include "study/findings/fill.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const double MORE_LATE_S = 0.01; /* beside two intervals per hop */
static const double WAKE_LATER_S = 0.5; /* than the earliest link */
static const double LOST_SHARE = 0.005;
enum { LOST_LEAST = 5 };

const char *bl_reach_label(const struct bl_reaching *r, size_t unit,
                           char text[BL_REACH_LABEL])
{
    return bl_trial_unit_label(&r->trial->unit[unit], text, BL_REACH_LABEL);
}

struct bl_finding *bl_reach_found(struct bl_reaching *r,
                                  enum bl_finding_code code, long unit)
{
    return bl_findings_add(&r->into->findings, code, BL_SHOWN_FOUND, unit,
                           (long)r->into->run);
}

bool bl_reach_any_demand(const struct bl_reaching *r)
{
    for (size_t k = 0; k < r->into->units; k++) {
        if (r->into->unit[k].found) {
            return true;
        }
    }
    return false;
}

/* Is it the series that a unit further in front hears too, on one bus? What it
   lacks is named there. */
static bool heard_in_front(const struct bl_reaching *r, size_t k)
{
    for (const struct bl_reach_unit *front = bl_reach_front(r, k);
         front != NULL; front = bl_reach_front(r, --k)) {
        if (r->series[k - 1] == r->series[k] && r->series[k] != NULL) {
            return true;
        }
    }
    return false;
}

static bool has_gap(const struct bl_reach_unit *unit)
{
    for (size_t i = 0; i < unit->gaps; i++) {
        if (!unit->gap[i].to_end || unit->gap[i].application > 0) {
            return true;
        }
    }
    return false;
}

static bool front_spoilt(const struct bl_reaching *r, size_t k)
{
    const struct bl_reach_unit *front = bl_reach_front(r, k);
    /* Without frames for a while the unit in front has nothing to pass on. */
    return front != NULL &&
           (front->verdict == BL_REACH_NOT_REACHED || has_gap(front) ||
            front->not_available + front->error + front->other_invalid > 0);
}

/* Addresses that are out of order further in front upset all behind them. */
static bool order_upset(const struct bl_reaching *r, size_t k)
{
    for (const struct bl_reach_unit *front = bl_reach_front(r, k);
         front != NULL; front = bl_reach_front(r, --k)) {
        if (front->other_address) {
            return true;
        }
    }
    return false;
}

static void missing(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    const struct bl_reach_unit *before = bl_reach_front(r, k);
    char self[BL_REACH_LABEL];
    char front[BL_REACH_LABEL];
    bl_reach_label(r, unit->unit, self);
    bl_reach_label(r, unit->unit - 1, front);
    unit->verdict = BL_REACH_NOT_REACHED;
    bl_reach_why(unit, "no demand on its link");
    if (bl_reach_speaks(r, unit->unit - 1) == 0 && bl_reach_any_demand(r)) {
        /* The unit in front says nothing at all: it is named, see talk.c. */
        const int stranger = bl_reach_stranger(r, unit->unit - 1);
        if (stranger >= 0) {
            bl_reach_why(unit,
                         "unit %s in front does not speak from address "
                         "%d; address %d does",
                         front, r->trial->unit[unit->unit - 1].address,
                         stranger);
        } else {
            bl_reach_why(unit, "unit %s in front is silent", front);
        }
        return;
    }
    if (before != NULL && before->verdict == BL_REACH_NOT_REACHED) {
        bl_reach_why(unit, "unit %s in front has none to pass on", front);
        return;
    }
    if (order_upset(r, k)) {
        bl_reach_why(unit, "addresses are out of order further in front");
        return;
    }
    struct bl_finding *f =
        bl_reach_found(r, BL_FINDING_DEMAND_MISSING, (long)unit->unit);
    bl_finding_say(f,
                   "No demand was seen between unit %s and unit %s (bus '%s').",
                   front, self, unit->bus);
    bl_finding_evidence(f, "demand frames on this link", 0, NAN, "");
}

static void strange(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    char self[BL_REACH_LABEL];
    unit->verdict = BL_REACH_DEFECTS;
    bl_reach_why(unit, "the demand goes from address %u to %u",
                 (unsigned)unit->source, (unsigned)unit->destination);
    if (order_upset(r, k)) {
        return; /* the first place is named */
    }
    bl_finding_say(
        bl_reach_found(r, BL_FINDING_ADDRESS_ORDER, unit->unit),
        "On the link in front of unit %s the demand goes from address %u to "
        "%u; the trial file says %d to %d.",
        bl_reach_label(r, unit->unit, self), (unsigned)unit->source,
        (unsigned)unit->destination, r->trial->unit[unit->unit - 1].address,
        r->trial->unit[unit->unit].address);
}

static double earliest_valid(const struct bl_reaching *r)
{
    double least = INFINITY;
    for (size_t k = 0; k < r->into->units; k++) {
        const double at = r->into->unit[k].first_valid_s;
        least = at < least ? at : least;
    }
    return least;
}

static void invalid(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    char self[BL_REACH_LABEL];
    const uint64_t bad =
        unit->not_available + unit->error + unit->other_invalid;
    bl_reach_label(r, unit->unit, self);
    if (isnan(unit->first_valid_s)) {
        unit->verdict = BL_REACH_NOT_REACHED;
        bl_reach_why(unit, "no demand frame holds a value");
        if (!front_spoilt(r, k)) {
            bl_finding_say(
                bl_reach_found(r, BL_FINDING_DEMAND_MISSING, unit->unit),
                "The demand to unit %s is there but never valid.", self);
        }
        return;
    }
    if (bad == 0) {
        return;
    }
    unit->verdict = BL_REACH_DEFECTS;
    bl_reach_why(unit,
                 "%llu demand frames without a value (%llu error, %llu not "
                 "available), %llu in applications",
                 (unsigned long long)bad, (unsigned long long)unit->error,
                 (unsigned long long)unit->not_available,
                 (unsigned long long)unit->invalid_braking);
    if (front_spoilt(r, k)) {
        return;
    }
    struct bl_finding *f =
        bl_reach_found(r, BL_FINDING_DEMAND_MISSING, unit->unit);
    bl_finding_say(f,
                   "The demand to unit %s has no value in %llu frames, %llu of "
                   "them in applications (first: %d).",
                   self, (unsigned long long)bad,
                   (unsigned long long)unit->invalid_braking,
                   unit->invalid_application);
    if (f != NULL && unit->invalid_braking == 0) {
        f->severity = BL_SEVERITY_WARNING;
    }
}

static void wake(struct bl_reaching *r, size_t k, double earliest_s)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    const struct bl_reach_unit *front = bl_reach_front(r, k);
    char self[BL_REACH_LABEL];
    if (!(unit->first_valid_s > earliest_s + WAKE_LATER_S)) {
        return;
    }
    unit->verdict = BL_REACH_DEFECTS;
    bl_reach_why(unit, "first valid demand %.2f s after the first frame",
                 unit->first_valid_s);
    /* A unit passes a demand on only once it has one. */
    if (front != NULL &&
        unit->first_valid_s <= front->first_valid_s + WAKE_LATER_S) {
        return;
    }
    struct bl_finding *f =
        bl_reach_found(r, BL_FINDING_DEMAND_MISSING, (long)unit->unit);
    bl_finding_say(
        f,
        "The demand to unit %s begins %.2f s after it begins further "
        "in front.",
        bl_reach_label(r, unit->unit, self), unit->first_valid_s - earliest_s);
    bl_finding_evidence(f, "first valid demand after the first frame",
                        unit->first_valid_s, NAN, "s");
    if (f != NULL) {
        f->severity = BL_SEVERITY_WARNING;
    }
}

/* The demand ends before the recording does. Outside applications the train
   may have been switched off. */
static void ended(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    const struct bl_reach_gap *gap =
        unit->gaps > 0 ? &unit->gap[unit->gaps - 1] : NULL;
    char self[BL_REACH_LABEL];
    if (gap == NULL || !gap->to_end) {
        return;
    }
    bl_reach_why(unit, "the demand ends at %.2f s, %.2f s before the recording",
                 gap->from_s, gap->length_s);
    if (gap->application == 0) {
        return;
    }
    unit->verdict = BL_REACH_DEFECTS;
    if (front_spoilt(r, k) || heard_in_front(r, k)) {
        return;
    }
    struct bl_finding *f =
        bl_reach_found(r, BL_FINDING_DEMAND_MISSING, (long)unit->unit);
    bl_finding_say(
        f, "The demand to unit %s ends at %.2f s, in application %d.",
        bl_reach_label(r, unit->unit, self), gap->from_s, gap->application);
    bl_finding_evidence(f, "without demand until the recording's end",
                        gap->length_s, NAN, "s");
}

static void lost(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    char self[BL_REACH_LABEL];
    size_t own = 0;
    int application = 0;
    for (size_t i = 0; i < unit->gaps; i++) {
        if (!unit->gap[i].to_end && (unit->gap[i].kind == BL_GAP_THIS_ID ||
                                     unit->gap[i].kind == BL_GAP_UNKNOWN)) {
            own++;
            application =
                application == 0 ? unit->gap[i].application : application;
        }
    }
    const struct bl_trial_expect *expect = &r->trial->expect;
    const double share = expect->line > 0 && !isnan(expect->lost_max_fraction)
                             ? expect->lost_max_fraction
                             : LOST_SHARE;
    if (own == 0 && (unit->lost < LOST_LEAST || unit->lost_share < share)) {
        return;
    }
    unit->verdict = BL_REACH_DEFECTS;
    bl_reach_why(unit, "%.1f %% of its demand frames are lost, %zu gaps",
                 100 * unit->lost_share, own);
    if (heard_in_front(r, k)) {
        return;
    }
    struct bl_finding *f =
        bl_reach_found(r, BL_FINDING_FRAMES_LOST, unit->unit);
    bl_finding_say(f,
                   "%.1f %% of the demand frames to unit %s are lost (%llu), "
                   "with %zu gaps over three intervals, first in application "
                   "%d.",
                   100 * unit->lost_share, bl_reach_label(r, unit->unit, self),
                   (unsigned long long)unit->lost, own, application);
    bl_finding_evidence(f, "frames lost", (double)unit->lost, NAN, "");
    bl_finding_evidence(f, "share lost", 100 * unit->lost_share, NAN, "%");
    bl_finding_evidence(f, "longest interval", unit->most_s, NAN, "s");
}

static void altered(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    char self[BL_REACH_LABEL];
    char front[BL_REACH_LABEL];
    if (unit->differing > 0) {
        unit->verdict = BL_REACH_DEFECTS;
        bl_reach_why(unit, "value differs from the first hop by up to %.1f kPa",
                     unit->difference_kpa);
    }
    if (unit->shares_off == 0) {
        return;
    }
    struct bl_finding *f =
        bl_reach_found(r, BL_FINDING_DEMAND_ALTERED, unit->unit - 1);
    bl_finding_say(f,
                   "Unit %s passes the demand on to unit %s at %.3f of its "
                   "value (%zu of %zu settled values differ).",
                   bl_reach_label(r, unit->unit - 1, front),
                   bl_reach_label(r, unit->unit, self), unit->share,
                   unit->shares_off, unit->shares);
    bl_finding_evidence(f, "largest difference to the first hop",
                        unit->difference_kpa, NAN, "kPa");
}

static void late(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    const double most = r->trial->expect.coupling_delay_max_s;
    char self[BL_REACH_LABEL];
    char front[BL_REACH_LABEL];
    if (!unit->added.known) {
        return;
    }
    const double allowed = r->trial->expect.line > 0 && !isnan(most)
                               ? most
                               : 2 * unit->nominal_s + MORE_LATE_S;
    const double excess = unit->added.s - allowed;
    if (excess <= 0) {
        return;
    }
    const bool found = excess >= 4 * unit->added.u_s;
    if (found) {
        unit->verdict = BL_REACH_DEFECTS;
        bl_reach_why(unit, "this coupling adds %.3f s", unit->added.s);
    }
    struct bl_finding *f =
        bl_findings_add(&r->into->findings, BL_FINDING_DEMAND_LATE,
                        found ? BL_SHOWN_FOUND : BL_SHOWN_CANNOT_TELL,
                        (long)unit->unit - 1, (long)r->into->run);
    bl_finding_say(f,
                   "Unit %s re-issues the demand late: %.3f s later on the "
                   "link to unit %s than on its own; %.3f s were allowed for.",
                   bl_reach_label(r, unit->unit - 1, front), unit->added.s,
                   bl_reach_label(r, unit->unit, self), allowed);
    bl_finding_evidence(f, "added by the hop", unit->added.s, unit->added.u_s,
                        "s");
    bl_finding_evidence(f, "rises and falls compared", (double)unit->edges, NAN,
                        "");
    if (f != NULL) {
        f->ratio = excess / unit->added.u_s;
    }
}

static void ignored(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    char self[BL_REACH_LABEL];
    if (unit->follows != BL_FOLLOWS_AIR || !unit->found ||
        unit->verdict == BL_REACH_NOT_REACHED) {
        return;
    }
    unit->verdict = BL_REACH_DEFECTS;
    bl_reach_why(unit, "its output follows the air");
    if (front_spoilt(r, k) || unit->invalid_braking > 0) {
        return;
    }
    bl_finding_say(bl_reach_found(r, BL_FINDING_DEMAND_IGNORED, unit->unit),
                   "The demand reaches unit %s, but its output follows the air "
                   "in its control line.",
                   bl_reach_label(r, unit->unit, self));
}

/* A tap proves the wire, not the unit: on a common bus only the unit's own
   frames show that it is on it. */
static bool proves_nothing(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    if (!unit->split || unit->status_frames > 0) {
        return false;
    }
    bl_reach_why(unit,
                 r->trial->unit[unit->unit].address < 0
                     ? "one bus for several units, and its address is not "
                       "stated: its own frames cannot be told"
                     : "one bus for several units, and no frame of its own: "
                       "the tap proves nothing about it");
    return true;
}

static void own_word(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    double length_s;
    if (r->trial->unit[unit->unit].address < 0 || unit->other_address) {
        return; /* who it is on the bus is not known */
    }
    if (unit->status_frames == 0) {
        bl_reach_why(unit, "the unit itself sends nothing on its link");
        if (bl_reach_any_tells(r)) {
            unit->verdict = BL_REACH_DEFECTS;
        }
    } else if (!isnan(bl_reach_silent_from(r, unit->unit, &length_s))) {
        unit->verdict = BL_REACH_DEFECTS;
        bl_reach_why(unit, "the unit falls silent %.2f s before its link does",
                     length_s);
    }
}

/* Under load, as at rest a voltage proves nothing. */
static void voltage(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    const double least = bl_trial_voltage_least(r->trial);
    const double excess = least - unit->volts_least;
    char self[BL_REACH_LABEL];
    if (!(excess > 0) ||
        r->trial->run[r->into->run].power == BL_STATED_STOP_LAMP_ONLY) {
        return;
    }
    const bool found = excess >= 4 * unit->u_volts;
    if (found) {
        unit->verdict = BL_REACH_DEFECTS;
        bl_reach_why(unit, "its supply falls to %.1f V while braking",
                     unit->volts_least);
    }
    struct bl_finding *f =
        bl_findings_add(&r->into->findings, BL_FINDING_VOLTAGE_LOW,
                        found ? BL_SHOWN_FOUND : BL_SHOWN_CANNOT_TELL,
                        (long)unit->unit, (long)r->into->run);
    bl_finding_say(f,
                   "The supply of unit %s falls to %.1f V while an application "
                   "is on; %.1f V are asked for.",
                   bl_reach_label(r, unit->unit, self), unit->volts_least,
                   least);
    bl_finding_evidence(f, "least while braking", unit->volts_least,
                        unit->u_volts, "V");
}

static void judge_unit(struct bl_reaching *r, size_t k, double earliest_s)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    if (!unit->tapped) {
        bl_reach_why(unit, "%s",
                     r->trial->unit[unit->unit].bus == NULL &&
                             r->trial->unit[unit->unit].address < 0
                         ? "no demand was seen, and the trial file says "
                           "nothing of its link: it may not be recorded"
                         : "no recording has its link");
        return;
    }
    if (r->into->declared_off) {
        bl_reach_why(unit, "the run is declared without power or data");
        return;
    }
    if (unit->ambiguous) {
        return;
    }
    if (!unit->found) {
        missing(r, k);
        return;
    }
    if (proves_nothing(r, k)) {
        return;
    }
    unit->verdict = BL_REACH_REACHED;
    if (unit->other_address) {
        strange(r, k);
    }
    invalid(r, k);
    if (unit->verdict == BL_REACH_NOT_REACHED) {
        return;
    }
    wake(r, k, earliest_s);
    lost(r, k);
    ended(r, k);
    altered(r, k);
    late(r, k);
    ignored(r, k);
    own_word(r, k);
    voltage(r, k);
    if (unit->follows == BL_FOLLOWS_UNKNOWN && r->lag == NULL) {
        bl_reach_why(unit, "no application: what it does with it is not seen");
    }
}

static void condition(struct bl_reaching *r)
{
    static const char code[] = "condition-not-met: ";
    struct bl_contradiction found[BL_CONTRADICTIONS];
    const size_t n =
        bl_lag_contradictions(found, r->trial, r->data, r->clocks, r->lag);
    for (size_t i = 0; i < n; i++) {
        struct bl_finding *f =
            bl_findings_add(&r->into->findings, BL_FINDING_CONDITION_NOT_MET,
                            BL_SHOWN_FOUND, found[i].unit, (long)r->into->run);
        bl_finding_say(f, "Run %s: %s.", r->trial->run[r->into->run].name,
                       found[i].why + sizeof(code) - 1);
        if (!isnan(found[i].value)) {
            bl_finding_evidence(f, "seen", found[i].value, NAN,
                                found[i].measured_in);
        }
    }
}

void bl_reach_judge(struct bl_reaching *r)
{
    const double earliest_s = earliest_valid(r);
    for (size_t k = 0; k < r->into->units; k++) {
        judge_unit(r, k, earliest_s);
    }
    bl_reach_judge_talk(r);
    condition(r);
    bl_findings_rank(&r->into->findings);
}
