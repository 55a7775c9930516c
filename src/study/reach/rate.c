/* SPDX-License-Identifier: MIT */
/*
 * Does the demand come at its rate, and in time? The rate against the period
 * that its mapping table states, or what [expect] says. The time against the
 * command on the first link, against the first link behind it.
 */
#include "study/reach/reach.h"

#include "base/alloc.h"
#include "base/number.h"
#include "base/sure.h"
#include "study/findings/fill.h"

#include <math.h>
#include <string.h>

/* The middle interval may be a tenth longer than the table's: public scripts
   that check these messages take 5 %, and a recorder's clock and its rounding
   as much again (own choice). */
static const double SLOWER = 1.1;
static const double FRAMES_LEAST = 20; /* own choice: fewer have no rate */
static const double LOST_SHARE = 0.005;
static const double STOPPED_S = 0.25; /* outside applications (own choice) */
enum { LOST_LEAST = 5 };
/* A towing vehicle's demand passes 10 % within 0.2 s of the pedal's movement
   (UN R13 Annex 6, 2.6). */
static const double TOWING_S = 0.2;
static const double MORE_LATE_S = 0.01; /* beside two intervals per hop */

/* All that the sender sends stops, other senders go on: no frame was lost, and
   none was there. That it stopped is found of the sender. */
static void sender_stopped(struct bl_reach_unit *unit)
{
    size_t stops = 0;
    double longest_s = 0;
    for (size_t i = 0; i < unit->gaps; i++) {
        const struct bl_reach_gap *gap = &unit->gap[i];
        if (!gap->to_end && gap->kind == BL_GAP_SENDER &&
            (gap->application > 0 || gap->length_s >= STOPPED_S)) {
            stops++;
            longest_s = fmax(longest_s, gap->length_s);
        }
    }
    if (stops > 0) {
        bl_reach_claim(unit, BL_REACH_AT_RATE, BL_NO,
                       "its sender stopped %zu time%s, for up to %.2f s", stops,
                       stops == 1 ? "" : "s", longest_s);
    }
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
    bl_reach_claim(unit, BL_REACH_AT_RATE, BL_NO,
                   "%.1f %% of its demand frames are lost, %zu gap%s",
                   100 * unit->lost_share, own, own == 1 ? "" : "s");
    if (bl_reach_heard_in_front(r, k)) {
        return;
    }
    struct bl_finding *f =
        bl_reach_found(r, BL_FINDING_FRAMES_LOST, unit->unit);
    bl_finding_say(f,
                   "%.1f %% of the demand frames to %s are lost (%llu), "
                   "with %zu gap%s over three intervals, first in application "
                   "%d.",
                   100 * unit->lost_share, bl_reach_label(r, unit->unit, self),
                   (unsigned long long)unit->lost, own, own == 1 ? "" : "s",
                   application);
    bl_finding_evidence(f, "frames lost", (double)unit->lost, NAN, "");
    bl_finding_evidence(f, "share lost", 100 * unit->lost_share, NAN, "%");
    bl_finding_evidence(f, "longest interval", unit->most_s, NAN, "s");
}

static void slow(struct bl_reaching *r, size_t k, double allowed_s,
                 const char *by)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    const struct bl_reach_unit *front = bl_reach_front(r, k);
    char self[BL_REACH_LABEL];
    bl_reach_claim(unit, BL_REACH_AT_RATE, BL_NO, "it comes every %.0f ms; %s",
                   1e3 * unit->median_s, by);
    /* Whoever gets it slowly may hand it on slowly. */
    if (bl_reach_heard_in_front(r, k) ||
        (front != NULL && front->found && !bl_reach_from_towing(r, k) &&
         front->median_s > allowed_s)) {
        return;
    }
    struct bl_finding *f =
        bl_reach_found(r, BL_FINDING_DEMAND_SLOW, (long)unit->unit);
    bl_finding_say(f,
                   "The demand to %s comes every %.0f ms; %s, so at most "
                   "%.0f ms were expected.",
                   bl_reach_label(r, unit->unit, self), 1e3 * unit->median_s,
                   by, 1e3 * allowed_s);
    bl_finding_evidence(f, "middle interval", unit->median_s, NAN, "s");
    bl_finding_evidence(f, "longest interval", unit->most_s, NAN, "s");
}

