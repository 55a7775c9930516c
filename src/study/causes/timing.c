/* SPDX-License-Identifier: MIT */
/*
 * Late and slow units and lines: each stretch of time against the unit's
 * earlier runs of the same condition, kind and shape. Tolerances are those of
 * docs/findings.md: what figures of sound equipment differ by from day to day.
 */
#include "study/causes/traits/traits.h"
#include "study/findings/fill.h"

#include <math.h>

enum { REFERENCE_LEAST = 2 };

struct look {
    enum bl_trait stretch;
    enum bl_finding_code code;
    double tolerance_s, share; /* share of the earlier time */
    const char *what;
};

static const struct look looks[] = {
    {BL_TRAIT_DELAY, BL_FINDING_LATE_APPLY, 0.02, 0, "gets its first air"},
    {BL_TRAIT_FILL, BL_FINDING_SLOW_FILL, 0.02, 0.1, "fills to 75 %"},
    {BL_TRAIT_RELEASE_DELAY, BL_FINDING_LATE_RELEASE, 0.03, 0,
     "begins to release"},
    {BL_TRAIT_FALL, BL_FINDING_SLOW_RELEASE, 0.03, 0.1, "falls to 10 %"},
    {BL_TRAIT_LINE_APPLY, BL_FINDING_CONTROL_LATE_APPLY, 0.02, 0,
     "gets its control pressure"},
    {BL_TRAIT_LINE_RELEASE, BL_FINDING_CONTROL_LATE_RELEASE, 0.03, 0,
     "loses its control pressure"},
};

struct reference {
    double middle, u;
    size_t n;
};

/* A delay that counts from the demand is no measure of one that counts from the
   command, as where the bus recording is missing; nor a line of several, as
   where the control pressure of a unit in front is. */
static bool counts_alike(const struct bl_stretches *a,
                         const struct bl_stretches *b, enum bl_trait stretch)
{
    return (stretch != BL_TRAIT_DELAY || a->from_demand == b->from_demand) &&
           (stretch < BL_TRAIT_LINE_APPLY || a->couplings == b->couplings);
}

/* The stretch in earlier runs of the same condition, kind and shape. */
static struct reference earlier(const struct bl_causing *c, size_t run,
                                size_t index, size_t unit,
                                enum bl_trait stretch)
{
    const struct bl_application *like = &c->run[run].lag->application[index];
    const struct bl_stretches *now = bl_causes_cell(c, run, index, unit);
    double *value = c->room[0];
    double *u = c->room[1];
    size_t n = 0;
    for (size_t r = 0; r < run; r++) {
        const struct bl_run_lag *lag = c->run[r].lag;
        if (!bl_causes_like(c, r, run)) {
            continue;
        }
        for (size_t a = 0; a < lag->applications; a++) {
            const struct bl_application *application = &lag->application[a];
            const struct bl_stretches *cell = bl_causes_cell(c, r, a, unit);
            if (application->kind == like->kind &&
                application->shape == like->shape &&
                counts_alike(cell, now, stretch) &&
                isfinite(cell->value[stretch]) && isfinite(cell->u[stretch]) &&
                !(stretch == BL_TRAIT_FILL && cell->fill_at_least)) {
                value[n] = cell->value[stretch];
                u[n++] = cell->u[stretch];
            }
        }
    }
    struct reference out = {NAN, NAN, n};
    double scatter;
    if (n >= REFERENCE_LEAST) {
        const double u_one = bl_causes_middle(u, n, &scatter);
        out.middle = bl_causes_middle(value, n, &scatter);
        /* One more application scatters as the earlier ones did; their middle
           is uncertain by 1.25 of that over root n (normal values). */
        const double spread = hypot(scatter, u_one);
        out.u = hypot(scatter, 1.2533 * spread / sqrt((double)n));
    }
    return out;
}

/* Middles of a stretch, in s. */
struct change {
    double more, now, before, u;
};

static void say(struct bl_causing *c, struct bl_finding *f,
                const struct look *look, size_t unit, struct change change)
{
    char text[128];
    bl_finding_say(
        f, "%s %s %.3f s %s than in earlier runs",
        bl_causes_unit(c, unit, text, sizeof(text)), look->what, change.more,
        look->stretch == BL_TRAIT_FILL || look->stretch == BL_TRAIT_FALL
            ? "more slowly"
            : "later");
    bl_finding_evidence(f, BL_CAUSES_NOW, change.now, change.u, "s");
    bl_finding_evidence(f, BL_CAUSES_EARLIER, change.before, change.u, "s");
    bl_finding_evidence(f, "tolerance",
                        look->tolerance_s + look->share * fabs(change.before),
                        NAN, "s");
}

