/* SPDX-License-Identifier: MIT */
/*
 * What a reader of one kind of bus recording gives to the registry
 * (reader.c), and what it gets from it. A reader delivers frames in file
 * order; order.c puts late ones in their place.
 */
#ifndef BRAKELAG_SRC_BUS_FORMAT_H
#define BRAKELAG_SRC_BUS_FORMAT_H

#include "brakelag/bus.h"
#include "io/bytes.h"

/* A probe's answer. BROKEN: certainly this kind, but not readable. */
enum bl_bus_answer {
    BL_BUS_NOT_MINE,
    BL_BUS_MINE,
    BL_BUS_BROKEN,
    BL_BUS_NEED_MORE
};

/* Frames seen with an id that cannot be, read in the order in use and in the
   other one: tells ids that are in the wrong order. */
struct bl_id_check {
    uint64_t frames, impossible, impossible_other;
};

/* Shared by the registry and the reader of the format. */
struct bl_bus_context {
    struct bl_bytes *source;
    struct bl_bus_info info;
    uint32_t bus_key[BL_BUS_MAX]; /* tells unnamed buses apart */
    enum bl_id_order id_order;
    char default_name[BL_BUS_NAME_MAX];
    struct bl_id_check id_check;
};

struct bl_bus_format {
    const char *name;
    const char *called; /* in "expected a ... recording" */
    /* Look at the first bytes; `all`: the input has no more than these. On
       BROKEN the error (without a source) says why. */
    enum bl_bus_answer (*probe)(const uint8_t *data, size_t size, bool all,
                                struct bl_error *why);
    /* Read the header. */
    enum bl_status (*open)(void **state, struct bl_bus_context *context,
                           struct bl_error *error);
    /* Up to `room` frames; *count 0 with OK only at the end. *count can be
       above 0 together with a failure. */
    enum bl_status (*next)(void *state, struct bl_frame *frame, size_t room,
                           size_t *count, struct bl_error *error);
    void (*close)(void *state);
};

/* X(NAME): all formats, in the order in which they are asked. The file of each
   ends in its descriptor, bl_format_NAME. */
#define BL_BUS_FORMAT_LIST(X)                                                  \
    X(pcap)                                                                    \
    X(pcapng)                                                                  \
    X(textlog)                                                                 \
    X(mdf)                                                                     \
    X(terminal)                                                                \
    X(table)
#define X(name) extern const struct bl_bus_format bl_format_##name;
BL_BUS_FORMAT_LIST(X)
#undef X

enum { BL_BUS_BATCH = 256 };

/* A frame was taken or not: the first one behind damage is marked. Returns
   `taken`, as a number. */
static inline size_t bl_bus_taken(struct bl_bus_context *context,
                                  struct bl_frame *frame, bool taken)
{
    if (taken && context->info.after_damage) {
        frame->flags |= BL_FRAME_AFTER_DAMAGE;
        context->info.after_damage = false;
    }
    return taken;
}

/* Times of either sign up to this are read (146 years from 1970), so that sums
   of two cannot overflow. */
#define BL_BUS_TIME_MAX (INT64_MAX / 2)

/*
 * The index of a bus by name; a new one is added. Unnamed buses (length 0) are
 * told apart by `key`. Text that is not UTF-8 is made readable. Errors: LIMIT
 * (more than BL_BUS_MAX).
 */
enum bl_status bl_bus_index(struct bl_bus_context *context, const char *name,
                            size_t length, uint32_t key, uint16_t *index,
                            struct bl_error *error);

#endif
