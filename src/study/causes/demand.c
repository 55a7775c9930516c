/* SPDX-License-Identifier: MIT */
/*
 * The electronic demand: what the study of its way to the units found, and
 * what could be looked for in which unit. A code counts as looked for in a unit
 * where one run at least shows it; else the list says what it would take.
 */
#include "study/causes/causes.h"
#include "study/findings/fill.h"

#include <math.h>
#include <stdio.h>

struct seen {
    bool code[BL_FINDINGS];
};

static bool has_capture(const struct bl_causing *c, size_t run)
{
    const struct bl_run_data *data = c->run[run].data;
    for (size_t i = 0; data != NULL && i < data->recordings; i++) {
        if (data->recording[i].kind == BL_RECORDING_CAPTURE &&
            data->recording[i].frames > 0) {
            return true;
        }
    }
    return false;
}

/* Does the address send what would hold trouble codes? */
static bool tells_troubles(const struct bl_run_data *data, int address)
{
    for (size_t i = 0; i < data->links.ids; i++) {
        const struct bl_link_id *l = &data->links.id[i];
        if (l->message == NULL || !l->extended ||
            bl_id_split(l->id).source != address) {
            continue;
        }
        for (size_t k = 0; k < l->message->signals; k++) {
            if (l->message->signal[k].role == BL_ROLE_TROUBLE_CODES) {
                return true;
            }
        }
    }
    return false;
}

/* What one run lets one see of a unit. The coupling behind a unit shows what
   it passes on. */
static void see(const struct bl_causing *c, size_t run, size_t unit,
                struct seen *seen)
{
    const struct bl_reach *reach = c->run[run].reach;
    const struct bl_reach_unit *hop = bl_reach_unit_of(reach, unit);
    const struct bl_reach_unit *behind = bl_reach_unit_of(reach, unit + 1);
    const int address = c->trial->unit[unit].address;
    const bool off = reach->declared_off;
    bool *code = seen->code;
    if (hop != NULL && hop->tapped && !off) {
        code[BL_FINDING_DEMAND_MISSING] = true;
        code[BL_FINDING_ADDRESS_ORDER] |= hop->found && address >= 0;
        code[BL_FINDING_DEMAND_IGNORED] |= hop->follows != BL_FOLLOWS_UNKNOWN;
        code[BL_FINDING_FRAMES_LOST] |= hop->found && !isnan(hop->lost_share);
        code[BL_FINDING_DEMAND_STANDS] |= hop->asked > 0;
        code[BL_FINDING_DEMAND_SLOW] |=
            hop->found &&
            (!isnan(hop->period_s) || !isnan(c->trial->expect.interval_max_s));
        code[BL_FINDING_TWO_SENDERS] |= hop->found && hop->extended;
    }
    if (behind != NULL && !off &&
        c->trial->unit[behind->unit].combination ==
            c->trial->unit[unit].combination) {
        code[BL_FINDING_DEMAND_ALTERED] |= behind->shares > 0;
        code[BL_FINDING_DEMAND_LATE] |= behind->added.known;
    }
    code[BL_FINDING_UNIT_SILENT] |= address >= 0 && !off;
    code[BL_FINDING_UNIT_RESTARTED] |= address >= 0 && !off;
    code[BL_FINDING_FAULT_CODES_PRESENT] |=
        address >= 0 && tells_troubles(c->run[run].data, address);
}

