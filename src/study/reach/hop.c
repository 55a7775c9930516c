/* SPDX-License-Identifier: MIT */
/*
 * The demand to each unit, found by role, and what its frames do: intervals,
 * gaps and what else stopped with them, values that are not available.
 */
#include "study/reach/reach.h"

#include "base/alloc.h"
#include "lag/demand.h"
#include "signal/signal.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

const struct bl_link_id *bl_reach_link_of(const struct bl_reaching *r,
                                          const struct bl_bus_series *s)
{
    for (size_t i = 0; i < r->data->links.ids; i++) {
        const struct bl_link_id *l = &r->data->links.id[i];
        const struct bl_loaded_recording *recording =
            &r->data->recording[l->recording];
        const struct bl_id id = bl_id_split(l->id);
        if (l->message == s->signal->message && l->recording == s->recording &&
            strcmp(recording->bus[l->bus], s->bus) == 0 &&
            (!l->extended ||
             (id.source == s->source && id.destination == s->destination))) {
            return l;
        }
    }
    return NULL;
}

static bool tapped(const struct bl_reaching *r, const char *bus)
{
    for (size_t i = 0; i < r->data->recordings; i++) {
        const struct bl_loaded_recording *recording = &r->data->recording[i];
        for (size_t b = 0; b < recording->buses; b++) {
            if (bl_demand_on_bus(recording->bus[b], bus)) {
                return true;
            }
        }
    }
    return false;
}

/* The one address that speaks forwards on the bus of a demand; -1: none, or
   several. */
static int lone_speaker(const struct bl_reaching *r,
                        const struct bl_bus_series *s)
{
    int found = -1;
    for (size_t i = 0; i < r->data->links.ids; i++) {
        const struct bl_link_id *l = &r->data->links.id[i];
        const int source = bl_id_split(l->id).source;
        if (!l->extended || l->message == NULL ||
            l->message->direction != BL_DIRECTION_UP ||
            l->recording != s->recording ||
            strcmp(r->data->recording[l->recording].bus[l->bus], s->bus) != 0) {
            continue;
        }
        if (found >= 0 && found != source) {
            return -1;
        }
        found = source;
    }
    return found;
}

static void take(struct bl_reaching *r, size_t k, const struct bl_bus_series *s,
                 enum bl_demand_fit fit)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    r->series[k] = s;
    r->link[k] = bl_reach_link_of(r, s);
    unit->found = true;
    unit->split = fit == BL_DEMAND_SPLIT;
    unit->other_address = fit == BL_DEMAND_STRANGE;
    unit->signal = s->signal;
    unit->recording = s->recording;
    unit->extended = r->link[k] == NULL || r->link[k]->extended;
    unit->id = r->link[k] == NULL ? 0 : r->link[k]->id;
    unit->source = s->source;
    unit->destination = s->destination;
    unit->frames = s->steps.frames;
    unit->twice = r->link[k] == NULL ? 0 : r->link[k]->twice;
    unit->period_s = s->signal->message->period_ms > 0
                         ? s->signal->message->period_ms * 1e-3
                         : NAN;
    if (unit->address < 0 && fit == BL_DEMAND_EXACT && unit->extended &&
        s->destination < BL_ADDRESS_NULL) {
        const int speaker = lone_speaker(r, s);
        unit->address = speaker >= 0 ? speaker : s->destination;
        unit->address_taken = true;
    }
    (void)snprintf(unit->bus, sizeof(unit->bus), "%s", s->bus);
}

void bl_reach_find(struct bl_reaching *r)
{
    for (size_t k = 0; k < r->into->units; k++) {
        struct bl_reach_unit *unit = &r->into->unit[k];
        const char *bus = r->trial->unit[unit->unit].bus;
        unit->address = r->trial->unit[unit->unit].address;
        enum bl_demand_fit fit;
        const struct bl_bus_series *found = NULL;
        unit->tapped = tapped(r, bus);
        (void)snprintf(unit->bus, sizeof(unit->bus), "%s",
                       bus == NULL ? "" : bus);
        struct bl_error error;
        bl_error_clear(&error);
        if (bl_demand_find(&found, &fit, r->trial, r->data, unit->unit,
                           &error) != BL_OK) {
            /* On two buses: which of them is its link is not said. */
            unit->ambiguous = true;
            bl_reach_why(unit, "%s", error.message);
        } else if (found != NULL) {
            take(r, k, found, fit);
        }
    }
    /* Where the trial says nothing of a unit's link, neither bus nor address,
       and no demand is anywhere, what was recorded may be another bus, as that
       of the vehicle. */
    for (size_t k = 0; !bl_reach_any_demand(r) && k < r->into->units; k++) {
        struct bl_reach_unit *unit = &r->into->unit[k];
        const struct bl_trial_unit *vehicle = &r->trial->unit[unit->unit];
        unit->tapped =
            unit->tapped && (vehicle->bus != NULL || vehicle->address >= 0);
    }
}

