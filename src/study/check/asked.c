/* SPDX-License-Identifier: MIT */
/* The electronic demand to every unit: what the study of its reach says, and
   nothing else. */
#include "study/check/check.h"

#include <stdio.h>

bool bl_check_captured(const struct bl_checking *c)
{
    for (size_t i = 0; i < c->data->recordings; i++) {
        if (c->data->recording[i].kind == BL_RECORDING_CAPTURE) {
            return true;
        }
    }
    return false;
}

/* "at its rate", "arrives, unchanged": the claims that have this answer. */
static void claims_of(const struct bl_reach_unit *unit, enum bl_answer answer,
                      char text[BL_REACH_TEXT])
{
    size_t at = 0;
    text[0] = '\0';
    for (size_t i = 0; i < BL_REACH_CLAIMS; i++) {
        if (unit->claim[i].answer == answer) {
            at += (size_t)snprintf(
                text + at, BL_REACH_TEXT - at, "%s%s", at == 0 ? "" : ", ",
                bl_reach_claim_words((enum bl_reach_claim)i));
        }
    }
}

static void reached(struct bl_checking *c, const struct bl_reach_unit *unit,
                    const char *label)
{
    const bool acted = unit->claim[BL_REACH_ACTED_ON].answer == BL_YES;
    bl_check_add(c, "demand", BL_CHECK_GOOD, "",
                 "%s: electronic demand arrives, unchanged and at its "
                 "rate%s",
                 label,
                 acted ? ", and the unit acts on it"
                       : "; that the unit acts on it was not shown");
}

static void one_unit(struct bl_checking *c, const struct bl_reach_unit *unit)
{
    char label[BL_UNIT_CALLED];
    char claims[BL_REACH_TEXT];
    const char *why = unit->whys > 0 ? unit->why[0] : "";
    bl_trial_unit_called(c->trial, unit->unit, label, sizeof(label));
    switch (unit->verdict) {
    case BL_REACH_REACHED:
        reached(c, unit, label);
        break;
    case BL_REACH_CANNOT_TELL:
        claims_of(unit, BL_UNKNOWN, claims);
        /* A link that is not there may be a slip of the pen; a trial that asks
           for reach is not made without it. */
        bl_check_add(
            c, "demand",
            !unit->tapped ||
                    (c->trial->expect.line > 0 && c->trial->expect.reach)
                ? BL_CHECK_CANNOT_TELL
                : BL_CHECK_CAUTION,
            "`brakelag reach` says what would decide it: a listen-in lead on "
            "this link, clocks tied, or one whole application",
            "%s: whether the electronic demand reaches it cannot "
            "be told (%.60s): %.180s",
            label, claims, why);
        break;
    case BL_REACH_DEFECTS:
    case BL_REACH_NOT_REACHED:
    case BL_REACH_VERDICTS:
        claims_of(unit, BL_NO, claims);
        bl_check_add(c, "demand", BL_CHECK_NOT_READY,
                     "check the listen-in lead on this link and the plug at "
                     "the coupling; "
                     "`brakelag survey` on the capture lists its buses and the "
                     "addresses on them: do `bus` and `address` fit?",
                     "%s: electronic demand %s (%.60s): %.180s", label,
                     bl_reach_verdict_words(unit->verdict), claims, why);
        break;
    }
}

/* Units whose links say that the train is another one than the trial file: what
   is measured would go under the wrong unit's name, whatever the run asks. */
static void chain(struct bl_checking *c)
{
    const struct bl_findings *found = &c->reach->findings;
    for (size_t i = 0; i < found->count; i++) {
        const struct bl_finding *f = &found->item[i];
        if (f->code == BL_FINDING_ADDRESS_ORDER && f->shown == BL_SHOWN_FOUND) {
            bl_check_add(c, "chain", BL_CHECK_NOT_READY,
                         "put `bus` and `address` of the units in the order in "
                         "which they are coupled: `brakelag survey` lists who "
                         "sends on which bus",
                         "the units do not join up: %.220s", f->text);
        }
    }
}

/* Without any capture nothing can be said of demand, once for the run; that is
   no fault of a unit's link. */
void bl_check_demand(struct bl_checking *c)
{
    if (c->reach != NULL) {
        chain(c);
    }
    if (c->trial->run[c->into->run].data != BL_STATED_ON) {
        return;
    }
    if (!bl_check_captured(c)) {
        bl_check_add(c, "demand", BL_CHECK_CAUTION,
                     "go on with the logs alone, or record the link of every "
                     "unit as well",
                     "no capture in this run: whether the electronic demand "
                     "reaches the units is not seen");
        return;
    }
    for (size_t k = 0; c->reach != NULL && k < c->reach->units; k++) {
        one_unit(c, &c->reach->unit[k]);
    }
}
