/* SPDX-License-Identifier: MIT */
/*
 * Where the frames of an identifier on a bus lead to: its series and its
 * statistics, decided when it is first seen, found by one look-up afterwards.
 */
#ifndef BRAKELAG_SRC_LOAD_ROUTES_H
#define BRAKELAG_SRC_LOAD_ROUTES_H

#include "load/build.h"

/* Series that an identifier on a bus feeds: items first..first+count. */
struct bl_route {
    uint64_t key; /* 0: empty */
    size_t first, count;
    size_t link; /* its statistics; SIZE_MAX: none */
    /* Of its last frame, where that had up to eight bytes. */
    uint64_t data;
    uint8_t length;
};
enum { BL_ROUTE_NO_LENGTH = UINT8_MAX };

static inline uint64_t bl_route_key(const struct bl_frame *frame, size_t bus)
{
    const uint64_t extended = (frame->flags & BL_FRAME_EXTENDED) != 0;
    return UINT64_C(1) << 63 | (uint64_t)bus << 32 | extended << 31 | frame->id;
}

static inline struct bl_route *bl_route_slot(struct bl_capture_build *b,
                                             uint64_t key)
{
    uint64_t hash = key * UINT64_C(0x9E3779B97F4A7C15);
    size_t at = (size_t)(hash >> 32) & (b->route_slots - 1);
    while (b->route[at].key != 0 && b->route[at].key != key) {
        at = (at + 1) & (b->route_slots - 1);
    }
    return &b->route[at];
}

/* The route of an identifier that has none yet. *out NULL: over the limit of
   identifiers, which was noted. Errors: NOMEM. */
enum bl_status bl_route_make(struct bl_capture_build *b, struct bl_route **out,
                             uint64_t key, const struct bl_frame *frame,
                             size_t bus);

#endif
