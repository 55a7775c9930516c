/* SPDX-License-Identifier: MIT */
/* What the writer of one format gives to writer.c. */
#ifndef BRAKELAG_SRC_BUS_WRITER_H
#define BRAKELAG_SRC_BUS_WRITER_H

#include "brakelag/bus.h"

struct bl_bus_writer {
    const struct bl_bus_writer_format *format;
    struct bl_output *output;
    int link_type;
    bool big;
    char (*bus)[BL_BUS_NAME_MAX];
    size_t buses;
};

struct bl_bus_writer_format {
    const char *name;
    enum bl_status (*begin)(struct bl_bus_writer *writer,
                            struct bl_error *error);
    enum bl_status (*put)(struct bl_bus_writer *writer,
                          const struct bl_frame *frame, struct bl_error *error);
};

extern const struct bl_bus_writer_format bl_write_pcap;
extern const struct bl_bus_writer_format bl_write_pcapng;
extern const struct bl_bus_writer_format bl_write_textlog;

#endif
