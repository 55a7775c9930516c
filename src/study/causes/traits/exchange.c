/* SPDX-License-Identifier: MIT */
/*
 * Channels exchanged, by physics: a chain of air cannot run backwards, and by
 * air alone no output can lead its own control pressure. Where either is seen,
 * every exchange of two channels, and of two units with all of theirs, is
 * tried; the one that puts all in order is it. Those that do so nearly as well
 * are named together. Where none does, the order stays open.
 */
#include "study/causes/causes.h"

#include "base/alloc.h"
#include "base/number.h"
#include "base/sure.h"
#include "study/findings/fill.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

/* Times of one run, middles over its applications; NaN: not known. */
struct times {
    double out, control, out_back, control_back, u;
};

/* What may be exchanged, and in which runs it is wired so. */
enum side { OUTPUT, CONTROL, BOTH };
enum wired_in { IN_AIR = 1, IN_POWERED = 2, IN_ALL = 3 };
struct exchange {
    size_t unit[2];
    enum side side[2];
    enum wired_in in;
    double cost;
    bool tied; /* another one fits nearly as well */
};

/* Air that runs backwards: at `unit` before it was at `front`, places in the
   chain; the same of both: an output before its own control pressure. */
struct backward {
    double by, u;
    size_t unit, front;
};

struct chain {
    const struct bl_causing *c;
    size_t *unit; /* of one combination, towed, front to rear */
    size_t units;
    struct times *by_air, *powered; /* per unit of the chain */
    bool has_air, has_powered;
    double *room;
};

/* Own choice: what two crossings of one level on two channels may differ by,
   besides their u: other levels of rest, gains. */
static const double slack_s = 0.003;
/* Spread of sound units, as in others.c, and its least. */
static const double spread = 0.25, least_spread_s = 0.012;
/* Own choice: beyond so many of these spreads the order is not restored. */
static const double restored = 3;

static double middle_of(const struct chain *ch, size_t run, size_t unit,
                        size_t at, double *u)
{
    const struct bl_run_lag *lag = ch->c->run[run].lag;
    size_t n = 0;
    for (size_t a = 0; a < lag->applications; a++) {
        const struct bl_stretches *cell = bl_causes_cell(ch->c, run, a, unit);
        const double value[] = {cell->response_s, cell->control_s,
                                cell->release_s, cell->control_release_s};
        const double us[] = {cell->u_response, cell->u_control, cell->u_release,
                             cell->u_control_release};
        if (lag->application[a].kind != BL_KIND_LIGHT && isfinite(value[at])) {
            ch->room[n++] = value[at];
            *u = fmax(*u, isfinite(us[at]) ? us[at] : 0);
        }
    }
    return n < 2 ? NAN : bl_median(ch->room, n);
}

static void read_run(const struct chain *ch, size_t run, struct times *into)
{
    for (size_t i = 0; i < ch->units; i++) {
        double u = 0;
        into[i].out = middle_of(ch, run, ch->unit[i], 0, &u);
        into[i].control = middle_of(ch, run, ch->unit[i], 1, &u);
        into[i].out_back = middle_of(ch, run, ch->unit[i], 2, &u);
        into[i].control_back = middle_of(ch, run, ch->unit[i], 3, &u);
        into[i].u = hypot(u, slack_s);
    }
}

static void swap(double *x, double *y)
{
    const double kept = *x;
    *x = *y;
    *y = kept;
}

/* One channel of `a` against one of `b`. */
static void swap_times(struct times *a, enum side a_side, struct times *b,
                       enum side b_side)
{
    swap(a_side == OUTPUT ? &a->out : &a->control,
         b_side == OUTPUT ? &b->out : &b->control);
    swap(a_side == OUTPUT ? &a->out_back : &a->control_back,
         b_side == OUTPUT ? &b->out_back : &b->control_back);
}

static void apply(const struct chain *ch, const struct exchange *ex)
{
    struct times *runs[] = {ch->by_air, ch->powered};
    for (size_t i = 0; i < 2; i++) {
        if (((unsigned)ex->in & (1U << i)) == 0) {
            continue;
        }
        struct times *a = &runs[i][ex->unit[0]];
        struct times *b = &runs[i][ex->unit[1]];
        if (ex->side[0] == BOTH) {
            const struct times kept = *a;
            *a = *b;
            *b = kept;
        } else {
            swap_times(a, ex->side[0], b, ex->side[1]);
        }
    }
}

