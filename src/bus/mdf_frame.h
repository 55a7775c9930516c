/* SPDX-License-Identifier: MIT */
/* One record of a measurement file to one frame. */
#ifndef BRAKELAG_SRC_BUS_MDF_FRAME_H
#define BRAKELAG_SRC_BUS_MDF_FRAME_H

#include "bus/format.h"
#include "mdf/mdf.h"

/* Bytes of variable length: in a stretch of their own, each behind its length,
   or as records of their own in a set of several groups. */
struct bl_mdf_bytes {
    bool open, records, in_order;
    struct bl_mdf_stream stream;
    struct bl_mdf_cursor cursor;
    size_t group;
    uint64_t next; /* place of the next record */
};

struct bl_mdf_plan;
typedef enum bl_status bl_mdf_decode(struct bl_bus_context *context,
                                     struct bl_mdf_plan *plan,
                                     const uint8_t *record,
                                     struct bl_frame *frame, bool *taken,
                                     struct bl_error *error);

/* Where the members of a group's frames stand; NULL: it has none such. */
struct bl_mdf_plan {
    bl_mdf_decode *decode; /* NULL: no frames */
    struct bl_mdf *mdf;
    const struct bl_mdf_group *group;
    size_t number; /* of the group */
    const struct bl_mdf_channel *bus, *id, *extended, *dlc, *length, *data,
        *direction, *fd, *fast, *error_state, *error_type;
    struct bl_mdf_bytes bytes;
    bool may_be_invalid; /* identifier or bytes */
    bool bus_known;
    uint64_t bus_number; /* of the frame before */
    uint16_t bus_index;
};

/* A group without frames gives an empty plan. */
enum bl_status bl_mdf_plan(struct bl_mdf_plan *plan, struct bl_mdf *mdf,
                           size_t group, struct bl_error *error);
void bl_mdf_plan_finish(struct bl_mdf_plan *plan);

/* *taken false: no frame that can be used; it was counted. */
enum bl_status bl_mdf_frame(struct bl_bus_context *context,
                            struct bl_mdf_plan *plan,
                            const struct bl_mdf_record *record,
                            struct bl_frame *frame, bool *taken,
                            struct bl_error *error);

#endif
