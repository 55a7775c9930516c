/* SPDX-License-Identifier: MIT */
/* Every unit in the last whole application: answer, zero, demand, order, and
   how sure its response will be. */
#include "study/check/check.h"

#include "base/sure.h"
#include "lag/as_one.h"
#include "lag/impossible.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const double zero_kpa = 10;      /* common practice */
static const double expanded_s = 0.010; /* 2 u that a yard trial should reach */

static const struct bl_application *last_whole(const struct bl_run_lag *lag)
{
    const struct bl_application *found = NULL;
    for (size_t i = 0; lag != NULL && i < lag->applications; i++) {
        const struct bl_application *a = &lag->application[i];
        if (bl_application_whole(a) && !a->excluded) {
            found = a;
        }
    }
    return found;
}

/* The event is there; only the clocks do not allow to say how late. */
/* By air a stab is over before the rear has its air: own choice. */
static const int64_t long_ns = 1000000000;

static bool clocks_refuse(enum bl_reason reason)
{
    return reason == BL_REASON_DIFFERENCES_ONLY ||
           reason == BL_REASON_CLOCKS_UNRELATED ||
           reason == BL_REASON_CLOCK_AMBIGUOUS;
}

static void check_response(struct bl_checking *c, const char *label,
                           const struct bl_application *a,
                           const struct bl_unit_lag *unit)
{
    const struct bl_figure *f = &unit->figure[BL_FIGURE_RESPONSE];
    if (unit->responded == BL_NO &&
        (a->kind == BL_KIND_LIGHT || a->release_ns - a->apply_ns < long_ns)) {
        bl_check_add(
            c, "answer", BL_CHECK_CANNOT_TELL,
            "make a full application and hold it: a light or short one "
            "may end before the rear by air",
            "%s: its output did not follow application %d, which was "
            "light or short",
            label, a->number);
    } else if (unit->responded == BL_NO) {
        bl_check_add(c, "answer", BL_CHECK_NOT_READY,
                     "look whether its brakes go on at all, then at the "
                     "transducer",
                     "%s: its output did not follow the command in "
                     "application %d",
                     label, a->number);
    } else if (unit->responded == BL_YES && clocks_refuse(f->reason)) {
        bl_check_add(c, "answer", BL_CHECK_CAUTION,
                     "tie the clocks by a switch on both recorders",
                     "%s: follows the command; how late is not known: %s",
                     label, bl_reason_meaning(f->reason));
    } else if (unit->responded == BL_UNKNOWN && clocks_refuse(f->reason)) {
        bl_check_add(c, "answer", BL_CHECK_CANNOT_TELL,
                     "tie the clocks by a switch on both recorders",
                     "%s: whether it follows the command is not known: %s",
                     label, bl_reason_meaning(f->reason));
    } else if (!f->known && f->reason == BL_REASON_BELOW_NOISE) {
        bl_check_add(c, "answer", BL_CHECK_CANNOT_TELL,
                     "raise response_at in the trial file, or log in finer "
                     "steps",
                     "%s: response_at = %g kPa lies within noise or "
                     "resolution of its output; response_at = %.0f kPa would "
                     "do",
                     label, c->trial->response_at_kpa,
                     ceil(unit->least_level_kpa));
    } else if (!f->known) {
        bl_check_add(c, "answer", BL_CHECK_CANNOT_TELL,
                     "look at this output in the page that `brakelag report` "
                     "writes",
                     "%s: no first air: %s", label,
                     bl_reason_meaning(f->reason));
    } else if (f->s + 2 * f->u_s < 0) {
        bl_check_add(c, "plausible", BL_CHECK_NOT_READY,
                     "look for swapped channels, or a wrong clock offset",
                     "%s: answers %.3f s before the command", label, -f->s);
    } else {
        const bool sure = 2 * f->u_s <= expanded_s;
        bl_check_add(
            c, "uncertainty", sure ? BL_CHECK_GOOD : BL_CHECK_CAUTION,
            sure ? ""
                 : "log faster, or tie the clocks by a switch on both "
                   "recorders",
            "%s: first air after %.3f s, with an uncertainty of %.1f ms", label,
            f->s, 2e3 * f->u_s);
    }
}

