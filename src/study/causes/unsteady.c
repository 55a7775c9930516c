/* SPDX-License-Identifier: MIT */
/*
 * An output that hunts: held, it swings up and down although what asks it does
 * not. What its own input does in the same stretch comes first: a foot, a
 * demand or a control pressure that moves moves every sound brake.
 */
#include "study/causes/causes.h"

#include "base/alloc.h"
#include "base/number.h"
#include "lag/as_one.h"
#include "lag/demand.h"
#include "study/findings/fill.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const int64_t second_ns = 1000000000;
/* Own choice: from turn to turn. As much as counts between axles (28 kPa, 4
   psi, methods.md 2.1), and more than regulating valves step by when they
   settle. */
static const double least_kpa = 30;
/* Own choice: no ratio of a valve makes more of what its input does. */
static const double most_ratio = 2;
/* Own choice: one and a half periods. A fall and its recovery do not count. */
enum { SWINGS_LEAST = 3 };
/* Own choice: what modulators do, up to some ten times a second, is kept. */
static const int64_t block_ns = 20000000;
/* Own choice: turns that noise makes are smaller. */
static const double noise_u = 6;

/* What a pressure does in a stretch: way up or down between two turns. */
struct swings {
    bool known;
    size_t count;
    double mean, most, u; /* kPa */
    double per_s;         /* there and back */
};

/* ---- turns of one track */

/* Of one sample, by second differences, which slow changes leave out. */
static double noise_of(const struct bl_track *track, int64_t from, int64_t to)
{
    enum { MOST = 2048 };
    const struct bl_samples *s = track->samples;
    double *value = NULL;
    if (s != NULL) { /* held values have none */
        value = bl_alloc(MOST, sizeof(*value));
    }
    size_t i =
        value == NULL ? 0 : bl_samples_at(s, bl_track_raw(track, from)) + 1;
    size_t n = 0;
    const int64_t raw_to = bl_track_raw(track, to);
    for (; value != NULL && n < MOST && i + 1 < s->count &&
           s->time_ns[i + 1] < raw_to;
         i++) {
        const double two = (double)s->value[i - 1] - 2 * (double)s->value[i] +
                           (double)s->value[i + 1];
        if (isfinite(two)) {
            value[n++] = fabs(two);
        }
    }
    /* 1.4826 MAD; the sum of squares of 1, -2, 1 is 6. */
    const double noise = n == 0 ? 0 : 1.4826 * bl_median(value, n) / sqrt(6);
    bl_free(value);
    return noise;
}

/* Ways longer than `band`. The first and the last one are parts of a way:
   their ends are those of the stretch. */
struct zigzag {
    double band, turn, last; /* the turn before, and the extreme since */
    double low, high;        /* while the way is not known */
    int64_t last_ns, first_ns, turn_ns;
    int way; /* 0: not known yet */
    double sum, most;
    size_t count, whole;
};

static void turn(struct zigzag *z, bool whole)
{
    const double by = fabs(z->last - z->turn);
    z->most = fmax(z->most, by);
    z->count++;
    if (whole) {
        z->sum += by;
        z->whole++;
    }
}

static void add(struct zigzag *z, int64_t ns, double value)
{
    if (z->way == 0) {
        z->low = fmin(z->low, value); /* the first takes the place of NaN */
        z->high = fmax(z->high, value);
        z->way = value - z->low > z->band    ? 1
                 : z->high - value > z->band ? -1
                                             : 0;
        z->turn = z->last = z->way > 0 ? z->low : z->high;
    }
    if (z->way * (value - z->last) > 0) {
        z->last = value;
        z->last_ns = ns;
    } else if (z->way * (z->last - value) > z->band) {
        turn(z, z->count > 0);
        z->first_ns = z->count == 1 ? z->last_ns : z->first_ns;
        z->turn_ns = z->last_ns;
        z->turn = z->last;
        z->last = value;
        z->last_ns = ns;
        z->way = -z->way;
    }
}

/* Its middle there; NaN: not known. */
static double block(const struct bl_track *track, int64_t from, size_t *count)
{
    *count = 1;
    if (track->samples == NULL) {
        return bl_track_value(track, from);
    }
    const struct bl_extent e = bl_track_extent(track, from, from + block_ns);
    *count = e.count;
    return e.known ? e.median : NAN;
}

