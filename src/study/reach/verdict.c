/* SPDX-License-Identifier: MIT */
/*
 * Verdict per unit from its five claims, each of which has a file of its own. A
 * defect is named where it arises: what follows from a defect further in front
 * is not named again.
 */
#include "study/reach/reach.h"

#include "base/sure.h"
#include "lag/condition.h"
#include "lag/demand.h"
#include "study/findings/fill.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <string.h>

/* So many in a row are "4 to 9" (own choice); so long a list, and the words
   that it goes on, fit wherever it is put. */
enum { RANGE_LEAST = 4, NUMBERS_MOST = 75 };

const char *bl_reach_label(const struct bl_reaching *r, size_t unit,
                           char text[BL_REACH_LABEL])
{
    return bl_trial_unit_called(r->trial, unit, text, BL_REACH_LABEL);
}

struct bl_finding *bl_reach_found(struct bl_reaching *r,
                                  enum bl_finding_code code, long unit)
{
    return bl_findings_add(&r->into->findings, code, BL_SHOWN_FOUND, unit,
                           (long)r->into->run);
}

void bl_reach_claim(struct bl_reach_unit *unit, enum bl_reach_claim claim,
                    enum bl_answer answer, const char *format, ...)
{
    struct bl_reach_said *said = &unit->claim[claim];
    char text[BL_REACH_TEXT];
    va_list list;
    va_start(list, format);
    (void)vsnprintf(text, sizeof(text), format, list);
    va_end(list);
    if (said->answer != BL_NO) {
        said->answer = answer;
        memcpy(said->why, text, sizeof(text));
    }
    if (answer == BL_NO) {
        bl_reach_why(unit, "%s", text);
    }
}

/* Trial's index of the unit that sends the demand to unit k; -1: not one. */
static long sender_unit(const struct bl_reaching *r, size_t k)
{
    const struct bl_reach_unit *unit = &r->into->unit[k];
    const char combination = r->trial->unit[unit->unit].combination;
    for (size_t i = 0; unit->found && unit->extended && i < r->trial->units;
         i++) {
        if (r->trial->unit[i].combination == combination &&
            r->trial->unit[i].address == unit->source) {
            return (long)i;
        }
    }
    return -1;
}

bool bl_reach_from_towing(const struct bl_reaching *r, size_t k)
{
    const long sender = sender_unit(r, k);
    return sender >= 0 && r->trial->unit[sender].number == 0;
}

/* How many of the counts from `i` on are one and follow each other. */
static size_t in_a_row(const struct bl_reach_unit *unit, bl_reach_test is_one,
                       size_t i)
{
    size_t n = 1;
    while (i + n < unit->counts && is_one(&unit->count[i + n]) &&
           unit->count[i + n].application ==
               unit->count[i].application + (int)n) {
        n++;
    }
    return n;
}