/* Applications of a run that are judged together: one kind and shape, or all.
   Light ones cannot show what full ones do, and the other way round. */
struct judged {
    struct change change;
    enum bl_shown shown;
    double ratio;
    size_t fired, count, bounds; /* bounds: that show nothing */
    bool at_least, by_pedal;     /* by_pedal: the command may be why */
    struct bl_pedal_move pedal;
};

enum { ALL = BL_TRAIT_GROUPS };

/* One unit and stretch in a run, and what the foot explains of each group. */
struct at {
    const struct look *look;
    size_t run, unit;
    struct bl_pedal_move pedal[BL_TRAIT_GROUPS];
};

/* Excesses over tolerance of a group, or of all, less what the foot explains
   where that is asked for. The first two rooms are what earlier() works in. */
static void put(struct bl_causing *c, const struct at *at, size_t group,
                bool less_pedal, struct judged *out)
{
    const struct bl_run_lag *lag = c->run[at->run].lag;
    const enum bl_trait stretch = at->look->stretch;
    double *now = c->room[2];
    double *before = c->room[3];
    double *more = c->room[4];
    size_t n = 0;
    double u = NAN;
    double scatter;
    *out = (struct judged){.shown = BL_SHOWN_NOT, .ratio = NAN};
    bl_excess_clear(c);
    for (size_t a = 0; a < lag->applications; a++) {
        const struct bl_application *one = &lag->application[a];
        const struct bl_stretches *cell =
            bl_causes_cell(c, at->run, a, at->unit);
        const double s = cell->value[stretch];
        const size_t own = bl_trait_group(one->kind, one->shape);
        if (!isfinite(s) || (group != ALL && own != group)) {
            continue;
        }
        const struct reference reference =
            earlier(c, at->run, a, at->unit, stretch);
        if (!isfinite(reference.middle)) {
            continue;
        }
        const struct bl_pedal_move *pedal = &at->pedal[own];
        const bool less = less_pedal && pedal->differs;
        u = hypot(reference.u, cell->u[stretch]);
        u = less ? hypot(u, pedal->u_s) : u;
        const double excess = s - reference.middle - at->look->tolerance_s -
                              at->look->share * fabs(reference.middle) -
                              (less ? pedal->explains_s : 0);
        if (stretch != BL_TRAIT_FILL || !cell->fill_at_least) {
            bl_excess_put(c, excess, u);
        } else if (bl_excess_put_bound(c, excess, u)) {
            out->at_least = true;
        } else {
            continue;
        }
        out->pedal = pedal->differs ? *pedal : out->pedal;
        now[n] = s;
        more[n] = s - reference.middle;
        before[n++] = reference.middle;
    }
    out->count = c->excess.count;
    out->bounds = c->excess.open;
    out->change = (struct change){bl_causes_middle(more, n, &scatter),
                                  bl_causes_middle(now, n, &scatter),
                                  bl_causes_middle(before, n, &scatter), u};
    out->shown = bl_finding_judge(c->excess.value, c->excess.u, out->count,
                                  &out->ratio, &out->fired);
}

/* What the foot may have done is not the unit's. */
static struct judged judge(struct bl_causing *c, const struct at *at,
                           size_t group)
{
    struct judged less;
    struct judged out;
    put(c, at, group, true, &less);
    put(c, at, group, false, &out);
    if (out.shown != BL_SHOWN_NOT && out.pedal.differs) {
        out.by_pedal = less.shown != BL_SHOWN_FOUND;
    }
    return out;
}

/* Does `a` say more than `b`? */
static bool says_more(const struct judged *a, const struct judged *b)
{
    const bool found[2] = {a->shown == BL_SHOWN_FOUND && !a->by_pedal,
                           b->shown == BL_SHOWN_FOUND && !b->by_pedal};
    if (found[0] != found[1]) {
        return found[0];
    }
    return a->shown != BL_SHOWN_NOT &&
           (b->shown == BL_SHOWN_NOT || a->ratio > b->ratio);
}

/* All together, or the kind and shape that says most; where there are several
   of these, one application alone is none. */
static struct judged worst(struct bl_causing *c, struct at *at)
{
    const char combination = c->trial->unit[at->unit].combination;
    for (size_t g = 0; g < BL_TRAIT_GROUPS; g++) {
        at->pedal[g] = bl_causes_pedal(c, at->run, combination, g,
                                       bl_trait_of_release(at->look->stretch));
    }
    struct judged most = judge(c, at, ALL);
    const size_t bounds = most.bounds;
    for (size_t g = 0; g < BL_TRAIT_GROUPS; g++) {
        const struct judged one = judge(c, at, g);
        if (one.count > 1 && says_more(&one, &most)) {
            most = one;
        }
    }
    most.bounds = bounds;
    return most;
}

