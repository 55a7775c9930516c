/* SPDX-License-Identifier: MIT */
/*
 * What outputs show while nobody brakes: pressure that stays, and a shifted
 * zero.
 */
#include "base/sure.h"
#include "study/causes/causes.h"
#include "study/findings/fill.h"

#include <math.h>
#include <stdio.h>

static const int64_t second_ns = 1000000000;
static const double rest_tolerance_kpa = 5; /* "all channels < 5 kPa" */

/* Pressures of an output just before applications, over one run. */
struct rests {
    double first, last, u; /* kPa; NaN: not seen */
    double u_zero;         /* of the transducer, as stated or usual */
    size_t seen, not_vented;
    double stayed, u_stayed; /* most of what was not vented; NaN */
};

/* `others` is a bit for each further output that shows the same. */
static void say_rest(struct bl_causing *c, struct bl_finding *f, size_t unit,
                     size_t output, uint64_t others, const struct rests *level)
{
    char text[192];
    char at[160] = "";
    const double now = isnan(level->last) ? level->first : level->last;
    others &= ~((uint64_t)1 << output % BL_WORST_OUTPUTS);
    if (others != 0) {
        bl_causes_at_outputs(c, unit, others, at, sizeof(at));
    }
    bl_finding_say(f,
                   "%s stays at %.1f kPa (%.1f kPa before the first "
                   "application)%s%s",
                   bl_causes_output_of(c, unit, output, text, sizeof(text)),
                   now, level->first, at[0] == '\0' ? "" : ", the same", at);
    bl_finding_evidence(f, "released pressure", now, level->u, "kPa");
    bl_finding_evidence(f, "released pressure before the first application",
                        level->first, level->u, "kPa");
}

/* Does it still fall just before the application? Then it is no rest. */
static bool falling(const struct bl_track *track,
                    const struct bl_application *a)
{
    const int64_t middle = a->apply_ns - 11 * (second_ns / 40);
    const struct bl_extent first =
        bl_track_extent(track, a->apply_ns - second_ns / 2, middle);
    const struct bl_extent second =
        bl_track_extent(track, middle, a->apply_ns - second_ns / 20);
    return first.known && second.known &&
           fabs(first.median - second.median) >
               fmax(1, (first.largest - first.smallest) / 4);
}

static struct bl_extent just_before(const struct bl_track *track,
                                    const struct bl_application *application)
{
    return bl_track_extent(track, application->apply_ns - second_ns / 2,
                           application->apply_ns - second_ns / 20);
}

static double u_of(const struct bl_extent *e)
{
    return (e->largest - e->smallest) / 4 / sqrt((double)e->count) + 0.25;
}

/* What stands at the press, not what fell on the way there. */
static struct bl_extent at_press(const struct bl_track *track,
                                 const struct bl_application *application)
{
    return bl_track_extent(track, application->apply_ns - second_ns / 10,
                           application->apply_ns);
}

/* The least that stood before any application of the run: what is vented. */
static double vented(const struct bl_causing *c, size_t run, size_t unit,
                     const struct bl_track *track)
{
    const struct bl_run_lag *lag = c->run[run].lag;
    double least = INFINITY;
    for (size_t a = 0; a < lag->applications; a++) {
        const struct bl_application *one = &lag->application[a];
        if (bl_application_unit(one, unit) != NULL && !one->begun_before) {
            const struct bl_extent e = at_press(track, one);
            least = e.known ? fmin(least, e.median) : least;
        }
    }
    return least;
}

/* The flag speaks of the last second, in which the tail of the release before
   may have ended: a finding needs that it still stands. */
static void add_stayed(struct rests *out, const struct bl_track *track,
                       const struct bl_application *application,
                       double vented_kpa)
{
    const struct bl_extent e = at_press(track, application);
    if (e.known && e.median - vented_kpa <= rest_tolerance_kpa) {
        return;
    }
    out->not_vented++;
    if (e.known && !(e.median <= out->stayed)) {
        out->stayed = e.median;
        out->u_stayed = u_of(&e);
    }
}

/* Puts how far each later rest lies above the first. */
static struct rests gather(struct bl_causing *c, size_t run, size_t unit,
                           size_t output, const struct bl_track *track)
{
    const struct bl_run_lag *lag = c->run[run].lag;
    struct rests out = {NAN, NAN, NAN, 0.5, 0, 0, NAN, NAN};
    if (track->channel != NULL && !isnan(track->channel->u_zero)) {
        out.u_zero = track->channel->u_zero;
    }
    const double least = vented(c, run, unit, track);
    bl_excess_clear(c);
    for (size_t a = 0; a < lag->applications; a++) {
        const struct bl_application *application = &lag->application[a];
        const struct bl_unit_lag *measured =
            bl_causes_output(bl_application_unit(application, unit), output);
        if (measured == NULL || application->begun_before) {
            continue;
        }
        const bool soon = !bl_causes_let_go(lag, a);
        const struct bl_extent e = just_before(track, application);
        out.seen++;
        if ((measured->flags & BL_FLAG_NOT_VENTED) != 0) {
            add_stayed(&out, track, application, least);
        }
        if (!e.known || soon || falling(track, application)) {
            continue;
        }
        out.u = u_of(&e);
        if (isnan(out.first)) {
            out.first = e.median;
        } else {
            out.last = e.median;
            bl_excess_put(c, e.median - out.first - rest_tolerance_kpa, out.u);
        }
    }
    return out;
}

/* Of the unit's outputs, that which was not vented most often. */
struct pressed {
    struct rests worst;
    uint64_t which; /* a bit for each output that was not */
    size_t seen;    /* applications before which any was looked at */
};

