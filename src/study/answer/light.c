/* SPDX-License-Identifier: MIT */
/*
 * Which units do not brake at light applications by air alone. Opening
 * pressures and what valves keep add up along a chain, so that a sound train
 * does this too; the driver must know it all the same.
 */
#include "study/answer/answer.h"

#include "base/alloc.h"

#include <math.h>

struct light {
    size_t no, all;
};

struct tally {
    struct light *unit; /* by index in the trial */
    double most_kpa;    /* held of the command; NaN: not known */
};

static void count_one(struct tally *tally, const struct bl_trial *trial,
                      const struct bl_application *application)
{
    const struct bl_level *hold = &application->command_hold;
    if (application->excluded || application->kind != BL_KIND_LIGHT) {
        return;
    }
    if (hold->known && hold->quantity == BL_QUANTITY_PRESSURE) {
        tally->most_kpa = fmax(tally->most_kpa, hold->value);
    }
    for (size_t i = 0; i < application->units; i++) {
        const struct bl_unit_lag *unit = &application->unit[i];
        if (unit->unit < trial->units && trial->unit[unit->unit].outputs > 0) {
            tally->unit[unit->unit].no += unit->responded == BL_NO;
            tally->unit[unit->unit].all += unit->responded != BL_UNKNOWN;
        }
    }
}

/* In most of them; now and then is said elsewhere. */
static bool is_silent(const struct light *light)
{
    return light->no > 0 && 2 * light->no > light->all;
}

/* Is every unit behind a silent one silent too, or not recorded? */
static bool adds_up(const struct bl_trial *trial, const struct tally *tally)
{
    for (size_t u = 0; u < trial->units; u++) {
        for (size_t v = 0; is_silent(&tally->unit[u]) && v < trial->units;
             v++) {
            if (trial->unit[v].combination == trial->unit[u].combination &&
                trial->unit[v].number > trial->unit[u].number &&
                tally->unit[v].all > 0 && !is_silent(&tally->unit[v])) {
                return false;
            }
        }
    }
    return true;
}

/* Has a finding another reason for it? */
static bool is_accused(const struct bl_answering *a)
{
    static const enum bl_finding_code codes[] = {
        BL_FINDING_NO_OUTPUT,         BL_FINDING_HIGH_THRESHOLD,
        BL_FINDING_LOW_HOLD,          BL_FINDING_AIR_PATH_SHUT,
        BL_FINDING_CONTROL_LINE_LOSS, BL_FINDING_VALVE_KEEPS};
    const struct bl_findings *all = a->input->findings;
    for (size_t i = 0; i < all->count; i++) {
        for (size_t k = 0; k < sizeof(codes) / sizeof(codes[0]); k++) {
            if (all->item[i].code == codes[k]) {
                return true; /* found, or open */
            }
        }
    }
    return false;
}

static void say(struct bl_answering *a, const struct tally *tally, size_t count)
{
    const struct bl_trial *trial = a->input->trial;
    struct bl_strbuf text = {0};
    char name[BL_ANSWER_UNIT];
    size_t n = 0;
    /* First what it is not: who reads on has blamed them already. */
    const bool usual = adds_up(trial, tally) && !is_accused(a);
    bl_strbuf_text(&text,
                   usual ? "This may be normal, as opening pressures add up "
                           "along the train: in light applications by air "
                           "alone"
                         : "In light applications by air alone");
    if (isfinite(tally->most_kpa)) {
        bl_strbuf_format(&text, " (up to %.0f kPa)", tally->most_kpa);
    }
    bl_strbuf_text(&text, ", ");
    for (size_t u = 0; u < trial->units; u++) {
        if (is_silent(&tally->unit[u])) {
            bl_strbuf_text(&text, bl_answer_between(n++, count));
            bl_strbuf_text(&text, bl_answer_unit(a, u, name));
        }
    }
    bl_strbuf_text(&text, count == 1 ? " does not brake." : " do not brake.");
    struct bl_answer_sentence *said =
        bl_answer_say(a, BL_ANSWER_RESPONDED, &text);
    if (said != NULL) {
        said->first = true;
    }
    for (size_t u = 0; u < trial->units; u++) {
        if (is_silent(&tally->unit[u])) {
            a->told[u] = tally->unit[u].no;
            bl_answer_evidence(said, bl_answer_unit(a, u, name),
                               (double)tally->unit[u].no, NAN, "");
            bl_answer_evidence(said, "of light applications by air",
                               (double)tally->unit[u].all, NAN, "");
        }
    }
}

void bl_answer_light(struct bl_answering *a)
{
    const struct bl_answer_input *in = a->input;
    const struct bl_traits *traits = in->findings->traits;
    struct tally tally = {bl_answer_per_unit(a, sizeof(struct light)), NAN};
    size_t count = 0;
    for (size_t r = 0; !a->failed && traits != NULL && r < traits->runs; r++) {
        const struct bl_run_lag *lag = in->run[r].lag;
        for (size_t i = 0;
             lag != NULL && traits->by[r] == BL_BY_AIR &&
             !bl_answer_is_reference(a, r) && i < lag->applications;
             i++) {
            count_one(&tally, in->trial, &lag->application[i]);
        }
    }
    for (size_t u = 0; !a->failed && u < in->trial->units; u++) {
        count += is_silent(&tally.unit[u]);
    }
    if (count > 0 && a->told == NULL) {
        a->told = bl_answer_per_unit(a, sizeof(*a->told));
    }
    if (count > 0 && a->told != NULL) {
        say(a, &tally, count);
    }
    bl_free(tally.unit);
}