static void look_at_unit(struct bl_causing *c, size_t unit)
{
    static const enum bl_finding_code codes[] = {
        BL_FINDING_DEMAND_MISSING,      BL_FINDING_DEMAND_IGNORED,
        BL_FINDING_DEMAND_ALTERED,      BL_FINDING_DEMAND_LATE,
        BL_FINDING_FRAMES_LOST,         BL_FINDING_ADDRESS_ORDER,
        BL_FINDING_UNIT_SILENT,         BL_FINDING_UNIT_RESTARTED,
        BL_FINDING_FAULT_CODES_PRESENT, BL_FINDING_DEMAND_STANDS,
        BL_FINDING_DEMAND_SLOW,         BL_FINDING_TWO_SENDERS};
    const struct bl_trial_unit *vehicle = &c->trial->unit[unit];
    const bool last = bl_trial_unit_index(c->trial, vehicle->combination,
                                          vehicle->number + 1) < 0;
    struct seen seen = {{false}};
    for (size_t r = 0; r < c->trial->runs; r++) {
        if (c->run[r].reach != NULL && has_capture(c, r)) {
            see(c, r, unit, &seen);
        }
    }
    for (size_t i = 0; i < sizeof(codes) / sizeof(codes[0]); i++) {
        const bool passed_on = codes[i] == BL_FINDING_DEMAND_ALTERED ||
                               codes[i] == BL_FINDING_DEMAND_LATE;
        const bool received = codes[i] == BL_FINDING_DEMAND_MISSING ||
                              codes[i] == BL_FINDING_DEMAND_IGNORED ||
                              codes[i] == BL_FINDING_FRAMES_LOST ||
                              codes[i] == BL_FINDING_ADDRESS_ORDER ||
                              codes[i] == BL_FINDING_DEMAND_STANDS ||
                              codes[i] == BL_FINDING_DEMAND_SLOW ||
                              codes[i] == BL_FINDING_TWO_SENDERS;
        /* The front unit receives nothing and makes the demand; the last one
           passes none on. */
        if ((passed_on && (last || vehicle->number == 0)) ||
            (received && vehicle->number == 0)) {
            continue;
        }
        if (seen.code[codes[i]]) {
            bl_findings_looked(c->into, codes[i], (long)unit, -1);
        } else {
            bl_findings_missing(c->into, codes[i], (long)unit, -1, NULL);
        }
    }
}

static void take_over(struct bl_causing *c, size_t run)
{
    const struct bl_findings *from = &c->run[run].reach->findings;
    for (size_t i = 0; i < from->count; i++) {
        const struct bl_finding *finding = &from->item[i];
        struct bl_finding *f = bl_findings_add(
            c->into, finding->code, finding->shown, finding->unit, (long)run);
        if (f != NULL) {
            *f = *finding;
            f->run = (long)run;
        }
    }
    for (size_t i = 0; i < from->missing_count; i++) {
        const struct bl_not_looked_for *missed = &from->missing[i];
        bl_findings_missing(c->into, missed->code, missed->unit, missed->run,
                            missed->needs);
    }
}

/* Whatever the run declares is compared with voltage, frames and air. */
static void condition(struct bl_causing *c, size_t run)
{
    const struct bl_trial_run *trial_run = &c->trial->run[run];
    if (trial_run->power == BL_STATED_UNKNOWN &&
        trial_run->data == BL_STATED_UNKNOWN &&
        trial_run->control_air == BL_AIR_UNKNOWN) {
        bl_findings_missing(c->into, BL_FINDING_CONDITION_NOT_MET, -1,
                            (long)run, NULL);
    } else {
        bl_findings_looked(c->into, BL_FINDING_CONDITION_NOT_MET, -1,
                           (long)run);
    }
}

/* Stamps that leave the recorder's pace, one finding per recording. */
static bool look_at_stamps(struct bl_causing *c, size_t run)
{
    const struct bl_run_data *data = c->run[run].data;
    bool any = false;
    for (size_t i = 0; data != NULL && i < data->recordings; i++) {
        const struct bl_loaded_recording *r = &data->recording[i];
        const struct bl_time_places *times = &r->times;
        any = any || times->interval_ns > 0;
        if (times->places == 0) {
            continue;
        }
        const struct bl_time_place *first = &times->place[0];
        struct bl_finding *f = bl_findings_add(
            c->into, BL_FINDING_RECORDING_GAP, BL_SHOWN_FOUND, -1, (long)run);
        bl_finding_say(
            f,
            "The time stamps of %.100s do not run evenly in %zu place%s, first "
            "%.3f s after its start, by %.3f s: figures that span them are "
            "flagged.",
            c->trial->recording[r->recording].name, times->places,
            times->places == 1 ? "" : "s",
            (double)(first->from_ns - r->first_ns) * 1e-9,
            (double)first->off_ns * 1e-9);
    }
    return any;
}

void bl_causes_demand(struct bl_causing *c)
{
    bool any = false;
    for (size_t r = 0; r < c->trial->runs; r++) {
        any = look_at_stamps(c, r) || any;
        if (c->run[r].reach == NULL) {
            continue;
        }
        take_over(c, r);
        condition(c, r);
        any = any || has_capture(c, r);
    }
    for (size_t u = 0; u < c->trial->units; u++) {
        look_at_unit(c, u);
    }
    if (any) {
        bl_findings_looked(c->into, BL_FINDING_RECORDING_GAP, -1, -1);
    }
}
