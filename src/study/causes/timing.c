/* SPDX-License-Identifier: MIT */
/*
 * Late and slow units and lines: each stretch of time against the unit's
 * earlier runs of the same condition, kind and shape. Tolerances are those of
 * docs/findings.md: what figures of sound equipment differ by from day to day.
 */
#include "study/causes/causes.h"
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
   command, as where the bus recording is missing. */
static bool counts_alike(const struct bl_stretches *a,
                         const struct bl_stretches *b, enum bl_trait stretch)
{
    return stretch != BL_TRAIT_DELAY || a->from_demand == b->from_demand;
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
    bl_finding_evidence(f, "now, middle", change.now, change.u, "s");
    bl_finding_evidence(f, "earlier runs, middle", change.before, change.u,
                        "s");
    bl_finding_evidence(f, "tolerance",
                        look->tolerance_s + look->share * fabs(change.before),
                        NAN, "s");
}

/* True where there was something to compare with. */
static bool against_earlier(struct bl_causing *c, const struct look *look,
                            size_t run, size_t unit)
{
    const struct bl_run_lag *lag = c->run[run].lag;
    /* The first two are what earlier() works in. */
    double *now = c->room[2];
    double *before = c->room[3];
    double *more = c->room[4];
    struct look as = *look;
    size_t n = 0;
    bool compared = false;
    double u = NAN;
    double scatter;
    bl_excess_clear(c);
    for (size_t a = 0; a < lag->applications; a++) {
        const struct bl_stretches *cell = bl_causes_cell(c, run, a, unit);
        const double s = cell->value[look->stretch];
        if (!isfinite(s)) {
            continue;
        }
        const struct reference reference =
            earlier(c, run, a, unit, look->stretch);
        if (!isfinite(reference.middle)) {
            continue;
        }
        u = hypot(reference.u, cell->u[look->stretch]);
        compared = true;
        const double excess = s - reference.middle - look->tolerance_s -
                              look->share * fabs(reference.middle);
        if (look->stretch != BL_TRAIT_FILL || !cell->fill_at_least) {
            bl_excess_put(c, excess, u);
        } else if (bl_excess_put_bound(c, excess, u)) {
            as.what = "fills to 75 % at least";
        } else {
            continue;
        }
        now[n] = s;
        more[n] = s - reference.middle;
        before[n++] = reference.middle;
    }
    if (!compared) {
        return false;
    }
    const bool swapped = bl_causes_found(c, BL_FINDING_CHANNELS_SWAPPED,
                                         (long)unit, (long)run) != NULL;
    if (swapped) {
        bl_findings_looked(c->into, look->code, (long)unit, (long)run);
        return true;
    }
    struct bl_finding *f =
        bl_excess_judge(c, look->code, (long)unit, (long)run);
    if (f != NULL) {
        say(c, f, &as, unit,
            (struct change){bl_causes_middle(more, n, &scatter),
                            bl_causes_middle(now, n, &scatter),
                            bl_causes_middle(before, n, &scatter), u});
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
        for (size_t u = 0; u < c->trial->units; u++) {
            for (size_t i = 0; i < sizeof(looks) / sizeof(looks[0]); i++) {
                const struct look *look = &looks[i];
                if (against_earlier(c, look, r, u)) {
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
    }
}