/* Beyond four u, and more than what was seen so far. */
static void backwards(struct backward *worst, double later, double earlier,
                      struct backward here)
{
    here.by = earlier - later;
    if (here.by > BL_SURE_U * here.u && here.by > worst->by) {
        *worst = here;
    }
}

static void violation(const struct chain *ch, const struct times *t,
                      bool by_air, struct backward *worst)
{
    for (size_t i = 0; i < ch->units; i++) {
        const bool control = isfinite(t[i].control);
        if (by_air && control) {
            const struct backward own = {0, t[i].u, i, i};
            backwards(worst, t[i].out, t[i].control, own);
            backwards(worst, t[i].out_back, t[i].control_back, own);
        }
        if (i == 0) {
            continue;
        }
        const struct backward line = {0, hypot(t[i].u, t[i - 1].u), i, i - 1};
        if (control && isfinite(t[i - 1].control)) {
            backwards(worst, t[i].control, t[i - 1].control, line);
            backwards(worst, t[i].control_back, t[i - 1].control_back, line);
        } else if (by_air) {
            backwards(worst, t[i].out, t[i - 1].out, line);
            backwards(worst, t[i].out_back, t[i - 1].out_back, line);
        }
    }
}

static struct backward all_violations(const struct chain *ch)
{
    struct backward worst = {0};
    if (ch->has_air) {
        violation(ch, ch->by_air, true, &worst);
    }
    if (ch->has_powered) {
        violation(ch, ch->powered, false, &worst);
    }
    return worst;
}

static bool any_control(const struct chain *ch)
{
    for (size_t i = 0; i < ch->units; i++) {
        if ((ch->has_air && isfinite(ch->by_air[i].control)) ||
            (ch->has_powered && isfinite(ch->powered[i].control))) {
            return true;
        }
    }
    return false;
}

/* How unlike the differences are, in spreads: of the worst. */
static double unlike(const struct chain *ch, double *value, size_t n)
{
    double worst = 0;
    if (n < 2) {
        return 0;
    }
    memcpy(ch->room, value, n * sizeof(*value));
    const double middle = bl_median(ch->room, n);
    const double sigma = fmax(least_spread_s, spread * fabs(middle));
    for (size_t i = 0; i < n; i++) {
        worst = fmax(worst, fabs(value[i] - middle) / sigma);
    }
    return worst;
}

/* Lines and units alike along the train? */
static double cost_of(const struct chain *ch, const struct times *t,
                      bool by_air)
{
    double worst = 0;
    double *value = ch->room + ch->units + 2;
    for (int back = 0; back < 2; back++) {
        size_t n = 0;
        for (size_t i = 0; i < ch->units; i++) {
            const double here = back ? t[i].control_back : t[i].control;
            const double front = i == 0 ? 0
                                 : back ? t[i - 1].control_back
                                        : t[i - 1].control;
            if (isfinite(here - front)) {
                value[n++] = here - front;
            }
        }
        worst = fmax(worst, unlike(ch, value, n));
        n = 0;
        for (size_t i = 0; by_air && i < ch->units; i++) {
            const bool control = isfinite(t[i].control);
            const double here = back ? t[i].out_back : t[i].out;
            const double from = control
                                    ? (back ? t[i].control_back : t[i].control)
                                : i == 0 ? NAN
                                : back   ? t[i - 1].out_back
                                         : t[i - 1].out;
            if (isfinite(here - from)) {
                value[n++] = here - from;
            }
        }
        worst = fmax(worst, unlike(ch, value, n));
    }
    return worst;
}

static double all_costs(const struct chain *ch)
{
    return fmax(ch->has_air ? cost_of(ch, ch->by_air, true) : 0,
                ch->has_powered ? cost_of(ch, ch->powered, false) : 0);
}

/* Outputs alone, by air, without that of one unit: how unlike are the stages
   of the others, in spreads? One that spans the gap is as two. INFINITY: the
   air runs backwards there, too. What is left of fewer than two stages shows
   nothing: 0. */
