/* SPDX-License-Identifier: MIT */
/*
 * Everybody who sends a demand on a recorded link, and for whom it counts. A
 * second sender to one unit is named: which of the two the unit obeys, nobody
 * can see on the wire.
 */
#include "study/reach/reach.h"

#include "base/alloc.h"
#include "lag/demand.h"

#include <math.h>
#include <stdio.h>

static bool is_demand(const struct bl_bus_series *s)
{
    return s->signal->role == BL_ROLE_SERVICE_DEMAND && s->steps.count > 0;
}

/* The unit for which it counts: the one whose demand it is, else one that it
   would fit; -1. */
static long counts_for(const struct bl_reaching *r,
                       const struct bl_bus_series *s, bool *second)
{
    long fitting = -1;
    *second = false;
    for (size_t k = 0; k < r->into->units; k++) {
        const size_t unit = r->into->unit[k].unit;
        if (r->series[k] == s) {
            *second = false;
            return (long)unit;
        }
        const enum bl_demand_fit fit =
            bl_demand_fits(r->trial, r->data, unit, s);
        if (fitting < 0 &&
            (fit == BL_DEMAND_EXACT || fit == BL_DEMAND_STRANGE)) {
            fitting = (long)unit;
            *second = r->series[k] != NULL;
        }
    }
    return fitting;
}

static void fill(const struct bl_reaching *r, struct bl_reach_sender *into,
                 const struct bl_bus_series *s)
{
    *into = (struct bl_reach_sender){.signal = s->signal,
                                     .recording = s->recording,
                                     .extended = true,
                                     .source = s->source,
                                     .destination = s->destination,
                                     .frames = s->steps.frames,
                                     .without_value = s->steps.not_valid,
                                     .least_kpa = NAN,
                                     .most_kpa = NAN};
    (void)snprintf(into->bus, sizeof(into->bus), "%s", s->bus);
    const struct bl_link_id *link = bl_reach_link_of(r, s);
    into->extended = link == NULL || link->extended;
    into->id = link == NULL ? 0 : link->id;
    for (size_t i = 0; i < s->steps.count; i++) {
        const struct bl_segment *g = &s->steps.segment[i];
        if (g->state == BL_VALUE_VALID) {
            into->least_kpa = fmin(g->value, into->least_kpa);
            into->most_kpa = fmax(g->value, into->most_kpa);
        }
    }
    into->unit = counts_for(r, s, &into->second);
}

enum bl_status bl_reach_senders(struct bl_reaching *r, struct bl_error *error)
{
    size_t count = 0;
    for (size_t i = 0; i < r->data->series_count; i++) {
        count += is_demand(&r->data->series[i]);
    }
    r->into->sender = bl_alloc(count + 1, sizeof(*r->into->sender));
    if (r->into->sender == NULL) {
        return bl_fail_memory(error);
    }
    for (size_t i = 0; i < r->data->series_count; i++) {
        if (is_demand(&r->data->series[i])) {
            fill(r, &r->into->sender[r->into->senders++], &r->data->series[i]);
        }
    }
    return BL_OK;
}

const struct bl_bus_series *bl_reach_second(const struct bl_reaching *r,
                                            size_t k)
{
    const struct bl_bus_series *own = r->series[k];
    for (size_t i = 0; own != NULL && i < r->data->series_count; i++) {
        const struct bl_bus_series *s = &r->data->series[i];
        const enum bl_demand_fit fit =
            is_demand(s) && s != own
                ? bl_demand_fits(r->trial, r->data, r->into->unit[k].unit, s)
                : BL_DEMAND_NOT;
        const bool named =
            fit == BL_DEMAND_EXACT ||
            (fit == BL_DEMAND_STRANGE && s->destination == own->destination);
        if (named && s->source != own->source) {
            return s;
        }
    }
    return NULL;
}