void bl_reach_judge_rate(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    const struct bl_trial_expect *expect = &r->trial->expect;
    const bool stated = expect->line > 0 && !isnan(expect->interval_max_s);
    const double allowed_s =
        stated ? expect->interval_max_s : SLOWER * unit->period_s;
    lost(r, k);
    sender_stopped(unit);
    if (!((double)unit->frames >= FRAMES_LEAST) || isnan(unit->median_s)) {
        bl_reach_claim(unit, BL_REACH_AT_RATE, BL_UNKNOWN,
                       "%llu frames have no rate",
                       (unsigned long long)unit->frames);
    } else if (isnan(allowed_s)) {
        bl_reach_claim(unit, BL_REACH_AT_RATE, BL_UNKNOWN,
                       "it comes every %.0f ms; the table states no period for "
                       "it, and [expect] no interval_max",
                       1e3 * unit->median_s);
    } else if (unit->median_s > allowed_s) {
        slow(r, k, allowed_s,
             stated ? "[expect] interval_max is shorter"
                    : "its table's period is shorter");
    } else {
        bl_reach_claim(unit, BL_REACH_AT_RATE, BL_YES,
                       "it comes every %.1f ms, at the longest after %.0f ms; "
                       "%.0f ms are accepted",
                       1e3 * unit->median_s, 1e3 * unit->most_s,
                       1e3 * allowed_s);
    }
}

/* How many units hand it on between the first link and this. */
static size_t hops(const struct bl_reaching *r, size_t first, size_t k)
{
    if (bl_reach_from_towing(r, k)) {
        return 1;
    }
    const int by = r->trial->unit[r->into->unit[k].unit].number -
                   r->trial->unit[r->into->unit[first].unit].number;
    return by < 1 ? 1 : (size_t)by;
}

static double allowed_each(const struct bl_reaching *r, size_t k)
{
    const double most = r->trial->expect.coupling_delay_max_s;
    return r->trial->expect.line > 0 && !isnan(most)
               ? most
               : 2 * r->into->unit[k].nominal_s + MORE_LATE_S;
}

static bool is_late(const struct bl_reach_count *count)
{
    return count->late;
}

/* Each application's delay behind the first link. */
static void delays(struct bl_reaching *r, size_t first, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    const struct bl_reach_unit *from = &r->into->unit[first];
    const double allowed_s = (double)hops(r, first, k) * allowed_each(r, k) +
                             BL_SURE_U * unit->delay.u_s;
    for (size_t i = 0; unit->delay.known && i < unit->counts; i++) {
        struct bl_reach_count *found = &unit->count[i];
        for (size_t j = 0; j < from->counts; j++) {
            if (from->count[j].application == found->application &&
                found->moved == BL_YES && from->count[j].moved == BL_YES) {
                found->delay_s = found->rise_s - from->count[j].rise_s;
                found->late = found->delay_s > allowed_s;
            }
        }
    }
}

/* Is the link in front late against the first link? That the first link itself
   is late after the command is no part of a delay behind it. */
static bool late_in_front(const struct bl_reaching *r, size_t first,
                          const struct bl_reach_unit *before)
{
    const struct bl_reach_unit *from = &r->into->unit[first];
    char numbers[BL_REACH_TEXT];
    if (before == NULL || before == from) {
        return false;
    }
    return bl_reach_numbers(before, is_late, numbers) > 0 ||
           (before->claim[BL_REACH_IN_TIME].answer == BL_NO &&
            from->claim[BL_REACH_IN_TIME].answer != BL_NO);
}