static struct swings swings_of(const struct bl_track *track, int64_t from,
                               int64_t to, double least)
{
    const double noise = noise_of(track, from, to);
    struct swings out = {.known = false};
    struct zigzag z = {.low = NAN, .high = NAN};
    size_t blocks = 0;
    size_t rows = 0;
    for (int pass = 0; pass < 2; pass++) {
        for (int64_t t = from; t + block_ns <= to; t += block_ns) {
            size_t count;
            const double value = block(track, t, &count);
            if (isnan(value)) {
                continue;
            }
            if (pass == 0) {
                blocks++;
                rows += count;
            } else {
                add(&z, t, value);
            }
        }
        if (blocks < 4) {
            return out;
        }
        /* Of a middle of so many, and of the difference of two. */
        out.u = 1.2533 * noise * sqrt(2 * (double)blocks / (double)rows) + 0.3;
        z.band = fmax(least, noise_u * out.u);
    }
    if (z.way != 0) {
        turn(&z, false);
    }
    out.known = true;
    out.count = z.count;
    out.most = z.most;
    out.mean = z.whole == 0 ? 0 : z.sum / (double)z.whole;
    out.per_s = z.whole == 0 ? NAN
                             : (double)z.whole /
                                   (2e-9 * (double)(z.turn_ns - z.first_ns));
    return out;
}

static bool hunts(const struct swings *s)
{
    return s->known && s->count >= SWINGS_LEAST && s->mean > least_kpa;
}

/* What an input gives its followers to do: a drift has no turn. */
static double gives(const struct swings *s)
{
    return s->known && s->count > 1 ? s->most : 0;
}

/* ---- what is compared with it */

struct look {
    struct bl_causing *c;
    size_t run;
    struct bl_track command;
    struct swings *output; /* per application and place */
};

static struct swings *swings_at(const struct look *l, size_t a, size_t unit,
                                size_t o)
{
    const size_t place = l->c->trial->unit[unit].outputs > 1
                             ? bl_trait_place(l->c->trial, unit, o)
                             : unit;
    return &l->output[a * l->c->places + place];
}

/* Where its fill is over: half a second after 75 %, or a second after its first
   air. */
static bool held_stretch(const struct look *l, size_t a, size_t unit, size_t o,
                         int64_t *from, int64_t *to)
{
    const struct bl_application *application =
        &l->c->run[l->run].lag->application[a];
    const struct bl_unit_lag *measured =
        bl_causes_output(bl_application_unit(application, unit), o);
    if (measured == NULL || !bl_application_usable(application)) {
        return false;
    }
    const struct bl_figure *filled = &measured->figure[BL_FIGURE_FILLED];
    const struct bl_figure *first = &measured->figure[BL_FIGURE_RESPONSE];
    const double s = filled->known  ? filled->s + 0.5
                     : first->known ? first->s + 1
                                    : NAN;
    *to = application->release_ns - second_ns / 20;
    *from = isnan(s) ? *to : application->apply_ns + (int64_t)(s * 1e9);
    return *to - *from >= second_ns;
}

static void measure(struct look *l, size_t unit)
{
    const struct bl_run_lag *lag = l->c->run[l->run].lag;
    for (size_t o = 0; o < l->c->trial->unit[unit].outputs; o++) {
        struct bl_track track;
        if (!bl_causes_output_track(l->c, l->run, unit, o, &track)) {
            continue;
        }
        for (size_t a = 0; a < lag->applications; a++) {
            int64_t from;
            int64_t to;
            if (held_stretch(l, a, unit, o, &from, &to) &&
                bl_track_damage(&track, from, to) == 0) {
                *swings_at(l, a, unit, o) =
                    swings_of(&track, from, to, least_kpa);
            }
        }
    }
}

/* Does any output of the unit hunt there? BL_UNKNOWN: none was measured. */
static enum bl_answer hunts_there(const struct look *l, size_t a, size_t unit)
{
    enum bl_answer answer = BL_UNKNOWN;
    for (size_t o = 0; o < l->c->trial->unit[unit].outputs; o++) {
        const struct swings *s = swings_at(l, a, unit, o);
        answer = hunts(s)                           ? BL_YES
                 : s->known && answer == BL_UNKNOWN ? BL_NO
                                                    : answer;
    }
    return answer;
}

/* The other units of the combination, or those in front: does one hunt, does
   one stand? */
static void others(const struct look *l, size_t a, size_t unit, bool front,
                   bool *hunt, bool *stand)
{
    const struct bl_trial *trial = l->c->trial;
    *hunt = *stand = false;
    for (size_t u = 0; u < trial->units; u++) {
        if (u == unit ||
            trial->unit[u].combination != trial->unit[unit].combination ||
            (front && trial->unit[u].number > trial->unit[unit].number)) {
            continue;
        }
        const enum bl_answer answer = hunts_there(l, a, u);
        *hunt = *hunt || answer == BL_YES;
        *stand = *stand || answer == BL_NO;
    }
}

