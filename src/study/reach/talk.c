/* SPDX-License-Identifier: MIT */
/*
 * What units and recorders themselves did, whatever the demand did: units that
 * say nothing or fall silent, units and recorders that stop for a while,
 * trouble codes.
 */
#include "study/reach/reach.h"

#include "lag/demand.h"
#include "study/findings/fill.h"
#include "study/reach/unit.h"

#include <math.h>

static const double SILENT_S = 1; /* at the end of a run: own choice */
/* A restart takes at least so long, and so many of the sender's own intervals:
   recorders and busy links lose two or three frames in a row. Own choice. */
static const double RESTART_S = 0.2;
static const double RESTART_INTERVALS = 8;

int bl_reach_address(const struct bl_reaching *r, size_t unit)
{
    for (size_t k = 0; k < r->into->units; k++) {
        if (r->into->unit[k].unit == unit) {
            return r->into->unit[k].address;
        }
    }
    return r->trial->unit[unit].address;
}

/* Point-to-point links may each use the same pair of addresses. */
static bool shared_address(const struct bl_reaching *r, size_t unit)
{
    for (size_t u = 0; u < r->trial->units; u++) {
        if (u != unit && bl_reach_address(r, u) == bl_reach_address(r, unit)) {
            return true;
        }
    }
    return false;
}

bool bl_reach_of_unit(const struct bl_reaching *r, const struct bl_link_id *l,
                      size_t unit)
{
    const int address = bl_reach_address(r, unit);
    const struct bl_message *m = l->message;
    if (address < 0 ||
        (shared_address(r, unit) && !bl_reach_on_link(r, l, unit))) {
        return false;
    }
    if (m != NULL && m->single_id) {
        return m->sender == BL_SENDER_ADDRESS && m->sender_address == address;
    }
    return l->extended && bl_id_split(l->id).source == address;
}

int bl_reach_speaks(const struct bl_reaching *r, size_t unit)
{
    if (bl_reach_address(r, unit) < 0) {
        return -1;
    }
    for (size_t i = 0; i < r->data->links.ids; i++) {
        if (bl_reach_of_unit(r, &r->data->links.id[i], unit)) {
            return 1;
        }
    }
    return 0;
}

static bool is_demand(const struct bl_message *m)
{
    for (size_t i = 0; m != NULL && i < m->signals; i++) {
        if (m->signal[i].role == BL_ROLE_SERVICE_DEMAND) {
            return true;
        }
    }
    return false;
}

bool bl_reach_any_tells(const struct bl_reaching *r)
{
    for (size_t k = 0; k < r->into->units; k++) {
        for (size_t i = 0; i < r->data->links.ids; i++) {
            const struct bl_link_id *l = &r->data->links.id[i];
            if (!is_demand(l->message) &&
                bl_reach_of_unit(r, l, r->into->unit[k].unit)) {
                return true;
            }
        }
    }
    return false;
}

/* Is the unit's own link recorded? The towing unit's are all. */
static bool is_tapped(const struct bl_reaching *r, size_t unit)
{
    const struct bl_reach_unit *way = bl_reach_unit_of(r->into, unit);
    return way == NULL || way->tapped;
}

bool bl_reach_on_link(const struct bl_reaching *r, const struct bl_link_id *l,
                      size_t unit)
{
    const struct bl_loaded_recording *recording =
        &r->data->recording[l->recording];
    return bl_demand_on_bus(recording->bus[l->bus], r->trial->unit[unit].bus);
}

double bl_reach_silent_from(const struct bl_reaching *r, size_t unit,
                            double *length_s)
{
    const struct bl_links *links = &r->data->links;
    const struct bl_link_id *last = NULL;
    const struct bl_link_id *on = NULL;
    double slowest_s = 0;
    for (size_t i = 0; i < links->ids; i++) {
        const struct bl_link_id *l = &links->id[i];
        if (!bl_reach_on_link(r, l, unit) || isnan(l->nominal_s)) {
            continue;
        }
        if (bl_reach_of_unit(r, l, unit)) {
            last = last == NULL || l->last_ns > last->last_ns ? l : last;
            slowest_s = fmax(slowest_s, l->nominal_s);
        } else {
            on = on == NULL || l->last_ns > on->last_ns ? l : on;
        }
    }
    if (last == NULL || on == NULL || last->recording != on->recording) {
        return NAN;
    }
    *length_s = (double)(on->last_ns - last->last_ns) * 1e-9;
    return *length_s > fmax(SILENT_S, 3 * slowest_s)
               ? bl_reach_time(r, last->recording, last->last_ns)
               : NAN;
}

static bool is_units(const struct bl_reaching *r, int address)
{
    for (size_t u = 0; u < r->trial->units; u++) {
        if (bl_reach_address(r, u) == address) {
            return true;
        }
    }
    return false;
}

/* The address of no unit that speaks on the coupling in front of unit `on`
   beside `partner`, which speaks there too; -1: none, or not only one. */
