/* SPDX-License-Identifier: MIT */
/*
 * Is the demand to a unit what the towing vehicle asks for? Behind the first
 * link: equal to the first link where both have held a value. On the first
 * link: it is the command itself, or it is compared with the command's
 * pressure; where there is no such stretch, nobody can tell. What was not
 * compared while it asked for braking is not equal.
 */
#include "study/reach/reach.h"

#include "lag/track.h"
#include "study/findings/fill.h"

#include <math.h>
#include <stdio.h>

/* Pressure of the command and demand agree to this, and this share of the hold:
   the first is the published balance between units (4 psi), the second own
   choice. A towing vehicle may ask for less by design. */
static const double AGREE_KPA = 28, AGREE_SHARE = 0.1;
static const double BEFORE_RELEASE_S = 0.05; /* own choice */
static const double LIKE_ONE = 0.005; /* own choice: a share said as one */

static void altered(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    const bool towing = bl_reach_from_towing(r, k);
    char self[BL_REACH_LABEL];
    char front[BL_REACH_LABEL];
    if (unit->shares_off == 0 || (unit->moved == 0 && unit->asked > 0) ||
        unit->invalid_braking > 0) {
        return; /* in front, or named as what it is: it stands */
    }
    size_t by = unit->unit - 1;
    for (; towing && r->trial->unit[by].number > 0; by--) {
    }
    bl_reach_label(r, by, front);
    bl_reach_label(r, unit->unit, self);
    struct bl_finding *f =
        bl_reach_found(r, BL_FINDING_DEMAND_ALTERED, (long)by);
    if (!isnan(unit->capped_kpa)) {
        bl_finding_say(f,
                       "%s passes the demand on to %s capped near %.0f kPa: "
                       "%.0f kPa where it got %.0f kPa (%zu of %zu settled "
                       "values differ).",
                       front, self, unit->capped_kpa, unit->passed_kpa,
                       unit->got_kpa, unit->shares_off, unit->shares);
    } else if (isnan(unit->share) || fabs(unit->share - 1) < LIKE_ONE) {
        bl_finding_say(f,
                       "%s passes the demand on to %s changed in %zu "
                       "of %zu settled values, by up to %.1f kPa.",
                       front, self, unit->shares_off, unit->shares,
                       unit->difference_kpa);
    } else {
        bl_finding_say(f,
                       "%s passes the demand on to %s at %.3f of its "
                       "value: %.0f kPa where it got %.0f kPa (%zu of %zu "
                       "settled values differ).",
                       front, self, unit->share, unit->passed_kpa,
                       unit->got_kpa, unit->shares_off, unit->shares);
    }
    bl_finding_evidence(f, "demand that it got", unit->got_kpa, NAN, "kPa");
    bl_finding_evidence(f, "demand that it passed on", unit->passed_kpa, NAN,
                        "kPa");
    bl_finding_evidence(f, "largest difference to the first hop",
                        unit->difference_kpa, NAN, "kPa");
}

struct against {
    size_t compared, off;
    double demand, command; /* where they differ most */
};

/* Is the demand on this link what the trial takes for the command? */
static bool is_command(const struct bl_reaching *r, size_t k)
{
    const char combination = r->trial->unit[r->into->unit[k].unit].combination;
    const long towing = bl_trial_unit_index(r->trial, combination, 0);
    struct bl_track track;
    if (towing < 0) {
        return false;
    }
    bl_track_find(&track, r->trial, r->data, r->clocks,
                  &r->trial->unit[towing].command);
    return track.steps == &r->series[k]->steps;
}

/* Against the command's holds, where that is a pressure and not the demand
   itself. */