/* What asks for braking in the same stretch. */
struct asks {
    double command, own; /* kPa from turn to turn; 0: steady, NaN: not known */
    bool steady;         /* by what others do, where it was not recorded */
};

static double swing_of(const struct bl_track *track, int64_t from, int64_t to)
{
    const double step_kpa = 3; /* own choice: what a held foot does anyhow */
    const struct swings s = swings_of(track, from, to, step_kpa);
    return s.known ? gives(&s) : NAN;
}

/* Control pressure at its coupling, and the demand on its link: the larger. */
static double own_input(const struct look *l, size_t unit, int64_t from,
                        int64_t to)
{
    const struct bl_causing *c = l->c;
    const struct bl_causes_run *run = &c->run[l->run];
    const struct bl_bus_series *series = NULL;
    struct bl_track track;
    struct bl_error error;
    double by_air = NAN;
    double by_demand = NAN;
    bl_error_clear(&error);
    if (bl_causes_pressure(c, l->run, &c->trial->unit[unit].control, &track)) {
        by_air = swing_of(&track, from, to);
    }
    if (!bl_causes_air_only(c, l->run) &&
        bl_demand_series(&series, c->trial, run->data, unit, &error) == BL_OK &&
        series != NULL) {
        bl_track_series(&track, run->data, run->clocks, series);
        by_demand = track.quantity == BL_QUANTITY_PRESSURE
                        ? swing_of(&track, from, to)
                        : NAN;
    }
    if (bl_causes_class(c, l->run) != BL_BY_DEMAND) {
        return by_air;
    }
    return isnan(by_demand) ? NAN : fmax(by_demand, isnan(by_air) ? 0 : by_air);
}

static struct asks asks_of(const struct look *l, size_t a, size_t unit,
                           size_t o)
{
    struct asks out = {NAN, NAN, false};
    int64_t from;
    int64_t to;
    bool hunt;
    bool stand;
    if (!held_stretch(l, a, unit, o, &from, &to)) {
        return out;
    }
    if (l->command.present && !l->command.is_state &&
        l->command.quantity == BL_QUANTITY_PRESSURE) {
        out.command = swing_of(&l->command, from, to);
    }
    out.own = own_input(l, unit, from, to);
    /* By air what is in front decides; the demand is the same for all. */
    const bool all = bl_causes_class(l->c, l->run) == BL_BY_DEMAND;
    others(l, a, unit, !all, &hunt, &stand);
    out.steady = (!hunt || (all && stand)) && (isfinite(out.command) || stand);
    return out;
}

/* ---- judging */

struct judged {
    struct swings shown; /* where it swings most */
    double input;        /* in the same stretch */
    size_t passed_on, working, put;
};

/* Its anti-lock control says that it works: then it does what it is for. */
static bool regulates(const struct look *l, size_t a, size_t unit)
{
    const struct bl_run_data *data = l->c->run[l->run].data;
    const struct bl_application *at = &l->c->run[l->run].lag->application[a];
    for (size_t i = 0; i < data->series_count; i++) {
        const struct bl_bus_series *s = &data->series[i];
        if (s->signal->role == BL_ROLE_ABS_ACTIVE &&
            (int)s->source == l->c->trial->unit[unit].address &&
            bl_causes_on_during(l->c, l->run, s, at)) {
            return true;
        }
    }
    return false;
}

static struct judged gather(const struct look *l, size_t unit, size_t o)
{
    const struct bl_run_lag *lag = l->c->run[l->run].lag;
    struct judged out = {.input = NAN};
    bl_excess_clear(l->c);
    for (size_t a = 0; a < lag->applications; a++) {
        const struct swings *s = swings_at(l, a, unit, o);
        if (!s->known) {
            continue;
        }
        const struct asks asks = asks_of(l, a, unit, o);
        const double given = fmax(asks.command, asks.own); /* NaN: neither */
        const double bound = fmax(least_kpa, most_ratio * given);
        if (!hunts(s)) {
            bl_excess_put(l->c, fmin(s->most - bound, -1), s->u);
            continue;
        }
        if (asks.command * most_ratio >= s->mean) {
            continue; /* the foot moves: nothing was held */
        }
        if (regulates(l, a, unit)) {
            out.working++;
        } else if (s->mean < bound || (isnan(asks.own) && !asks.steady)) {
            out.passed_on++;
        } else {
            bl_excess_put(l->c, s->mean - bound, s->u);
            out.put++;
        }
        if (!(s->mean <= out.shown.mean)) {
            out.shown = *s;
            out.input = given;
        }
    }
    return out;
}

