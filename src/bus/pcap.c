/* SPDX-License-Identifier: MIT */
/*
 * Classic pcap through libpcap, at nanoseconds, over a FILE on the byte
 * source. Feeds packet.c. libpcap stops at a damaged record: what stands
 * before it is delivered.
 */
/* libpcap's headers use BSD type names. */
#define _DEFAULT_SOURCE
#include "bus/packet.h"

#include "base/alloc.h"
#include "io/stdio_bridge.h"

#include <inttypes.h>
#include <pcap/pcap.h>
#include <stdio.h>
#include <string.h>

enum { HEADER_BYTES = 24 };

struct pcap_reader {
    struct bl_bus_context *context;
    struct bl_stdio bridge;
    pcap_t *pcap;
    int link_type;
    enum bl_id_order file_order, data_order;
    uint16_t bus;
    uint64_t records;
    bool done;
};

/* Magic numbers as they stand in the file. */
static const struct {
    uint8_t byte[4];
    enum bl_id_order order;
    int64_t resolution_ns;
} magic[] = {
    {{0xA1, 0xB2, 0xC3, 0xD4}, BL_ID_ORDER_BIG, 1000},
    {{0xD4, 0xC3, 0xB2, 0xA1}, BL_ID_ORDER_LITTLE, 1000},
    {{0xA1, 0xB2, 0x3C, 0x4D}, BL_ID_ORDER_BIG, 1},
    {{0x4D, 0x3C, 0xB2, 0xA1}, BL_ID_ORDER_LITTLE, 1},
    /* with longer record headers, by an old kernel patch */
    {{0xA1, 0xB2, 0xCD, 0x34}, BL_ID_ORDER_BIG, 1000},
    {{0x34, 0xCD, 0xB2, 0xA1}, BL_ID_ORDER_LITTLE, 1000},
};
enum { MAGICS = sizeof(magic) / sizeof(magic[0]) };

static size_t find_magic(const uint8_t *data)
{
    size_t i = 0;
    while (i < MAGICS && memcmp(data, magic[i].byte, 4) != 0) {
        i++;
    }
    return i;
}

static enum bl_bus_answer probe(const uint8_t *data, size_t size, bool all,
                                struct bl_error *why)
{
    if (size < 4) {
        return all ? BL_BUS_NOT_MINE : BL_BUS_NEED_MORE;
    }
    if (find_magic(data) == MAGICS) {
        return BL_BUS_NOT_MINE;
    }
    if (size >= HEADER_BYTES) {
        return BL_BUS_MINE;
    }
    if (!all) {
        return BL_BUS_NEED_MORE;
    }
    (void)bl_fail_offset(why, BL_TRUNCATED, NULL, (int64_t)size,
                         "expected a pcap header of %d bytes, found %zu",
                         HEADER_BYTES, size);
    return BL_BUS_BROKEN;
}

static enum bl_id_order host_order(void)
{
    const uint16_t one = 1;
    uint8_t first;
    memcpy(&first, &one, 1);
    return first == 1 ? BL_ID_ORDER_LITTLE : BL_ID_ORDER_BIG;
}

/* The number in the file: libpcap gives its own for some. */
static unsigned written_link_type(const uint8_t *header, enum bl_id_order order)
{
    return order == BL_ID_ORDER_BIG ? (unsigned)header[22] << 8 | header[23]
                                    : (unsigned)header[21] << 8 | header[20];
}

static void close_reader(void *state)
{
    struct pcap_reader *reader = state;
    if (reader->pcap != NULL) {
        pcap_close(reader->pcap); /* and the FILE */
        reader->bridge.file = NULL;
    }
    bl_stdio_close(&reader->bridge);
    bl_free(reader);
}

static enum bl_status open_pcap(struct pcap_reader *reader,
                                struct bl_error *error)
{
    struct bl_bytes *source = reader->context->source;
    const char *name = bl_bytes_name(source);
    char text[PCAP_ERRBUF_SIZE] = "";
    const enum bl_status status =
        bl_stdio_open_source(&reader->bridge, source, error);
    if (status != BL_OK) {
        return status;
    }
    reader->pcap = pcap_fopen_offline_with_tstamp_precision(
        reader->bridge.file, PCAP_TSTAMP_PRECISION_NANO, text);
    if (reader->pcap == NULL) {
        if (reader->bridge.status != BL_OK) {
            if (error != NULL) {
                *error = reader->bridge.error;
            }
            return reader->bridge.status;
        }
        return bl_fail(error, BL_FORMAT, name, "damaged pcap header: %s", text);
    }
    return BL_OK;
}