static double unlike_without(const struct chain *ch, size_t left_out)
{
    const struct times *t = ch->by_air;
    double worst = 0;
    for (int back = 0; back < 2; back++) {
        double *value = ch->room + ch->units + 2;
        size_t n = 0;
        size_t front = SIZE_MAX;
        double gap = NAN;
        for (size_t i = 0; i < ch->units; i++) {
            const double here = back ? t[i].out_back : t[i].out;
            if (i == left_out || !isfinite(here)) {
                continue;
            }
            if (front != SIZE_MAX) {
                const double stage =
                    here - (back ? t[front].out_back : t[front].out);
                if (-stage > BL_SURE_U * hypot(t[i].u, t[front].u)) {
                    return INFINITY;
                }
                value[n++] = stage / (double)(i - front);
                gap = i - front > 1 ? stage / (double)(i - front) : gap;
            }
            front = i;
        }
        worst = fmax(worst, unlike(ch, value, n));
        if (n > 1 && isfinite(gap)) { /* the mean of two varies less */
            memcpy(ch->room, value, n * sizeof(*value));
            const double middle = bl_median(ch->room, n);
            worst =
                fmax(worst, sqrt(2) * fabs(gap - middle) /
                                fmax(least_spread_s, spread * fabs(middle)));
        }
    }
    return worst;
}

/* Keep the best three by cost. */
static void keep(struct exchange *best, size_t *kept, const struct exchange *ex)
{
    size_t at = *kept < 3 ? (*kept)++ : 3;
    if (at == 3 && best[2].cost <= ex->cost) {
        return;
    }
    at = at == 3 ? 2 : at;
    for (; at > 0 && best[at - 1].cost > ex->cost; at--) {
        best[at] = best[at - 1];
    }
    best[at] = *ex;
}

static void try_one(const struct chain *ch, struct exchange ex,
                    struct exchange *best, size_t *kept)
{
    apply(ch, &ex);
    if (all_violations(ch).by == 0) {
        ex.cost = all_costs(ch);
        if (ex.cost < restored) {
            keep(best, kept, &ex);
        }
    }
    apply(ch, &ex);
}

static size_t try_all(const struct chain *ch, bool wired, enum wired_in in,
                      struct exchange best[3])
{
    size_t kept = 0;
    for (size_t i = 0; i < ch->units; i++) {
        for (size_t k = i + 1; k < ch->units; k++) {
            const struct exchange outputs = {
                {i, k}, {OUTPUT, OUTPUT}, in, 0, false};
            const struct exchange controls = {
                {i, k}, {CONTROL, CONTROL}, in, 0, false};
            try_one(ch, outputs, best, &kept);
            const struct exchange units = {{i, k}, {BOTH, BOTH}, in, 0, false};
            if (wired) {
                try_one(ch, controls, best, &kept);
                try_one(ch, units, best, &kept);
            }
        }
        const struct exchange tee = {{i, i}, {OUTPUT, CONTROL}, in, 0, false};
        if (wired) {
            try_one(ch, tee, best, &kept);
        }
    }
    return kept;
}

/* A finding of the unit in that run; NULL: it has one, or nothing is known. */
static struct bl_finding *finding_of(struct bl_causing *c, enum bl_shown shown,
                                     size_t unit, size_t run)
{
    if (c->run[run].lag == NULL || c->traits->by[run] == BL_BY_UNKNOWN ||
        bl_causes_found(c, BL_FINDING_CHANNELS_SWAPPED, (long)unit,
                        (long)run) != NULL) {
        return NULL;
    }
    struct bl_finding *f = bl_findings_add(c->into, BL_FINDING_CHANNELS_SWAPPED,
                                           shown, (long)unit, (long)run);
    if (f != NULL) {
        f->headline = true;
    }
    return f;
}

