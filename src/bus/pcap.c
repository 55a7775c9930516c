/* SPDX-License-Identifier: MIT */
/*
 * Classic pcap. The usual version 2.4 is read record by record from the bytes
 * at hand; older ones and those of an old kernel patch through libpcap, at
 * nanoseconds, over a FILE on the byte source
 * (docs/decisions/0011-own-pcap-records.md). Feeds packet.c. A damaged record
 * ends the reading: what stands before it is delivered.
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

enum { HEADER_BYTES = 24, RECORD_BYTES = 16 };
/* libpcap's MAXIMUM_SNAPLEN: a longer record is damage. */
enum { LONGEST = 262144 };
static const int64_t SECOND_NS = 1000000000;

struct pcap_reader {
    struct bl_bus_context *context;
    /* Without libpcap. */
    bool big;
    uint32_t snaplen;
    int64_t fraction_ns; /* what the second half of a stamp counts */
    bool usual;          /* records may be what take_usual reads */
    struct bl_stdio bridge;
    pcap_t *pcap;
    int link_type;
    enum bl_id_order file_order, data_order;
    uint16_t bus;
    uint64_t records;
    bool done;
};

/* Magic numbers as they are in the file. */
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
enum { MAGICS = sizeof(magic) / sizeof(magic[0]), USUAL_MAGICS = 4 };

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

/* A kind of magic number that is read here, version 2.4. */
static bool is_usual(size_t kind, const uint8_t *header, bool big)
{
    const uint32_t version = big ? UINT32_C(0x00020004) : UINT32_C(0x00040002);
    return kind < USUAL_MAGICS && bl_packet_32(big, header + 4) == version;
}

