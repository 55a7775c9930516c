/* SPDX-License-Identifier: MIT */
/*
 * pcap (nanoseconds) and pcapng, in either byte order. libpcap writes in the
 * order of the machine only, and no interfaces; both headers are a few
 * numbers, and libpcap reads what is written here in the tests.
 */
#include "bus/packet.h"
#include "bus/pcapng.h"
#include "bus/writer.h"

#include <string.h>

enum { SNAPLEN = 262144, OPTION_NAME = 2, OPTION_RESOLUTION = 9, NANO = 9 };

/* A block being put together in the file's byte order. */
struct pen {
    uint8_t byte[256];
    size_t at;
    bool big;
};

static void put16(struct pen *pen, unsigned value, bool big)
{
    pen->byte[pen->at] = (uint8_t)(big ? value >> 8 : value);
    pen->byte[pen->at + 1] = (uint8_t)(big ? value : value >> 8);
    pen->at += 2;
}

static void put32(struct pen *pen, uint32_t value, bool big)
{
    for (unsigned i = 0; i < 4; i++) {
        pen->byte[pen->at++] = (uint8_t)(value >> (big ? 24 - 8 * i : 8 * i));
    }
}

/* In file order. */
static void put_number(struct pen *pen, uint32_t value)
{
    put32(pen, value, pen->big);
}

static void put_bytes(struct pen *pen, const void *data, size_t size)
{
    memcpy(pen->byte + pen->at, data, size);
    pen->at += size;
}

static void put_zeros(struct pen *pen, size_t size)
{
    memset(pen->byte + pen->at, 0, size);
    pen->at += size;
}

/* The link header of cooked types (all numbers big-endian). */
static void put_link(struct pen *pen, int link_type,
                     const struct bl_frame *frame)
{
    const unsigned protocol =
        frame->kind == BL_FRAME_FD ? BL_PROTOCOL_FD : BL_PROTOCOL_CAN;
    const unsigned type =
        (frame->flags & BL_FRAME_OUTGOING) != 0 ? BL_PACKET_OUTGOING : 0;
    if (link_type == BL_LINK_SLL) {
        put16(pen, type, true);
        put16(pen, BL_ARPHRD_CAN, true);
        put_zeros(pen, 10);
        put16(pen, protocol, true);
    } else if (link_type == BL_LINK_SLL2) {
        put16(pen, protocol, true);
        put16(pen, 0, true);
        put32(pen, frame->bus + 1u, true); /* interfaces count from 1 */
        put16(pen, BL_ARPHRD_CAN, true);
        pen->byte[pen->at++] = (uint8_t)type;
        put_zeros(pen, 9);
    }
}

/* The packet as the kernel hands it out: 16 or 72 bytes and the link header. */
static void put_packet(struct pen *pen, int link_type,
                       const struct bl_frame *frame)
{
    uint32_t id = frame->id;
    id |= (frame->flags & BL_FRAME_EXTENDED) != 0 ? BL_CAN_EXTENDED : 0;
    id |= frame->kind == BL_FRAME_REMOTE ? BL_CAN_REMOTE : 0;
    id |= frame->kind == BL_FRAME_ERROR ? BL_CAN_ERROR : 0;
    const bool fd = frame->kind == BL_FRAME_FD;
    unsigned flags = 0;
    if (fd) {
        flags = BL_FD_FLAG_FDF;
        flags |=
            (frame->flags & BL_FRAME_BIT_RATE_SWITCH) != 0 ? BL_FD_FLAG_BRS : 0;
        flags |=
            (frame->flags & BL_FRAME_ERROR_STATE) != 0 ? BL_FD_FLAG_ESI : 0;
    }
    put_link(pen, link_type, frame);
    put32(pen, id, link_type == BL_LINK_CAN || pen->big);
    pen->byte[pen->at++] = frame->length;
    pen->byte[pen->at++] = (uint8_t)flags;
    put_zeros(pen, 2);
    const size_t room = (fd ? BL_FD_RECORD : BL_CLASSIC_RECORD) - BL_CAN_HEADER;
    const size_t length = frame->kind == BL_FRAME_REMOTE ? 0 : frame->length;
    put_bytes(pen, frame->data, length);
    put_zeros(pen, room - length);
}

static uint32_t packet_size(int link_type, const struct bl_frame *frame)
{
    uint32_t size =
        frame->kind == BL_FRAME_FD ? BL_FD_RECORD : BL_CLASSIC_RECORD;
    if (link_type == BL_LINK_SLL) {
        size += BL_SLL_BYTES;
    } else if (link_type == BL_LINK_SLL2) {
        size += BL_SLL2_BYTES;
    }
    return size;
}

static void flush(struct bl_bus_writer *writer, const struct pen *pen)
{
    bl_output_write(writer->output, pen->byte, pen->at);
}

