/* SPDX-License-Identifier: MIT */
/*
 * Does the demand arrive? It is there for this unit, it has values, and it was
 * seen to rise and fall with the command: what only stands proves nothing.
 */
#include "study/reach/reach.h"

#include "study/findings/fill.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const double WAKE_LATER_S = 0.5; /* than the earliest link: own choice */

/* Does anybody speak from the address that the demand goes to? */
static bool speaks_there(const struct bl_reaching *r,
                         const struct bl_reach_unit *unit)
{
    for (size_t i = 0; i < r->data->links.ids; i++) {
        const struct bl_link_id *l = &r->data->links.id[i];
        if (l->extended && bl_reach_on_link(r, l, unit->unit) &&
            bl_id_split(l->id).source == unit->destination) {
            return true;
        }
    }
    return false;
}

/* From or to another address than the trial says. A frame to another address is
   not this unit's, unless somebody answers from there: then the file is wrong,
   or the order of the train. */
static void strange(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    const int own = r->trial->unit[unit->unit].address;
    char self[BL_REACH_LABEL];
    if (unit->extended && unit->destination < BL_ADDRESS_NULL &&
        own != unit->destination) {
        bl_reach_claim(unit, BL_REACH_ARRIVES, BL_NO,
                       "the demand on its link goes to address %u; its own is "
                       "%d by the trial file",
                       (unsigned)unit->destination, own);
        unit->astray = !speaks_there(r, unit);
    }
    if (bl_reach_order_upset(r, k)) {
        return; /* the first place is named */
    }
    bl_finding_say(
        bl_reach_found(r, BL_FINDING_ADDRESS_ORDER, (long)unit->unit),
        "On the link in front of %s the demand goes from address %u to "
        "%u; the trial file says %d to %d.",
        bl_reach_label(r, unit->unit, self), (unsigned)unit->source,
        (unsigned)unit->destination, r->trial->unit[unit->unit - 1].address,
        own);
}

/* The trial file states no address, and the unit speaks from another one than
   the demand on its link goes to. */
static void past_it(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    char self[BL_REACH_LABEL];
    bl_reach_claim(
        unit, BL_REACH_ARRIVES, BL_NO,
        "the demand on its link goes to address %u; the unit sends from %d",
        (unsigned)unit->destination, unit->address);
    unit->astray = true;
    if (bl_reach_order_upset(r, k)) {
        return;
    }
    bl_finding_say(
        bl_reach_found(r, BL_FINDING_ADDRESS_ORDER, (long)unit->unit),
        "On the link in front of %s the demand goes to address %u; the unit "
        "sends from %d, and the trial file states no address.",
        bl_reach_label(r, unit->unit, self), (unsigned)unit->destination,
        unit->address);
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
        bl_reach_claim(unit, BL_REACH_ARRIVES, BL_NO,
                       "no demand frame holds a value");
        if (!bl_reach_front_spoilt(r, k)) {
            bl_finding_say(
                bl_reach_found(r, BL_FINDING_DEMAND_MISSING, unit->unit),
                "The demand to %s is there but never valid.", self);
        }
        return;
    }
    if (bad == 0) {
        return;
    }
    bl_reach_claim(unit, BL_REACH_ARRIVES, BL_NO,
                   "%llu demand frames without a value (%llu error, %llu not "
                   "available), %llu in applications",
                   (unsigned long long)bad, (unsigned long long)unit->error,
                   (unsigned long long)unit->not_available,
                   (unsigned long long)unit->invalid_braking);
    if (bl_reach_front_spoilt(r, k) || bl_reach_heard_in_front(r, k)) {
        return;
    }
    struct bl_finding *f =
        bl_reach_found(r, BL_FINDING_DEMAND_MISSING, unit->unit);
    bl_finding_say(f,
                   "The demand to %s has no value in %llu frames, %llu of "
                   "them in applications (first: %d).",
                   self, (unsigned long long)bad,
                   (unsigned long long)unit->invalid_braking,
                   unit->invalid_application);
    if (f != NULL && unit->invalid_braking == 0) {
        f->severity = BL_SEVERITY_WARNING;
    }
}

