/* SPDX-License-Identifier: MIT */
#include "load/routes.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"

#include <stdio.h>

enum { MATCHES = 8 };

static enum bl_status grow_routes(struct bl_capture_build *b)
{
    if (b->route_slots != 0 && b->routes * 2 < b->route_slots) {
        return BL_OK;
    }
    struct bl_route *old = b->route;
    const size_t old_slots = b->route_slots;
    const size_t slots = old_slots == 0 ? 1024 : old_slots * 2;
    b->route = bl_alloc(slots, sizeof(*b->route));
    if (b->route == NULL) {
        b->route = old;
        return BL_NOMEM;
    }
    b->route_slots = slots;
    for (size_t i = 0; i < old_slots; i++) {
        if (old[i].key != 0) {
            *bl_route_slot(b, old[i].key) = old[i];
        }
    }
    bl_free(old);
    return BL_OK;
}

static bool is_wanted(const struct bl_capture_build *b,
                      const struct bl_signal *signal)
{
    for (size_t i = 0; i < b->wanteds; i++) {
        if (b->wanted[i] == signal) {
            return true;
        }
    }
    return false;
}

static enum bl_status add_series(struct bl_capture_build *b,
                                 const struct bl_signal *signal,
                                 const struct bl_frame *frame, size_t bus)
{
    if (!bl_grow(&b->item, &b->capacity, b->count + 1, sizeof(*b->item),
                 BL_LIMIT_IDENTIFIERS)) {
        return BL_NOMEM;
    }
    const struct bl_id id = bl_id_split(frame->id);
    const bool extended = (frame->flags & BL_FRAME_EXTENDED) != 0;
    struct bl_series_build *s = &b->item[b->count];
    *s = (struct bl_series_build){.last_ns = INT64_MIN};
    s->series.signal = signal;
    s->series.recording = b->recording;
    s->series.source = extended ? id.source : BL_ADDRESS_NULL;
    s->series.destination = extended ? id.destination : BL_ADDRESS_GLOBAL;
    (void)snprintf(s->series.bus, sizeof(s->series.bus), "%s",
                   b->into->bus[bus]);
    s->interval_s = bl_alloc(BL_INTERVALS_KEPT, sizeof(*s->interval_s));
    if (s->interval_s == NULL) {
        return BL_NOMEM;
    }
    b->count++;
    return BL_OK;
}

enum bl_status bl_route_make(struct bl_capture_build *b, struct bl_route **out,
                             uint64_t key, const struct bl_frame *frame,
                             size_t bus)
{
    if (b->routes >= BL_LIMIT_IDENTIFIERS) {
        (void)bl_note(&b->into->notes, "too-many-identifiers", -1, -1,
                      "more than %u identifiers: frames of further ones are "
                      "not decoded",
                      BL_LIMIT_IDENTIFIERS);
        *out = NULL;
        return BL_OK;
    }
    if (grow_routes(b) != BL_OK) {
        return BL_NOMEM;
    }
    const struct bl_message *found[MATCHES];
    const struct bl_addresses units = {b->address, b->addresses};
    const size_t matches =
        b->trial->tables == NULL
            ? 0
            : bl_tables_match(b->trial->tables, frame->id,
                              (frame->flags & BL_FRAME_EXTENDED) != 0, &units,
                              found, MATCHES);
    struct bl_route route = {
        .key = key, .first = b->count, .length = BL_ROUTE_NO_LENGTH};
    if (bl_links_id(&b->links, &route.link, frame, bus,
                    matches > 0 ? found[0] : NULL) != BL_OK) {
        return BL_NOMEM;
    }
    for (size_t m = 0; m < matches && m < MATCHES; m++) {
        for (size_t i = 0; i < found[m]->signals; i++) {
            const struct bl_signal *signal = &found[m]->signal[i];
            if (is_wanted(b, signal) &&
                add_series(b, signal, frame, bus) != BL_OK) {
                return BL_NOMEM;
            }
        }
    }
    route.count = b->count - route.first;
    *out = bl_route_slot(b, key);
    **out = route;
    b->routes++;
    return BL_OK;
}
