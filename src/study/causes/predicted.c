/* SPDX-License-Identifier: MIT */
/*
 * Late and slow against what air alone would take: beyond the upper end of the
 * band that the trial's lengths and volumes allow, and a tolerance. Where a
 * band rests on usual ranges, because something is not stated, the tolerance
 * is wider and it is a warning only.
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
static const double usual_more_s = 0.05, usual_more = 0.25;

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

static size_t not_stated(const struct bl_predict_unit *predicted)
{
    size_t count = 0;
    for (size_t i = 0; i < predicted->inputs; i++) {
        count += predicted->input[i].from == BL_PREDICT_FROM_USUAL;
    }
    return count;
}

static void look(struct bl_causing *c, const struct bl_predict_unit *predicted,
                 size_t run, size_t at)
{
    const enum bl_finding_code code = looks[at].code;
    const size_t usual = not_stated(predicted);
    double worst = -INFINITY;
    double measured = NAN;
    double high = NAN;
    double u = NAN;
    bool at_least = false;
    bl_excess_clear(c);
    for (size_t r = 0; r < predicted->rows; r++) {
        const struct bl_predict_row *row = &predicted->row[r];
        for (size_t i = 0; row->figure == looks[at].figure && i < row->points;
             i++) {
            const struct bl_predict_point *p = &row->point[i];
            const double more =
                usual > 0 ? usual_more_s + usual_more * fmax(p->high_s, 0)
                          : stated_more_s;
            const double excess = p->s - p->high_s - more;
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
                high = p->high_s;
                u = p->u_s;
            }
        }
    }
    if (c->excess.count + c->excess.open == 0 ||
        bl_causes_found(c, code, (long)predicted->unit, (long)run) != NULL) {
        return;
    }
    if (usual > 0) {
        return; /* what is usual is no warning: a reference, and no more */
    }
    struct bl_finding *f =
        bl_excess_judge(c, code, (long)predicted->unit, (long)run);
    if (f == NULL) {
        return;
    }
    char text[128];
    bl_finding_say(f,
                   "%s: %s takes %s %.3f s, air alone at most %.3f s (%zu of "
                   "%zu things that this rests on are not stated)",
                   bl_causes_unit(c, predicted->unit, text, sizeof(text)),
                   looks[at].stretch, at_least ? "more than" : "up to",
                   measured, high, usual, predicted->inputs);
    bl_finding_evidence(f, "measured, worst", measured, u, "s");
    bl_finding_evidence(f, "longest predicted", high, NAN, "s");
}

void bl_causes_predicted(struct bl_causing *c)
{
    for (size_t r = 0; r < c->trial->runs; r++) {
        for (size_t u = 0; u < c->trial->units; u++) {
            const struct bl_predict_unit *predicted =
                bl_causes_prediction(c, r, u);
            for (size_t i = 0;
                 predicted != NULL && i < sizeof(looks) / sizeof(looks[0]);
                 i++) {
                look(c, predicted, r, i);
            }
        }
    }
}
