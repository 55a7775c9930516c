/* SPDX-License-Identifier: MIT */
/* Does a run keep what [expect] asks for? What could not be shown is not kept:
   somebody signs for it. */
#include "study/reach/reach.h"

#include <math.h>
#include <stdio.h>

struct expecting {
    const struct bl_trial_expect *expect;
    const struct bl_reach_unit *unit;
    const char *label;
    char *why;
};

static bool fail(const struct expecting *e, const char *what, double found,
                 double most, const char *measured_in)
{
    if (isnan(found)) {
        (void)snprintf(e->why, BL_REACH_TEXT,
                       "%s: could not be shown: %s of at most %.6g %s",
                       e->label, what, most, measured_in);
    } else {
        (void)snprintf(e->why, BL_REACH_TEXT,
                       "%s: %s is %.4g %s, at most %.6g %s expected", e->label,
                       what, found, measured_in, most, measured_in);
    }
    return false;
}

static bool keeps_times(const struct expecting *e)
{
    const struct bl_reach_unit *unit = e->unit;
    const struct bl_trial_expect *x = e->expect;
    if (!isnan(x->gap_max_s) && !(unit->most_s <= x->gap_max_s)) {
        return fail(e, "longest interval of its demand", unit->most_s,
                    x->gap_max_s, "s");
    }
    if (!isnan(x->lost_max_fraction) &&
        !(unit->lost_share <= x->lost_max_fraction)) {
        return fail(e, "share of demand frames lost", 100 * unit->lost_share,
                    100 * x->lost_max_fraction, "%");
    }
    if (!isnan(x->first_valid_max_s) &&
        !(unit->first_valid_s <= x->first_valid_max_s)) {
        return fail(e, "time to its first valid demand", unit->first_valid_s,
                    x->first_valid_max_s, "s");
    }
    /* On the first link, and on a bus for all, nobody hands anything on. */
    const bool first = unit->delay.known && unit->edges == 0;
    const struct bl_figure *added =
        unit->added.known || !unit->delay.known ? &unit->added : &unit->delay;
    if (!isnan(x->coupling_delay_max_s) && !first &&
        !(added->known && added->s <= x->coupling_delay_max_s)) {
        return fail(e, "delay added by the coupling",
                    added->known ? added->s : NAN, x->coupling_delay_max_s,
                    "s");
    }
    return true;
}

static bool is_last(const struct bl_trial *trial, const struct bl_reach *reach,
                    size_t k)
{
    return k + 1 == reach->units ||
           trial->unit[reach->unit[k + 1].unit].combination !=
               trial->unit[reach->unit[k].unit].combination;
}

static bool keeps_voltage(const struct expecting *e)
{
    const double least = e->expect->voltage_min_v;
    if (isnan(least) || e->unit->volts_least >= least) {
        return true;
    }
    if (isnan(e->unit->volts_least)) {
        (void)snprintf(e->why, BL_REACH_TEXT,
                       "%s: could not be shown: voltage while braking of "
                       "at least %.6g V",
                       e->label, least);
    } else {
        (void)snprintf(e->why, BL_REACH_TEXT,
                       "%s: voltage while braking is %.4g V, at least "
                       "%.6g V expected",
                       e->label, e->unit->volts_least, least);
    }
    return false;
}

bool bl_reach_expected(const struct bl_trial *trial,
                       const struct bl_reach *reach, char why[BL_REACH_TEXT])
{
    const struct bl_trial_expect *expect = &trial->expect;
    why[0] = '\0';
    if (expect->line == 0 || reach->declared_off) {
        return true;
    }
    for (size_t k = 0; k < reach->units; k++) {
        char label[BL_REACH_LABEL];
        const struct bl_reach_unit *unit = &reach->unit[k];
        bl_trial_unit_called(trial, unit->unit, label, sizeof(label));
        const struct expecting e = {expect, unit, label, why};
        if (expect->reach && unit->verdict != BL_REACH_REACHED) {
            (void)snprintf(why, BL_REACH_TEXT, "%s: %s", label,
                           unit->verdict == BL_REACH_CANNOT_TELL
                               ? "could not be shown: the demand reaches it"
                               : bl_reach_verdict_words(unit->verdict));
            return false;
        }
        if (!keeps_times(&e) ||
            (is_last(trial, reach, k) && !keeps_voltage(&e))) {
            return false;
        }
    }
    return true;
}