/* What of a run is later than before, while its command was slower or quicker:
   said once. */
struct by_pedal {
    size_t count;
    struct bl_pedal_move move;
};

static void say_pedal(struct bl_causing *c, size_t run,
                      const struct by_pedal *all)
{
    if (all->count == 0) {
        return;
    }
    const double by = all->move.now_s - all->move.before_s;
    struct bl_finding *f = bl_findings_add(c->into, BL_FINDING_NOT_COMPARABLE,
                                           BL_SHOWN_CANNOT_TELL, -1, (long)run);
    bl_finding_note(f, "Repeat with the pedal moved as in the earlier runs.");
    bl_finding_say(f,
                   "the pedal moved %.2f s %s in run %s than in earlier runs; "
                   "%zu time%s (first air, fill, release, lines) beyond those "
                   "of earlier runs may come from that alone",
                   fabs(by), by > 0 ? "slower" : "quicker",
                   c->trial->run[run].name, all->count,
                   all->count == 1 ? "" : "s");
    bl_finding_evidence(f, "command, now", all->move.now_s, all->move.u_s, "s");
    bl_finding_evidence(f, "command, earlier runs", all->move.before_s,
                        all->move.u_s, "s");
    if (f != NULL) {
        f->headline = true;
    }
}

static void tell(struct bl_causing *c, const struct at *at,
                 const struct judged *judged)
{
    struct look as = *at->look;
    struct bl_finding *f = bl_findings_add(
        c->into, at->look->code, judged->shown, (long)at->unit, (long)at->run);
    if (f != NULL) {
        f->ratio = judged->ratio;
        f->fired = judged->fired;
        f->judged = judged->count;
    }
    as.what = judged->at_least ? "fills to 75 % at least" : as.what;
    say(c, f, &as, at->unit, judged->change);
}

/* True where there was something to compare with. */
static bool against_earlier(struct bl_causing *c, const struct look *look,
                            size_t run, size_t unit, struct by_pedal *pedal)
{
    const enum bl_finding_code code = look->code;
    struct at at = {.look = look, .run = run, .unit = unit};
    const struct judged most = worst(c, &at);
    if (most.count + most.bounds == 0) {
        return false;
    }
    if (bl_causes_found(c, BL_FINDING_CHANNELS_SWAPPED, (long)unit,
                        (long)run) != NULL) {
        bl_findings_looked(c->into, code, (long)unit, (long)run);
    } else if (most.shown == BL_SHOWN_NOT && most.bounds > 0) {
        c->excess.open = most.bounds;
        c->excess.count = most.count;
        bl_causes_leave_open(c, code, (long)unit, (long)run);
    } else if (most.shown == BL_SHOWN_NOT) {
        bl_findings_looked(c->into, code, (long)unit, (long)run);
    } else if (most.by_pedal) {
        bl_findings_missing(c->into, code, (long)unit, (long)run,
                            "a command that moves as in the earlier runs");
        pedal->count++;
        pedal->move = most.pedal;
    } else {
        tell(c, &at, &most);
    }
    return true;
}

static bool has_limit(const struct bl_trial *trial, size_t unit)
{
    for (size_t i = 0; i < trial->limits; i++) {
        if (trial->limit[i].unit < 0 || trial->limit[i].unit == (long)unit) {
            return true;
        }
    }
    return false;
}

void bl_causes_timing(struct bl_causing *c)
{
    for (size_t r = 0; r < c->trial->runs; r++) {
        if (c->run[r].lag == NULL) {
            continue;
        }
        struct by_pedal pedal = {.count = 0};
        for (size_t u = 0; u < c->trial->units; u++) {
            for (size_t i = 0; i < sizeof(looks) / sizeof(looks[0]); i++) {
                const struct look *look = &looks[i];
                if (against_earlier(c, look, r, u, &pedal)) {
                    continue;
                }
                const bool own = look->stretch < BL_TRAIT_LINE_APPLY;
                if (c->trial->unit[u].outputs == 0 && own) {
                    continue;
                }
                const bool predicted =
                    own && bl_causes_prediction(c, r, u) != NULL;
                if (!predicted && (!own || !has_limit(c->trial, u))) {
                    bl_findings_missing(c->into, look->code, (long)u, (long)r,
                                        NULL);
                }
            }
        }
        say_pedal(c, r, &pedal);
    }
}
