/* SPDX-License-Identifier: MIT */
#include "bus/writer.h"

#include "base/alloc.h"
#include "bus/packet.h"

#include <string.h>

static const struct bl_bus_writer_format *const formats[] = {
    &bl_write_pcap, &bl_write_pcapng, &bl_write_textlog};
enum { FORMATS = sizeof(formats) / sizeof(formats[0]) };

static const struct bl_bus_writer_format *find_format(const char *name)
{
    for (size_t i = 0; name != NULL && i < FORMATS; i++) {
        if (strcmp(name, formats[i]->name) == 0) {
            return formats[i];
        }
    }
    return NULL;
}

static enum bl_status check_options(const struct bl_bus_writer_options *options,
                                    struct bl_error *error)
{
    const struct bl_bus_writer_format *format = find_format(options->format);
    if (format == NULL) {
        return bl_fail(error, BL_ARG, NULL,
                       "expected the format pcap, pcapng or textlog, found "
                       "'%s'",
                       options->format == NULL ? "" : options->format);
    }
    if (options->link_type != 0 && !bl_packet_known(options->link_type)) {
        return bl_fail(error, BL_ARG, NULL,
                       "expected link type 227, 113 or 276, found %d",
                       options->link_type);
    }
    if (options->buses > BL_BUS_MAX) {
        return bl_fail(error, BL_ARG, NULL,
                       "expected at most %d buses, found %zu", BL_BUS_MAX,
                       options->buses);
    }
    if (format == &bl_write_pcap && options->buses > 1 &&
        options->link_type != BL_LINK_SLL2) {
        return bl_fail(error, BL_UNSUPPORTED, NULL,
                       "expected one bus for pcap with this link type, found "
                       "%zu: only link type 276, pcapng and textlog tell "
                       "buses apart",
                       options->buses);
    }
    return BL_OK;
}

struct bl_bus_writer_options bl_bus_writer_options_default(void)
{
    return (struct bl_bus_writer_options){.format = "pcapng", .link_type = 227};
}

enum bl_status bl_bus_writer_open(struct bl_bus_writer **out,
                                  struct bl_output *output,
                                  const struct bl_bus_writer_options *options,
                                  struct bl_error *error)
{
    *out = NULL;
    enum bl_status status = check_options(options, error);
    if (status != BL_OK) {
        return status;
    }
    struct bl_bus_writer *writer = bl_alloc(1, sizeof(*writer));
    if (writer == NULL) {
        return bl_fail_memory(error);
    }
    writer->format = find_format(options->format);
    writer->output = output;
    writer->link_type =
        options->link_type == 0 ? BL_LINK_CAN : options->link_type;
    writer->big = options->big_endian;
    writer->buses = options->buses == 0 ? 1 : options->buses;
    writer->bus = bl_alloc(writer->buses, sizeof(*writer->bus));
    if (writer->bus == NULL) {
        bl_free(writer);
        return bl_fail_memory(error);
    }
    for (size_t i = 0; i < options->buses && options->bus != NULL; i++) {
        const char *name = options->bus[i] == NULL ? "" : options->bus[i];
        memcpy(writer->bus[i], name, strnlen(name, BL_BUS_NAME_MAX - 1));
    }
    status = writer->format->begin(writer, error);
    if (status != BL_OK) {
        bl_free(writer->bus);
        bl_free(writer);
        return status;
    }
    *out = writer;
    return BL_OK;
}

enum bl_status bl_bus_writer_put(struct bl_bus_writer *writer,
                                 const struct bl_frame *frame,
                                 struct bl_error *error)
{
    const size_t most = frame->kind == BL_FRAME_FD ? 64 : 8;
    if (frame->bus >= writer->buses) {
        return bl_fail(error, BL_ARG, NULL,
                       "expected a frame on one of %zu buses, found bus %u",
                       writer->buses, frame->bus);
    }
    if (frame->kind >= BL_FRAME_KINDS || frame->length > most ||
        frame->id > BL_CAN_ID) {
        return bl_fail(error, BL_ARG, NULL,
                       "expected a frame of at most %zu bytes, found kind %u, "
                       "%u bytes, identifier %x",
                       most, frame->kind, frame->length, (unsigned)frame->id);
    }
    return writer->format->put(writer, frame, error);
}

enum bl_status bl_bus_writer_close(struct bl_bus_writer *writer,
                                   struct bl_error *error)
{
    /* Failures of the output stick there and are reported by its commit. */
    (void)error;
    bl_free(writer->bus);
    bl_free(writer);
    return BL_OK;
}
