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
#include <stdio.h>

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

/* Middle of what the line in front took in this run; NaN: not recorded, at both
   its ends. */
static double line_s(const struct bl_causing *c, size_t run, size_t unit,
                     enum bl_trait trait)
{
    const struct bl_run_lag *lag = c->run[run].lag;
    double *value = c->room[0];
    double scatter;
    size_t n = 0;
    for (size_t a = 0; lag != NULL && a < lag->applications; a++) {
        const struct bl_stretches *cell = bl_causes_cell(c, run, a, unit);
        const double s = cell->value[trait];
        if (isfinite(s) && cell->couplings == 1) {
            value[n++] = s;
        }
    }
    return bl_causes_middle(value, n, &scatter);
}

/* The same of the other units of this run that have a stage; NaN: none. */
static double others_line_s(const struct bl_causing *c, size_t run, size_t unit,
                            size_t at)
{
    enum { MOST = 64 };
    const struct bl_predict *all = c->run[run].predict;
    double value[MOST];
    double scatter;
    size_t n = 0;
    for (size_t i = 0; i < all->units && n < MOST; i++) {
        const struct bl_predict_unit *other = &all->unit[i];
        const double s = other->unit != unit && other->stage[at].known
                             ? line_s(c, run, other->unit, looks[at].line_trait)
                             : NAN;
        if (isfinite(s)) {
            value[n++] = s;
        }
    }
    return bl_causes_middle(value, n, &scatter);
}

/* Does what is too long lie before the unit's own coupling? Where no other
   control pressure says what a line takes: does over half of the stage? */
static bool lies_outside(const struct bl_causing *c, size_t run,
                         const struct bl_predict_unit *unit, size_t at)
{
    const struct bl_stage *stage = &unit->stage[at];
    const double line = line_s(c, run, unit->unit, looks[at].line_trait);
    const double others = others_line_s(c, run, unit->unit, at);
    return isnan(others) ? line > stage->s / 2
                         : line - others > (stage->s - stage->expected_s) / 2;
}

/* "; by the control pressures ...", what the fit says of a late stage. */
static void say_fit(const struct bl_stage_fit *fit, char *text, size_t size)
{
    text[0] = '\0';
    if (!fit->known) {
        return;
    }
    switch (fit->cause) {
    case BL_STAGE_DELAY:
        snprintf(text, size,
                 "; by the control pressures at both ends its valve answers "
                 "after %.3f s, the others after %.3f s",
                 fit->delay_s, fit->others_delay_s);
        break;
    case BL_STAGE_RESISTANCE:
        snprintf(text, size,
                 "; by the control pressures at both ends it is resistance "
                 "(bore, coupling or branches): %.1f times the friction of a "
                 "bare pipe, the others %.1f times",
                 fit->friction, fit->others_friction);
        break;
    case BL_STAGE_KEEPS:
        snprintf(text, size,
                 "; by the control pressures at both ends its valve keeps "
                 "%.0f kPa, the others %.0f kPa",
                 fit->keeps_kpa, fit->others_keeps_kpa);
        break;
    case BL_STAGE_CANNOT_TELL:
        break;
    }
}

static bool told_otherwise(const struct bl_causing *c, size_t run, size_t unit,
                           enum bl_finding_code code)
{
    return bl_causes_found(c, code, (long)unit, (long)run) != NULL ||
           bl_causes_found(c, BL_FINDING_CHANNELS_SWAPPED, (long)unit,
                           (long)run) != NULL;
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
    const bool outside = lies_outside(c, run, unit, at);
    const enum bl_finding_code code = outside ? looks[at].line : looks[at].unit;
    if (told_otherwise(c, run, unit->unit, code)) {
        return;
    }
    struct bl_finding *f = bl_findings_add(c->into, code, BL_SHOWN_FOUND,
                                           (long)unit->unit, (long)run);
    char text[128];
    char front[128];
    char why[256];
    if (f != NULL) {
        f->severity = BL_SEVERITY_WARNING;
    }
    why[0] = '\0';
    if (outside) {
        say_fit(&stage->fit, why, sizeof(why));
    }
    bl_finding_say(
        f,
        "%s: %s comes %.3f s after that of %s; from the other %zu stages of "
        "its train %.3f s is expected, and at most %.3f s%s",
        bl_causes_unit(c, unit->unit, text, sizeof(text)), looks[at].what,
        stage->s, bl_causes_unit(c, stage->from, front, sizeof(front)),
        stage->others, stage->expected_s, stage->limit_s, why);
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
