/* SPDX-License-Identifier: MIT */
/*
 * Stage against stage (predict.h): where the control air came, by the outputs
 * of two units that follow each other. Where the control pressure at the unit's
 * own coupling was late already, it is the line in front and no fault of the
 * unit.
 */
#include "study/causes/causes.h"
#include "study/findings/fill.h"

#include <math.h>

static const struct {
    enum bl_finding_code unit, line;
    enum bl_trait line_trait; /* to the control pressure */
    const char *what;
} looks[BL_STAGES] = {
    [BL_STAGE_APPLY] = {BL_FINDING_LATE_APPLY, BL_FINDING_CONTROL_LATE_APPLY,
                        BL_TRAIT_LINE_APPLY, "its first air"},
    [BL_STAGE_RELEASE] = {BL_FINDING_LATE_RELEASE,
                          BL_FINDING_CONTROL_LATE_RELEASE,
                          BL_TRAIT_LINE_RELEASE, "the start of its release"},
};

/* Middle of what the line in front took in this run; NaN: not recorded. */
static double line_s(const struct bl_causing *c, size_t run, size_t unit,
                     enum bl_trait trait)
{
    const struct bl_run_lag *lag = c->run[run].lag;
    double *value = c->room[0];
    double scatter;
    size_t n = 0;
    for (size_t a = 0; lag != NULL && a < lag->applications; a++) {
        const double s = bl_causes_cell(c, run, a, unit)->value[trait];
        if (isfinite(s)) {
            value[n++] = s;
        }
    }
    return bl_causes_middle(value, n, &scatter);
}

static void look(struct bl_causing *c, size_t run,
                 const struct bl_predict_unit *unit, size_t at)
{
    const struct bl_stage *stage = &unit->stage[at];
    if (!(stage->limit_s > 0)) {
        return;
    }
    if (!stage->late) {
        bl_findings_looked(c->into, looks[at].unit, (long)unit->unit,
                           (long)run);
        return;
    }
    /* Where the control pressure was recorded and took over half of it, the
       way to the unit is slow, not the unit. */
    const double line = line_s(c, run, unit->unit, looks[at].line_trait);
    const bool outside = line > stage->s / 2;
    const enum bl_finding_code code = outside ? looks[at].line : looks[at].unit;
    if (bl_causes_found(c, code, (long)unit->unit, (long)run) != NULL ||
        bl_causes_found(c, BL_FINDING_CHANNELS_SWAPPED, (long)unit->unit,
                        (long)run) != NULL) {
        return;
    }
    struct bl_finding *f = bl_findings_add(c->into, code, BL_SHOWN_FOUND,
                                           (long)unit->unit, (long)run);
    char text[128];
    char front[128];
    if (f != NULL) {
        f->severity = BL_SEVERITY_WARNING;
    }
    bl_finding_say(f,
                   "%s: %s comes %.3f s after that of %s, where by the other "
                   "%zu stages of its train %.3f s is to be expected and at "
                   "most %.3f s",
                   bl_causes_unit(c, unit->unit, text, sizeof(text)),
                   looks[at].what, stage->s,
                   bl_causes_unit(c, stage->from, front, sizeof(front)),
                   stage->others, stage->expected_s, stage->limit_s);
    bl_finding_evidence(f, "stage, middle", stage->s, stage->u_s, "s");
    bl_finding_evidence(f, "expected by the others", stage->expected_s, NAN,
                        "s");
}

void bl_causes_stages(struct bl_causing *c)
{
    for (size_t r = 0; r < c->trial->runs; r++) {
        const struct bl_predict *all = c->run[r].predict;
        for (size_t i = 0; all != NULL && i < all->units; i++) {
            for (size_t k = 0; k < BL_STAGES; k++) {
                look(c, r, &all->unit[i], k);
            }
        }
    }
}