static struct against against_command(const struct bl_reaching *r, size_t k)
{
    struct against out = {.demand = NAN, .command = NAN};
    const struct bl_reach_unit *unit = &r->into->unit[k];
    const char combination = r->trial->unit[unit->unit].combination;
    const long towing = bl_trial_unit_index(r->trial, combination, 0);
    if (r->lag == NULL || towing < 0 || is_command(r, k)) {
        return out;
    }
    double most = 0;
    for (size_t i = 0; i < r->lag->applications; i++) {
        const struct bl_application *a = &r->lag->application[i];
        double apply_s;
        double release_s;
        if (a->combination != combination || !a->command_release.known ||
            !bl_reach_span(r, k, i, &apply_s, &release_s) ||
            !a->command_hold.known ||
            a->command_hold.quantity != BL_QUANTITY_PRESSURE ||
            (a->command_hold_from != BL_HOLD_SETTLED &&
             a->command_hold_from != BL_HOLD_LAST)) {
            continue;
        }
        const double command = a->command_hold.value - a->command_rest.value;
        double demand =
            bl_reach_settled_at(r, r->series[k], release_s - BEFORE_RELEASE_S);
        if (isnan(demand)) { /* it may be let go before the command's pressure,
                                or its own fall is all that tells when */
            demand = bl_reach_held_in(r, k, i);
        }
        if (isnan(demand)) {
            continue;
        }
        const double off = fabs(demand - command);
        out.compared++;
        out.off += off > fmax(AGREE_KPA, AGREE_SHARE * command);
        if (off > most) {
            most = off;
            out.demand = demand;
            out.command = command;
        }
    }
    return out;
}

static void first_link(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    const struct against held = against_command(r, k);
    const bool origin =
        r->trial->unit[unit->unit].number == 1 || bl_reach_from_towing(r, k);
    const bool command = is_command(r, k);
    unit->doubted = held.off > 0 || (held.compared == 0 && !command);
    if (held.off > 0) {
        bl_reach_claim(unit, BL_REACH_UNCHANGED, BL_UNKNOWN,
                       "it asks for %.0f kPa where the command holds %.0f kPa: "
                       "by design, or altered",
                       held.demand, held.command);
        unit->got_kpa = held.command;
        unit->passed_kpa = held.demand;
        struct bl_finding *f = bl_findings_add(
            &r->into->findings, BL_FINDING_DEMAND_ALTERED, BL_SHOWN_CANNOT_TELL,
            (long)unit->unit - 1, (long)r->into->run);
        bl_finding_say(f,
                       "The demand on the first link is %.0f kPa where the "
                       "command holds %.0f kPa: by design of the towing "
                       "vehicle, or altered.",
                       held.demand, held.command);
        bl_finding_evidence(f, "holds that differ", (double)held.off, NAN, "");
        bl_finding_evidence(f, "holds compared", (double)held.compared, NAN,
                            "");
    } else if (held.compared > 0) {
        bl_reach_claim(unit, BL_REACH_UNCHANGED, BL_YES,
                       "it agrees with the command's pressure in %zu holds",
                       held.compared);
    } else if (command) {
        bl_reach_claim(unit, BL_REACH_UNCHANGED, BL_YES,
                       "it is the command itself, which the links behind are "
                       "compared with");
    } else if (origin) {
        bl_reach_claim(
            unit, BL_REACH_UNCHANGED, BL_UNKNOWN,
            "no held pressure of the command to compare it with: a logged foot "
            "(treadle) valve pressure, or this demand as the command, would "
            "decide");
    } else {
        bl_reach_claim(unit, BL_REACH_UNCHANGED, BL_UNKNOWN,
                       "no link in front of it was recorded to compare with");
    }
}