static void check_zero(struct bl_checking *c, const char *name,
                       const struct bl_level *rest)
{
    if (rest->known && rest->quantity == BL_QUANTITY_PRESSURE &&
        fabs(rest->value) > zero_kpa) {
        bl_check_add(c, "zero", BL_CHECK_CAUTION,
                     "vent the transducer and set its zero; if it stays, air "
                     "is left in the brake or the line",
                     "%s: released at %.1f kPa", name, rest->value);
    }
}

/* Is a channel of the trial the input of a unit? */
static bool used(const struct bl_trial *trial, size_t channel)
{
    for (size_t i = 0; i < trial->units; i++) {
        const struct bl_trial_unit *unit = &trial->unit[i];
        const struct bl_trial_input *const inputs[] = {
            &unit->command,   &unit->control,     &unit->control_b,
            &unit->reservoir, &unit->control_out, &unit->voltage};
        for (size_t k = 0; k < sizeof(inputs) / sizeof(inputs[0]); k++) {
            if (inputs[k]->channel == (long)channel) {
                return true;
            }
        }
        for (size_t k = 0; k < unit->outputs; k++) {
            if (unit->output[k].channel == (long)channel) {
                return true;
            }
        }
    }
    return false;
}

/* No unit has an output: a draft whose wiring nobody has written yet. Where a
   bus was captured and no pressure or switch is left over, reach is asked. */
static void check_outputs(struct bl_checking *c)
{
    const struct bl_trial *trial = c->trial;
    char names[BL_NOTE_TEXT_MAX / 2] = "";
    size_t length = 0;
    for (size_t i = 0; i < trial->units; i++) {
        if (trial->unit[i].outputs > 0) {
            return;
        }
    }
    for (size_t i = 0; i < trial->channels; i++) {
        const struct bl_trial_channel *channel = &trial->channel[i];
        if ((channel->quantity == BL_QUANTITY_PRESSURE ||
             channel->quantity == BL_QUANTITY_SWITCH) &&
            !used(trial, i) &&
            length + strlen(channel->name) + 3 < sizeof(names)) {
            length +=
                (size_t)snprintf(names + length, sizeof(names) - length, "%s%s",
                                 length == 0 ? "" : ", ", channel->name);
        }
    }
    if (length == 0 && !bl_check_captured(c)) {
        bl_check_add(c, "outputs", BL_CHECK_NOT_READY,
                     "describe the channels of the brake chambers, and write "
                     "in each [unit] which is its output",
                     "no unit has an output, and no bus was captured: nothing "
                     "would be measured");
    }
    if (length > 0) {
        bl_check_add(c, "outputs", BL_CHECK_NOT_READY,
                     "write in the trial file which of them is the output of "
                     "which unit: [unit 1], output = NAME",
                     "no unit has an output, and no unit uses %s", names);
    }
}

static const struct bl_application *fullest(const struct bl_run_lag *lag,
                                            const struct bl_application *last);

/* The application in which a unit's answer is judged: the last full one without
   any, for one that answers now and then is not ready; else the last one, but
   for a light one that did not reach it, which says nothing. */
static const struct bl_application *judged_in(const struct bl_run_lag *lag,
                                              const struct bl_application *last,
                                              size_t unit)
{
    const struct bl_application *without = NULL;
    for (size_t i = 0; i < lag->applications; i++) {
        const struct bl_application *a = &lag->application[i];
        const struct bl_unit_lag *measured = bl_application_unit(a, unit);
        if (bl_application_whole(a) && !a->excluded &&
            a->kind == BL_KIND_FULL && a->release_ns - a->apply_ns >= long_ns &&
            measured != NULL && measured->responded == BL_NO) {
            without = a;
        }
    }
    const struct bl_unit_lag *now = bl_application_unit(last, unit);
    const bool too_light =
        last->kind == BL_KIND_LIGHT && now != NULL && now->responded == BL_NO;
    const struct bl_application *full = fullest(lag, last);
    return without != NULL                                        ? without
           : too_light && bl_application_unit(full, unit) != NULL ? full
                                                                  : last;
}

