/* SPDX-License-Identifier: MIT */
/*
 * Supply of the units, and the control line: reservoirs, voltage, pressure lost
 * on the way, states that the bus reports.
 */
#include "study/causes/causes.h"
#include "study/findings/fill.h"
#include "study/limits/judge.h"

#include <math.h>
#include <string.h>

static const int64_t second_ns = 1000000000;
static const double sag_tolerance_kpa = 70; /* 10 psi, common practice */

static void supply_sag(struct bl_causing *c, size_t run, size_t unit)
{
    const struct bl_run_lag *lag = c->run[run].lag;
    struct bl_track track;
    double first = NAN;
    double lowest = NAN;
    double u = NAN;
    bl_excess_clear(c);
    if (!bl_causes_pressure(c, run, &c->trial->unit[unit].reservoir, &track) ||
        lag->applications < 2) {
        bl_findings_missing(c->into, BL_FINDING_SUPPLY_SAG, (long)unit,
                            (long)run, NULL);
        return;
    }
    for (size_t a = 0; a < lag->applications; a++) {
        const int64_t at = lag->application[a].apply_ns;
        const struct bl_extent e =
            bl_track_extent(&track, at - second_ns / 2, at);
        if (!e.known || lag->application[a].begun_before) {
            continue;
        }
        u = (e.largest - e.smallest) / 4 + 0.5;
        if (isnan(first)) {
            first = e.median;
        } else {
            bl_excess_put(c, first - e.median - sag_tolerance_kpa, u);
            lowest = isnan(lowest) ? e.median : fmin(lowest, e.median);
        }
    }
    struct bl_finding *f =
        bl_excess_judge(c, BL_FINDING_SUPPLY_SAG, (long)unit, (long)run);
    char text[128];
    bl_finding_say(f, "the reservoir of %s fell from %.0f to %.0f kPa",
                   bl_causes_unit(c, unit, text, sizeof(text)), first, lowest);
    bl_finding_evidence(f, "before the first application", first, u, "kPa");
    bl_finding_evidence(f, "lowest before an application", lowest, u, "kPa");
}

static void voltage_low(struct bl_causing *c, size_t run, size_t unit)
{
    const struct bl_run_lag *lag = c->run[run].lag;
    struct bl_track track;
    bl_track_find(&track, c->trial, c->run[run].data, c->run[run].clocks,
                  &c->trial->unit[unit].voltage);
    if (!track.present || track.samples == NULL ||
        track.quantity != BL_QUANTITY_VOLTAGE ||
        c->trial->run[run].power == BL_STATED_OFF) {
        bl_findings_missing(c->into, BL_FINDING_VOLTAGE_LOW, (long)unit,
                            (long)run, NULL);
        return;
    }
    double lowest = NAN;
    double at_rest = NAN;
    double u = NAN;
    const double least = bl_trial_voltage_least(c->trial);
    bl_excess_clear(c);
    for (size_t a = 0; a < lag->applications; a++) {
        const struct bl_application *application = &lag->application[a];
        if (!bl_application_usable(application)) {
            continue;
        }
        const struct bl_extent before =
            bl_track_extent(&track, application->apply_ns - second_ns,
                            application->apply_ns - second_ns / 20);
        /* Medians of a tenth of a second: a spike is no low supply. */
        double low = NAN;
        for (int64_t t = application->apply_ns; t < application->release_ns;
             t += second_ns / 10) {
            const struct bl_extent e =
                bl_track_extent(&track, t, t + second_ns / 10);
            if (e.known) {
                low = isnan(low) ? e.median : fmin(low, e.median);
            }
        }
        if (!before.known || isnan(low)) {
            continue;
        }
        u = (before.largest - before.smallest) / 4 + 0.02;
        bl_excess_put(c, fmax(least, 0.8 * before.median) - low, u);
        if (!(lowest <= low)) {
            lowest = low;
            at_rest = before.median;
        }
    }
    struct bl_finding *f =
        bl_excess_judge(c, BL_FINDING_VOLTAGE_LOW, (long)unit, (long)run);
    char text[128];
    bl_finding_say(f, "the supply of %s falls to %.1f V during applications",
                   bl_causes_unit(c, unit, text, sizeof(text)), lowest);
    bl_finding_evidence(f, "lowest during applications", lowest, u, "V");
    bl_finding_evidence(f, "before that", at_rest, u, "V");
}

/* What the rule lets a coupling lose; NaN below the pressures it speaks of. */
static double differential(double front_kpa)
{
    return bl_limit_loss_kpa(bl_limit_of_loss(front_kpa), front_kpa);
}

/* Does the air come to this coupling from a unit that hands it on as it is? */
static bool in_front_passes_on(const struct bl_causing *c, size_t unit)
{
    for (size_t k = unit; k-- > 0;) {
        if (c->trial->unit[k].combination == c->trial->unit[unit].combination) {
            return bl_trial_unit_control_line(c->trial, k) ==
                   BL_CONTROL_LINE_THROUGH;
        }
    }
    return c->trial->control_line == BL_CONTROL_LINE_THROUGH;
}

/* What is in front of `unit` in one application, at the nearest coupling
   whose control was recorded, else the command. False: nothing, or a unit in
   between re-issues the air and so sets a pressure of its own. */
