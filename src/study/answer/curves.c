/* SPDX-License-Identifier: MIT */
/*
 * What pressure curves answer: where each unit opens and what it makes of what
 * lies above, of which none could be read and what would give one, and which
 * units a light demand leaves unbraked. Method: docs/methods/characteristic.md.
 */
#include "study/answer/answer.h"

#include "base/alloc.h"

#include <math.h>

/* The rising branch that a unit's curve rests on, of all runs the one whose
   opening pressure is known best. */
struct best {
    const struct bl_curve *curve; /* NULL: none */
    size_t run;
    bool looked;
    enum bl_curve_reason reason; /* where none was read */
};

/* Of two inputs the one that was there says why. */
static enum bl_curve_reason why(const struct bl_characteristic *item)
{
    const enum bl_curve_reason control =
        item->curve[BL_CURVE_OF_CONTROL].rising.reason;
    return control == BL_CURVE_NO_INPUT
               ? item->curve[BL_CURVE_OF_DEMAND].rising.reason
               : control;
}

static void take(struct best *best, const struct bl_characteristic *item,
                 size_t run)
{
    const struct bl_curve *curve =
        item->used < 0 ? NULL : &item->curve[item->used];
    best->reason = best->looked ? best->reason : why(item);
    best->looked = true;
    if (curve != NULL && curve->rising.reason == BL_CURVE_FITTED &&
        !isnan(curve->rising.on.value) &&
        (best->curve == NULL ||
         curve->rising.on.u < best->curve->rising.on.u)) {
        best->curve = curve;
        best->run = run;
    }
}

static double expanded(double u, double step)
{
    return ceil(2 * u / step - 1e-9) * step;
}

static void opens(struct bl_answering *a, size_t unit, const struct best *best)
{
    const struct bl_branch *rising = &best->curve->rising;
    struct bl_strbuf text = {0};
    char name[BL_ANSWER_UNIT];
    bl_strbuf_format(
        &text, "%s opens at %.1f \xC2\xB1 %.1f kPa of %s",
        bl_trial_unit_begins(a->input->trial, unit, name, sizeof(name)),
        fabs(rising->on.value) < 0.05 ? 0 : rising->on.value,
        expanded(rising->on.u, 0.1),
        best->curve->input == BL_CURVE_OF_CONTROL ? "control pressure"
                                                  : "electronic demand");
    if (!isnan(rising->gain.value)) {
        bl_strbuf_format(&text,
                         " and follows with a gain of %.3f \xC2\xB1 %.3f",
                         rising->gain.value, expanded(rising->gain.u, 0.001));
    }
    bl_strbuf_format(&text, " (run %s).", a->input->trial->run[best->run].name);
    struct bl_answer_sentence *said = bl_answer_say(a, BL_ANSWER_CURVES, &text);
    if (said != NULL) {
        said->unit = (long)unit;
        said->run = (long)best->run;
    }
    bl_answer_evidence(said, "opening pressure", rising->on.value, rising->on.u,
                       "kPa");
    bl_answer_evidence(said, "gain", rising->gain.value, rising->gain.u, "");
}

/* Units without a curve, those of one reason together. */
static void unread(struct bl_answering *a, const struct best *best)
{
    const struct bl_trial *trial = a->input->trial;
    bool *alike = bl_answer_per_unit(a, sizeof(*alike));
    for (size_t u = 0; alike != NULL && u < trial->units; u++) {
        size_t first = trial->units;
        size_t count = 0;
        for (size_t k = trial->units; k-- > 0;) {
            alike[k] = best[k].looked && best[k].curve == NULL &&
                       best[k].reason == best[u].reason;
            first = alike[k] ? k : first;
            count += alike[k];
        }
        if (first != u || !alike[u]) {
            continue;
        }
        char names[BL_ANSWER_UNIT];
        struct bl_strbuf text = {0};
        bl_strbuf_format(
            &text, "No pressure curve could be read of %s: %s.",
            bl_trial_units_called(trial, alike, names, sizeof(names)),
            best[u].reason == BL_CURVE_FITTED
                ? "neither input explains the output"
                : bl_curve_reason_sentence(best[u].reason));
        bl_answer_evidence(bl_answer_say(a, BL_ANSWER_CURVES, &text),
                           "units without a curve", (double)count, NAN, "");
    }
    bl_free(alike);
}

/* The greatest light demand that leaves a unit unbraked. */
static void light(struct bl_answering *a)
{
    const struct bl_trial *trial = a->input->trial;
    const struct bl_light_row *most = NULL;
    size_t run = 0;
    for (size_t r = 0; r < trial->runs; r++) {
        const struct bl_characteristics *all =
            bl_answer_is_reference(a, r) ? NULL : a->input->run[r].curves;
        for (size_t i = 0; all != NULL && i < all->lights; i++) {
            const struct bl_light_row *row = &all->light[i];
            bool any = false;
            for (size_t k = 0; k < row->units; k++) {
                any = any || row->unit[k].braked == BL_NO;
            }
            if (any &&
                (most == NULL || row->demand.value > most->demand.value)) {
                most = row;
                run = r;
            }
        }
    }
    bool *unbraked =
        most == NULL ? NULL : bl_answer_per_unit(a, sizeof(*unbraked));
    if (unbraked == NULL) {
        return;
    }
    size_t count = 0;
    for (size_t k = 0; k < most->units; k++) {
        if (most->unit[k].braked == BL_NO) {
            unbraked[most->unit[k].unit] = true;
            count++;
        }
    }
    char names[BL_ANSWER_UNIT];
    struct bl_strbuf text = {0};
    bl_strbuf_format(
        &text,
        "At a demand of %.1f kPa %s do%s not brake yet (condition \"%s\", run "
        "%s).",
        most->demand.value,
        bl_trial_units_called(trial, unbraked, names, sizeof(names)),
        count == 1 ? "es" : "", bl_answer_condition(a, run),
        trial->run[run].name);
    struct bl_answer_sentence *said = bl_answer_say(a, BL_ANSWER_CURVES, &text);
    if (said != NULL) {
        said->run = (long)run;
    }
    bl_answer_evidence(said, "demand", most->demand.value, most->demand.u,
                       "kPa");
    bl_free(unbraked);
}

void bl_answer_curves(struct bl_answering *a)
{
    const struct bl_trial *trial = a->input->trial;
    struct best *best = bl_answer_per_unit(a, sizeof(*best));
    for (size_t r = 0; best != NULL && r < trial->runs; r++) {
        /* Its transducers are not where the units' are. */
        const struct bl_characteristics *all =
            bl_answer_is_reference(a, r) ? NULL : a->input->run[r].curves;
        for (size_t i = 0; all != NULL && i < all->count; i++) {
            take(&best[all->item[i].unit], &all->item[i], r);
        }
    }
    for (size_t u = 0; best != NULL && u < trial->units; u++) {
        if (best[u].curve != NULL) {
            opens(a, u, &best[u]);
        }
    }
    if (best != NULL) {
        unread(a, best);
        light(a);
    }
    bl_free(best);
}
