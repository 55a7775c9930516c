/* SPDX-License-Identifier: MIT */
/*
 * A unit that holds much less of what is asked in one full application than in
 * another of the same run: it may sag from press to press, or do so now and
 * then. Medians do not show it, and its own scatter hides it from the others.
 * What all units share in an application is the foot's. One such hold proves no
 * fault, and must not pass for none.
 */
#include "study/causes/traits/traits.h"

#include "base/alloc.h"
#include "base/number.h"
#include "base/sure.h"
#include "study/findings/fill.h"

#include <math.h>

enum { LEAST_UNITS = 3 }; /* to part the foot from the unit */

struct share {
    double value, u; /* of what is asked; NaN */
};

static struct share share_of(const struct bl_application *a, size_t unit)
{
    const struct share none = {NAN, NAN};
    const struct bl_unit_lag *one = bl_application_unit(a, unit);
    if (one == NULL || !bl_application_usable(a) || a->kind != BL_KIND_FULL ||
        !a->command_hold.known || !a->command_rest.known ||
        a->command_hold.quantity != BL_QUANTITY_PRESSURE || !one->hold.known ||
        !one->rest.known || (one->flags & BL_FLAG_NOT_SETTLED) != 0) {
        return none;
    }
    const double asked = a->command_hold.value - a->command_rest.value;
    return (struct share){(one->hold.value - one->rest.value) / asked,
                          hypot(one->hold.u, one->rest.u) / asked};
}

/* How much less of it the units hold than each in its own best, in the middle
   of them; NaN where these are too few. */
static double common_of(const struct bl_application *a, const double *best,
                        size_t units, double *room)
{
    size_t n = 0;
    for (size_t u = 0; u < units; u++) {
        const struct share here = share_of(a, u);
        if (isfinite(here.value)) {
            room[n++] = best[u] - here.value;
        }
    }
    return n < LEAST_UNITS ? NAN : bl_median(room, n);
}

static void say(struct bl_causing *c, size_t run, size_t unit,
                const struct bl_application *a, struct share here, double best)
{
    char name[128];
    struct bl_finding *f =
        bl_findings_add(c->into, BL_FINDING_LOW_HOLD, BL_SHOWN_CANNOT_TELL,
                        (long)unit, (long)run);
    bl_finding_say(f,
                   "%s holds %.0f %% of what is asked in application %d of run "
                   "%s, and %.0f %% in another full one",
                   bl_causes_unit(c, unit, name, sizeof(name)),
                   100 * here.value, a->number, c->trial->run[run].name,
                   100 * best);
    bl_finding_evidence(f, "share held, at most", best, here.u, "");
    bl_finding_evidence(f, "share held, at least", here.value, here.u, "");
    bl_finding_note(f, "Press again, six times at least, and see whether it "
                       "sags from press to press: reservoir and valve, then "
                       "what sticks.");
    if (f != NULL) {
        f->severity = BL_SEVERITY_WARNING; /* it may be a fault */
    }
}

static void look_in_run(struct bl_causing *c, size_t run, double *best,
                        double *room)
{
    const struct bl_run_lag *lag = c->run[run].lag;
    const size_t units = c->trial->units;
    for (size_t u = 0; u < units; u++) {
        best[u] = -INFINITY;
        for (size_t i = 0; i < lag->applications; i++) {
            best[u] = fmax(best[u], share_of(&lag->application[i], u).value);
        }
    }
    for (size_t u = 0; u < units; u++) {
        const struct bl_application *worst = NULL;
        struct share least = {INFINITY, 0};
        for (size_t i = 0; i < lag->applications; i++) {
            const struct bl_application *a = &lag->application[i];
            const struct share here = share_of(a, u);
            const double common = common_of(a, best, units, room);
            if (best[u] - here.value - common >
                    bl_trait_matters(BL_TRAIT_HOLD, best[u]) +
                        BL_SURE_U * here.u &&
                here.value < least.value) {
                worst = a;
                least = here;
            }
        }
        if (worst != NULL && bl_causes_found(c, BL_FINDING_LOW_HOLD, (long)u,
                                             (long)run) == NULL) {
            say(c, run, u, worst, least, best[u]);
        }
    }
}

void bl_causes_holds_once(struct bl_causing *c)
{
    double *best = bl_alloc(c->trial->units + 1, sizeof(*best));
    double *room = bl_alloc(c->trial->units + 1, sizeof(*room));
    c->failed = c->failed || best == NULL || room == NULL;
    for (size_t r = 0; r < c->trial->runs && !c->failed; r++) {
        if (c->run[r].lag != NULL) {
            look_in_run(c, r, best, room);
        }
    }
    bl_free(best);
    bl_free(room);
}