static void wake(struct bl_reaching *r, size_t k)
{
    const double earliest_s = earliest_valid(r);
    struct bl_reach_unit *unit = &r->into->unit[k];
    const struct bl_reach_unit *front = bl_reach_front(r, k);
    char self[BL_REACH_LABEL];
    if (!(unit->first_valid_s > earliest_s + WAKE_LATER_S)) {
        return;
    }
    bl_reach_claim(unit, BL_REACH_IN_TIME, BL_NO,
                   "first valid demand %.2f s after the first frame",
                   unit->first_valid_s);
    /* A unit passes a demand on only once it has one. */
    if (front != NULL &&
        unit->first_valid_s <= front->first_valid_s + WAKE_LATER_S) {
        return;
    }
    struct bl_finding *f =
        bl_reach_found(r, BL_FINDING_DEMAND_MISSING, (long)unit->unit);
    bl_finding_say(f,
                   "The demand to %s begins %.2f s after it begins further "
                   "in front.",
                   bl_reach_label(r, unit->unit, self),
                   unit->first_valid_s - earliest_s);
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
    if (gap->application == 0) {
        bl_reach_why(unit,
                     "the demand ends at %.2f s, %.2f s before the recording",
                     gap->from_s, gap->length_s);
        return;
    }
    bl_reach_claim(unit, BL_REACH_ARRIVES, BL_NO,
                   "the demand ends at %.2f s, %.2f s before the recording",
                   gap->from_s, gap->length_s);
    if (bl_reach_front_spoilt(r, k) || bl_reach_heard_in_front(r, k)) {
        return;
    }
    struct bl_finding *f =
        bl_reach_found(r, BL_FINDING_DEMAND_MISSING, (long)unit->unit);
    bl_finding_say(f, "The demand to %s ends at %.2f s, in application %d.",
                   bl_reach_label(r, unit->unit, self), gap->from_s,
                   gap->application);
    bl_finding_evidence(f, "without demand until the recording's end",
                        gap->length_s, NAN, "s");
}

static bool missed(const struct bl_reach_count *count)
{
    return count->asked && count->moved == BL_NO;
}

/* Did every application that unit k missed fail at unit `other`, too? */
static bool missed_there(const struct bl_reach_unit *unit,
                         const struct bl_reach_unit *other)
{
    for (size_t i = 0; i < unit->counts; i++) {
        bool there = !missed(&unit->count[i]);
        for (size_t j = 0; j < other->counts && !there; j++) {
            there = other->count[j].application == unit->count[i].application &&
                    missed(&other->count[j]);
        }
        if (!there) {
            return false;
        }
    }
    return other->counts > 0;
}

/* What the unit in front, or the towing vehicle, did not get or make itself is
   named there. */
static bool named_in_front(const struct bl_reaching *r, size_t k)
{
    const struct bl_reach_unit *unit = &r->into->unit[k];
    const struct bl_reach_unit *front = bl_reach_front(r, k);
    size_t index = 0;
    const struct bl_reach_unit *first = bl_reach_first(r, k, &index);
    if (front != NULL && !bl_reach_from_towing(r, k) &&
        (missed_there(unit, front) || !front->found)) {
        return true;
    }
    return first != NULL && index < k && missed_there(unit, first);
}

/* The one value at which it stood in all that it missed; NaN. */
static double stands_at(const struct bl_reach_unit *unit)
{
    double at = NAN;
    for (size_t i = 0; i < unit->counts; i++) {
        const struct bl_reach_count *count = &unit->count[i];
        if (!missed(count)) {
            continue;
        }
        if (isnan(count->stands_kpa) || fabs(count->stands_kpa - at) > 1) {
            if (isnan(count->stands_kpa) || !isnan(at)) {
                return NAN;
            }
        }
        at = count->stands_kpa;
    }
    return at;
}

/* Does it end for good in an application? Then that is what was named. */
static bool ends_braking(const struct bl_reach_unit *unit)
{
    const struct bl_reach_gap *gap =
        unit->gaps > 0 ? &unit->gap[unit->gaps - 1] : NULL;
    return gap != NULL && gap->to_end && gap->application > 0;
}

