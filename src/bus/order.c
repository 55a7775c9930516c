/* SPDX-License-Identifier: MIT */
#include "bus/order.h"

#include "base/alloc.h"
#include "base/array.h"
#include "base/limits.h"

#include <string.h>

#define WINDOW_NS INT64_C(200000000)
/* A step back on one and the same bus from here on is the recorder's clock, not
   the order in which it wrote. */
#define STEP_NS INT64_C(5000000)
enum { STRAY_FRAMES = 16, FIRST_CAPACITY = 2048 };

struct bl_frame *bl_order_room(struct bl_order *order, size_t count)
{
    if (order->head > 0 && order->capacity - order->tail < count) {
        const size_t held = order->tail - order->head;
        if (held > 0) {
            memmove(order->frame, order->frame + order->head,
                    held * sizeof(*order->frame));
        }
        order->ready -= order->head;
        order->sorted -= order->head;
        order->tail -= order->head;
        order->head = 0;
    }
    size_t wanted = order->tail + count;
    if (wanted < FIRST_CAPACITY) {
        wanted = FIRST_CAPACITY;
    }
    /* What is held is bounded by the window plus one batch as read. */
    if (!bl_grow(&order->frame, &order->capacity, wanted, sizeof(*order->frame),
                 2 * (size_t)BL_LIMIT_SORT_FRAMES + 2 * count)) {
        return NULL;
    }
    return order->frame + order->tail;
}

/* Further from the newest stamp than late frames are, either way; unsigned,
   because stamps may lie anywhere in the range of int64. */
static bool is_far(const struct bl_order *order, int64_t time_ns)
{
    const uint64_t ahead = (uint64_t)time_ns - (uint64_t)order->newest_ns;
    const uint64_t behind = (uint64_t)order->newest_ns - (uint64_t)time_ns;
    return time_ns > order->newest_ns ? ahead > (uint64_t)WINDOW_NS
                                      : behind > (uint64_t)WINDOW_NS;
}

/*
 * A far jump stands at `at`. How many frames from there on are strays: 0 when
 * it is not undone soon. False: more frames are needed to tell.
 */
static bool count_strays(const struct bl_order *order, size_t at, bool ended,
                         size_t *strays)
{
    const size_t last = at + STRAY_FRAMES;
    *strays = 0;
    for (size_t i = at + 1; i <= last && i < order->tail; i++) {
        if (!is_far(order, order->frame[i].time_ns)) {
            *strays = i - at;
            return true;
        }
    }
    return ended || last < order->tail;
}

/* The stamp steps back on its own bus: a place of damage in time. A run of such
   frames is one place. */
static enum bl_status note_step(struct bl_order *order, size_t at)
{
    const struct bl_frame *late = &order->frame[at];
    size_t i = at;
    while (i > order->head && order->frame[i - 1].bus != late->bus) {
        i--;
    }
    if (i == order->head ||
        order->frame[i - 1].time_ns - late->time_ns < STEP_NS) {
        return BL_OK;
    }
    const struct bl_time_place place = {
        .kind = BL_TIME_SORTED,
        .from_ns = late->time_ns,
        .until_ns = order->frame[i - 1].time_ns,
        .off_ns = order->frame[i - 1].time_ns - late->time_ns,
        .step_ns = late->time_ns - order->frame[i - 1].time_ns,
        .rows = 1,
        .part = order->part};
    struct bl_time_places *times = &order->times;
    struct bl_time_place *last =
        times->places == 0 ? NULL : &times->place[times->places - 1];
    if (last == NULL || last->part != place.part ||
        place.from_ns > last->until_ns || place.until_ns < last->from_ns) {
        return bl_time_places_add(times, &place);
    }
    last->from_ns =
        place.from_ns < last->from_ns ? place.from_ns : last->from_ns;
    last->until_ns =
        place.until_ns > last->until_ns ? place.until_ns : last->until_ns;
    last->off_ns = place.off_ns > last->off_ns ? place.off_ns : last->off_ns;
    last->step_ns = -last->off_ns;
    last->rows++;
    return BL_OK;
}

/* Put a late frame in front of the later ones; `at` is its present place.
   False: its place has been delivered. */
static bool insert_late(struct bl_order *order, size_t at)
{
    const int64_t time_ns = order->frame[at].time_ns;
    if (order->released && time_ns < order->released_ns) {
        return false;
    }
    size_t place = at;
    while (place > order->ready && order->frame[place - 1].time_ns > time_ns) {
        place--;
    }
    const struct bl_frame late = order->frame[at];
    memmove(order->frame + place + 1, order->frame + place,
            (at - place) * sizeof(late));
    order->frame[place] = late;
    order->frame[place].part = order->part;
    return true;
}

static int64_t time_between(int64_t from_ns, int64_t until_ns)
{
    const uint64_t ns = (uint64_t)until_ns - (uint64_t)from_ns;
    return ns > (uint64_t)INT64_MAX ? INT64_MAX : (int64_t)ns;
}

