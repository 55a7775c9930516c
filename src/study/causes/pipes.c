/* SPDX-License-Identifier: MIT */
/*
 * What pipes and what hangs on them show: supply where control should be, and a
 * reservoir that pays for a leak behind its valve.
 */
#include "study/causes/causes.h"
#include "study/findings/fill.h"

#include <math.h>
#include <stdio.h>

static const int64_t second_ns = 1000000000;
/* Own choice: far above what a valve keeps or a transducer is off by (UN R13:
   braking begins below 100 kPa, from memory), and below what brakes are
   supplied with (450 kPa and more, common practice). */
static const double supply_kpa = 300;
/* As an output that falls in its hold (levels.c). */
static const double fall_tolerance_kpa = 10;
/* Own choice: by then chambers are full, and the reservoir has given what they
   took: where the output tells, half a second after 75 % of it. */
static const double filled_least_s = 1.5, filled_s = 2.5;

static double noise_of(const struct bl_extent *e)
{
    return (e->largest - e->smallest) / 4 / sqrt((double)e->count) + 0.25;
}

/* ---- supply and control crossed */

/* Control pressure just before anybody brakes, at the least; NaN: not recorded.
   Puts how far each lies above what none should. */
static double gather_released(struct bl_causing *c, size_t run, size_t unit)
{
    const struct bl_run_lag *lag = c->run[run].lag;
    struct bl_track track;
    double least = NAN;
    bl_excess_clear(c);
    if (!bl_causes_pressure(c, run, &c->trial->unit[unit].control, &track)) {
        return least;
    }
    for (size_t a = 0; a < lag->applications; a++) {
        const struct bl_application *one = &lag->application[a];
        if (one->combination != c->trial->unit[unit].combination ||
            one->begun_before || one->excluded) {
            continue;
        }
        const struct bl_extent e = bl_track_extent(
            &track, one->apply_ns - second_ns, one->apply_ns - second_ns / 20);
        if (e.known && bl_causes_let_go(lag, a)) {
            bl_excess_put(c, e.median - supply_kpa, noise_of(&e));
        }
        if (e.known) {
            least = isnan(least) ? e.median : fmin(least, e.median);
        }
    }
    return least;
}

/* In how many applications did its output answer? */
static size_t answers(const struct bl_causing *c, size_t run, size_t unit,
                      size_t *seen)
{
    const struct bl_run_lag *lag = c->run[run].lag;
    size_t count = 0;
    *seen = 0;
    for (size_t a = 0; a < lag->applications; a++) {
        const struct bl_unit_lag *measured =
            bl_application_unit(&lag->application[a], unit);
        if (measured != NULL && measured->responded != BL_UNKNOWN) {
            count += measured->responded == BL_YES;
            ++*seen;
        }
    }
    return count;
}

static bool crossed_in_front(const struct bl_causing *c, size_t run,
                             size_t unit)
{
    for (size_t u = unit; u-- > 0;) {
        if (c->trial->unit[u].combination == c->trial->unit[unit].combination &&
            bl_causes_found(c, BL_FINDING_SUPPLY_CROSSED, (long)u, (long)run) !=
                NULL) {
            return true;
        }
    }
    return false;
}

static void supply_crossed(struct bl_causing *c, size_t run, size_t unit)
{
    char text[128];
    size_t seen;
    const bool follows = crossed_in_front(c, run, unit);
    const double least = gather_released(c, run, unit);
    if (least <= supply_kpa) { /* a supply line is never let go */
        bl_findings_looked(c->into, BL_FINDING_SUPPLY_CROSSED, (long)unit,
                           (long)run);
        return;
    }
    struct bl_finding *f =
        bl_excess_judge(c, BL_FINDING_SUPPLY_CROSSED, (long)unit, (long)run);
    const size_t count = answers(c, run, unit, &seen);
    bl_finding_say(
        f, "control pressure of %s is %.0f kPa while nobody brakes%s",
        bl_causes_unit(c, unit, text, sizeof(text)), least,
        2 * count > seen
            ? ", and its output answers the command all the same: more likely "
              "its transducers of supply and control are exchanged than the "
              "lines"
            : ", as a supply line has: supply and control are crossed there or "
              "in front");
    bl_finding_evidence(f, "control pressure released", least, NAN, "kPa");
    bl_finding_evidence(f, "applications that its output answered",
                        (double)count, NAN, "");
    if (f != NULL) {
        f->follows = follows;
    }
}