/* The unit that hands it on so late; -1: it is not this coupling. */
static void late_coupling(struct bl_reaching *r, size_t first, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    char self[BL_REACH_LABEL];
    char front[BL_REACH_LABEL];
    char numbers[BL_REACH_TEXT];
    const double allowed = allowed_each(r, k);
    if (!unit->added.known) {
        return;
    }
    const double excess = unit->added.s - allowed;
    const struct bl_reach_unit *before = bl_reach_front(r, k);
    const size_t n = bl_reach_numbers(unit, is_late, numbers);
    const bool some = n > 0 && excess <= 0 && !late_in_front(r, first, before);
    if (excess <= 0 && !some) {
        return;
    }
    const bool found = some || excess >= BL_SURE_U * unit->added.u_s;
    struct bl_finding *f =
        bl_findings_add(&r->into->findings, BL_FINDING_DEMAND_LATE,
                        found ? BL_SHOWN_FOUND : BL_SHOWN_CANNOT_TELL,
                        (long)unit->unit - 1, (long)r->into->run);
    bl_reach_label(r, unit->unit - 1, front);
    bl_reach_label(r, unit->unit, self);
    if (some) {
        bl_finding_say(f,
                       "%s re-issues the demand to %s late in "
                       "application%s %.100s.",
                       front, self, n == 1 ? "" : "s", numbers);
    } else {
        bl_finding_say(f,
                       "%s re-issues the demand late: %.3f s later on the "
                       "link to %s than on its own; %.3f s were allowed "
                       "for.",
                       front, unit->added.s, self, allowed);
    }
    bl_finding_evidence(f, "added by the hop", unit->added.s, unit->added.u_s,
                        "s");
    bl_finding_evidence(f, "rises and falls compared", (double)unit->edges, NAN,
                        "");
    if (f != NULL && !some) {
        f->ratio = excess / unit->added.u_s;
    }
    if (found && !some) {
        bl_reach_claim(unit, BL_REACH_IN_TIME, BL_NO,
                       "this coupling adds %.3f s", unit->added.s);
    }
}

static void behind_first(struct bl_reaching *r, size_t first, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    char numbers[BL_REACH_TEXT];
    if (r->series[first] == r->series[k]) {
        bl_reach_claim(unit, BL_REACH_IN_TIME,
                       r->into->unit[first].claim[BL_REACH_IN_TIME].answer,
                       "the same frames as on the first link");
        return;
    }
    if (!unit->delay.known) {
        bl_reach_claim(unit, BL_REACH_IN_TIME, BL_UNKNOWN,
                       "how late it is against the first link is not known: %s",
                       bl_reason_meaning(unit->delay.reason));
        return;
    }
    delays(r, first, k);
    late_coupling(r, first, k);
    const double allowed_s = (double)hops(r, first, k) * allowed_each(r, k);
    const double excess = unit->delay.s - allowed_s;
    const enum bl_answer before =
        r->into->unit[first].claim[BL_REACH_IN_TIME].answer;
    if (excess > BL_SURE_U * unit->delay.u_s) {
        bl_reach_claim(unit, BL_REACH_IN_TIME, BL_NO,
                       "it is %.3f s behind the first link; %.3f s were "
                       "allowed for",
                       unit->delay.s, allowed_s);
    } else if (bl_reach_numbers(unit, is_late, numbers) > 0) {
        bl_reach_claim(unit, BL_REACH_IN_TIME, BL_NO,
                       "it is late in applications %.150s", numbers);
    }
    /* What the towing vehicle addresses to a unit did not pass the first. */
    if (before == BL_NO && !bl_reach_from_towing(r, k)) {
        bl_reach_claim(unit, BL_REACH_IN_TIME, BL_NO,
                       "it is late on the first link already");
    } else if (unit->claim[BL_REACH_IN_TIME].answer != BL_NO) {
        bl_reach_claim(unit, BL_REACH_IN_TIME,
                       excess > 0 || before != BL_YES ? BL_UNKNOWN : BL_YES,
                       "it is %.3f s behind the first link%s; %.3f s were "
                       "allowed for",
                       unit->delay.s,
                       before == BL_YES ? ""
                                        : ", and how late the first link is "
                                          "after the command is not known",
                       allowed_s);
    }
}

struct arrivals {
    double *s, u_s; /* room for one of each application */
    size_t n, late;
    double most_s; /* of the late ones */
    enum bl_reason reason;
};

static void mark_late(struct bl_reach_unit *unit, int application)
{
    for (size_t i = 0; i < unit->counts; i++) {
        if (unit->count[i].application == application) {
            unit->count[i].late = true;
        }
    }
}