static void check_unit(struct bl_checking *c, const struct bl_application *a,
                       const struct bl_unit_lag *unit)
{
    char name[BL_UNIT_CALLED];
    (void)bl_trial_unit_called(c->trial, unit->unit, name, sizeof(name));
    if (c->trial->unit[unit->unit].outputs > 0) {
        const struct bl_application *judged = judged_in(c->lag, a, unit->unit);
        check_response(c, name, judged,
                       bl_application_unit(judged, unit->unit));
    }
    check_zero(c, name, &unit->rest);
}

/* Air comes from the front: who answers before the one in front of it? By
   stagger, since that needs no clock between recorders. */
static void check_order(struct bl_checking *c, const struct bl_application *a)
{
    const struct bl_figure *front = NULL;
    for (size_t i = 0; i < a->units; i++) {
        const struct bl_figure *stagger = &a->unit[i].figure[BL_FIGURE_STAGGER];
        if (!stagger->known) {
            continue;
        }
        if (front != NULL && stagger->s + 2 * stagger->u_s < front->s) {
            char label[BL_UNIT_CALLED];
            (void)bl_trial_unit_called(c->trial, a->unit[i].unit, label,
                                       sizeof(label));
            bl_check_add(c, "order", BL_CHECK_CAUTION,
                         "unplug one transducer at a time to see "
                         "which channel is which; it may also be true",
                         "%s answers before the unit in front of it", label);
        }
        front = stagger;
    }
}

/* The last one that is no light one, which say little; else the last. */
static const struct bl_application *fullest(const struct bl_run_lag *lag,
                                            const struct bl_application *last)
{
    const struct bl_application *found = last;
    for (size_t i = 0; i < lag->applications; i++) {
        const struct bl_application *a = &lag->application[i];
        if (bl_application_whole(a) && !a->excluded &&
            a->kind != BL_KIND_LIGHT && a->shape != BL_SHAPE_RAMP) {
            found = a;
        }
    }
    return found;
}

static const char wrong_clock[] =
    "check the stated offset and its sign, whether capture and log are of one "
    "run, and the order of the channels";

/* An effect before its cause: no brake does that. */
static void check_causes(struct bl_checking *c, const struct bl_application *a)
{
    const bool as_one = bl_lag_as_one(c->lag, a->combination);
    for (size_t i = 0; i < a->units; i++) {
        const struct bl_unit_lag *unit = &a->unit[i];
        const struct bl_impossible impossible =
            bl_impossible_output(c->trial, c->into->run, a, unit, as_one);
        if (c->trial->unit[unit->unit].outputs > 0 &&
            impossible.excess_s > BL_SURE_U * impossible.u_s) {
            char label[BL_UNIT_CALLED];
            (void)bl_trial_unit_called(c->trial, unit->unit, label,
                                       sizeof(label));
            bl_check_add(c, "plausible", BL_CHECK_NOT_READY, wrong_clock,
                         "%s: answers before %s, by more than %.3f s", label,
                         impossible.by_demand ? "both its demand and the air"
                                              : "the air can be there",
                         impossible.excess_s);
        }
    }
    const struct bl_impossible early = bl_impossible_demand(c->trial, a);
    if (early.excess_s > BL_SURE_U * early.u_s) {
        bl_check_add(c, "clock", BL_CHECK_NOT_READY, wrong_clock,
                     "every demand comes more than %.2f s before the driver's "
                     "own movement",
                     0.3);
    }
    const struct bl_impossible late = bl_doubtful_demand(c->trial, a);
    if (late.excess_s > BL_SURE_U * late.u_s) {
        bl_check_add(c, "clock", BL_CHECK_CANNOT_TELL, wrong_clock,
                     "every demand comes more than %.2f s after the command, "
                     "and outputs before it: late everywhere, or a wrong clock",
                     0.5);
    }
}

void bl_check_units(struct bl_checking *c)
{
    const struct bl_application *a = last_whole(c->lag);
    if (a == NULL) {
        bl_check_add(c, "answer", BL_CHECK_CANNOT_TELL,
                     "make one whole application first",
                     "no unit can be judged without an application");
        return;
    }
    for (size_t i = 0; i < a->units; i++) {
        check_unit(c, a, &a->unit[i]);
    }
    check_outputs(c);
    check_zero(c, "command", &a->command_rest);
    check_order(c, a);
    check_causes(c, fullest(c->lag, a));
}