/* ---- a reservoir that falls while the brake is held */

/* From the first fifth of a stretch to its last one. */
static double fall_over(const struct bl_track *track, int64_t from, int64_t to,
                        double *u)
{
    const int64_t fifth = (to - from) / 5;
    const struct bl_extent first = bl_track_extent(track, from, from + fifth);
    const struct bl_extent last = bl_track_extent(track, to - fifth, to);
    *u = hypot(noise_of(&first), noise_of(&last));
    return first.known && last.known ? first.median - last.median : NAN;
}

static double full_s(const struct bl_application *a, size_t unit)
{
    const struct bl_unit_lag *measured = bl_application_unit(a, unit);
    const struct bl_figure *f =
        measured == NULL ? NULL : &measured->figure[BL_FIGURE_FILLED];
    return f != NULL && f->known ? fmax(filled_least_s, f->s + 0.5) : filled_s;
}

/* By how much more it falls in the hold than just before the application, where
   it may be refilled; NaN: not to be had. */
static double fall_in(const struct bl_causing *c, size_t run, size_t unit,
                      size_t a, double *u)
{
    const struct bl_application *one = &c->run[run].lag->application[a];
    const int64_t from = one->apply_ns + (int64_t)(full_s(one, unit) * 1e9);
    const int64_t to = one->release_ns - second_ns / 20;
    const int64_t ready = one->apply_ns - second_ns / 20;
    struct bl_track track;
    if (!bl_application_usable(one) || to - from < second_ns ||
        one->combination != c->trial->unit[unit].combination ||
        !bl_causes_pressure(c, run, &c->trial->unit[unit].reservoir, &track)) {
        return NAN;
    }
    double u_before;
    const double held = fall_over(&track, from, to, u);
    const double before =
        fall_over(&track, ready - (to - from), ready, &u_before);
    *u = hypot(*u, u_before);
    return held - before;
}

/* Of the reservoirs of the other units there, the middle; where there are none,
   nothing is taken off. */
static double others_fall(const struct bl_causing *c, size_t run, size_t unit,
                          size_t a)
{
    double *value = c->room[0];
    double scatter;
    double u;
    size_t n = 0;
    for (size_t k = 0; k < c->trial->units; k++) {
        const double fell = k == unit ? NAN : fall_in(c, run, k, a, &u);
        if (!isnan(fell)) {
            value[n++] = fell;
        }
    }
    const double middle = bl_causes_middle(value, n, &scatter);
    return isnan(middle) ? 0 : fmax(0, middle);
}

static void reservoir_falls(struct bl_causing *c, size_t run, size_t unit)
{
    const struct bl_run_lag *lag = c->run[run].lag;
    char text[128];
    double most = NAN;
    double beside = NAN;
    bl_excess_clear(c);
    for (size_t a = 0; a < lag->applications; a++) {
        double u;
        const double fell = fall_in(c, run, unit, a, &u);
        if (isnan(fell)) {
            continue;
        }
        const double others = others_fall(c, run, unit, a);
        bl_excess_put(c, fell - others - fall_tolerance_kpa, u);
        if (!(fell - others <= most - beside)) {
            most = fell;
            beside = others;
        }
    }
    struct bl_finding *f =
        bl_excess_judge(c, BL_FINDING_RESERVOIR_FALLS, (long)unit, (long)run);
    bl_finding_say(
        f,
        "the reservoir of %s loses up to %.0f kPa more while the brake is "
        "held than before, those of other units %.0f kPa: air leaks out "
        "behind its valve, and the valve tops the brake up",
        bl_causes_unit(c, unit, text, sizeof(text)), most, beside);
    bl_finding_evidence(f, "largest loss during a hold", most, NAN, "kPa");
    bl_finding_evidence(f, "of the other reservoirs", beside, NAN, "kPa");
}

void bl_causes_pipes(struct bl_causing *c)
{
    for (size_t r = 0; r < c->trial->runs; r++) {
        for (size_t u = 0; c->run[r].lag != NULL && u < c->trial->units; u++) {
            supply_crossed(c, r, u);
            reservoir_falls(c, r, u);
        }
    }
}