static enum bl_status open_reader(void **out, struct bl_bus_context *context,
                                  struct bl_error *error)
{
    const uint8_t *header;
    size_t size;
    enum bl_status status =
        bl_bytes_window(context->source, HEADER_BYTES, &header, &size, error);
    if (status != BL_OK) {
        return status;
    }
    const char *name = bl_bytes_name(context->source);
    const size_t kind = size < HEADER_BYTES ? MAGICS : find_magic(header);
    if (kind == MAGICS) {
        return bl_fail_offset(error, BL_FORMAT, name, 0,
                              "expected a pcap header, found other bytes");
    }
    const enum bl_id_order order = magic[kind].order;
    const unsigned link_type = written_link_type(header, order);
    struct pcap_reader *reader = bl_alloc(1, sizeof(*reader));
    if (reader == NULL) {
        return bl_fail_memory(error);
    }
    reader->context = context;
    reader->link_type = (int)link_type;
    reader->file_order = order;
    /* libpcap turns cooked CAN ids with the file. */
    reader->data_order = host_order();
    context->info.resolution_ns = magic[kind].resolution_ns;
    status = open_pcap(reader, error);
    if (status == BL_OK && !bl_packet_known((int)link_type)) {
        status = bl_fail_offset(error, BL_UNSUPPORTED, name, 20,
                                "expected link type 227, 113 or 276 (CAN), "
                                "found link type %u",
                                link_type);
    }
    if (status == BL_OK && link_type != BL_LINK_SLL2) {
        status = bl_bus_index(context, "", 0, 0, &reader->bus, error);
    }
    if (status != BL_OK) {
        close_reader(reader);
        return status;
    }
    *out = reader;
    return BL_OK;
}

/* Nanoseconds; false: the fraction is none. libpcap reads the seconds as
   signed, which is negative after 2038: the 32 bits are what was written. */
static bool stamp(const struct pcap_pkthdr *header, int64_t *time_ns)
{
    const int64_t seconds = (int64_t)((uint32_t)header->ts.tv_sec);
    const int64_t fraction = (int64_t)header->ts.tv_usec;
    *time_ns = seconds * 1000000000 + fraction;
    return fraction >= 0 && fraction < 1000000000;
}

/* Why libpcap gave no further record: the end, a cut record (a note), damage,
   or the byte source's own failure. */
static enum bl_status at_stop(struct pcap_reader *reader, int code,
                              struct bl_error *error)
{
    const char *name = bl_bytes_name(reader->context->source);
    if (code == PCAP_ERROR_BREAK) {
        return BL_OK;
    }
    if (reader->bridge.status != BL_OK) {
        if (error != NULL) {
            *error = reader->bridge.error;
        }
        return reader->bridge.status;
    }
    if (feof(reader->bridge.file)) {
        return bl_note(&reader->context->info.notes, "cut-last-record", -1,
                       bl_bytes_offset(reader->context->source),
                       "record %" PRIu64 ", the last one, is cut: %s",
                       reader->records + 1, pcap_geterr(reader->pcap));
    }
    return bl_fail(error, BL_FORMAT, name,
                   "pcap record %" PRIu64 " is damaged: %s",
                   reader->records + 1, pcap_geterr(reader->pcap));
}

static enum bl_status next(void *state, struct bl_frame *frame, size_t room,
                           size_t *count, struct bl_error *error)
{
    struct pcap_reader *reader = state;
    struct bl_packet packet = {.link_type = reader->link_type,
                               .file_order = reader->file_order,
                               .data_order = reader->data_order,
                               .bus = reader->bus,
                               .place = -1};
    *count = 0;
    while (*count < room && !reader->done) {
        struct pcap_pkthdr *header;
        const int code = pcap_next_ex(reader->pcap, &header, &packet.data);
        if (code != 1) {
            reader->done = true;
            return at_stop(reader, code, error);
        }
        reader->records++;
        packet.size = header->caplen;
        enum bl_status status = BL_OK;
        if (!stamp(header, &packet.time_ns)) {
            status = bl_note(
                &reader->context->info.notes, "impossible-stamp", -1, -1,
                "record %" PRIu64 " has a stamp with a fraction of a second or "
                "more; excluded",
                reader->records);
        } else {
            bool taken;
            status = bl_packet_frame(reader->context, &packet, frame + *count,
                                     &taken, error);
            *count += taken;
        }
        if (status != BL_OK) {
            return status;
        }
    }
    return BL_OK;
}

const struct bl_bus_format bl_format_pcap = {
    .name = "pcap",
    .description = "classic packet capture, microseconds or nanoseconds",
    .probe = probe,
    .open = open_reader,
    .next = next,
    .close = close_reader,
};