static int stranger_beside(const struct bl_reaching *r, size_t on,
                           size_t partner)
{
    bool partner_speaks = false;
    int found = -1;
    for (size_t i = 0; i < r->data->links.ids; i++) {
        const struct bl_link_id *l = &r->data->links.id[i];
        if (!l->extended || !bl_reach_on_link(r, l, on)) {
            continue;
        }
        const int source = bl_id_split(l->id).source;
        partner_speaks =
            partner_speaks || source == bl_reach_address(r, partner);
        if (is_units(r, source)) {
            continue;
        }
        if (found >= 0 && found != source) {
            return -1;
        }
        found = source;
    }
    return partner_speaks ? found : -1;
}

/* No message is asked for: which it is rests on the addresses, too. */
int bl_reach_stranger(const struct bl_reaching *r, size_t unit)
{
    const struct bl_trial_unit *all = r->trial->unit;
    int found = -1;
    if (all[unit].number > 0 && all[unit].bus != NULL) {
        found = stranger_beside(r, unit, unit - 1);
    }
    if (found < 0 && unit + 1 < r->trial->units && all[unit + 1].number > 0 &&
        all[unit + 1].bus != NULL) {
        found = stranger_beside(r, unit + 1, unit + 1);
    }
    return found;
}

/* It speaks, but from another address than the trial file says. */
static void renamed_unit(struct bl_reaching *r, size_t unit, int stranger)
{
    char self[BL_REACH_LABEL];
    const struct bl_findings *all = &r->into->findings;
    for (size_t i = 0; i < all->count; i++) {
        if (all->item[i].code == BL_FINDING_ADDRESS_ORDER) {
            return; /* by its demand, see verdict.c */
        }
    }
    bl_finding_say(
        bl_reach_found(r, BL_FINDING_ADDRESS_ORDER, (long)unit),
        "%s sent nothing from address %d, which the trial file says; in its "
        "place address %d sends, which belongs to no unit of the trial file.",
        bl_reach_label(r, unit, self), r->trial->unit[unit].address, stranger);
}

/* It hands the demand on behind, but on the link in front, where the other
   units answer on theirs, it sends nothing. */
static bool silent_in_front(const struct bl_reaching *r, size_t unit)
{
    const struct bl_reach_unit *way = bl_reach_unit_of(r->into, unit);
    bool others = false;
    for (size_t k = 0; k < r->into->units; k++) {
        others = others || r->into->unit[k].status_frames > 0;
    }
    return way != NULL && way->tapped && !way->split && !way->other_address &&
           !way->address_taken && way->status_frames == 0 && others &&
           bl_reach_stranger(r, unit) < 0;
}

static void silent_unit(struct bl_reaching *r, size_t unit)
{
    char self[BL_REACH_LABEL];
    bl_reach_label(r, unit, self);
    if (bl_reach_speaks(r, unit) == 0) {
        const int stranger = bl_reach_stranger(r, unit);
        if (stranger >= 0) {
            renamed_unit(r, unit, stranger);
            return;
        }
        struct bl_finding *f =
            bl_reach_found(r, BL_FINDING_UNIT_SILENT, (long)unit);
        bl_finding_say(f, "%s sent nothing at all.", self);
        bl_finding_evidence(f, "frames", 0, NAN, "");
        return;
    }
    if (bl_reach_speaks(r, unit) == 1 && silent_in_front(r, unit)) {
        struct bl_finding *f =
            bl_reach_found(r, BL_FINDING_UNIT_SILENT, (long)unit);
        bl_finding_say(f,
                       "%s sent nothing on its own link, though it does on "
                       "the one behind.",
                       self);
        bl_finding_evidence(f, "frames on its own link", 0, NAN, "");
        return;
    }
    double length_s = NAN;
    const double from_s = r->trial->unit[unit].number > 0
                              ? bl_reach_silent_from(r, unit, &length_s)
                              : NAN;
    if (!isnan(from_s)) {
        struct bl_finding *f =
            bl_reach_found(r, BL_FINDING_UNIT_SILENT, (long)unit);
        bl_finding_say(f,
                       "%s falls silent at %.2f s; its link goes on for "
                       "%.2f s.",
                       self, from_s, length_s);
        bl_finding_evidence(f, "silent for", length_s, NAN, "s");
    }
}

static bool same_gap(const struct bl_link_gap *a, const struct bl_link_gap *b,
                     double slack_s)
{
    const double slack = slack_s * 1e9;
    return (double)(a->from_ns - b->from_ns) < slack &&
           (double)(b->until_ns - a->until_ns) < slack;
}

/* Did the recorder itself stop for most of this gap? */
static bool recorder_stopped(const struct bl_reaching *r, size_t recording,
                             const struct bl_link_gap *gap)
{
    const struct bl_links *links = &r->data->links;
    if (bl_reach_damaged(r, recording, gap)) {
        return true;
    }
    for (size_t i = 0; i < links->silences; i++) {
        const struct bl_link_gap *s = &links->silence[i];
        const int64_t from =
            s->from_ns > gap->from_ns ? s->from_ns : gap->from_ns;
        const int64_t until =
            s->until_ns < gap->until_ns ? s->until_ns : gap->until_ns;
        /* One silence: a slow message leaves many short ones. */
        if (links->silence_recording[i] == recording &&
            2 * (until - from) > gap->until_ns - gap->from_ns) {
            return true;
        }
    }
    return false;
}