static void numbers(struct bl_finding *f, const struct judged *what)
{
    bl_finding_evidence(f, "from turn to turn, held", what->shown.mean,
                        what->shown.u, "kPa");
    bl_finding_evidence(f, "the same of its input", what->input, NAN, "kPa");
    bl_finding_evidence(f, "periods per second", what->shown.per_s, NAN, "1/s");
}

static void say(const struct look *l, struct bl_finding *f, size_t unit,
                const struct bl_worst *worst, const struct judged *what)
{
    char text[128];
    char at[160];
    char input[64] = "other units stand still";
    if (what->input > 0) {
        snprintf(input, sizeof(input), "its input moves by %.0f kPa",
                 what->input);
    } else if (what->input == 0) {
        snprintf(input, sizeof(input), "its input stands still");
    }
    bl_finding_say(f,
                   "%s does not hold steady%s: it swings by %.0f kPa, %.1f "
                   "times a second, while %s",
                   bl_causes_unit(l->c, unit, text, sizeof(text)),
                   bl_worst_outputs(l->c, unit, worst, at, sizeof(at)),
                   what->shown.mean, what->shown.per_s, input);
    numbers(f, what);
}

/* It swings, and so may what asks it; or its modulator works. */
static void leave_open(const struct look *l, size_t unit,
                       const struct judged *what)
{
    char text[128];
    struct bl_finding *f =
        bl_findings_add(l->c->into, BL_FINDING_HOLD_UNSTEADY,
                        BL_SHOWN_CANNOT_TELL, (long)unit, (long)l->run);
    bl_finding_say(
        f, "%s swings by %.0f kPa while it is held%s",
        bl_causes_unit(l->c, unit, text, sizeof(text)), what->shown.mean,
        what->working > 0 ? ", and its anti-lock control reports that it works"
        : what->input > least_kpa / most_ratio
            ? ", and so does its input: look in front of it first"
            : "; whether its input swings too was not recorded");
    numbers(f, what);
}

static void judge(const struct look *l, size_t unit)
{
    struct bl_worst worst = {0};
    struct judged shown = {.input = NAN};
    struct judged open = {.input = NAN};
    for (size_t o = 0; o < l->c->trial->unit[unit].outputs; o++) {
        const struct judged one = gather(l, unit, o);
        shown = bl_worst_put(l->c, &worst, o) ? one : shown;
        open = one.passed_on + one.working > open.passed_on + open.working
                   ? one
                   : open;
    }
    if (worst.shown == BL_SHOWN_NOT && open.passed_on + open.working > 0) {
        leave_open(l, unit, &open);
        return;
    }
    say(l,
        bl_worst_judge(l->c, &worst, BL_FINDING_HOLD_UNSTEADY, (long)unit,
                       (long)l->run),
        unit, &worst, &shown);
}

static void one_run(struct bl_causing *c, size_t run)
{
    const struct bl_run_lag *lag = c->run[run].lag;
    struct look l = {.c = c, .run = run};
    l.output = bl_alloc(lag->applications * c->places + 1, sizeof(*l.output));
    c->failed = c->failed || l.output == NULL;
    for (size_t u = 0; !c->failed && u < c->trial->units; u++) {
        measure(&l, u);
    }
    for (size_t u = 0; !c->failed && u < c->trial->units; u++) {
        const bool one_tee =
            bl_lag_as_one(lag, c->trial->unit[u].combination) &&
            bl_causes_air_only(c, run);
        if (c->trial->unit[u].outputs == 0) {
            continue;
        }
        if (one_tee || bl_causes_untied(c, run, u) != NULL) {
            bl_findings_missing(c->into, BL_FINDING_HOLD_UNSTEADY, (long)u,
                                (long)run, bl_causes_untied(c, run, u));
            continue;
        }
        (void)bl_causes_command(c, run, u, &l.command);
        judge(&l, u);
    }
    bl_free(l.output);
}

void bl_causes_unsteady(struct bl_causing *c)
{
    for (size_t r = 0; r < c->trial->runs; r++) {
        if (c->run[r].lag != NULL) {
            one_run(c, r);
        }
    }
}