/* One sentence of one end of the exchange. */
static void words(const struct bl_causing *c, const struct chain *ch,
                  const struct exchange *ex, size_t end, double by,
                  struct bl_finding *f)
{
    static const char *const names[] = {"output", "control pressure"};
    static const char unplug[] = "Unplug one transducer at a time.";
    char a[128];
    char b[128];
    bl_causes_unit(c, ch->unit[ex->unit[end]], a, sizeof(a));
    bl_causes_unit(c, ch->unit[ex->unit[1 - end]], b, sizeof(b));
    if (ex->side[end] == BOTH) {
        bl_finding_say(f,
                       "%s and %s seem to be exchanged with all of their "
                       "channels: the air would run backwards by %.3f s, and "
                       "it is in order the other way round. Look at the order "
                       "of the units in the trial file. %s",
                       a, b, by, unplug);
    } else if (ex->unit[0] == ex->unit[1]) {
        bl_finding_say(f,
                       "%s: its output and its control pressure seem to be "
                       "exchanged at the tee: the one called output leads "
                       "the other by %.3f s, which air cannot. %s",
                       a, by, unplug);
    } else {
        bl_finding_say(
            f,
            "%s: its %s and that of %s seem to be exchanged: "
            "the air would run backwards by %.3f s, and it is "
            "in order the other way round%s. %s",
            a, names[ex->side[end]], b, by,
            ex->tied ? " (another exchange fits nearly as well)" : "", unplug);
    }
}

/* Is it wired so in this run? */
static bool holds_in(const struct bl_causing *c, enum wired_in in, size_t run)
{
    return in == IN_ALL || (in == IN_AIR) == (c->traits->by[run] == BL_BY_AIR);
}

static void say(struct bl_causing *c, const struct chain *ch,
                const struct exchange *ex, size_t end,
                const struct backward *back)
{
    for (size_t r = 0; r < c->trial->runs; r++) {
        struct bl_finding *f =
            holds_in(c, ex->in, r)
                ? finding_of(c, BL_SHOWN_FOUND, ch->unit[ex->unit[end]], r)
                : NULL;
        if (f == NULL) {
            continue;
        }
        /* The same of both ends, so that the unit in front is named first. */
        f->ratio = back->by / back->u;
        words(c, ch, ex, end, back->by, f);
        bl_finding_evidence(f, "backwards by", back->by, back->u, "s");
    }
}

/* Of outputs alone: one that is late where the one behind it is in place looks
   like two that are exchanged. In an exchange both leave their places. `apart`:
   no exchange puts it in order. */
static void late_or_exchanged(struct bl_causing *c, const struct chain *ch,
                              const struct backward *back, bool apart)
{
    char a[128];
    char b[128];
    bl_causes_unit(c, ch->unit[back->front], a, sizeof(a));
    bl_causes_unit(c, ch->unit[back->unit], b, sizeof(b));
    for (size_t r = 0; r < c->trial->runs; r++) {
        struct bl_finding *f =
            holds_in(c, IN_AIR, r)
                ? finding_of(c, BL_SHOWN_CANNOT_TELL, ch->unit[back->front], r)
                : NULL;
        if (f == NULL) {
            continue;
        }
        bl_finding_say(f,
                       "%s is %.3f s later by air than %s behind it: the "
                       "line in front of both is not why. %s",
                       a, back->by, b,
                       apart
                           ? "No exchange of two outputs explains it: its "
                             "valve is late, or it is measured at the end of "
                             "a long or blocked hose"
                           : "Either its valve is late, or the two outputs "
                             "are exchanged: if its own channel goes dead when "
                             "its transducer is unplugged, its valve is "
                             "late");
        bl_finding_evidence(f, "later than the unit behind", back->by, back->u,
                            "s");
    }
}

/* No exchange of two puts it in order: three channels, or one that shows its
   pressure late. */
static void leave_open(struct bl_causing *c, const struct chain *ch,
                       const struct backward *back)
{
    char a[128];
    char b[128];
    bl_causes_unit(c, ch->unit[back->unit], a, sizeof(a));
    bl_causes_unit(c, ch->unit[back->front], b, sizeof(b));
    for (size_t r = 0; r < c->trial->runs; r++) {
        struct bl_finding *f =
            finding_of(c, BL_SHOWN_CANNOT_TELL, ch->unit[back->unit], r);
        if (f == NULL) {
            continue;
        }
        if (back->unit == back->front) {
            bl_finding_say(f,
                           "the output of %s leads its own control pressure by "
                           "%.3f s without power, which air cannot, and no "
                           "exchange of two channels explains it. See which "
                           "channel is which, and whether the control "
                           "pressure is measured at the end of a long or "
                           "blocked hose",
                           a, back->by);
        } else {
            bl_finding_say(f,
                           "%s gets its air %.3f s before %s in front of it, "
                           "and no exchange of two channels explains it. See "
                           "whether the trial file lists the units as they are "
                           "coupled, which channel is which, and whether %s is "
                           "measured at the end of a long or blocked hose",
                           a, back->by, b, b);
        }
        bl_finding_evidence(f, "backwards by", back->by, back->u, "s");
    }
}

