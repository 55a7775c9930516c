/* SPDX-License-Identifier: MIT */
/*
 * Control pressures that are wired at some couplings only. From one that was
 * recorded to the next there are then several lines, and the valves of the
 * units in between: that takes longer and loses more than a line does, and
 * differs with what those units are. It is compared with the unit's own earlier
 * runs, and with no line; which control pressure would part it is said instead.
 */
#include "study/causes/traits/traits.h"

#include "study/findings/fill.h"

#include <stdio.h>
#include <string.h>

bool bl_trait_is_of_line(enum bl_trait trait)
{
    return trait == BL_TRAIT_LINE_APPLY || trait == BL_TRAIT_LINE_RELEASE ||
           trait == BL_TRAIT_LINE_RISE || trait == BL_TRAIT_LINE_FALL ||
           trait == BL_TRAIT_LINE_LOSS || trait == BL_TRAIT_LINE_KEPT;
}

bool bl_line_is_several(const struct bl_trait_cell *cell, enum bl_trait trait)
{
    return bl_trait_is_of_line(trait) && cell->couplings > 1;
}

void bl_line_measure(char *text, size_t size, const struct bl_causing *c,
                     const struct bl_trait_cell *cell, size_t unit,
                     const char *measure)
{
    static const char in_front[] = "the coupling in front";
    const char *at = strstr(measure, in_front);
    const struct bl_trial_unit *own = &c->trial->unit[unit];
    const long from = bl_trial_unit_index(c->trial, own->combination,
                                          own->number - (int)cell->couplings);
    char name[BL_UNIT_CALLED];
    if (at == NULL || cell->couplings < 2 || from < 0) {
        snprintf(text, size, "%s", measure);
    } else if (c->trial->unit[from].number == 0) {
        snprintf(text, size, "%.*sthe command%s", (int)(at - measure), measure,
                 at + strlen(in_front));
    } else {
        snprintf(
            text, size, "%.*sthe coupling of %.60s%s", (int)(at - measure),
            measure,
            bl_trial_unit_called(c->trial, (size_t)from, name, sizeof(name)),
            at + strlen(in_front));
    }
}

/* Coupling by coupling from the one in front; 0: not recorded, or a line. */
static size_t several(const struct bl_causing *c, size_t run, size_t unit)
{
    const struct bl_run_lag *lag = c->run[run].lag;
    size_t most = 0;
    for (size_t a = 0; a < lag->applications; a++) {
        const size_t n = bl_causes_cell(c, run, a, unit)->couplings;
        most = n > most ? n : most;
    }
    return most > 1 ? most : 0;
}

static const enum bl_finding_code codes[] = {
    BL_FINDING_CONTROL_LATE_APPLY, BL_FINDING_CONTROL_LATE_RELEASE,
    BL_FINDING_CONTROL_LINE_LOSS, BL_FINDING_VALVE_KEEPS};

bool bl_line_is_open(const struct bl_causing *c, size_t run, size_t unit,
                     enum bl_finding_code code)
{
    bool of_line = false;
    for (size_t i = 0; i < sizeof(codes) / sizeof(codes[0]); i++) {
        of_line = of_line || codes[i] == code;
    }
    return of_line && several(c, run, unit) > 0;
}

static void say(struct bl_causing *c, size_t run, size_t unit)
{
    const struct bl_trial_unit *own = &c->trial->unit[unit];
    const long front =
        bl_trial_unit_index(c->trial, own->combination, own->number - 1);
    char name[BL_UNIT_CALLED];
    char needs[BL_UNIT_CALLED + 80];
    if (front < 0) {
        return;
    }
    snprintf(needs, sizeof(needs),
             "control of %s, which is in front of it (nothing parts the lines "
             "there)",
             bl_trial_unit_called(c->trial, (size_t)front, name, sizeof(name)));
    for (size_t i = 0; i < sizeof(codes) / sizeof(codes[0]); i++) {
        bl_findings_missing(c->into, codes[i], (long)unit, (long)run, needs);
    }
}

void bl_causes_unwired(struct bl_causing *c)
{
    for (size_t r = 0; r < c->trial->runs; r++) {
        for (size_t u = 0; c->run[r].lag != NULL && u < c->trial->units; u++) {
            if (several(c, r, u) > 0) {
                say(c, r, u);
            }
        }
    }
}
