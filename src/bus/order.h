/* SPDX-License-Identifier: MIT */
/*
 * The ordering stage. Frames come in file order and leave in time order
 * within a part. Held back is what a later frame may still have to go in
 * front of: 200 ms, at most BL_LIMIT_SORT_FRAMES frames.
 *
 * A frame that is earlier than its predecessors by up to the window is put in
 * its place, behind those of the same stamp. A jump of more than that, either
 * way, that is undone within 16 frames is a stray: excluded and counted. Any
 * other jump back begins a new part. Where stamps step back on one and the same
 * bus is kept.
 */
#ifndef BRAKELAG_SRC_BUS_ORDER_H
#define BRAKELAG_SRC_BUS_ORDER_H

#include "base/pace.h"
#include "brakelag/bus.h"

/* One buffer: delivered up to head, deliverable up to ready, in order up to
   sorted, as read up to tail. Zero-initialise. */
struct bl_order {
    struct bl_frame *frame;
    size_t capacity;
    size_t head, ready, sorted, tail;
    int64_t newest_ns;   /* of the present part */
    int64_t released_ns; /* of the present part, where `released` */
    bool released;
    bool any;
    uint16_t part;
    uint64_t late, strays;
    struct bl_time_places times; /* SORTED and BACK, in file order */
};

/* Room for `count` frames behind the last; NULL when out of memory. */
struct bl_frame *bl_order_room(struct bl_order *order, size_t count);
/*
 * `count` frames were put there. `ended`: no more will come. Errors: LIMIT
 * (more parts than can be counted; what came before can still be taken).
 */
enum bl_status bl_order_add(struct bl_order *order, size_t count, bool ended,
                            struct bl_error *error);
/* What may be delivered; valid until the next call of bl_order_room. */
const struct bl_frame *bl_order_take(struct bl_order *order, size_t *count);
void bl_order_finish(struct bl_order *order);

#endif
