/* SPDX-License-Identifier: MIT */
/*
 * Verdict per unit, and findings of the demand. A defect is named where it
 * arises: what follows from a defect further in front is not named again.
 */
#include "study/reach/reach.h"

#include "lag/condition.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const double MORE_LATE_S = 0.01; /* beside two intervals per hop */
static const double WAKE_LATER_S = 0.5; /* than the earliest link */
static const double LOST_SHARE = 0.005;
enum { LOST_LEAST = 5 };

static const char *label(const struct bl_reaching *r, size_t unit, char *text)
{
    return bl_trial_unit_label(&r->trial->unit[unit], text, 32);
}

/* A fault of the run's demand, at unit `unit`, told with its sentence. */
#define FOUND(r, code, unit)                                                   \
    bl_findings_add(&(r)->into->findings, code, BL_SHOWN_FOUND, (long)(unit),  \
                    (long)(r)->into->run)

static bool any_demand(const struct bl_reaching *r)
{
    for (size_t k = 0; k < r->into->units; k++) {
        if (r->into->unit[k].found) {
            return true;
        }
    }
    return false;
}

/* Does the address send anything? 1 yes, 0 no, -1 cannot tell: the address is
   not known, or no unit tells anything but demands. */
static int speaks(const struct bl_reaching *r, size_t unit)
{
    const int address = r->trial->unit[unit].address;
    return address < 0 ? -1 : bl_reach_sends(r, (uint8_t)address, NULL);
}

static bool front_spoilt(const struct bl_reaching *r, size_t k)
{
    const struct bl_reach_unit *front = bl_reach_front(r, k);
    /* Without frames for a while the unit in front has nothing to pass on. */
    return front != NULL &&
           (front->verdict == BL_REACH_NOT_REACHED || front->gaps > 0 ||
            front->not_available + front->error + front->other_invalid > 0);
}

static void missing(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    char self[32];
    char front[32];
    label(r, unit->unit, self);
    label(r, unit->unit - 1, front);
    unit->verdict = BL_REACH_NOT_REACHED;
    bl_reach_why(unit, "no demand on its link");
    if (speaks(r, unit->unit - 1) == 0 && any_demand(r)) {
        /* The unit in front says nothing at all: it is named, see below. */
        bl_reach_why(unit, "unit %s in front is silent", front);
        return;
    }
    bl_finding_say(FOUND(r, BL_FINDING_DEMAND_MISSING, unit->unit),
                   "No demand was seen between unit %s and unit %s (bus '%s').",
                   front, self, unit->bus);
}