/* How much of a gap did this identifier leave out too? One that is sent too
   seldom to tell says nothing. */
enum told { TOLD_NOTHING, TOLD_STOPPED, TOLD_WENT_ON };

static enum told told_by(const struct bl_link_id *l,
                         const struct bl_link_gap *gap)
{
    const int64_t length = gap->until_ns - gap->from_ns;
    if (!(l->nominal_s * 2e9 < (double)length) || l->first_ns > gap->from_ns) {
        return TOLD_NOTHING;
    }
    if (l->last_ns <= gap->from_ns + (int64_t)(l->nominal_s * 1e9)) {
        return TOLD_STOPPED;
    }
    const int64_t slack = (int64_t)(l->nominal_s * 1.5e9);
    for (size_t i = 0; i < l->gaps; i++) {
        if (l->gap[i].from_ns <= gap->from_ns + slack &&
            l->gap[i].until_ns >= gap->until_ns - slack) {
            return TOLD_STOPPED;
        }
    }
    /* A slow one can miss two beats without a gap of its own. */
    return l->nominal_s * 4e9 < (double)length ? TOLD_WENT_ON : TOLD_NOTHING;
}

static bool all_silent(const struct bl_reaching *r, size_t recording,
                       const struct bl_link_gap *gap, double nominal_s)
{
    const struct bl_links *links = &r->data->links;
    const int64_t slack = (int64_t)(nominal_s * 3e9);
    for (size_t i = 0; i < links->silences; i++) {
        if (links->silence_recording[i] == recording &&
            links->silence[i].from_ns <= gap->from_ns + slack &&
            links->silence[i].until_ns >= gap->until_ns - slack) {
            return true;
        }
    }
    return false;
}

bool bl_reach_damaged(const struct bl_reaching *r, size_t recording,
                      const struct bl_link_gap *gap)
{
    const struct bl_loaded_recording *loaded = &r->data->recording[recording];
    return bl_damage_between(loaded->damage, loaded->damages, gap->from_ns,
                             gap->until_ns);
}

static enum bl_gap_kind kind_of(const struct bl_reaching *r,
                                const struct bl_link_id *self,
                                const struct bl_link_gap *gap)
{
    if (bl_reach_damaged(r, self->recording, gap)) {
        return BL_GAP_RECORDER;
    }
    bool sender_on = false;
    bool sender_off = false;
    bool others_on = false;
    bool others_off = false;
    const uint8_t source = bl_id_split(self->id).source;
    for (size_t i = 0; i < r->data->links.ids; i++) {
        const struct bl_link_id *l = &r->data->links.id[i];
        if (l == self || l->recording != self->recording) {
            continue;
        }
        const enum told told = told_by(l, gap);
        const bool same = self->extended && l->extended &&
                          bl_id_split(l->id).source == source;
        sender_on = sender_on || (same && told == TOLD_WENT_ON);
        sender_off = sender_off || (same && told == TOLD_STOPPED);
        others_on = others_on || (!same && told == TOLD_WENT_ON);
        others_off = others_off || (!same && told == TOLD_STOPPED);
    }
    if (sender_on) {
        return BL_GAP_THIS_ID;
    }
    if (!others_on && others_off &&
        all_silent(r, self->recording, gap, self->nominal_s)) {
        return BL_GAP_RECORDER;
    }
    if (sender_off && others_on) {
        return BL_GAP_SENDER;
    }
    return others_on ? BL_GAP_THIS_ID : BL_GAP_UNKNOWN;
}

