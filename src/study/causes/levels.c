/* SPDX-License-Identifier: MIT */
/*
 * What a unit makes of its control pressure: nothing, too little, too late in
 * pressure, or what it cannot hold.
 */
#include "study/causes/causes.h"
#include "study/findings/fill.h"

#include <math.h>

static const int64_t second_ns = 1000000000;
/* Pressure balance between axles, 4 psi: published practice, methods.md 2.1. */
static const double hold_tolerance_kpa = 28;
static const double fall_tolerance_kpa = 10;
/* A command that moves by more than this is not held. */
static const double most_moved_kpa = 10, most_moved = 0.05;
/* Braking begins at 20 to 100 kPa at the coupling head (UN R13 Annex 10,
   from memory): what is asked of a unit whose threshold nobody states. */
static const double threshold_most_kpa = 100;

bool bl_causes_asked(const struct bl_causing *c, size_t run, size_t a,
                     size_t unit, double *kpa, double *u_kpa)
{
    const struct bl_application *application = &c->run[run].lag->application[a];
    const struct bl_stretches *cell = bl_causes_cell(c, run, a, unit);
    if (isfinite(cell->control_hold)) {
        *kpa = cell->control_hold;
        *u_kpa = cell->u_control_hold;
        return true;
    }
    /* What reached its coupling is not known, and by air the command is not
       that. */
    if (cell->control_wired && !bl_causes_powered(c, run)) {
        return false;
    }
    if (!application->command_hold.known || !application->command_rest.known ||
        application->command_hold.quantity != BL_QUANTITY_PRESSURE) {
        return false;
    }
    *kpa = application->command_hold.value - application->command_rest.value;
    *u_kpa =
        hypot(application->command_hold.u, application->command_rest.u) + 0.5;
    return true;
}

/* What the command must hold in a run by air so that a unit without a control
   channel brakes beyond doubt: its own opening and all that the valves in front
   keep (predict's ladder). NaN: not asked of the ladder. */
static double ladder_kpa(const struct bl_causing *c, size_t run, size_t a,
                         size_t unit)
{
    const struct bl_predict *all = c->run[run].predict;
    if (bl_causes_cell(c, run, a, unit)->control_wired) {
        return NAN;
    }
    for (size_t i = 0; all != NULL && i < all->units; i++) {
        if (all->unit[i].unit == unit && all->unit[i].ladder.known) {
            return all->unit[i].ladder.high_kpa;
        }
    }
    return NAN;
}

/* What an output that stayed away was asked for. */
struct unanswered {
    double most, u_most, threshold;
    size_t seen;  /* applications */
    size_t below; /* of them, that stayed below the stated opening pressure */
};

/* Puts by how much each application passed what opens the output. */
static struct unanswered gather_unanswered(struct bl_causing *c, size_t run,
                                           size_t unit, size_t output)
{
    const struct bl_trial_unit *vehicle = &c->trial->unit[unit];
    const struct bl_run_lag *lag = c->run[run].lag;
    const double own = isnan(vehicle->threshold_kpa) ? threshold_most_kpa
                                                     : vehicle->threshold_kpa;
    struct unanswered out = {NAN, NAN, own, 0, 0};
    bl_excess_clear(c);
    for (size_t a = 0; a < lag->applications; a++) {
        const struct bl_unit_lag *measured = bl_causes_output(
            bl_application_unit(&lag->application[a], unit), output);
        double kpa;
        double u;
        if (measured == NULL || measured->responded == BL_UNKNOWN ||
            (measured->flags & BL_FLAG_NOT_VENTED) != 0 ||
            !bl_application_usable(&lag->application[a]) ||
            !bl_causes_asked(c, run, a, unit, &kpa, &u)) {
            continue;
        }
        const double ladder = ladder_kpa(c, run, a, unit);
        out.threshold = isnan(ladder) ? own : fmax(own, ladder);
        const double excess =
            kpa - out.threshold - c->trial->response_at_kpa - 15;
        out.seen++;
        if (measured->responded == BL_YES) {
            bl_excess_put(c, -fabs(excess) - 1, u);
        } else if (excess > 0) {
            bl_excess_put(c, excess, u);
            out.most = fmax(kpa, out.most);
            out.u_most = u;
        } else if (!isnan(vehicle->threshold_kpa) && kpa < own) {
            out.below++;
        }
    }
    return out;
}

