/* SPDX-License-Identifier: MIT */
/*
 * A unit that the demand reaches and that brakes as it does without: its
 * response and its 75 % are those of a run in which air alone asked, while a
 * unit to which the air comes later is sooner than it when powered. One of the
 * two alone may be chance: an electronic way may take as long as a short line,
 * and units may be built differently.
 */
#include "base/sure.h"
#include "lag/rules.h"
#include "study/causes/causes.h"
#include "study/findings/fill.h"

#include <math.h>

enum { LEAST = 3 };

/* Own choice: by how much another unit must be ahead. */
static const double ahead_response_s = 0.01, ahead_75_s = 0.03;
static const double air_later_s = 0.02;

struct middle {
    double s, u; /* NaN: fewer than LEAST */
};

struct pace {
    struct middle response, at_75;
};

static struct middle middle_of(double *value, size_t n, double u)
{
    double scatter;
    struct middle out = {NAN, NAN};
    if (n >= LEAST) {
        out.s = bl_causes_middle(value, n, &scatter);
        out.u = hypot(u, scatter);
    }
    return out;
}

/* Full steps only: both runs are sure to have them alike. */
static struct pace pace_of(const struct bl_causing *c, size_t run, size_t unit)
{
    const struct bl_run_lag *lag = c->run[run].lag;
    double *response = c->room[0];
    double *at_75 = c->room[1];
    double u_response = 0;
    double u_75 = 0;
    size_t n = 0;
    for (size_t a = 0; a < lag->applications; a++) {
        const struct bl_application *application = &lag->application[a];
        const struct bl_unit_lag *measured =
            bl_application_unit(application, unit);
        if (measured == NULL || !bl_application_usable(application) ||
            application->kind != BL_KIND_FULL ||
            application->shape != BL_SHAPE_STEP ||
            !measured->figure[BL_FIGURE_RESPONSE].known ||
            !measured->figure[BL_FIGURE_FILLED].known) {
            continue;
        }
        u_response = fmax(u_response, measured->figure[BL_FIGURE_RESPONSE].u_s);
        u_75 = fmax(u_75, measured->figure[BL_FIGURE_FILLED].u_s);
        response[n] = measured->figure[BL_FIGURE_RESPONSE].s;
        at_75[n++] = measured->figure[BL_FIGURE_FILLED].s;
    }
    return (struct pace){middle_of(response, n, u_response),
                         middle_of(at_75, n, u_75)};
}

/* By how much `a` is later than `b`, and how sure that is. */
static double later(struct middle a, struct middle b, double *u)
{
    *u = hypot(a.u, b.u);
    return a.s - b.s;
}

static bool demand_reaches(const struct bl_causing *c, size_t run, size_t unit)
{
    const struct bl_reach_unit *way = bl_reach_unit_of(c->run[run].reach, unit);
    return way != NULL && way->found;
}

static bool unchanged(const struct pace *with, const struct pace *without)
{
    double u;
    const double response = later(with->response, without->response, &u);
    if (!(fabs(response) <= 2 * u + BL_SAME_RESPONSE_S)) {
        return false;
    }
    const double at_75 = later(with->at_75, without->at_75, &u);
    return fabs(at_75) <= 2 * u + BL_SAME_75_S;
}

/* Air comes to the other one later, and yet it is ahead when powered. */
static bool overtakes(const struct pace *own_with, const struct pace *own_air,
                      const struct pace *with, const struct pace *air)
{
    double u;
    const double by_air = later(air->response, own_air->response, &u);
    if (!(by_air > BL_SURE_U * u + air_later_s)) {
        return false;
    }
    const double response = later(own_with->response, with->response, &u);
    if (!(response > BL_SURE_U * u + ahead_response_s)) {
        return false;
    }
    const double at_75 = later(own_with->at_75, with->at_75, &u);
    return at_75 > BL_SURE_U * u + ahead_75_s;
}

/* Two units in a run with the demand and in one by air alone. */
struct beside {
    size_t run, air, unit, other;
    struct pace own[2], pace[2]; /* of the unit, of the other; by run */
};

static void tell(struct bl_causing *c, const struct beside *at)
{
    const struct pace *own = at->own;
    const struct pace *pace = at->pace;
    char a[128];
    char b[128];
    struct bl_finding *f =
        bl_findings_add(c->into, BL_FINDING_DEMAND_IGNORED, BL_SHOWN_FOUND,
                        (long)at->unit, (long)at->run);
    double u;
    const double ahead = later(own[0].at_75, pace[0].at_75, &u);
    if (f != NULL) {
        f->ratio = ahead / u;
    }
    bl_finding_say(f,
                   "%s brakes as it does by air alone (run %s), although the "
                   "demand reaches it; %s, to which the air comes later, is "
                   "%.3f s ahead of it at 75 %%",
                   bl_causes_unit(c, at->unit, a, sizeof(a)),
                   c->trial->run[at->air].name,
                   bl_causes_unit(c, at->other, b, sizeof(b)), ahead);
    bl_finding_evidence(f, "75 % with the demand, middle", own[0].at_75.s,
                        own[0].at_75.u, "s");
    bl_finding_evidence(f, "75 % by air alone, middle", own[1].at_75.s,
                        own[1].at_75.u, "s");
    bl_finding_evidence(f, "the other's with the demand", pace[0].at_75.s,
                        pace[0].at_75.u, "s");
    bl_finding_evidence(f, "the other's by air alone", pace[1].at_75.s,
                        pace[1].at_75.u, "s");
}

static void look(struct bl_causing *c, size_t run, size_t air, size_t unit)
{
    const struct bl_trial_unit *unit_is = &c->trial->unit[unit];
    const struct pace own[2] = {pace_of(c, run, unit), pace_of(c, air, unit)};
    if (!unchanged(&own[0], &own[1])) {
        return;
    }
    for (size_t k = 0; k < c->trial->units; k++) {
        if (k == unit ||
            c->trial->unit[k].combination != unit_is->combination ||
            !demand_reaches(c, run, k)) {
            continue;
        }
        const struct beside at = {
            .run = run,
            .air = air,
            .unit = unit,
            .other = k,
            .own = {own[0], own[1]},
            .pace = {pace_of(c, run, k), pace_of(c, air, k)}};
        if (overtakes(&own[0], &own[1], &at.pace[0], &at.pace[1])) {
            tell(c, &at);
            return;
        }
    }
}

void bl_causes_ignored(struct bl_causing *c)
{
    for (size_t r = 0; r < c->trial->runs; r++) {
        if (c->run[r].lag == NULL || bl_causes_air_only(c, r)) {
            continue;
        }
        for (size_t air = 0; air < c->trial->runs; air++) {
            if (c->run[air].lag == NULL || !bl_causes_air_only(c, air)) {
                continue;
            }
            for (size_t u = 0; u < c->trial->units; u++) {
                if (demand_reaches(c, r, u) &&
                    bl_causes_found(c, BL_FINDING_DEMAND_IGNORED, (long)u,
                                    (long)r) == NULL) {
                    look(c, r, air, u);
                }
            }
        }
    }
}