static void open_records(struct pcap_reader *reader, const uint8_t *header)
{
    reader->fraction_ns = reader->context->info.resolution_ns;
    /* As libpcap: none, or one that cannot be, is the longest. */
    const uint32_t snaplen = bl_packet_32(reader->big, header + 16);
    reader->snaplen = snaplen == 0 || snaplen > INT32_MAX ? LONGEST : snaplen;
    reader->data_order = reader->file_order;
    reader->usual = bl_packet_may_be_usual(reader->context, reader->link_type);
    bl_bytes_take(reader->context->source, HEADER_BYTES);
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
    reader->big = order == BL_ID_ORDER_BIG;
    if (is_usual(kind, header, reader->big)) {
        open_records(reader, header);
    } else {
        status = open_pcap(reader, error);
    }
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

/* Why libpcap gave no further record: the end, a cut record (a note), damage,
   or the byte source's own failure. */
static enum bl_status at_stop(struct pcap_reader *reader, int code,
                              struct bl_error *error)
{
    const char *name = bl_bytes_name(reader->context->source);
    if (code == PCAP_ERROR_BREAK) {
        return BL_OK;
    }
    const bool failed = reader->bridge.status != BL_OK;
    if (failed || !feof(reader->bridge.file)) {
        reader->context->info.after_damage = true;
    }
    if (failed) {
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

/* One record with its stamp into the next frame. A fraction of a second or more
   is no stamp. */
static enum bl_status take_record(struct pcap_reader *reader,
                                  struct bl_packet *packet, uint32_t seconds,
                                  int64_t fraction_ns, struct bl_batch *to,
                                  struct bl_error *error)
{
    struct bl_bus_context *context = reader->context;
    struct bl_frame *frame = to->frame + to->count;
    reader->records++;
    if (fraction_ns < 0 || fraction_ns >= SECOND_NS) {
        context->info.after_damage = true;
        return bl_note(&context->info.notes, "impossible-stamp", -1,
                       packet->place,
                       "record %" PRIu64 " has a stamp with a fraction of a "
                       "second or more; excluded",
                       reader->records);
    }
    packet->time_ns = (int64_t)seconds * SECOND_NS + fraction_ns;
    bool taken;
    const enum bl_status status =
        bl_packet_frame(context, packet, frame, &taken, error);
    to->count += bl_bus_taken(context, frame, taken);
    return status;
}

static enum bl_status next_by_library(struct pcap_reader *reader,
                                      struct bl_packet *packet,
                                      struct bl_batch *to,
                                      struct bl_error *error)
{
    while (to->count < to->room && !reader->done) {
        struct pcap_pkthdr *header;
        const int code = pcap_next_ex(reader->pcap, &header, &packet->data);
        if (code != 1) {
            reader->done = true;
            return at_stop(reader, code, error);
        }
        packet->size = header->caplen;
        /* libpcap reads the seconds as signed, which is negative after 2038:
           the 32 bits are what was written. */
        const enum bl_status status =
            take_record(reader, packet, (uint32_t)header->ts.tv_sec,
                        (int64_t)header->ts.tv_usec, to, error);
        if (status != BL_OK) {
            return status;
        }
    }
    return BL_OK;
}

/* Bytes at hand: `used` of them are taken, `wanted` are needed for what stands
   next. */
struct window {
    const uint8_t *data;
    size_t size, used, wanted;
};

/*
 * Records for as long as they are as nearly all are (bl_packet_usual). The
 * first other one, also a cut or a damaged one, is left to take_records.
 */
static void take_usual(struct pcap_reader *reader, bool big, struct window *at,
                       struct bl_batch *into)
{
    struct bl_bus_context *context = reader->context;
    struct bl_id_check check = context->id_check;
    const int64_t fraction_ns = reader->fraction_ns;
    const uint32_t snaplen = reader->snaplen;
    const uint16_t bus = reader->bus;
    const uint8_t *data = at->data;
    const size_t size = at->size;
    size_t used = at->used;
    struct bl_frame *to = into->frame + into->count;
    struct bl_frame *const first = to;
    struct bl_frame *const end = into->frame + into->room;
    while (to < end && size - used >= RECORD_BYTES) {
        const uint8_t *record = data + used;
        const uint32_t captured = bl_packet_32(big, record + 8);
        const int64_t fraction =
            (int64_t)bl_packet_32(big, record + 4) * fraction_ns;
        if (captured > snaplen || captured > bl_packet_32(big, record + 12) ||
            size - used - RECORD_BYTES < captured || fraction >= SECOND_NS ||
            !bl_packet_usual(&check, record + RECORD_BYTES, captured, to)) {
            break;
        }
        to->time_ns = bl_packet_32(big, record) * SECOND_NS + fraction;
        to->bus = bus;
        used += RECORD_BYTES + captured;
        to++;
    }
    const size_t taken = (size_t)(to - first);
    context->id_check = check;
    reader->records += taken;
    into->count += taken;
    (void)bl_bus_taken(context, first, taken > 0);
    at->used = used;
}

/* More was captured than there was: one of the two lengths is damaged, and the
   next records may lie inside this one. */
static enum bl_status note_length(struct pcap_reader *reader, int64_t place)
{
    reader->context->info.after_damage = true;
    return bl_note(&reader->context->info.notes, "wrong-length", -1, place,
                   "record %" PRIu64 " holds more bytes than its packet had: "
                   "one of its lengths is damaged",
                   reader->records + 1);
}

/* Whole records of a window into frames. */
static enum bl_status take_records(struct pcap_reader *reader,
                                   struct bl_packet *packet, struct window *at,
                                   struct bl_batch *to, struct bl_error *error)
{
    struct bl_bytes *source = reader->context->source;
    const int64_t place = bl_bytes_offset(source);
    const bool big = reader->big;
    enum bl_status status = BL_OK;
    const uint32_t longest =
        reader->link_type == BL_LINK_CAN ? BL_PACKET_LONGEST_CAN : LONGEST;
    at->used = 0;
    at->wanted = RECORD_BYTES;
    while (to->count < to->room && at->size - at->used >= RECORD_BYTES &&
           status == BL_OK) {
        if (reader->usual) {
            if (big) {
                take_usual(reader, true, at, to);
            } else {
                take_usual(reader, false, at, to);
            }
            if (to->count == to->room || at->size - at->used < RECORD_BYTES) {
                break;
            }
        }
        const uint8_t *record = at->data + at->used;
        const uint32_t captured = bl_packet_32(big, record + 8);
        packet->place = place + (int64_t)at->used;
        if (captured > longest) {
            return bl_fail_offset(
                error, BL_FORMAT, bl_bytes_name(source), packet->place + 8,
                "pcap record %" PRIu64 " is damaged: expected at most %" PRIu32
                " bytes of packet, found %" PRIu32,
                reader->records + 1, longest, captured);
        }
        if (at->size - at->used - RECORD_BYTES < captured) {
            at->wanted = RECORD_BYTES + captured;
            break;
        }
        const bool doubtful = captured > bl_packet_32(big, record + 12);
        if (doubtful) {
            status = note_length(reader, packet->place + 8);
        }
        packet->data = record + RECORD_BYTES;
        packet->size = captured > reader->snaplen ? reader->snaplen : captured;
        at->used += RECORD_BYTES + captured;
        status = status != BL_OK
                     ? status
                     : take_record(reader, packet, bl_packet_32(big, record),
                                   (int64_t)bl_packet_32(big, record + 4) *
                                       reader->fraction_ns,
                                   to, error);
        reader->context->info.after_damage =
            reader->context->info.after_damage || doubtful;
    }
    return status;
}

static enum bl_status next_records(struct pcap_reader *reader,
                                   struct bl_packet *packet,
                                   struct bl_batch *to, struct bl_error *error)
{
    struct bl_bytes *source = reader->context->source;
    struct window at = {.wanted = RECORD_BYTES};
    while (to->count < to->room && !reader->done) {
        const enum bl_status seen =
            bl_bytes_window(source, at.wanted, &at.data, &at.size, error);
        if (at.size < at.wanted) {
            reader->done = true;
            if (seen != BL_OK) {
                reader->context->info.after_damage = true;
            }
            return seen != BL_OK || at.size == 0
                       ? seen
                       : bl_note(&reader->context->info.notes,
                                 "cut-last-record", -1, bl_bytes_offset(source),
                                 "record %" PRIu64
                                 ", the last one, is cut: expected %zu bytes, "
                                 "found %zu",
                                 reader->records + 1, at.wanted, at.size);
        }
        const enum bl_status status =
            take_records(reader, packet, &at, to, error);
        bl_bytes_take(source, at.used);
        if (status != BL_OK) {
            reader->done = true;
            reader->context->info.after_damage = true;
            return status;
        }
    }
    return BL_OK;
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
    struct bl_batch to = {.frame = frame, .room = room};
    const enum bl_status status =
        reader->pcap != NULL ? next_by_library(reader, &packet, &to, error)
                             : next_records(reader, &packet, &to, error);
    *count = to.count;
    return status;
}

const struct bl_bus_format bl_format_pcap = {
    .name = "pcap",
    .called = "pcap",
    .probe = probe,
    .open = open_reader,
    .next = next,
    .close = close_reader,
};