static void no_output(struct bl_causing *c, size_t run, size_t unit)
{
    const struct bl_trial_unit *vehicle = &c->trial->unit[unit];
    struct unanswered worst = {NAN, NAN, NAN, 0, 0};
    struct bl_worst judged = {0};
    size_t below = 0;
    size_t seen = 0;
    for (size_t o = 0; o < vehicle->outputs; o++) {
        const struct unanswered one = gather_unanswered(c, run, unit, o);
        seen += one.seen;
        worst = bl_worst_put(c, &judged, o) ? one : worst;
        below = one.below > below ? one.below : below;
    }
    char text[128];
    char at[160];
    bl_causes_unit(c, unit, text, sizeof(text));
    struct bl_finding *f =
        bl_worst_judge(c, &judged, BL_FINDING_NO_OUTPUT, (long)unit, (long)run);
    bl_finding_say(f, "%s gave no output%s although up to %.0f kPa reached it",
                   text, bl_worst_outputs(c, unit, &judged, at, sizeof(at)),
                   worst.most);
    bl_finding_evidence(f, "largest pressure that reached it", worst.most,
                        worst.u_most, "kPa");
    bl_finding_evidence(f, "opening pressure", worst.threshold, NAN, "kPa");
    if (seen == 0) {
        return;
    }
    bl_findings_looked(c->into, BL_FINDING_BELOW_THRESHOLD, (long)unit,
                       (long)run);
    if (below > 0) {
        f = bl_findings_add(c->into, BL_FINDING_BELOW_THRESHOLD, BL_SHOWN_FOUND,
                            (long)unit, (long)run);
        bl_finding_say(f,
                       "%s did not respond in %zu applications that stayed "
                       "below its opening pressure",
                       text, below);
        bl_finding_evidence(f, "opening pressure", vehicle->threshold_kpa, NAN,
                            "kPa");
    }
}

/* A pressure as command that moved, or crept up: hold, control and rest are
   not of one time then. */
static bool not_held(const struct bl_causing *c, size_t run, size_t a,
                     size_t unit)
{
    const struct bl_application *application = &c->run[run].lag->application[a];
    return application->command_hold.quantity == BL_QUANTITY_PRESSURE &&
           isnan(bl_causes_cell(c, run, a, unit)->asked_hold);
}

enum { KINDS = BL_KIND_FULL + 1 };

/* Where a held output is looked for. */
struct place {
    size_t run, unit, output;
    enum bl_application_kind kind;
};

/* Held output over what was asked for, in earlier applications of the same
   condition and kind (what a valve or a chain keeps is a larger share of a
   light one); NaN. */
static double held_before(const struct bl_causing *c, const struct place *at,
                          double *u)
{
    const size_t run = at->run;
    const size_t unit = at->unit;
    double *value = c->room[0];
    size_t n = 0;
    for (size_t r = 0; r < run; r++) {
        const struct bl_run_lag *lag = c->run[r].lag;
        if (!bl_causes_like(c, r, run)) {
            continue;
        }
        for (size_t a = 0; a < lag->applications; a++) {
            const struct bl_unit_lag *measured = bl_causes_output(
                bl_application_unit(&lag->application[a], unit), at->output);
            double kpa;
            double u_kpa;
            if (measured != NULL && lag->application[a].kind == at->kind &&
                bl_application_usable(&lag->application[a]) &&
                measured->hold.known &&
                measured->hold_from == BL_HOLD_SETTLED &&
                measured->hold.quantity == BL_QUANTITY_PRESSURE &&
                measured->rest.known &&
                bl_causes_asked(c, r, a, unit, &kpa, &u_kpa) && kpa > 100) {
                value[n++] =
                    (measured->hold.value - measured->rest.value) / kpa;
            }
        }
    }
    double scatter;
    const double middle = bl_causes_middle(value, n, &scatter);
    *u = scatter;
    return n >= 2 ? middle : NAN;
}

struct expected {
    double gain, crack, u_gain; /* gain NaN: nothing to expect by */
    bool by_earlier;
};