/* Everything of one address stops for a while, others go on: the unit was off
   or restarted. Tested on its fastest identifier. */
static void restarted_unit(struct bl_reaching *r, size_t u)
{
    const struct bl_links *links = &r->data->links;
    const int address = bl_reach_address(r, u);
    const struct bl_link_id *fast = NULL;
    char self[BL_REACH_LABEL];
    for (size_t i = 0; address >= 0 && i < links->ids; i++) {
        const struct bl_link_id *l = &links->id[i];
        if (l->extended && bl_reach_of_unit(r, l, u) && !isnan(l->nominal_s) &&
            (fast == NULL || l->nominal_s < fast->nominal_s)) {
            fast = l;
        }
    }
    for (size_t g = 0; fast != NULL && g < fast->gaps; g++) {
        const struct bl_link_gap *gap = &fast->gap[g];
        bool all = true;
        bool other_on = false;
        bool another = false; /* identifier of its own, and it stopped too */
        bool another_stopped = false;
        for (size_t i = 0; i < links->ids; i++) {
            const struct bl_link_id *l = &links->id[i];
            const double length = (double)(gap->until_ns - gap->from_ns) * 1e-9;
            const bool of_it = bl_reach_of_unit(r, l, u);
            another = another || (of_it && l != fast);
            if (l == fast || !l->extended || l->recording != fast->recording ||
                !(l->nominal_s * 3 < length)) {
                continue;
            }
            bool stopped = false;
            for (size_t j = 0; j < l->gaps && !stopped; j++) {
                stopped = same_gap(&l->gap[j], gap, 1.5 * l->nominal_s);
            }
            all = all && (!of_it || stopped);
            another_stopped = another_stopped || (of_it && stopped);
            other_on = other_on || (!of_it && !stopped);
        }
        const double length = (double)(gap->until_ns - gap->from_ns) * 1e-9;
        if (all && other_on && (another_stopped || !another) &&
            length > RESTART_S &&
            length >
                RESTART_INTERVALS * fmax(fast->nominal_s, fast->median_s) &&
            !recorder_stopped(r, fast->recording, gap)) {
            bl_finding_say(
                bl_reach_found(r, BL_FINDING_UNIT_RESTARTED, (long)u),
                "%s sent nothing for %.2f s, from %.2f s on.",
                bl_reach_label(r, u, self), length,
                bl_reach_time(r, fast->recording, gap->from_ns));
            return;
        }
    }
}

static void recording_gaps(struct bl_reaching *r)
{
    for (size_t k = 0; k < r->into->units; k++) {
        const struct bl_reach_unit *unit = &r->into->unit[k];
        for (size_t i = 0; i < unit->gaps; i++) {
            if (unit->gap[i].kind == BL_GAP_RECORDER) {
                bl_finding_say(bl_reach_found(r, BL_FINDING_RECORDING_GAP, -1),
                               "Nothing at all was recorded for %.2f s, from "
                               "%.2f s on: the recorder stopped, or its file "
                               "is damaged there.",
                               unit->gap[i].length_s, unit->gap[i].from_s);
                return;
            }
        }
    }
}

static void trouble_codes(struct bl_reaching *r)
{
    const struct bl_links *links = &r->data->links;
    for (size_t i = 0; i < links->troubles; i++) {
        const struct bl_link_trouble *t = &links->trouble[i];
        long unit = -1;
        bool before = false;
        for (size_t u = 0; u < r->trial->units; u++) {
            unit = r->trial->unit[u].address == t->source ? (long)u : unit;
        }
        for (size_t j = 0; j < i; j++) {
            before = before || links->trouble[j].source == t->source;
        }
        size_t codes = 0;
        for (size_t j = 0; j < links->troubles; j++) {
            codes += links->trouble[j].source == t->source;
        }
        if (!before) {
            char spn[BL_TROUBLE_TEXT];
            bl_finding_say(
                bl_reach_found(r, BL_FINDING_FAULT_CODES_PRESENT, unit),
                "Address %u reports %zu active trouble codes, the "
                "first: %s FMI %u (%s).",
                (unsigned)t->source, codes,
                bl_trouble_spn_text(&t->code, spn, sizeof(spn)),
                (unsigned)t->code.fmi, bl_fmi_text(t->code.fmi));
        }
    }
}

void bl_reach_judge_talk(struct bl_reaching *r)
{
    const bool tells = bl_reach_any_tells(r);
    for (size_t u = 0; !r->into->declared_off && u < r->trial->units; u++) {
        if (tells && is_tapped(r, u)) {
            silent_unit(r, u);
        }
        restarted_unit(r, u);
    }
    recording_gaps(r);
    trouble_codes(r);
}
