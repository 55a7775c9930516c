/* SPDX-License-Identifier: MIT */
/*
 * Channels exchanged: two units' lags against an earlier run, an output that
 * leads its own control pressure while air alone asks, one point touched and
 * another unit answering.
 */
#include "base/sure.h"
#include "study/causes/causes.h"
#include "study/findings/fill.h"

#include <math.h>
#include <string.h>

/* Responses so far apart can be told when they change places, and lie so near
   to the other's earlier one that they have (own choice: what two applications
   of one unit differ by, twice over and once). */
static const double APART_S = 0.02, SAME_S = 0.01;

/* Two units whose lags stood the other way round in an earlier run. */
static void swapped(struct bl_causing *c, size_t before, size_t run, size_t i,
                    size_t j)
{
    const struct bl_lag_of ib = bl_causes_response(c, before, i);
    const struct bl_lag_of jb = bl_causes_response(c, before, j);
    const struct bl_lag_of in = bl_causes_response(c, run, i);
    const struct bl_lag_of jn = bl_causes_response(c, run, j);
    if (ib.n < 3 || jb.n < 3 || in.n < 3 || jn.n < 3) {
        return;
    }
    bl_findings_looked(c->into, BL_FINDING_CHANNELS_SWAPPED, (long)i,
                       (long)run);
    bl_findings_looked(c->into, BL_FINDING_CHANNELS_SWAPPED, (long)j,
                       (long)run);
    const double u = hypot(hypot(ib.u, jb.u), hypot(in.u, jn.u));
    const double apart = fabs(jb.middle - ib.middle);
    if (apart < BL_SURE_U * u + APART_S ||
        fabs(in.middle - jb.middle) > 2 * u + SAME_S ||
        fabs(jn.middle - ib.middle) > 2 * u + SAME_S) {
        return;
    }
    const size_t pair[] = {i, j};
    for (size_t k = 0; k < 2; k++) {
        if (bl_causes_found(c, BL_FINDING_CHANNELS_SWAPPED, (long)pair[k],
                            (long)run) != NULL) {
            continue;
        }
        char a[128];
        char b[128];
        struct bl_finding *f =
            bl_findings_add(c->into, BL_FINDING_CHANNELS_SWAPPED,
                            BL_SHOWN_FOUND, (long)pair[k], (long)run);
        if (f != NULL) {
            f->ratio = apart / u;
        }
        bl_finding_say(f, "%s and %s have exchanged their lags since run %s",
                       bl_causes_unit(c, pair[k], a, sizeof(a)),
                       bl_causes_unit(c, pair[1 - k], b, sizeof(b)),
                       c->trial->run[before].name);
        bl_finding_evidence(f, "lag now", k == 0 ? in.middle : jn.middle, u,
                            "s");
        bl_finding_evidence(f, "lag in the earlier run",
                            k == 0 ? ib.middle : jb.middle, u, "s");
    }
}

static struct bl_finding *blame(struct bl_causing *c, size_t run, size_t unit,
                                size_t other, const char *why)
{
    char a[128];
    char b[128];
    if (bl_causes_found(c, BL_FINDING_CHANNELS_SWAPPED, (long)unit,
                        (long)run) != NULL) {
        return NULL;
    }
    struct bl_finding *f =
        bl_findings_add(c->into, BL_FINDING_CHANNELS_SWAPPED, BL_SHOWN_FOUND,
                        (long)unit, (long)run);
    bl_finding_say(f, "outputs of %s and %s seem to be exchanged: %s",
                   bl_causes_unit(c, unit, a, sizeof(a)),
                   bl_causes_unit(c, other, b, sizeof(b)), why);
    return f;
}

/* Does the pressure rise by 50 kPa for 0.2 s in this stretch? */
static bool rises(const struct bl_causing *c, size_t run,
                  const struct bl_trial_input *input, int64_t from, int64_t to)
{
    struct bl_track track;
    if (!bl_causes_pressure(c, run, input, &track)) {
        return false;
    }
    const struct bl_extent e = bl_track_extent(&track, from, to);
    return e.known && bl_causes_above_s(&track, from, to, e.median + 50) > 0.2;
}

/* Control pressure of one unit alone rises, and one other unit's output. */
static bool touched(const struct bl_causing *c, size_t run, int64_t from,
                    int64_t to, size_t *control, size_t *output)
{
    size_t controls = 0;
    size_t outputs = 0;
    for (size_t u = 0; u < c->trial->units; u++) {
        const struct bl_trial_unit *vehicle = &c->trial->unit[u];
        if (rises(c, run, &vehicle->control, from, to)) {
            controls++;
            *control = u;
        }
        if (vehicle->outputs > 0 &&
            rises(c, run, &vehicle->output[0], from, to)) {
            outputs++;
            *output = u;
        }
    }
    return controls == 1 && outputs == 1;
}

static void touches(struct bl_causing *c, size_t run)
{
    const struct bl_run_lag *lag = c->run[run].lag;
    for (size_t a = 0; a < lag->applications; a++) {
        int64_t from;
        int64_t to;
        size_t control = 0;
        size_t output = 0;
        if (!bl_causes_between(c, run, a, &from, &to) ||
            !touched(c, run, from, to, &control, &output)) {
            continue;
        }
        bl_findings_looked(c->into, BL_FINDING_CHANNELS_SWAPPED, (long)control,
                           (long)run);
        if (control != output) {
            const double s = (double)(from - lag->t0_ns) * 1e-9;
            struct bl_finding *f =
                blame(c, run, control, output,
                      "its control pressure rose alone, the other answered");
            bl_finding_evidence(f, "after", s, NAN, "s");
            f = blame(c, run, output, control,
                      "it answered to the other's control pressure alone");
            bl_finding_evidence(f, "after", s, NAN, "s");
        }
    }
}

void bl_causes_swapped(struct bl_causing *c)
{
    for (size_t r = 0; r < c->trial->runs; r++) {
        if (c->run[r].lag != NULL) {
            touches(c, r);
        }
        for (size_t b = 0; b < r; b++) {
            if (strcmp(bl_causes_condition_of(c, b),
                       bl_causes_condition_of(c, r)) != 0) {
                continue;
            }
            for (size_t i = 0; i < c->trial->units; i++) {
                for (size_t j = i + 1; j < c->trial->units; j++) {
                    swapped(c, b, r, i, j);
                }
            }
        }
    }
}