static struct expected expect_hold(const struct bl_causing *c,
                                   const struct place *at)
{
    const struct bl_trial_unit *vehicle = &c->trial->unit[at->unit];
    struct expected out = {vehicle->gain,
                           isnan(vehicle->crack_kpa) ? 0 : vehicle->crack_kpa,
                           0, false};
    if (isnan(vehicle->gain) || vehicle->gain_by_load ||
        vehicle->load == BL_LOAD_UNKNOWN) {
        out.gain = held_before(c, at, &out.u_gain);
        out.crack = 0;
        out.by_earlier = true;
    }
    return out;
}

/* What an output held, where it lacks most. */
struct held {
    double expected, found, u_found; /* kPa */
    bool by_earlier;
};

static struct held gather_held(struct bl_causing *c, size_t run, size_t unit,
                               size_t output)
{
    struct expected of_kind[KINDS];
    for (int k = 0; k < KINDS; k++) {
        const struct place at = {run, unit, output,
                                 (enum bl_application_kind)k};
        of_kind[k] = expect_hold(c, &at);
    }
    const struct bl_run_lag *lag = c->run[run].lag;
    struct held out = {NAN, NAN, NAN, of_kind[0].by_earlier};
    bl_excess_clear(c);
    for (size_t a = 0; a < lag->applications; a++) {
        const struct bl_unit_lag *measured = bl_causes_output(
            bl_application_unit(&lag->application[a], unit), output);
        const struct expected by = of_kind[lag->application[a].kind];
        double kpa;
        double u;
        if (measured == NULL || !bl_application_usable(&lag->application[a]) ||
            !measured->hold.known || measured->hold_from != BL_HOLD_SETTLED ||
            measured->hold.quantity != BL_QUANTITY_PRESSURE ||
            !measured->rest.known || isnan(by.gain) ||
            !bl_causes_asked(c, run, a, unit, &kpa, &u) ||
            not_held(c, run, a, unit)) {
            continue;
        }
        const double want = by.gain * (kpa - by.crack);
        const double is_kpa = measured->hold.value - measured->rest.value;
        u = hypot(hypot(u * by.gain, by.u_gain * kpa),
                  hypot(measured->hold.u, measured->rest.u));
        const double excess = want - is_kpa - hold_tolerance_kpa;
        bl_excess_put(c, excess, u);
        if (!(out.found <= is_kpa) || excess > 0) {
            out.expected = want;
            out.found = is_kpa;
            out.u_found = u;
        }
    }
    return out;
}

static void low_hold(struct bl_causing *c, size_t run, size_t unit)
{
    struct held worst = {NAN, NAN, NAN, false};
    struct bl_worst judged = {0};
    for (size_t o = 0; o < c->trial->unit[unit].outputs; o++) {
        const struct held one = gather_held(c, run, unit, o);
        worst = bl_worst_put(c, &judged, o) ? one : worst;
    }
    struct bl_finding *f =
        bl_worst_judge(c, &judged, BL_FINDING_LOW_HOLD, (long)unit, (long)run);
    char text[128];
    char at[160];
    bl_finding_say(f, "%s holds %.0f kPa%s where %.0f kPa was expected%s",
                   bl_causes_unit(c, unit, text, sizeof(text)), worst.found,
                   bl_worst_outputs(c, unit, &judged, at, sizeof(at)),
                   worst.expected,
                   worst.by_earlier ? " from its earlier runs" : "");
    bl_finding_evidence(f, "held above released", worst.found, worst.u_found,
                        "kPa");
    bl_finding_evidence(f, "expected", worst.expected, NAN, "kPa");
}

static double median_in(const struct bl_track *t, int64_t from, int64_t to)
{
    const struct bl_extent e = bl_track_extent(t, from, to);
    return e.known ? e.median : NAN;
}

/* The fill must be over: it is, half a second after 75 %; where the output
   falls too fast to be a hold, a second after its response. */
static double filled_s(const struct bl_unit_lag *measured)
{
    if (measured->figure[BL_FIGURE_FILLED].known) {
        return measured->figure[BL_FIGURE_FILLED].s + 0.5;
    }
    return measured->figure[BL_FIGURE_RESPONSE].known &&
                   !measured->figure[BL_FIGURE_FILLED].bounded &&
                   measured->figure[BL_FIGURE_FILLED].reason ==
                       BL_REASON_HOLD_LONGER
               ? measured->figure[BL_FIGURE_RESPONSE].s + 1
               : NAN;
}