static void strange(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    char self[32];
    const struct bl_reach_unit *front = bl_reach_front(r, k);
    unit->verdict = BL_REACH_DEFECTS;
    bl_reach_why(unit, "the demand goes from address %u to %u",
                 (unsigned)unit->source, (unsigned)unit->destination);
    if (front != NULL && front->other_address) {
        return; /* the first place is named */
    }
    bl_finding_say(
        FOUND(r, BL_FINDING_ADDRESS_ORDER, unit->unit),
        "On the link in front of unit %s the demand goes from address %u to "
        "%u; the trial file says %d to %d.",
        label(r, unit->unit, self), (unsigned)unit->source,
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
    char self[32];
    const uint64_t bad =
        unit->not_available + unit->error + unit->other_invalid;
    label(r, unit->unit, self);
    if (isnan(unit->first_valid_s)) {
        unit->verdict = BL_REACH_NOT_REACHED;
        bl_reach_why(unit, "no demand frame holds a value");
        if (!front_spoilt(r, k)) {
            bl_finding_say(FOUND(r, BL_FINDING_DEMAND_MISSING, unit->unit),
                           "The demand to unit %s is there but never valid.",
                           self);
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
    struct bl_finding *f = FOUND(r, BL_FINDING_DEMAND_MISSING, unit->unit);
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
    char self[32];
    /* A unit passes a demand on only once it has one. */
    if (front != NULL && front->first_valid_s > earliest_s + WAKE_LATER_S) {
        earliest_s = front->first_valid_s;
    }
    if (!(unit->first_valid_s > earliest_s + WAKE_LATER_S)) {
        return;
    }
    unit->verdict = BL_REACH_DEFECTS;
    bl_reach_why(unit, "first valid demand %.2f s after the first frame",
                 unit->first_valid_s);
    struct bl_finding *f = FOUND(r, BL_FINDING_DEMAND_MISSING, unit->unit);
    bl_finding_say(
        f,
        "The demand to unit %s begins %.2f s after it begins further "
        "in front.",
        label(r, unit->unit, self), unit->first_valid_s - earliest_s);
    if (f != NULL) {
        f->severity = BL_SEVERITY_WARNING;
    }
}

static void lost(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    char self[32];
    size_t own = 0;
    int application = 0;
    for (size_t i = 0; i < unit->gaps; i++) {
        if (unit->gap[i].kind == BL_GAP_THIS_ID ||
            unit->gap[i].kind == BL_GAP_UNKNOWN) {
            own++;
            application =
                application == 0 ? unit->gap[i].application : application;
        }
    }
    if (own == 0 &&
        (unit->lost < LOST_LEAST || unit->lost_share < LOST_SHARE)) {
        return;
    }
    unit->verdict = BL_REACH_DEFECTS;
    bl_reach_why(unit, "%.1f %% of its demand frames are lost, %zu gaps",
                 100 * unit->lost_share, own);
    struct bl_finding *f = FOUND(r, BL_FINDING_FRAMES_LOST, unit->unit);
    bl_finding_say(f,
                   "%.1f %% of the demand frames to unit %s are lost (%llu), "
                   "with %zu gaps over three intervals, first in application "
                   "%d.",
                   100 * unit->lost_share, label(r, unit->unit, self),
                   (unsigned long long)unit->lost, own, application);
    bl_finding_evidence(f, "longest interval", unit->most_s, NAN, "s");
}

static void altered(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    char self[32];
    char front[32];
    if (unit->differing > 0) {
        unit->verdict = BL_REACH_DEFECTS;
        bl_reach_why(unit, "value differs from the first hop by up to %.1f kPa",
                     unit->difference_kpa);
    }
    if (unit->shares_off == 0) {
        return;
    }
    struct bl_finding *f = FOUND(r, BL_FINDING_DEMAND_ALTERED, unit->unit - 1);
    bl_finding_say(f,
                   "Unit %s passes the demand on to unit %s at %.3f of its "
                   "value (%zu of %zu settled values differ).",
                   label(r, unit->unit - 1, front), label(r, unit->unit, self),
                   unit->share, unit->shares_off, unit->shares);
    bl_finding_evidence(f, "largest difference to the first hop",
                        unit->difference_kpa, NAN, "kPa");
}

static void late(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    const double most = r->trial->expect.coupling_delay_max_s;
    char self[32];
    char front[32];
    if (!unit->added.known) {
        return;
    }
    const double allowed = r->trial->expect.line > 0 && !isnan(most)
                               ? most
                               : 2 * unit->nominal_s + MORE_LATE_S;
    const double excess = unit->added.s - allowed;
    if (excess < 4 * unit->added.u_s) {
        return;
    }
    unit->verdict = BL_REACH_DEFECTS;
    bl_reach_why(unit, "this coupling adds %.3f s", unit->added.s);
    struct bl_finding *f = FOUND(r, BL_FINDING_DEMAND_LATE, unit->unit - 1);
    bl_finding_say(f,
                   "Unit %s re-issues the demand late: %.3f s later on the "
                   "link to unit %s than on its own; %.3f s were allowed for.",
                   label(r, unit->unit - 1, front), unit->added.s,
                   label(r, unit->unit, self), allowed);
    bl_finding_evidence(f, "added by the hop", unit->added.s, unit->added.u_s,
                        "s");
}

static void ignored(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    char self[32];
    if (unit->follows != BL_FOLLOWS_AIR || !unit->found ||
        unit->verdict == BL_REACH_NOT_REACHED) {
        return;
    }
    unit->verdict = BL_REACH_DEFECTS;
    bl_reach_why(unit, "its output follows the air");
    if (front_spoilt(r, k) || unit->invalid_braking > 0) {
        return;
    }
    bl_finding_say(FOUND(r, BL_FINDING_DEMAND_IGNORED, unit->unit),
                   "The demand reaches unit %s, but its output follows the air "
                   "in its control line.",
                   label(r, unit->unit, self));
}

static void judge_unit(struct bl_reaching *r, size_t k, double earliest_s)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    if (!unit->tapped) {
        bl_reach_why(unit, "no recording has its link");
        return;
    }
    if (r->into->declared_off) {
        bl_reach_why(unit, "the run is declared without power or data");
        return;
    }
    if (!unit->found) {
        missing(r, k);
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
    altered(r, k);
    late(r, k);
    ignored(r, k);
    if (unit->follows == BL_FOLLOWS_UNKNOWN && r->lag == NULL) {
        bl_reach_why(unit, "no application: what it does with it is not seen");
    }
}

/* A unit that says nothing, while other towed units do. */
static void silent_units(struct bl_reaching *r)
{
    bool any = false;
    for (size_t k = 0; k < r->into->units; k++) {
        any = any || speaks(r, r->into->unit[k].unit) == 1;
    }
    for (size_t u = 0; any && u < r->trial->units; u++) {
        const long k = u == 0 ? -1 : (long)u - 1;
        const bool tapped =
            k < 0 || (size_t)k >= r->into->units || r->into->unit[k].tapped;
        char self[32];
        if (speaks(r, u) == 0 && tapped) {
            bl_finding_say(FOUND(r, BL_FINDING_UNIT_SILENT, u),
                           "Unit %s sent nothing at all.", label(r, u, self));
        }
    }
}

static bool same_gap(const struct bl_link_gap *a, const struct bl_link_gap *b,
                     double slack_s)
{
    const double slack = slack_s * 1e9;
    return (double)(a->from_ns - b->from_ns) < slack &&
           (double)(b->until_ns - a->until_ns) < slack;
}

/* Did the recorder itself stop for most of this gap? */
static bool recorder_stopped(const struct bl_reaching *r, size_t recording,
                             const struct bl_link_gap *gap)
{
    const struct bl_links *links = &r->data->links;
    if (bl_reach_damaged(r, recording, gap)) {
        return true;
    }
    for (size_t i = 0; i < links->silences; i++) {
        const struct bl_link_gap *s = &links->silence[i];
        const int64_t from =
            s->from_ns > gap->from_ns ? s->from_ns : gap->from_ns;
        const int64_t until =
            s->until_ns < gap->until_ns ? s->until_ns : gap->until_ns;
        /* One silence: a slow message leaves many short ones. */
        if (links->silence_recording[i] == recording &&
            2 * (until - from) > gap->until_ns - gap->from_ns) {
            return true;
        }
    }
    return false;
}

/* Everything of one address stops for a while, others go on: the unit was off
   or restarted. Tested on its fastest identifier. */
static void restarted_unit(struct bl_reaching *r, size_t u)
{
    const struct bl_links *links = &r->data->links;
    const int address = r->trial->unit[u].address;
    const struct bl_link_id *fast = NULL;
    char self[32];
    for (size_t i = 0; address >= 0 && i < links->ids; i++) {
        const struct bl_link_id *l = &links->id[i];
        if (l->extended && bl_id_split(l->id).source == address &&
            !isnan(l->nominal_s) &&
            (fast == NULL || l->nominal_s < fast->nominal_s)) {
            fast = l;
        }
    }
    for (size_t g = 0; fast != NULL && g < fast->gaps; g++) {
        const struct bl_link_gap *gap = &fast->gap[g];
        bool all = true;
        bool other_on = false;
        bool another = false; /* identifier of its own, and it stopped too */
        bool another_stopped = false;
        for (size_t i = 0; i < links->ids; i++) {
            const struct bl_link_id *l = &links->id[i];
            const double length = (double)(gap->until_ns - gap->from_ns) * 1e-9;
            const bool of_it =
                l->extended && bl_id_split(l->id).source == address;
            another = another || (of_it && l != fast);
            if (l == fast || !l->extended || l->recording != fast->recording ||
                !(l->nominal_s * 3 < length)) {
                continue;
            }
            bool stopped = false;
            for (size_t j = 0; j < l->gaps && !stopped; j++) {
                stopped = same_gap(&l->gap[j], gap, 1.5 * l->nominal_s);
            }
            all = all && (!of_it || stopped);
            another_stopped = another_stopped || (of_it && stopped);
            other_on = other_on || (!of_it && !stopped);
        }
        const double length = (double)(gap->until_ns - gap->from_ns) * 1e-9;
        if (all && other_on && (another_stopped || !another) && length > 0.2 &&
            !recorder_stopped(r, fast->recording, gap)) {
            bl_finding_say(FOUND(r, BL_FINDING_UNIT_RESTARTED, u),
                           "Unit %s sent nothing for %.2f s, from %.2f s on.",
                           label(r, u, self), length,
                           bl_reach_time(r, fast->recording, gap->from_ns));
            return;
        }
    }
}

static void recording_gaps(struct bl_reaching *r)
{
    for (size_t k = 0; k < r->into->units; k++) {
        const struct bl_reach_unit *unit = &r->into->unit[k];
        for (size_t i = 0; i < unit->gaps; i++) {
            if (unit->gap[i].kind == BL_GAP_RECORDER) {
                bl_finding_say(FOUND(r, BL_FINDING_RECORDING_GAP, -1),
                               "Nothing at all was recorded for %.2f s, from "
                               "%.2f s on: the recorder stopped, or its file "
                               "is damaged there.",
                               unit->gap[i].length_s, unit->gap[i].from_s);
                return;
            }
        }
    }
}

static void trouble_codes(struct bl_reaching *r)
{
    const struct bl_links *links = &r->data->links;
    for (size_t i = 0; i < links->troubles; i++) {
        const struct bl_link_trouble *t = &links->trouble[i];
        long unit = -1;
        bool before = false;
        for (size_t u = 0; u < r->trial->units; u++) {
            unit = r->trial->unit[u].address == t->source ? (long)u : unit;
        }
        for (size_t j = 0; j < i; j++) {
            before = before || links->trouble[j].source == t->source;
        }
        size_t codes = 0;
        for (size_t j = 0; j < links->troubles; j++) {
            codes += links->trouble[j].source == t->source;
        }
        if (!before) {
            bl_finding_say(FOUND(r, BL_FINDING_FAULT_CODES_PRESENT, unit),
                           "Address %u reports %zu active trouble codes, the "
                           "first: SPN %u FMI %u (%s).",
                           (unsigned)t->source, codes, (unsigned)t->code.spn,
                           (unsigned)t->code.fmi, bl_fmi_text(t->code.fmi));
        }
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
    if (!r->into->declared_off) {
        silent_units(r);
        for (size_t u = 0; u < r->trial->units; u++) {
            restarted_unit(r, u);
        }
    }
    recording_gaps(r);
    trouble_codes(r);
    condition(r);
    bl_findings_rank(&r->into->findings);
}

bool bl_reach_expected(const struct bl_trial *trial,
                       const struct bl_reach *reach, char why[BL_REACH_TEXT])
{
    const struct bl_trial_expect *expect = &trial->expect;
    why[0] = '\0';
    for (size_t k = 0;
         expect->line > 0 && !reach->declared_off && k < reach->units; k++) {
        const struct bl_reach_unit *unit = &reach->unit[k];
        char self[32];
        bl_trial_unit_label(&trial->unit[unit->unit], self, sizeof(self));
        if (expect->reach && unit->verdict != BL_REACH_REACHED) {
            (void)snprintf(why, BL_REACH_TEXT, "unit %s: %s", self,
                           bl_reach_verdict_words(unit->verdict));
            return false;
        }
        if (!isnan(expect->gap_max_s) && !(unit->most_s <= expect->gap_max_s)) {
            (void)snprintf(why, BL_REACH_TEXT,
                           "unit %s: gap of %.3f s, at most %.3f s expected",
                           self, unit->most_s, expect->gap_max_s);
            return false;
        }
        const struct bl_figure *added = unit->added.known || unit->delay.known
                                            ? &unit->added
                                            : &unit->delay;
        const bool first = unit->delay.known && unit->edges == 0;
        if (!isnan(expect->coupling_delay_max_s) && !first &&
            !(added->known && added->s <= expect->coupling_delay_max_s)) {
            (void)snprintf(why, BL_REACH_TEXT,
                           added->known
                               ? "unit %s: its coupling adds more than %.3f s"
                               : "unit %s: it was not shown that its coupling "
                                 "adds at most %.3f s",
                           self, expect->coupling_delay_max_s);
            return false;
        }
    }
    return true;
}