size_t bl_reach_numbers(const struct bl_reach_unit *unit, bl_reach_test is_one,
                        char text[BL_REACH_TEXT])
{
    size_t said = 0;
    size_t at = 0;
    size_t total = 0;
    text[0] = '\0';
    for (size_t i = 0; i < unit->counts; i++) {
        total += is_one(&unit->count[i]);
    }
    for (size_t i = 0; i < unit->counts; i++) {
        if (!is_one(&unit->count[i])) {
            continue;
        }
        const size_t row = in_a_row(unit, is_one, i);
        const size_t n = row >= RANGE_LEAST ? row : 1;
        char one[32];
        snprintf(one, sizeof(one), "%d", unit->count[i].application);
        if (n > 1) {
            snprintf(one, sizeof(one), "%d to %d", unit->count[i].application,
                     unit->count[i + n - 1].application);
        }
        const char *between = said == 0           ? ""
                              : said + n == total ? " and "
                                                  : ", ";
        if (at + strlen(between) + strlen(one) > NUMBERS_MOST) {
            (void)snprintf(text + at, BL_REACH_TEXT - at, " and further ones");
            break;
        }
        at += (size_t)snprintf(text + at, BL_REACH_TEXT - at, "%s%s", between,
                               one);
        said += n;
        i += n - 1;
    }
    return total;
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
bool bl_reach_heard_in_front(const struct bl_reaching *r, size_t k)
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

bool bl_reach_front_spoilt(const struct bl_reaching *r, size_t k)
{
    const struct bl_reach_unit *front = bl_reach_front(r, k);
    /* Without frames for a while the unit in front has nothing to pass on. */
    return front != NULL &&
           (front->verdict == BL_REACH_NOT_REACHED || has_gap(front) ||
            front->not_available + front->error + front->other_invalid > 0) &&
           !bl_reach_from_towing(r, k);
}

/* Addresses that are out of order further in front upset all behind them. */
bool bl_reach_order_upset(const struct bl_reaching *r, size_t k)
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
    bl_reach_claim(unit, BL_REACH_ARRIVES, BL_NO, "no demand on its link");
    if (bl_reach_speaks(r, unit->unit - 1) == 0 && bl_reach_any_demand(r)) {
        /* The unit in front says nothing at all: it is named, see talk.c. */
        const int stranger = bl_reach_stranger(r, unit->unit - 1);
        if (stranger >= 0) {
            bl_reach_why(unit,
                         "%s in front of it does not speak from address "
                         "%d; address %d does",
                         front, r->trial->unit[unit->unit - 1].address,
                         stranger);
        } else {
            bl_reach_why(unit, "%s in front of it is silent", front);
        }
        return;
    }
    if (before != NULL && before->verdict == BL_REACH_NOT_REACHED) {
        bl_reach_why(unit, "%s in front of it has none to pass on", front);
        return;
    }
    if (bl_reach_order_upset(r, k)) {
        bl_reach_why(unit, "addresses are out of order further in front");
        return;
    }
    struct bl_finding *f =
        bl_reach_found(r, BL_FINDING_DEMAND_MISSING, (long)unit->unit);
    bl_finding_say(f, "No demand was seen between %s and %s (bus '%s').", front,
                   self, unit->bus);
    bl_finding_evidence(f, "demand frames on this link", 0, NAN, "");
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
    const bool found = excess >= BL_SURE_U * unit->u_volts;
    if (found && unit->verdict == BL_REACH_REACHED) {
        unit->verdict = BL_REACH_DEFECTS;
    }
    if (found) {
        bl_reach_why(unit, "its supply falls to %.1f V while braking",
                     unit->volts_least);
    }
    struct bl_finding *f =
        bl_findings_add(&r->into->findings, BL_FINDING_VOLTAGE_LOW,
                        found ? BL_SHOWN_FOUND : BL_SHOWN_CANNOT_TELL,
                        (long)unit->unit, (long)r->into->run);
    bl_finding_say(f,
                   "The supply of %s falls to %.1f V while an application "
                   "is on; %.1f V are asked for.",
                   bl_reach_label(r, unit->unit, self), unit->volts_least,
                   least);
    bl_finding_evidence(f, "least while braking", unit->volts_least,
                        unit->u_volts, "V");
}

/* Nothing can be claimed, and this is why. */
static void cannot_tell(struct bl_reach_unit *unit, const char *why)
{
    for (size_t i = 0; i < BL_REACH_CLAIMS; i++) {
        bl_reach_claim(unit, (enum bl_reach_claim)i, BL_UNKNOWN, "%s", why);
    }
    bl_reach_why(unit, "%s", why);
}

/* On one bus for several units nobody knows which frames are meant for one
   whose address is not stated. */
static bool nameless(const struct bl_reaching *r, size_t k)
{
    const struct bl_reach_unit *unit = &r->into->unit[k];
    return unit->address < 0 && !bl_demand_own_bus(r->trial, unit->unit) &&
           r->into->senders > 0;
}

/* Why there is nothing to judge the unit by; NULL: there is. */
static const char *no_ground(const struct bl_reaching *r, size_t k)
{
    const struct bl_reach_unit *unit = &r->into->unit[k];
    const struct bl_trial_unit *vehicle = &r->trial->unit[unit->unit];
    if (!unit->tapped) {
        return vehicle->bus == NULL && vehicle->address < 0
                   ? "no demand was seen, and the trial file says nothing of "
                     "its link: it may not be recorded"
                   : "no recording has its link";
    }
    if (r->into->declared_off) {
        return "the run is declared without power or data";
    }
    if (unit->ambiguous) {
        return "the demand to it is found on two buses: which of them is its "
               "link, the trial file does not say";
    }
    if (!unit->found && nameless(r, k)) {
        return "one bus for several units, and its address is not stated: "
               "which frames are meant for it is not known";
    }
    return NULL;
}

