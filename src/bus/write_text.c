/* SPDX-License-Identifier: MIT */
/* The timestamped text recording; textline.h says what a line holds. */
#include "bus/writer.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#define ERROR_FLAG 0x20000000u

enum { HEAD_BYTES = 160, LINE_BYTES = HEAD_BYTES + 2 * 64 + 8 };

static const char digits[] = "0123456789ABCDEF";

/* A name must be one word. */
static enum bl_status begin(struct bl_bus_writer *writer,
                            struct bl_error *error)
{
    (void)error;
    for (size_t i = 0; i < writer->buses; i++) {
        char *name = writer->bus[i];
        if (name[0] == '\0') {
            (void)snprintf(name, BL_BUS_NAME_MAX, "can%zu", i);
        }
        for (; *name != '\0'; name++) {
            if (*name == ' ' || *name == '\t' || *name == '\n' ||
                *name == '\r') {
                *name = '_';
            }
        }
    }
    return BL_OK;
}

/* Time, bus and id. Six digits of fraction where they say all. */
static size_t write_head(const struct bl_bus_writer *writer,
                         const struct bl_frame *frame, char *text)
{
    const bool negative = frame->time_ns < 0;
    const uint64_t size = negative ? (uint64_t)0 - (uint64_t)frame->time_ns
                                   : (uint64_t)frame->time_ns;
    const uint64_t fraction = size % 1000000000;
    const bool micro = fraction % 1000 == 0;
    const bool wide = (frame->flags & BL_FRAME_EXTENDED) != 0 ||
                      frame->kind == BL_FRAME_ERROR;
    const uint32_t id =
        frame->kind == BL_FRAME_ERROR ? frame->id | ERROR_FLAG : frame->id;
    const int length = snprintf(
        text, HEAD_BYTES, "(%s%010" PRIu64 ".%0*" PRIu64 ") %s %0*" PRIX32 "#",
        negative ? "-" : "", size / 1000000000, micro ? 6 : 9,
        micro ? fraction / 1000 : fraction, writer->bus[frame->bus],
        wide ? 8 : 3, id);
    return length < 0 ? 0 : (size_t)length;
}

static enum bl_status put(struct bl_bus_writer *writer,
                          const struct bl_frame *frame, struct bl_error *error)
{
    (void)error;
    char text[LINE_BYTES];
    size_t at = write_head(writer, frame, text);
    if (frame->kind == BL_FRAME_REMOTE) {
        text[at++] = 'R';
        text[at++] = digits[frame->length];
    } else {
        if (frame->kind == BL_FRAME_FD) {
            text[at++] = '#';
            text[at++] =
                digits[((frame->flags & BL_FRAME_BIT_RATE_SWITCH) != 0) |
                       ((frame->flags & BL_FRAME_ERROR_STATE) != 0) << 1];
        }
        for (size_t i = 0; i < frame->length; i++) {
            text[at++] = digits[frame->data[i] >> 4];
            text[at++] = digits[frame->data[i] & 15];
        }
    }
    if ((frame->flags & BL_FRAME_OUTGOING) != 0) {
        text[at++] = ' ';
        text[at++] = 'T';
    }
    text[at++] = '\n';
    bl_output_write(writer->output, text, at);
    return BL_OK;
}

const struct bl_bus_writer_format bl_write_textlog = {
    .name = "textlog", .begin = begin, .put = put};