static void add_pressed(struct pressed *all, const struct rests *one, size_t o)
{
    all->seen = one->seen > all->seen ? one->seen : all->seen;
    if (one->not_vented == 0) {
        return;
    }
    all->which |= o < BL_WORST_OUTPUTS ? (uint64_t)1 << o : 0;
    if (one->not_vented > all->worst.not_vented ||
        (one->not_vented == all->worst.not_vented &&
         one->stayed > all->worst.stayed)) {
        all->worst = *one;
    }
}

static void not_vented(struct bl_causing *c, size_t run, size_t unit,
                       const struct pressed *all)
{
    const struct rests *rests = &all->worst;
    if (all->seen == 0) {
        bl_findings_missing(c->into, BL_FINDING_NOT_VENTED, (long)unit,
                            (long)run, NULL);
        return;
    }
    bl_findings_looked(c->into, BL_FINDING_NOT_VENTED, (long)unit, (long)run);
    if (rests->not_vented == 0) {
        return;
    }
    char text[128];
    char at[160];
    char left[64] = "";
    const bool found =
        rests->not_vented >= 3 || rests->not_vented == rests->seen;
    struct bl_finding *f = bl_findings_add(
        c->into, BL_FINDING_NOT_VENTED,
        found ? BL_SHOWN_FOUND : BL_SHOWN_CANNOT_TELL, (long)unit, (long)run);
    if (f != NULL && !found) {
        f->severity = BL_SEVERITY_NOTE; /* now and then: how it was pressed */
    }
    if (!isnan(rests->stayed)) {
        snprintf(left, sizeof(left), ": up to %.0f kPa stayed", rests->stayed);
    }
    bl_finding_say(f, "%s was not vented%s before %zu of %zu applications%s",
                   bl_causes_unit(c, unit, text, sizeof(text)),
                   bl_causes_at_outputs(c, unit, all->which, at, sizeof(at)),
                   rests->not_vented, rests->seen, left);
    bl_finding_evidence(f, "applications", (double)rests->not_vented, NAN, "");
    bl_finding_evidence(f, "pressure before the application", rests->stayed,
                        rests->u_stayed, "kPa");
}

/* Rest by rest: above the first, below zero, above zero from the start. */
enum { STAYS, BELOW_ZERO, ABOVE_ZERO, REST_KINDS };

static void say_rests(struct bl_causing *c, size_t run, size_t unit,
                      const struct bl_worst *worst, const struct rests *levels)
{
    static const enum bl_finding_code codes[] = {BL_FINDING_RESIDUAL_PRESSURE,
                                                 BL_FINDING_ZERO_OFFSET};
    for (size_t i = 0; i < 2; i++) {
        struct bl_finding *f =
            bl_worst_judge(c, &worst[i], codes[i], (long)unit, (long)run);
        say_rest(c, f, unit, worst[i].output, worst[i].found, &levels[i]);
    }
    for (size_t i = 0; i < 2 && worst[ABOVE_ZERO].found != 0; i++) {
        /* The two look alike: both are named, neither is found. */
        struct bl_finding *f = bl_findings_add(
            c->into, codes[i], BL_SHOWN_CANNOT_TELL, (long)unit, (long)run);
        say_rest(c, f, unit, worst[ABOVE_ZERO].output, worst[ABOVE_ZERO].found,
                 &levels[ABOVE_ZERO]);
    }
}

static void missing_untied(struct bl_causing *c, size_t run, size_t unit)
{
    static const enum bl_finding_code codes[] = {BL_FINDING_RESIDUAL_PRESSURE,
                                                 BL_FINDING_ZERO_OFFSET,
                                                 BL_FINDING_NOT_VENTED};
    for (size_t i = 0; i < sizeof(codes) / sizeof(codes[0]); i++) {
        bl_findings_missing(c->into, codes[i], (long)unit, (long)run,
                            bl_causes_untied(c, run, unit));
    }
}

static void rests(struct bl_causing *c, size_t run, size_t unit)
{
    struct bl_worst worst[REST_KINDS] = {{0}};
    struct rests levels[REST_KINDS] = {{0}};
    struct pressed pressed = {0};
    size_t tracks = 0;
    if (bl_causes_untied(c, run, unit) != NULL) {
        missing_untied(c, run, unit);
        return;
    }
    for (size_t o = 0; o < c->trial->unit[unit].outputs; o++) {
        struct bl_track track;
        if (!bl_causes_output_track(c, run, unit, o, &track)) {
            continue;
        }
        const struct rests one = gather(c, run, unit, o, &track);
        tracks++;
        add_pressed(&pressed, &one, o);
        if (isnan(one.first)) {
            continue;
        }
        const double u = hypot(one.u, one.u_zero);
        const double below = -one.first - rest_tolerance_kpa;
        const double above = one.first - rest_tolerance_kpa;
        for (size_t i = 0; i < REST_KINDS; i++) {
            if (i != STAYS) {
                bl_excess_clear(c);
                bl_excess_put(c, i == BELOW_ZERO ? below : above, u);
            }
            levels[i] = bl_worst_put(c, &worst[i], o) ? one : levels[i];
        }
    }
    if (tracks > 0) {
        say_rests(c, run, unit, worst, levels);
        not_vented(c, run, unit, &pressed);
    }
}

void bl_causes_rests(struct bl_causing *c)
{
    for (size_t r = 0; r < c->trial->runs; r++) {
        for (size_t u = 0; c->run[r].lag != NULL && u < c->trial->units; u++) {
            rests(c, r, u);
        }
    }
}