void bl_reach_conclude(struct bl_reach_unit *unit)
{
    const struct bl_reach_said *claim = unit->claim;
    bool no = unit->quiet;
    for (size_t i = 0; i < BL_REACH_CLAIMS; i++) {
        no = no || claim[i].answer == BL_NO;
    }
    const bool shown = claim[BL_REACH_ARRIVES].answer == BL_YES &&
                       claim[BL_REACH_UNCHANGED].answer == BL_YES &&
                       claim[BL_REACH_AT_RATE].answer == BL_YES;
    const bool values = unit->found && !isnan(unit->first_valid_s);
    const bool assumed =
        unit->split && claim[BL_REACH_ACTED_ON].answer != BL_YES;
    if (assumed && claim[BL_REACH_ACTED_ON].answer == BL_NO) {
        unit->verdict = BL_REACH_NOT_REACHED; /* nothing shows it is on it */
    } else if (assumed && values && unit->moved > 0) {
        unit->verdict = BL_REACH_CANNOT_TELL; /* whatever else there is */
    } else if (no) {
        /* What was never seen to move is not called reached, with or without
           defects. */
        const bool none =
            claim[BL_REACH_ARRIVES].answer != BL_YES && unit->moved == 0;
        unit->verdict = !values || none || unit->astray ? BL_REACH_NOT_REACHED
                                                        : BL_REACH_DEFECTS;
    } else if (shown && !assumed) {
        unit->verdict = BL_REACH_REACHED;
    } else {
        unit->verdict = BL_REACH_CANNOT_TELL;
    }
}

/* What keeps it from being told: the first three must be yes. */
static void tell_what_lacks(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    for (size_t i = BL_REACH_ARRIVES; i <= BL_REACH_AT_RATE; i++) {
        if (unit->claim[i].answer == BL_UNKNOWN) {
            bl_reach_why(unit, "%s", unit->claim[i].why);
        }
    }
    if (unit->split && unit->claim[BL_REACH_ACTED_ON].answer != BL_YES) {
        bl_reach_why(unit,
                     "that one bus runs through all units is %s; only "
                     "the unit itself could show that it is on it",
                     r->trial->bus_split ? "what the trial file says"
                                         : "an assumption");
    }
}

static void judge_times(struct bl_reaching *r, size_t k)
{
    static const char untimed[] = "its recording has no times";
    struct bl_reach_unit *unit = &r->into->unit[k];
    if (bl_reach_untimed(r, k)) {
        bl_reach_claim(unit, BL_REACH_AT_RATE, BL_UNKNOWN, "%s", untimed);
        bl_reach_claim(unit, BL_REACH_IN_TIME, BL_UNKNOWN, "%s", untimed);
    } else {
        bl_reach_judge_rate(r, k);
        bl_reach_judge_time(r, k);
    }
}

static void judge_unit(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    const char *why = no_ground(r, k);
    if (why != NULL) {
        cannot_tell(unit, why);
        return;
    }
    if (!unit->found) {
        missing(r, k);
    } else {
        bl_reach_judge_arrives(r, k);
        bl_reach_judge_unchanged(r, k);
        judge_times(r, k);
    }
    bl_reach_judge_acted(r, k);
    bl_reach_conclude(unit);
    if (unit->found && unit->verdict != BL_REACH_NOT_REACHED) {
        tell_what_lacks(r, k);
    }
    voltage(r, k);
}

/* Where the run is not what it declares, no unit is accused of that. */
static void forget_ignored(struct bl_findings *list)
{
    size_t kept = 0;
    for (size_t i = 0; i < list->count; i++) {
        if (list->item[i].code != BL_FINDING_DEMAND_IGNORED) {
            list->item[kept++] = list->item[i];
        }
    }
    list->count = kept;
}

static void condition(struct bl_reaching *r)
{
    struct bl_contradiction found[BL_CONTRADICTIONS];
    const size_t n =
        bl_lag_contradictions(found, r->trial, r->data, r->clocks, r->lag);
    if (n > 0) {
        forget_ignored(&r->into->findings);
    }
    for (size_t i = 0; i < n; i++) {
        struct bl_finding *f =
            bl_findings_add(&r->into->findings, BL_FINDING_CONDITION_NOT_MET,
                            BL_SHOWN_FOUND, found[i].unit, (long)r->into->run);
        bl_finding_say(f, "Run %s: %s.", r->trial->run[r->into->run].name,
                       found[i].why);
        if (!isnan(found[i].value)) {
            bl_finding_evidence(f, "seen", found[i].value, NAN,
                                found[i].measured_in);
        }
    }
}

void bl_reach_judge(struct bl_reaching *r)
{
    for (size_t k = 0; k < r->into->units; k++) {
        judge_unit(r, k);
    }
    bl_reach_judge_talk(r);
    for (size_t k = 0; k < r->into->units; k++) {
        if (bl_reach_untimed(r, k)) {
            bl_reach_without_times(r, k);
        }
    }
    condition(r);
    bl_findings_capital(&r->into->findings);
    bl_findings_rank(&r->into->findings);
}
