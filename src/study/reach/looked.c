/* SPDX-License-Identifier: MIT */
/*
 * Which codes of the demand could be looked for in a run, and what the others
 * would take: so that silence is not taken for health.
 */
#include "study/reach/reach.h"

#include <string.h>

/* What a run holds that the codes need. */
struct holds {
    size_t tapped;  /* units whose link a capture has */
    size_t hops;    /* found with frames of their own series */
    size_t valued;  /* of these, compared with the hop before */
    size_t delays;  /* of these, with a known delay of the coupling */
    size_t follows; /* units of which it was seen what they follow */
    bool gaps;      /* intervals of a demand are known */
    bool addressed; /* a tapped unit states its address */
    bool captured;
};

static struct holds look(const struct bl_trial *trial,
                         const struct bl_reach *reach,
                         const struct bl_run_data *data)
{
    struct holds h = {.captured = data->links.buses > 0};
    for (size_t k = 0; k < reach->units; k++) {
        const struct bl_reach_unit *unit = &reach->unit[k];
        h.tapped += unit->tapped;
        h.hops += unit->found && !unit->split;
        h.valued += unit->shares > 0;
        h.delays += unit->added.known;
        h.follows += unit->found && unit->follows != BL_FOLLOWS_UNKNOWN;
        h.gaps = h.gaps || (unit->found && unit->frames > 1);
        h.addressed = h.addressed ||
                      (unit->tapped && trial->unit[unit->unit].address >= 0);
    }
    return h;
}

static bool could(enum bl_finding_code code, const struct holds *h,
                  const struct bl_trial_run *run)
{
    const bool stated = run->power != BL_STATED_UNKNOWN ||
                        run->data != BL_STATED_UNKNOWN ||
                        run->control_air != BL_AIR_UNKNOWN;
    bool can[BL_FINDINGS] = {false};
    can[BL_FINDING_DEMAND_MISSING] = h->tapped > 0;
    can[BL_FINDING_DEMAND_IGNORED] = h->follows > 0;
    can[BL_FINDING_DEMAND_ALTERED] = h->valued > 0;
    can[BL_FINDING_DEMAND_LATE] = h->delays > 0;
    can[BL_FINDING_FRAMES_LOST] = h->gaps;
    can[BL_FINDING_RECORDING_GAP] = h->captured;
    can[BL_FINDING_FAULT_CODES_PRESENT] = h->captured;
    can[BL_FINDING_UNIT_SILENT] = h->addressed;
    can[BL_FINDING_UNIT_RESTARTED] = h->addressed;
    can[BL_FINDING_ADDRESS_ORDER] = h->addressed;
    can[BL_FINDING_CONDITION_NOT_MET] = stated;
    return can[code];
}

/* What a run without power or data can show all the same. */
static bool also_off(enum bl_finding_code code)
{
    return code == BL_FINDING_RECORDING_GAP ||
           code == BL_FINDING_FAULT_CODES_PRESENT ||
           code == BL_FINDING_CONDITION_NOT_MET;
}

static void all_missing(struct bl_findings *into, size_t run)
{
    for (int i = 0; i < BL_FINDINGS; i++) {
        if (bl_finding_kind((enum bl_finding_code)i)->group ==
            BL_GROUP_DEMAND) {
            bl_findings_missing(into, (enum bl_finding_code)i, -1, (long)run,
                                NULL);
        }
    }
}

/* The other groups' findings (voltage) are looked for by `causes` itself. */
static void copy(struct bl_findings *into, const struct bl_findings *from)
{
    for (size_t i = 0; i < from->count; i++) {
        const struct bl_finding *f = &from->item[i];
        if (bl_finding_kind(f->code)->group != BL_GROUP_DEMAND) {
            continue;
        }
        struct bl_finding *own =
            bl_findings_add(into, f->code, f->shown, f->unit, f->run);
        if (own != NULL) {
            *own = *f;
        }
    }
}

enum bl_status bl_reach_findings(struct bl_findings *into,
                                 const struct bl_trial *trial,
                                 const struct bl_run_data *data,
                                 const struct bl_run_clocks *clocks,
                                 const struct bl_run_lag *lag, size_t run,
                                 struct bl_error *error)
{
    struct bl_reach *reach = NULL;
    if (data == NULL || clocks == NULL) {
        all_missing(into, run);
        return into->failed ? bl_fail_memory(error) : BL_OK;
    }
    const enum bl_status status =
        bl_reach_run(&reach, trial, data, clocks, lag, error);
    if (status != BL_OK) {
        return status;
    }
    const struct holds h = look(trial, reach, data);
    for (int i = 0; i < BL_FINDINGS; i++) {
        const enum bl_finding_code code = (enum bl_finding_code)i;
        if (bl_finding_kind(code)->group != BL_GROUP_DEMAND) {
            continue;
        }
        if (reach->declared_off && !also_off(code)) {
            bl_findings_missing(into, code, -1, (long)run,
                                "a run with power and data");
        } else if (could(code, &h, &trial->run[run])) {
            bl_findings_looked(into, code);
        } else {
            bl_findings_missing(into, code, -1, (long)run, NULL);
        }
    }
    copy(into, &reach->findings);
    bl_reach_destroy(reach);
    return into->failed ? bl_fail_memory(error) : BL_OK;
}
