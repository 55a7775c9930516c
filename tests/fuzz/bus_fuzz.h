/* SPDX-License-Identifier: MIT */
/* A bus recording of any bytes, read to its end; what bus.h promises of the
   frames is checked. Shared by the bus targets. */
#ifndef BRAKELAG_TESTS_FUZZ_BUS_FUZZ_H
#define BRAKELAG_TESTS_FUZZ_BUS_FUZZ_H

#include "brakelag/bus.h"

#include <stdlib.h>
#include <string.h>

static inline void check_frame(const struct bl_bus_info *info,
                               const struct bl_frame *frame,
                               const struct bl_frame *before)
{
    const unsigned most = frame->kind == BL_FRAME_FD ? 64 : 8;
    if (frame->bus >= info->buses || frame->length > most ||
        frame->kind >= BL_FRAME_KINDS || frame->id > 0x1FFFFFFF ||
        frame->part < before->part ||
        (frame->part == before->part && frame->time_ns < before->time_ns)) {
        abort();
    }
}

static inline void read_recording(const uint8_t *data, size_t size,
                                  const struct bl_bus_options *options)
{
    struct bl_bytes *source = NULL;
    struct bl_bus_reader *reader = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    struct bl_frame last = {.time_ns = INT64_MIN};
    enum bl_status status =
        bl_bytes_open_memory(&source, "fuzz", data, size, &error);
    if (status == BL_OK) {
        status = bl_bus_open(&reader, source, options, &error);
    }
    size_t count = 1;
    while (status == BL_OK && count > 0) {
        const struct bl_frame *batch;
        status = bl_bus_next(reader, &batch, &count, &error);
        for (size_t i = 0; i < count; i++) {
            check_frame(bl_bus_info(reader), &batch[i], &last);
            last = batch[i];
        }
    }
    if (status != BL_OK && error.message[0] == '\0') {
        abort();
    }
    bl_bus_close(reader);
    bl_bytes_close(source);
}

static inline void read_as(const uint8_t *data, size_t size, const char *format)
{
    uint8_t *copy = malloc(size == 0 ? 1 : size);
    if (copy == NULL) {
        return;
    }
    if (size > 0) {
        memcpy(copy, data, size);
    }
    struct bl_bus_options options = {.format = format};
    read_recording(copy, size, &options);
    options.can_id_order = BL_ID_ORDER_LITTLE;
    read_recording(copy, size, &options);
    read_recording(copy, size, NULL);
    free(copy);
}

#endif