static void tell_missed(struct bl_reaching *r, size_t k, double at_kpa,
                        const char *numbers)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    char self[BL_REACH_LABEL];
    bl_reach_label(r, unit->unit, self);
    if (named_in_front(r, k) || unit->invalid_braking > 0 ||
        unit->other_address || ends_braking(unit)) {
        return;
    }
    const bool stands = !isnan(at_kpa);
    struct bl_finding *f = bl_reach_found(
        r, stands ? BL_FINDING_DEMAND_STANDS : BL_FINDING_DEMAND_MISSING,
        (long)unit->unit);
    if (stands) {
        bl_finding_say(f,
                       "The demand to %s stands at %.1f kPa while the "
                       "command comes and goes: in %s.",
                       self, at_kpa, numbers);
        bl_finding_evidence(f, "stands at", at_kpa, NAN, "kPa");
    } else {
        bl_finding_say(f,
                       "The demand to %s does not follow the command: in "
                       "%s.",
                       self, numbers);
    }
    bl_finding_evidence(f, "applications in which it moves",
                        (double)unit->moved, NAN, "");
    bl_finding_evidence(f, "applications that ask for it", (double)unit->asked,
                        NAN, "");
}

static void not_asked(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    const bool untied = !bl_reach_tied(r, r->series[k]->recording);
    bl_reach_claim(unit, BL_REACH_ARRIVES, BL_UNKNOWN, "%s",
                   untied ? "no clock ties its recording to the command, and "
                            "the demand in it "
                            "does not have the command's rhythm: it was not "
                            "seen to move with it"
                   : r->lag == NULL || r->lag->applications == 0
                       ? "no application was found: it was not seen to move "
                         "with a command"
                       : "no application that plainly asks for braking was "
                         "recorded on its link as a whole");
}

static void moves(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    char list[BL_REACH_TEXT];
    char numbers[BL_REACH_TEXT];
    if (unit->asked == 0) {
        not_asked(r, k);
        return;
    }
    if (unit->moved == unit->asked) {
        bl_reach_claim(unit, BL_REACH_ARRIVES, BL_YES,
                       "it rises and falls with the command in %zu of %zu "
                       "applications%s",
                       unit->moved, unit->asked,
                       bl_reach_tied(r, r->series[k]->recording)
                           ? ""
                           : ", by their rhythm: no clock ties them");
        return;
    }
    const size_t n = bl_reach_numbers(unit, missed, list);
    (void)snprintf(numbers, sizeof(numbers), "application%s %.150s",
                   n == 1 ? "" : "s", list);
    if (n == unit->counts && n > 1) {
        (void)snprintf(numbers, sizeof(numbers), "all %zu applications", n);
    }
    const double at_kpa = stands_at(unit);
    if (isnan(at_kpa)) {
        bl_reach_claim(unit, BL_REACH_ARRIVES, BL_NO,
                       "it does not follow the command in %.150s", numbers);
    } else {
        bl_reach_claim(unit, BL_REACH_ARRIVES, BL_NO,
                       "it stands at %.1f kPa in %.150s", at_kpa, numbers);
    }
    tell_missed(r, k, at_kpa, numbers);
}

void bl_reach_judge_arrives(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    if (unit->other_address) {
        strange(r, k);
    } else if (unit->address_taken && unit->address != unit->destination) {
        past_it(r, k);
    }
    invalid(r, k);
    if (isnan(unit->first_valid_s)) {
        return;
    }
    if (bl_reach_untimed(r, k)) {
        bl_reach_arrives_by_order(r, k);
    } else {
        wake(r, k);
        ended(r, k);
        moves(r, k);
    }
    if (unit->address_taken && unit->status_frames == 0 &&
        bl_reach_any_tells(r)) {
        bl_reach_claim(
            unit, BL_REACH_ARRIVES, BL_UNKNOWN,
            "the demand on its link goes to address %u, from which nothing is "
            "sent, and the trial file states no address",
            (unsigned)unit->destination);
    }
    if (unit->other_address) { /* nobody knows whose word it is */
        bl_reach_claim(unit, BL_REACH_ARRIVES, BL_UNKNOWN,
                       "the demand to it comes from address %u, which is no "
                       "unit in front by the trial file",
                       (unsigned)unit->source);
    }
}