/* After the command, where it was pressed at once. */
static void gather(struct bl_reaching *r, size_t k, struct arrivals *out)
{
    struct bl_reach_unit *to = &r->into->unit[k];
    out->reason = BL_REASON_NO_DATA;
    const size_t room = r->lag != NULL ? r->lag->applications : 0;
    out->s = bl_alloc(room + 1, sizeof(*out->s));
    /* Memory that is short ends the whole (bl_reach_run). */
    for (size_t i = 0; out->s != NULL && i < room; i++) {
        const struct bl_application *a = &r->lag->application[i];
        for (size_t u = 0; u < a->units; u++) {
            const struct bl_figure *f =
                &a->unit[u].figure[BL_FIGURE_DEMAND_ARRIVAL];
            if (a->unit[u].unit != to->unit || a->shape == BL_SHAPE_RAMP) {
                continue;
            }
            if (!f->known) {
                out->reason = f->reason;
            } else if (out->n < room) {
                if (f->s - TOWING_S > BL_SURE_U * f->u_s) {
                    mark_late(to, a->number);
                    out->late++;
                    out->most_s = fmax(out->most_s, f->s);
                }
                out->u_s = fmax(out->u_s, f->u_s);
                out->s[out->n++] = f->s;
            }
        }
    }
}

/* In every application, or in some of them: these are named by number. */
static void late_after_command(struct bl_reaching *r, size_t k,
                               const struct arrivals *found, double middle_s)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    char self[BL_REACH_LABEL];
    char numbers[BL_REACH_TEXT];
    struct bl_finding *f =
        bl_reach_found(r, BL_FINDING_DEMAND_LATE, (long)unit->unit - 1);
    bl_reach_label(r, unit->unit, self);
    if (found->late == found->n ||
        bl_reach_numbers(unit, is_late, numbers) == 0) {
        bl_reach_claim(unit, BL_REACH_IN_TIME, BL_NO,
                       "it comes %.3f s after the command", middle_s);
        bl_finding_say(f,
                       "The demand on the link to %s comes %.3f s after "
                       "the command; %.1f s are allowed for.",
                       self, middle_s, TOWING_S);
    } else {
        const char *more = found->late == 1 ? "" : "s";
        const char *most = found->late == 1 ? "" : "up to ";
        bl_reach_claim(unit, BL_REACH_IN_TIME, BL_NO,
                       "in application%s %.75s it comes %s%.3f s after the "
                       "command",
                       more, numbers, most, found->most_s);
        bl_finding_say(f,
                       "The demand on the link to %s comes %s%.3f s after "
                       "the command in application%s %.100s; %.1f s are "
                       "allowed for.",
                       self, most, found->most_s, more, numbers, TOWING_S);
        bl_finding_evidence(f, "after the command, latest", found->most_s,
                            found->u_s, "s");
    }
    bl_finding_evidence(f, "after the command, middle", middle_s, found->u_s,
                        "s");
}

/* True: answered. */
static bool after_command(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    struct arrivals found = {.n = 0};
    gather(r, k, &found);
    if (found.n == 0) {
        bl_free(found.s);
        bl_reach_claim(unit, BL_REACH_IN_TIME, BL_UNKNOWN,
                       "how late it is after the command is not known: %s",
                       bl_reason_meaning(found.reason));
        return false;
    }
    const size_t n = found.n;
    const double middle_s = bl_median(found.s, n);
    bl_free(found.s);
    if (found.late > 0) {
        late_after_command(r, k, &found, middle_s);
    } else {
        bl_reach_claim(unit, BL_REACH_IN_TIME,
                       middle_s > TOWING_S ? BL_UNKNOWN : BL_YES,
                       "it comes %.3f s after the command, in the middle of "
                       "%zu applications",
                       middle_s, n);
    }
    return true;
}

void bl_reach_judge_time(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    size_t first = k;
    (void)bl_reach_first(r, k, &first);
    if (unit->moved == 0) {
        bl_reach_claim(unit, BL_REACH_IN_TIME, BL_UNKNOWN,
                       "it was not seen to move");
    } else if (first == k) {
        (void)after_command(r, k);
    } else if (!bl_reach_from_towing(r, k) ||
               r->series[first] == r->series[k] || !after_command(r, k)) {
        behind_first(r, first, k);
    }
}