/* Fall from the second tenth of the hold to the last one. */
static double fall(const struct bl_track *t, int64_t from, int64_t to)
{
    const int64_t tenth = (to - from) / 10;
    return median_in(t, from, from + 2 * tenth) -
           median_in(t, to - 2 * tenth, to);
}

/* Puts how far an output falls in each hold of the command. The largest fall,
   kPa; NaN: nothing was held. */
static double gather_falls(struct bl_causing *c, size_t run, size_t unit,
                           size_t output, const struct bl_track *command)
{
    const struct bl_run_lag *lag = c->run[run].lag;
    struct bl_track track;
    double most = NAN;
    bl_excess_clear(c);
    if (!bl_causes_output_track(c, run, unit, output, &track)) {
        return most;
    }
    for (size_t a = 0; a < lag->applications; a++) {
        const struct bl_application *application = &lag->application[a];
        const struct bl_unit_lag *measured =
            bl_causes_output(bl_application_unit(application, unit), output);
        if (measured == NULL || !bl_application_usable(application) ||
            isnan(filled_s(measured))) {
            continue;
        }
        const int64_t from =
            application->apply_ns + (int64_t)(filled_s(measured) * 1e9);
        const int64_t to = application->release_ns - second_ns / 20;
        if (to - from < second_ns) {
            continue;
        }
        const struct bl_extent asks = bl_track_extent(command, from, to);
        if (!asks.known || asks.largest - asks.smallest >
                               most_moved_kpa + most_moved * asks.median) {
            continue; /* not held */
        }
        const double down =
            fall(&track, from, to) - fmax(0, fall(command, from, to));
        const struct bl_rest rest =
            bl_track_rest(&track, application->apply_ns - 10 * second_ns,
                          application->apply_ns);
        const double noise = rest.known ? rest.noise : 1;
        bl_excess_put(c, down - fall_tolerance_kpa, noise * 0.5 + 0.3);
        most = fmax(most, down);
    }
    return most;
}

static void hold_falls(struct bl_causing *c, size_t run, size_t unit)
{
    const struct bl_trial *trial = c->trial;
    struct bl_track command = {0};
    const long front =
        bl_trial_unit_index(trial, trial->unit[unit].combination, 0);
    struct bl_worst judged = {0};
    double most = NAN;
    const bool held =
        front >= 0 &&
        bl_causes_pressure(c, run, &trial->unit[front].command, &command);
    for (size_t o = 0; held && o < trial->unit[unit].outputs; o++) {
        const double one = gather_falls(c, run, unit, o, &command);
        most = bl_worst_put(c, &judged, o) ? one : most;
    }
    struct bl_finding *f = bl_worst_judge(c, &judged, BL_FINDING_HOLD_FALLS,
                                          (long)unit, (long)run);
    char text[128];
    char at[160];
    bl_finding_say(f, "%s loses up to %.0f kPa%s while the command holds",
                   bl_causes_unit(c, unit, text, sizeof(text)), most,
                   bl_worst_outputs(c, unit, &judged, at, sizeof(at)));
    bl_finding_evidence(f, "largest fall during a hold", most, NAN, "kPa");
}

/* What is paired with the command takes a clock. */
static bool missing_untied(struct bl_causing *c, size_t run, size_t unit)
{
    static const enum bl_finding_code codes[] = {
        BL_FINDING_NO_OUTPUT, BL_FINDING_BELOW_THRESHOLD, BL_FINDING_LOW_HOLD,
        BL_FINDING_HOLD_FALLS};
    const char *needs = bl_causes_untied(c, run, unit);
    for (size_t i = 0; needs != NULL && i < sizeof(codes) / sizeof(codes[0]);
         i++) {
        bl_findings_missing(c->into, codes[i], (long)unit, (long)run, needs);
    }
    return needs != NULL;
}

void bl_causes_levels(struct bl_causing *c)
{
    for (size_t r = 0; r < c->trial->runs; r++) {
        for (size_t u = 0; c->run[r].lag != NULL && u < c->trial->units; u++) {
            if (c->trial->unit[u].outputs > 0 && !missing_untied(c, r, u)) {
                no_output(c, r, u);
                low_hold(c, r, u);
                hold_falls(c, r, u);
            }
        }
    }
}
