/* SPDX-License-Identifier: MIT */
/*
 * Which characteristic do the messages that the unit saw call for? The trial
 * names them ([characteristic] when, within). The time runs from the first
 * frame on the unit's link: that is when it was powered up, if the recording
 * was running by then.
 */
#include "study/reach/reach.h"

#include <math.h>
#include <string.h>

static const double USUAL_WITHIN_S = 5;

static bool on_link(const struct bl_reaching *r,
                    const struct bl_reach_unit *unit,
                    const struct bl_link_id *l)
{
    const char *bus = r->data->recording[l->recording].bus[l->bus];
    return unit->bus[0] == '\0' || bus[0] == '\0' ||
           strcmp(bus, unit->bus) == 0;
}

static int64_t power_up(const struct bl_reaching *r,
                        const struct bl_reach_unit *unit)
{
    int64_t first = INT64_MAX;
    for (size_t i = 0; i < r->data->links.buses; i++) {
        const struct bl_link_bus *b = &r->data->links.bus[i];
        const char *name = r->data->recording[b->recording].bus[b->bus];
        if ((unit->bus[0] == '\0' || strcmp(name, unit->bus) == 0) &&
            b->first_ns < first) {
            first = b->first_ns;
        }
    }
    return first;
}

static bool seen(const struct bl_reaching *r, const struct bl_reach_unit *unit,
                 const char *message, int64_t from_ns, double within_s)
{
    for (size_t i = 0; i < r->data->links.ids; i++) {
        const struct bl_link_id *l = &r->data->links.id[i];
        if (l->message != NULL && strcmp(l->message->name, message) == 0 &&
            on_link(r, unit, l) &&
            (isnan(within_s) ||
             (double)(l->first_ns - from_ns) * 1e-9 <= within_s)) {
            return true;
        }
    }
    return false;
}

/* Braking asked for, and anything else from the front within the time. */
static void towing_kind(const struct bl_reaching *r, struct bl_reach_unit *unit,
                        int64_t from_ns)
{
    bool demand = false;
    bool more = false;
    for (size_t i = 0; i < r->data->links.ids; i++) {
        const struct bl_link_id *l = &r->data->links.id[i];
        if (l->message == NULL || !on_link(r, unit, l) ||
            l->message->direction != BL_DIRECTION_DOWN ||
            (double)(l->first_ns - from_ns) * 1e-9 > USUAL_WITHIN_S) {
            continue;
        }
        bool asks = false;
        for (size_t j = 0; j < l->message->signals; j++) {
            asks = asks || l->message->signal[j].role == BL_ROLE_SERVICE_DEMAND;
        }
        demand = demand || asks;
        more = more || !asks;
    }
    unit->towing_kind = demand && more ? "towing vehicle with brake electronics"
                        : demand       ? "demand converter only"
                        : more ? "messages from the front, but no demand"
                               : "power without data";
}

void bl_reach_called(struct bl_reaching *r, size_t k)
{
    struct bl_reach_unit *unit = &r->into->unit[k];
    const struct bl_trial *trial = r->trial;
    const struct bl_trial_run *run = &trial->run[r->data->run];
    if (!unit->tapped) {
        return;
    }
    const int64_t from_ns = power_up(r, unit);
    if (from_ns == INT64_MAX && run->power != BL_STATED_ON) {
        return; /* nothing says that it had power at all */
    }
    unit->called_known = true;
    towing_kind(r, unit, from_ns);
    size_t most = 0;
    for (size_t i = 0; i < trial->characteristics; i++) {
        const struct bl_trial_characteristic *c = &trial->characteristic[i];
        size_t found = 0;
        for (size_t w = 0; w < c->whens; w++) {
            found += seen(r, unit, c->when[w], from_ns, c->within_s);
        }
        if (c->whens > 0 && found == c->whens && found > most) {
            most = found;
            unit->called = c->name;
        } else if (c->when_none && most == 0) {
            unit->called = c->name;
        }
    }
}