static struct bl_reach_gap *put_gap(struct bl_reaching *r,
                                    struct bl_reach_unit *unit,
                                    const struct bl_link_id *link,
                                    const struct bl_link_gap *gap)
{
    struct bl_reach_gap *silence = &unit->gap[unit->gaps++];
    silence->from_s = bl_reach_time(r, link->recording, gap->from_ns);
    silence->length_s = (double)(gap->until_ns - gap->from_ns) * 1e-9;
    silence->application = bl_reach_application(
        r, r->trial->unit[unit->unit].combination, silence->from_s,
        silence->from_s + silence->length_s);
    silence->kind = kind_of(r, link, gap);
    return silence;
}

/* From the last frame to the last of anything in the recording. */
static void last_gap(struct bl_reaching *r, struct bl_reach_unit *unit,
                     const struct bl_link_id *link)
{
    struct bl_link_gap gap = {link->last_ns, link->last_ns};
    for (size_t i = 0; i < r->data->links.buses; i++) {
        const struct bl_link_bus *bus = &r->data->links.bus[i];
        if (bus->recording == link->recording && bus->last_ns > gap.until_ns) {
            gap.until_ns = bus->last_ns;
        }
    }
    if ((double)(gap.until_ns - gap.from_ns) > 3e9 * link->nominal_s) {
        put_gap(r, unit, link, &gap)->to_end = true;
    }
}

static enum bl_status gaps(struct bl_reaching *r, struct bl_reach_unit *unit,
                           const struct bl_link_id *link,
                           struct bl_error *error)
{
    unit->gap = bl_alloc(link->gaps + 1, sizeof(*unit->gap));
    if (unit->gap == NULL) {
        return bl_fail_memory(error);
    }
    double away_s = 0;
    for (size_t i = 0; i < link->gaps; i++) {
        const struct bl_reach_gap *gap = put_gap(r, unit, link, &link->gap[i]);
        away_s += gap->kind == BL_GAP_SENDER || gap->kind == BL_GAP_RECORDER
                      ? gap->length_s - link->nominal_s
                      : 0;
    }
    last_gap(r, unit, link);
    const double span_s =
        (double)(link->last_ns - link->first_ns) * 1e-9 - away_s;
    /* A damaged place that left no gap may hide two frames of each kind. */
    const size_t damages = r->data->recording[link->recording].damages;
    const double expected =
        floor(span_s / link->nominal_s + 0.5) + 1 - 2 * (double)damages;
    unit->lost = 0;
    unit->lost_share = 0;
    if (expected > (double)unit->frames) {
        unit->lost = (uint64_t)(expected - (double)unit->frames);
        unit->lost_share = (double)unit->lost / expected;
    }
    return BL_OK;
}

static void count_invalid(struct bl_reaching *r, struct bl_reach_unit *unit,
                          const struct bl_bus_series *s)
{
    const char combination = r->trial->unit[unit->unit].combination;
    const int64_t first_ns = r->data->recording[s->recording].first_ns;
    bool any = false;
    for (size_t i = 0; i < s->steps.count; i++) {
        const struct bl_segment *g = &s->steps.segment[i];
        if (g->state == BL_VALUE_VALID) {
            if (!any) {
                unit->first_valid_s = (double)(g->first_ns - first_ns) * 1e-9;
            }
            any = true;
            continue;
        }
        if (!any) {
            continue; /* not awake yet */
        }
        unit->not_available +=
            g->state == BL_VALUE_NOT_AVAILABLE ? g->count : 0;
        unit->error += g->state == BL_VALUE_ERROR ? g->count : 0;
        unit->other_invalid +=
            g->state != BL_VALUE_NOT_AVAILABLE && g->state != BL_VALUE_ERROR
                ? g->count
                : 0;
        const int number = bl_reach_application(
            r, combination, bl_reach_time(r, s->recording, g->first_ns),
            bl_reach_time(r, s->recording, g->last_ns));
        unit->invalid_braking += number != 0 ? g->count : 0;
        if (unit->invalid_application == 0) {
            unit->invalid_application = number;
        }
    }
    unit->first_frame_s =
        (double)(s->steps.segment[0].first_ns - first_ns) * 1e-9;
}

enum bl_status bl_reach_frames(struct bl_reaching *r, size_t k,
                               struct bl_error *error)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    const struct bl_link_id *link = r->link[k];
    if (!unit->found) {
        return BL_OK;
    }
    count_invalid(r, unit, r->series[k]);
    if (link == NULL) {
        return BL_OK;
    }
    unit->least_s = link->least_s;
    unit->median_s = link->median_s;
    unit->most_s = link->most_s;
    unit->nominal_s = link->nominal_s;
    return gaps(r, unit, link, error);
}