static bool pressure_in_front(const struct bl_causing *c, size_t run, size_t a,
                              size_t unit, double *kpa, double *u)
{
    const struct bl_application *application = &c->run[run].lag->application[a];
    const char combination = c->trial->unit[unit].combination;
    *kpa = bl_causes_cell(c, run, a, unit)->asked_hold;
    *u = hypot(application->command_hold.u, application->command_rest.u) + 0.5;
    for (size_t k = unit; k-- > 0;) {
        if (c->trial->unit[k].combination != combination) {
            continue;
        }
        if (bl_trial_unit_control_line(c->trial, k) !=
            BL_CONTROL_LINE_THROUGH) {
            return false;
        }
        const struct bl_stretches *cell = bl_causes_cell(c, run, a, k);
        if (!isnan(cell->control_hold)) {
            *kpa = cell->control_hold;
            *u = cell->u_control_hold;
            return true;
        }
    }
    return isfinite(*kpa);
}

static void line_loss(struct bl_causing *c, size_t run, size_t unit)
{
    const struct bl_run_lag *lag = c->run[run].lag;
    double least = NAN;
    double front_at = NAN;
    double u = NAN;
    bl_excess_clear(c);
    for (size_t a = 0; a < lag->applications; a++) {
        const double here = bl_causes_cell(c, run, a, unit)->control_hold;
        double front;
        double u_front;
        if (!pressure_in_front(c, run, a, unit, &front, &u_front) ||
            !isfinite(here) ||
            isnan(bl_causes_cell(c, run, a, unit)->asked_hold) ||
            lag->application[a].command_hold_from != BL_HOLD_SETTLED) {
            continue;
        }
        u = hypot(u_front, bl_causes_cell(c, run, a, unit)->u_control_hold);
        bl_excess_put(c, front - here - differential(front), u);
        if (!(here >= least)) {
            least = here;
            front_at = front;
        }
    }
    struct bl_finding *f =
        bl_excess_judge(c, BL_FINDING_CONTROL_LINE_LOSS, (long)unit, (long)run);
    char text[128];
    bl_finding_say(f, "%.0f kPa in front give %.0f kPa at the coupling of %s",
                   front_at, least,
                   bl_causes_unit(c, unit, text, sizeof(text)));
    bl_finding_evidence(f, "held in front", front_at, u, "kPa");
    bl_finding_evidence(f, "held here", least, u, "kPa");
    bl_finding_evidence(f, "published differential", differential(front_at),
                        NAN, "kPa");
}

bool bl_causes_on_during(const struct bl_causing *c, size_t run,
                         const struct bl_bus_series *s,
                         const struct bl_application *a)
{
    struct bl_track track;
    bl_track_series(&track, c->run[run].data, c->run[run].clocks, s);
    for (size_t i = 0; track.present && i < s->steps.count; i++) {
        const struct bl_segment *seg = &s->steps.segment[i];
        if (seg->state == BL_VALUE_VALID && seg->raw == 1 &&
            bl_track_run(&track, seg->first_ns) < a->release_ns &&
            bl_track_run(&track, seg->last_ns) > a->apply_ns) {
            return true;
        }
    }
    return false;
}

static long unit_at(const struct bl_causing *c, uint8_t address)
{
    for (size_t u = 0; u < c->trial->units; u++) {
        if (c->trial->unit[u].address == address) {
            return (long)u;
        }
    }
    return -1;
}

static void states(struct bl_causing *c, size_t run, enum bl_finding_code code,
                   const enum bl_role *role, size_t roles)
{
    const struct bl_run_data *data = c->run[run].data;
    const struct bl_run_lag *lag = c->run[run].lag;
    bool any = false;
    for (size_t i = 0; data != NULL && i < data->series_count; i++) {
        const struct bl_bus_series *s = &data->series[i];
        bool wanted = false;
        for (size_t k = 0; k < roles; k++) {
            wanted = wanted || s->signal->role == role[k];
        }
        if (!wanted || s->steps.frames == s->steps.not_valid) {
            continue;
        }
        any = true;
        size_t on = 0;
        size_t judged = 0;
        for (size_t a = 0; a < lag->applications; a++) {
            if (bl_application_usable(&lag->application[a])) {
                judged++;
                on += bl_causes_on_during(c, run, s, &lag->application[a]);
            }
        }
        const long unit = unit_at(c, s->source);
        if (on == 0 || bl_causes_found(c, code, unit, (long)run) != NULL) {
            bl_findings_looked(c->into, code, unit, (long)run);
            continue;
        }
        struct bl_finding *f = bl_findings_add(
            c->into, code,
            on >= 3 || on == judged ? BL_SHOWN_FOUND : BL_SHOWN_CANNOT_TELL,
            unit, (long)run);
        if (f != NULL) {
            f->fired = on;
            f->judged = judged;
        }
        bl_finding_say(f, "address %u reports it in %zu of %zu applications",
                       (unsigned)s->source, on, judged);
        bl_finding_evidence(f, "applications", (double)on, NAN, "");
    }
    if (!any) {
        bl_findings_missing(c->into, code, -1, (long)run, NULL);
    }
}

void bl_causes_supply(struct bl_causing *c)
{
    static const enum bl_role park[] = {BL_ROLE_PARK_BRAKE, BL_ROLE_PARK_DEMAND,
                                        BL_ROLE_SPRING_BRAKE_ENGAGED};
    static const enum bl_role by_itself[] = {BL_ROLE_AUTOMATIC_BRAKING};
    for (size_t r = 0; r < c->trial->runs; r++) {
        if (c->run[r].lag == NULL) {
            continue;
        }
        for (size_t u = 0; u < c->trial->units; u++) {
            supply_sag(c, r, u);
            voltage_low(c, r, u);
            if (in_front_passes_on(c, u)) {
                line_loss(c, r, u);
            }
        }
        states(c, r, BL_FINDING_PARK_BRAKE_ON, park, 3);
        states(c, r, BL_FINDING_AUTOMATIC_BRAKING, by_itself, 1);
    }
}