static void looked(struct bl_causing *c, const struct chain *ch)
{
    for (size_t r = 0; r < c->trial->runs; r++) {
        for (size_t i = 0; i < ch->units; i++) {
            if (c->run[r].lag != NULL && c->traits->by[r] != BL_BY_UNKNOWN) {
                bl_findings_looked(c->into, BL_FINDING_CHANNELS_SWAPPED,
                                   (long)ch->unit[i], (long)r);
            }
        }
    }
}

/* In all runs; else, as wires are changed between runs, in those of one kind.
 */
static size_t try_runs(const struct chain *ch, bool wired,
                       struct exchange best[3])
{
    size_t kept = try_all(ch, wired, IN_ALL, best);
    if (kept == 0 && wired && ch->has_air && ch->has_powered) {
        kept = try_all(ch, wired, IN_AIR, best);
        if (kept == 0) {
            kept = try_all(ch, wired, IN_POWERED, best);
        }
    }
    return kept;
}

static void look(struct bl_causing *c, struct chain *ch)
{
    struct exchange best[3];
    for (size_t r = c->trial->runs; r-- > 0;) {
        const enum bl_trait_class by = c->traits->by[r];
        if (c->run[r].lag == NULL || by == BL_BY_UNKNOWN) {
            continue;
        }
        read_run(ch, r, by == BL_BY_AIR ? ch->by_air : ch->powered);
        ch->has_air |= by == BL_BY_AIR;
        ch->has_powered |= by == BL_BY_DEMAND;
    }
    const bool wired = any_control(ch);
    const struct backward before = all_violations(ch);
    if (ch->units < 2 || !(ch->has_air || (ch->has_powered && wired))) {
        return;
    }
    looked(c, ch);
    if (before.by == 0) {
        return;
    }
    const size_t kept = try_runs(ch, wired, best);
    if (!wired && ch->has_air && before.unit != before.front) {
        const double late = unlike_without(ch, before.front);
        if (late < restored && (kept == 0 || !(best[0].cost + 1 < late))) {
            late_or_exchanged(c, ch, &before, kept == 0);
            return;
        }
    }
    if (kept == 0) {
        leave_open(c, ch, &before);
        return;
    }
    best[0].tied = kept > 1;
    say(c, ch, &best[0], 0, &before);
    if (best[0].unit[0] != best[0].unit[1]) {
        say(c, ch, &best[0], 1, &before);
    }
}

static size_t most_applications(const struct bl_causing *c)
{
    size_t most = 0;
    for (size_t r = 0; r < c->trial->runs; r++) {
        const struct bl_run_lag *lag = c->run[r].lag;
        most =
            lag != NULL && lag->applications > most ? lag->applications : most;
    }
    return most;
}

/* One combination after the other. */
void bl_causes_exchanged(struct bl_causing *c)
{
    const size_t units = c->trial->units;
    struct chain ch = {
        .c = c,
        .unit = bl_alloc(units + 1, sizeof(size_t)),
        .by_air = bl_alloc(units + 1, sizeof(struct times)),
        .powered = bl_alloc(units + 1, sizeof(struct times)),
        .room = bl_alloc(2 * units + most_applications(c) + 8, sizeof(double))};
    c->failed = c->failed || ch.unit == NULL || ch.by_air == NULL ||
                ch.powered == NULL || ch.room == NULL;
    for (size_t u = 0; !c->failed && u < units;) {
        const char combination = c->trial->unit[u].combination;
        ch.units = 0;
        ch.has_air = ch.has_powered = false;
        for (; u < units && c->trial->unit[u].combination == combination; u++) {
            if (c->trial->unit[u].number > 0 && c->trial->unit[u].outputs > 0) {
                ch.unit[ch.units++] = u;
            }
        }
        look(c, &ch);
    }
    bl_free(ch.unit);
    bl_free(ch.by_air);
    bl_free(ch.powered);
    bl_free(ch.room);
}