/* The frame at `at` takes its place in order. */
static enum bl_status place_frame(struct bl_order *order, size_t at,
                                  struct bl_error *error)
{
    struct bl_frame *frame = &order->frame[at];
    if (!order->any || frame->time_ns >= order->newest_ns) {
        order->any = true;
        order->newest_ns = frame->time_ns;
        frame->part = order->part;
        return BL_OK;
    }
    if (!is_far(order, frame->time_ns)) {
        const enum bl_status status = note_step(order, at);
        if (status != BL_OK) {
            return bl_fail_memory(error);
        }
        if (insert_late(order, at)) {
            order->late++;
            return BL_OK;
        }
    }
    const struct bl_time_place place = {
        .kind = BL_TIME_BACK,
        .from_ns = order->newest_ns,
        .until_ns = frame->time_ns,
        .off_ns = time_between(frame->time_ns, order->newest_ns),
        .step_ns = -time_between(frame->time_ns, order->newest_ns),
        .rows = 1,
        .part = order->part};
    if (bl_time_places_add(&order->times, &place) != BL_OK) {
        return bl_fail_memory(error);
    }
    if (order->part == UINT16_MAX) {
        return bl_fail(error, BL_LIMIT, NULL,
                       "expected at most %u backward jumps of time, found "
                       "another one",
                       UINT16_MAX);
    }
    order->part++;
    order->ready = at;
    order->released = false;
    order->newest_ns = frame->time_ns;
    frame->part = order->part;
    return BL_OK;
}

/* The first deliverable frame that is later than `border`: from `ready` on they
   are in order. */
static size_t first_after(const struct bl_order *order, int64_t border)
{
    size_t low = order->ready;
    size_t high = order->sorted;
    while (low < high) {
        const size_t middle = low + (high - low) / 2;
        if (order->frame[middle].time_ns <= border) {
            low = middle + 1;
        } else {
            high = middle;
        }
    }
    return low;
}

/* What no later frame can go in front of. */
static void release(struct bl_order *order, bool ended)
{
    if (ended) {
        order->ready = order->sorted;
        return;
    }
    size_t until = first_after(order, order->newest_ns - WINDOW_NS);
    if (order->sorted - until > BL_LIMIT_SORT_FRAMES) {
        until = order->sorted - BL_LIMIT_SORT_FRAMES;
    }
    if (until > order->ready) {
        order->released_ns = order->frame[until - 1].time_ns;
        order->released = true;
        order->ready = until;
    }
}

/* Frames from `from` on that follow one another in time, as nearly all do; the
   place of the first that does not. */
static size_t place_followers(struct bl_order *order, size_t from)
{
    struct bl_frame *frame = order->frame;
    const uint16_t part = order->part;
    int64_t newest_ns = order->newest_ns;
    while (from < order->tail && frame[from].time_ns >= newest_ns &&
           (uint64_t)frame[from].time_ns - (uint64_t)newest_ns <=
               (uint64_t)WINDOW_NS) {
        newest_ns = frame[from].time_ns;
        frame[from].part = part;
        from++;
    }
    order->newest_ns = newest_ns;
    return from;
}

enum bl_status bl_order_add(struct bl_order *order, size_t count, bool ended,
                            struct bl_error *error)
{
    order->tail += count;
    enum bl_status status = BL_OK;
    size_t from = order->sorted;
    size_t to = order->sorted; /* behind `from` once there were strays */
    while (from < order->tail && status == BL_OK) {
        if (order->any && to == from) {
            from = place_followers(order, from);
            to = from;
            if (from == order->tail) {
                break;
            }
        }
        if (order->any && is_far(order, order->frame[from].time_ns)) {
            size_t strays;
            if (!count_strays(order, from, ended, &strays)) {
                break;
            }
            order->strays += strays;
            from += strays;
            if (strays > 0) {
                order->frame[from].flags |= BL_FRAME_AFTER_DAMAGE;
            }
        }
        if (to < from) {
            order->frame[to] = order->frame[from];
        }
        status = place_frame(order, to, error);
        from++;
        to += status == BL_OK;
    }
    if (status != BL_OK) {
        from = order->tail;
        ended = true;
    }
    if (to < from) {
        memmove(order->frame + to, order->frame + from,
                (order->tail - from) * sizeof(*order->frame));
        order->tail -= from - to;
    }
    order->sorted = to;
    release(order, ended);
    return status;
}

const struct bl_frame *bl_order_take(struct bl_order *order, size_t *count)
{
    const struct bl_frame *first =
        order->frame == NULL ? NULL : order->frame + order->head;
    *count = order->ready - order->head;
    order->head = order->ready;
    return first;
}

void bl_order_finish(struct bl_order *order)
{
    bl_free(order->frame);
    bl_free(order->times.place);
    order->frame = NULL;
    order->times = (struct bl_time_places){0};
}