static void behind(struct bl_reaching *r, size_t first, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    char self[BL_REACH_LABEL];
    const struct bl_reach_unit *from = &r->into->unit[first];
    bl_reach_label(r, from->unit, self);
    if (r->series[first] == r->series[k]) {
        bl_reach_claim(unit, BL_REACH_UNCHANGED,
                       from->claim[BL_REACH_UNCHANGED].answer,
                       "the same frames as those of %s", self);
        return;
    }
    const struct against pedal = bl_reach_from_towing(r, k)
                                     ? against_command(r, k)
                                     : (struct against){.compared = 0};
    if (pedal.compared > 0 && pedal.off == 0) {
        /* The towing vehicle's own word, whatever it tells another unit. */
        bl_reach_claim(unit, BL_REACH_UNCHANGED, BL_YES,
                       "it agrees with the command's pressure in %zu holds",
                       pedal.compared);
    } else if (unit->differing > 0) {
        bl_reach_claim(unit, BL_REACH_UNCHANGED, BL_NO,
                       "value differs from the first hop by up to %.1f kPa",
                       unit->difference_kpa);
        altered(r, k);
    } else if (unit->compared_braking == 0) {
        bl_reach_claim(unit, BL_REACH_UNCHANGED, BL_UNKNOWN,
                       "no settled value that asks for braking could be "
                       "compared with the first link");
    } else if (from->doubted) {
        bl_reach_claim(
            unit, BL_REACH_UNCHANGED, BL_UNKNOWN,
            "equal to the demand to %s, for which this cannot be told either",
            self);
    } else {
        bl_reach_claim(unit, BL_REACH_UNCHANGED, BL_YES,
                       "equal to the first link in %zu settled values, %zu of "
                       "them while it asks for braking",
                       unit->compared, unit->compared_braking);
    }
}

/* Largest difference of a second sender's settled values; NaN: not compared. */
static double contradiction(const struct bl_reaching *r, size_t k,
                            const struct bl_bus_series *second)
{
    const struct bl_bus_series *own = r->series[k];
    double most = NAN;
    if (own->recording != second->recording &&
        !(bl_reach_tied(r, own->recording) &&
          bl_reach_tied(r, second->recording))) {
        return NAN;
    }
    for (size_t i = 0; i < own->steps.count; i++) {
        const struct bl_segment *g = &own->steps.segment[i];
        const double at = bl_reach_local(r, own->recording, g->last_ns);
        const double a = bl_reach_settled_at(r, own, at);
        const double b = bl_reach_settled_at(r, second, at);
        if (!isnan(a) && !isnan(b) && !(fabs(a - b) <= most)) {
            most = fabs(a - b);
        }
    }
    return most;
}

static void second_sender(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    const struct bl_bus_series *second = bl_reach_second(r, k);
    char self[BL_REACH_LABEL];
    if (second == NULL || bl_reach_heard_in_front(r, k)) {
        return;
    }
    const double most = contradiction(r, k, second);
    const bool same = most <= 1.5 * fabs(second->signal->scale);
    if (!same) {
        bl_reach_claim(unit, BL_REACH_UNCHANGED,
                       isnan(most) ? BL_UNKNOWN : BL_NO,
                       "address %u sends it a demand too, and not the same",
                       (unsigned)second->source);
    }
    struct bl_finding *f =
        bl_reach_found(r, BL_FINDING_TWO_SENDERS, (long)unit->unit);
    bl_finding_say(f, "Two addresses send a demand to %s: %u and %u%s.",
                   bl_reach_label(r, unit->unit, self), (unsigned)unit->source,
                   (unsigned)second->source,
                   same ? ", both the same" : ", and they differ");
    bl_finding_evidence(f, "largest difference", most, NAN, "kPa");
    bl_finding_evidence(f, "frames of the second", (double)second->steps.frames,
                        NAN, "");
    if (f != NULL && same) {
        f->severity = BL_SEVERITY_WARNING;
    }
}

void bl_reach_judge_unchanged(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    size_t first = k;
    (void)bl_reach_first(r, k, &first);
    if (isnan(unit->first_valid_s)) {
        bl_reach_claim(unit, BL_REACH_UNCHANGED, BL_UNKNOWN,
                       "it has no value to compare");
        return;
    }
    if (bl_reach_untimed(r, k)) {
        bl_reach_unchanged_by_order(r, first, k);
    } else if (first == k) {
        first_link(r, k);
    } else {
        behind(r, first, k);
    }
    second_sender(r, k);
}
