/* SPDX-License-Identifier: MIT */
/*
 * Late and slow against what air alone would take: beyond the latest that a
 * sound train takes with everything stated that can be, and a tolerance. A band
 * that rests on usual ranges of what could be stated accuses nobody.
 */
#include "study/causes/causes.h"
#include "study/findings/fill.h"
#include "study/predict/figures.h"

#include <math.h>

static const struct {
    enum bl_predict_figure figure;
    enum bl_finding_code code;
    const char *stretch;
} looks[] = {
    {BL_PREDICT_RESPONSE, BL_FINDING_LATE_APPLY, "command to first air"},
    {BL_PREDICT_FILL, BL_FINDING_SLOW_FILL, "first air to 75 % of settled"},
    {BL_PREDICT_RELEASE_START, BL_FINDING_LATE_RELEASE,
     "release to 90 % of settled"},
    {BL_PREDICT_FALL, BL_FINDING_SLOW_RELEASE, "90 % to 10 % of settled"}};

/* What models of this kind and sound units differ by: common practice. */
static const double stated_more_s = 0.02;

const struct bl_predict_unit *bl_causes_prediction(const struct bl_causing *c,
                                                   size_t run, size_t unit)
{
    const struct bl_predict *all = c->run[run].predict;
    for (size_t i = 0; all != NULL && i < all->units; i++) {
        if (all->unit[i].unit == unit && all->unit[i].rows > 0) {
            return &all->unit[i];
        }
    }
    return NULL;
}

static void look(struct bl_causing *c, const struct bl_predict_unit *predicted,
                 size_t run, size_t at)
{
    const enum bl_finding_code code = looks[at].code;
    double worst = -INFINITY;
    double measured = NAN;
    double latest = NAN;
    double u = NAN;
    bool at_least = false;
    bl_excess_clear(c);
    for (size_t r = 0; r < predicted->rows; r++) {
        const struct bl_predict_row *row = &predicted->row[r];
        for (size_t i = 0; row->figure == looks[at].figure && i < row->points;
             i++) {
            const struct bl_predict_point *p = &row->point[i];
            const double latest_s = fmax(p->latest_s, p->high_s);
            const double excess = p->s - latest_s - stated_more_s;
            if (p->differences_only || !isfinite(excess)) {
                continue;
            }
            if (!p->at_least) {
                bl_excess_put(c, excess, p->u_s);
            } else if (!bl_excess_put_bound(c, excess, p->u_s)) {
                continue;
            }
            if (excess > worst) {
                at_least = p->at_least;
                worst = excess;
                measured = p->s;
                latest = latest_s;
                u = p->u_s;
            }
        }
    }
    if (c->excess.count + c->excess.open == 0 ||
        bl_causes_found(c, code, (long)predicted->unit, (long)run) != NULL) {
        return;
    }
    struct bl_finding *f =
        bl_excess_judge(c, code, (long)predicted->unit, (long)run);
    if (f == NULL) {
        return;
    }
    char text[128];
    bl_finding_say(f, "%s: %s takes %s %.3f s, air alone at most %.3f s",
                   bl_causes_unit(c, predicted->unit, text, sizeof(text)),
                   looks[at].stretch, at_least ? "more than" : "up to",
                   measured, latest);
    bl_finding_evidence(f, "measured, worst", measured, u, "s");
    bl_finding_evidence(f, "longest predicted", latest, NAN, "s");
}

void bl_causes_predicted(struct bl_causing *c)
{
    for (size_t r = 0; r < c->trial->runs; r++) {
        for (size_t u = 0; u < c->trial->units; u++) {
            const struct bl_predict_unit *predicted =
                bl_causes_prediction(c, r, u);
            for (size_t i = 0;
                 predicted != NULL && i < sizeof(looks) / sizeof(looks[0]) &&
                 bl_predict_left_to_usual(c->trial, c->run[r].predict, u) == 0;
                 i++) {
                look(c, predicted, r, i);
            }
        }
    }
}