static enum bl_status begin_pcap(struct bl_bus_writer *writer,
                                 struct bl_error *error)
{
    (void)error;
    struct pen pen = {.big = writer->big};
    put_number(&pen, 0xA1B23C4Du);
    put16(&pen, 2, pen.big);
    put16(&pen, 4, pen.big);
    put_zeros(&pen, 8);
    put_number(&pen, SNAPLEN);
    put_number(&pen, (uint32_t)writer->link_type);
    flush(writer, &pen);
    return BL_OK;
}

static enum bl_status put_pcap(struct bl_bus_writer *writer,
                               const struct bl_frame *frame,
                               struct bl_error *error)
{
    const int64_t seconds = frame->time_ns / 1000000000;
    if (frame->time_ns < 0 || seconds > UINT32_MAX) {
        return bl_fail(error, BL_UNSUPPORTED, NULL,
                       "expected a time from 1970 to 2106, which pcap can "
                       "hold, found second %lld",
                       (long long)seconds);
    }
    struct pen pen = {.big = writer->big};
    const uint32_t size = packet_size(writer->link_type, frame);
    put_number(&pen, (uint32_t)seconds);
    put_number(&pen, (uint32_t)(frame->time_ns % 1000000000));
    put_number(&pen, size);
    put_number(&pen, size);
    put_packet(&pen, writer->link_type, frame);
    flush(writer, &pen);
    return BL_OK;
}

/* An option, padded to four bytes. */
static void put_option(struct pen *pen, unsigned code, const void *data,
                       size_t size)
{
    put16(pen, code, pen->big);
    put16(pen, (unsigned)size, pen->big);
    if (size > 0) {
        put_bytes(pen, data, size);
    }
    put_zeros(pen, (4 - size % 4) % 4);
}

/* Fills in both lengths of the block that began at 0. */
static void close_block(struct pen *pen)
{
    put_number(pen, 0);
    const size_t end = pen->at;
    pen->at = 4;
    put_number(pen, (uint32_t)end);
    pen->at = end - 4;
    put_number(pen, (uint32_t)end);
}

static void put_interface(struct bl_bus_writer *writer, const char *name)
{
    static const uint8_t resolution = NANO;
    struct pen pen = {.big = writer->big};
    put_number(&pen, BL_NG_INTERFACE);
    put_number(&pen, 0);
    put16(&pen, (unsigned)writer->link_type, pen.big);
    put16(&pen, 0, pen.big);
    put_number(&pen, SNAPLEN);
    if (name[0] != '\0') {
        put_option(&pen, OPTION_NAME, name, strlen(name));
    }
    put_option(&pen, OPTION_RESOLUTION, &resolution, 1);
    put_option(&pen, 0, NULL, 0);
    close_block(&pen);
    flush(writer, &pen);
}

static enum bl_status begin_pcapng(struct bl_bus_writer *writer,
                                   struct bl_error *error)
{
    (void)error;
    struct pen pen = {.big = writer->big};
    put_number(&pen, BL_NG_SECTION_TYPE);
    put_number(&pen, 0);
    put_number(&pen, 0x1A2B3C4Du);
    put16(&pen, 1, pen.big);
    put16(&pen, 0, pen.big);
    put_number(&pen, UINT32_MAX); /* section length: not stated */
    put_number(&pen, UINT32_MAX);
    close_block(&pen);
    flush(writer, &pen);
    for (size_t i = 0; i < writer->buses; i++) {
        put_interface(writer, writer->bus[i]);
    }
    return BL_OK;
}

static enum bl_status put_pcapng(struct bl_bus_writer *writer,
                                 const struct bl_frame *frame,
                                 struct bl_error *error)
{
    if (frame->time_ns < 0) {
        return bl_fail(error, BL_UNSUPPORTED, NULL,
                       "expected a time from 1970 on, which pcapng can hold, "
                       "found %lld ns",
                       (long long)frame->time_ns);
    }
    struct pen pen = {.big = writer->big};
    const uint32_t size = packet_size(writer->link_type, frame);
    put_number(&pen, BL_NG_PACKET);
    put_number(&pen, 0);
    put_number(&pen, frame->bus);
    put_number(&pen, (uint32_t)((uint64_t)frame->time_ns >> 32));
    put_number(&pen, (uint32_t)((uint64_t)frame->time_ns & UINT32_MAX));
    put_number(&pen, size);
    put_number(&pen, size);
    put_packet(&pen, writer->link_type, frame);
    close_block(&pen);
    flush(writer, &pen);
    return BL_OK;
}

const struct bl_bus_writer_format bl_write_pcap = {
    .name = "pcap", .begin = begin_pcap, .put = put_pcap};
const struct bl_bus_writer_format bl_write_pcapng = {
    .name = "pcapng", .begin = begin_pcapng, .put = put_pcapng};
