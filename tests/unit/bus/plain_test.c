/* SPDX-License-Identifier: MIT */
/*
 * The short ways through recordings against the long ones: plain text lines
 * against the parser that reads all lines, pcap records against libpcap,
 * which is another program's reading of the same format, and pcapng blocks
 * against the same ones from a source that shows a few bytes at a time, so that
 * none is seen whole by the short way. Whole ones, and ones with a byte changed
 * at random.
 */
/* libpcap's headers use BSD type names. */
#define _DEFAULT_SOURCE
#include "recordings.h"

#include "base/random.h"
#include "bus/textline.h"
#include "io/bytes.h"

#include <inttypes.h>
#include <pcap/pcap.h>
#include <stdio.h>

enum { LINES = 200000, FILES = 300, RECORDS = 40 };

static const char *const buses[] = {"can0", "can1", "bus-of-trailer1",
                                    "bus-of-trailer-10", "bus-of-trailer-11"};
enum { BUSES = sizeof(buses) / sizeof(buses[0]) };

static size_t make_line(struct bl_random *random, const char *bus, char *text,
                        size_t size)
{
    /* Seconds that come again, and others. */
    const uint64_t seconds = bl_random_below(random, 2) == 0
                                 ? bl_random_below(random, 4100000000U)
                                 : 1700000000 + bl_random_below(random, 2);
    const int digits = (int)bl_random_below(random, 10);
    const uint64_t length = bl_random_below(random, 10);
    size_t at = (size_t)snprintf(
        text, size, "(%" PRIu64 ".%0*" PRIu64 ") %s %08" PRIX64 "#", seconds,
        digits, digits == 0 ? 0 : bl_random_below(random, 1000000000), bus,
        bl_random_below(random, UINT64_C(0x20000010)));
    static const char hex[] = "0123456789abcdefABCDEF";
    for (uint64_t i = 0; i < 2 * length; i++) {
        text[at++] = hex[bl_random_below(random, sizeof(hex) - 1)];
    }
    if (bl_random_below(random, 4) == 0) {
        text[at++] = '\r';
    }
    text[at++] = '\n';
    if (bl_random_below(random, 3) == 0) {
        text[bl_random_below(random, at)] =
            (char)(32 + bl_random_below(random, 95));
    }
    return at;
}

static void plain_lines_are_read_as_all_lines(void **state)
{
    (void)state;
    struct bl_random random;
    bl_random_seed(&random, 11);
    size_t plain = 0;
    struct bl_textline_before before = {.bus_length = 0};
    for (size_t i = 0; i < LINES; i++) {
        const char *bus = buses[bl_random_below(&random, BUSES)];
        if (i % 4 == 0) {
            assert_true(bl_textline_keep_bus(&before, bus, strlen(bus)));
        }
        char text[BL_TEXTLINE_PLAIN + 128];
        memset(text, '7', sizeof(text));
        const size_t length = make_line(&random, bus, text, sizeof(text));
        /* Behind the line stands the next one. */
        memset(text + length, '(', 1);
        struct bl_frame quick = {.bus = 0};
        unsigned digits = 0;
        const char *next = bl_textline_plain(text, &before, &quick, &digits);
        if (next == NULL) {
            continue;
        }
        plain++;
        size_t end = (size_t)(next - text) - 1;
        assert_int_equal(text[end], '\n');
        end -= end > 0 && text[end - 1] == '\r';
        struct bl_frame frame;
        struct bl_textline line;
        assert_int_equal(bl_textline_parse(text, end, &frame, &line),
                         BL_TEXTLINE_FRAME);
        assert_int_equal(line.bus_length, before.bus_length);
        assert_memory_equal(line.bus, before.bus, before.bus_length);
        assert_int_equal(line.fraction_digits, digits);
        if (!same_frame(&frame, &quick)) {
            fail_msg("%.*s is read in two ways", (int)end, text);
        }
    }
    assert_true(plain > LINES / 8);
}

static void put(uint8_t *to, uint32_t value, bool big)
{
    for (int i = 0; i < 4; i++) {
        to[i] = (uint8_t)(value >> (big ? 24 - 8 * i : 8 * i));
    }
}

static size_t make_pcap(struct bl_random *random, uint8_t *data)
{
    const bool big = bl_random_below(random, 2) == 0;
    const bool nano = bl_random_below(random, 2) == 0;
    put(data, nano ? 0xA1B23C4D : 0xA1B2C3D4, big);
    put(data + 4, big ? 0x00020004 : 0x00040002, big);
    put(data + 8, 0, big);
    put(data + 12, 0, big);
    put(data + 16, bl_random_below(random, 4) == 0 ? 14 : 262144, big);
    put(data + 20, 227, big);
    size_t at = 24;
    for (int i = 0; i < RECORDS; i++) {
        uint32_t size = 16;
        if (bl_random_below(random, 20) == 0) {
            size = (uint32_t)bl_random_below(random, 80);
        }
        put(data + at, (uint32_t)(4000000000U + (uint32_t)i), big);
        put(data + at + 4, (uint32_t)bl_random_below(random, 999999), big);
        put(data + at + 8, size, big);
        put(data + at + 12, size, big);
        memset(data + at + 16, 0, size);
        if (size >= 16) {
            put(data + at + 16,
                0x80000000U | (uint32_t)bl_random_below(random, 0x20000000),
                true);
            data[at + 20] = 8;
            for (int k = 8; k < 16; k++) {
                data[at + 16 + k] = (uint8_t)bl_random_below(random, 256);
            }
        }
        at += 16 + size;
    }
    if (bl_random_below(random, 2) == 0) {
        /* Not the header's: libpcap reads other kinds of file, too. */
        data[24 + bl_random_below(random, at - 24)] =
            (uint8_t)bl_random_below(random, 256);
    }
    if (bl_random_below(random, 4) == 0) {
        at -= bl_random_below(random, 40);
    }
    return at;
}

/* libpcap's packets that are whole extended frames of eight bytes. */
static size_t by_library(const uint8_t *data, size_t size,
                         struct bl_frame *frame, bool *damaged)
{
    char why[PCAP_ERRBUF_SIZE];
    FILE *file = fmemopen((void *)(uintptr_t)data, size, "rb");
    assert_non_null(file);
    pcap_t *pcap = pcap_fopen_offline_with_tstamp_precision(
        file, PCAP_TSTAMP_PRECISION_NANO, why);
    assert_non_null(pcap);
    struct pcap_pkthdr *header;
    const uint8_t *packet;
    size_t count = 0;
    int code;
    while ((code = pcap_next_ex(pcap, &header, &packet)) == 1) {
        if (header->caplen != 16 || packet[0] >> 5 != 4 || packet[4] != 8 ||
            (packet[5] & 4) != 0 || header->ts.tv_usec >= 1000000000) {
            continue;
        }
        struct bl_frame *f = &frame[count++];
        *f = (struct bl_frame){.length = 8};
        f->time_ns = (int64_t)(uint32_t)header->ts.tv_sec * 1000000000 +
                     header->ts.tv_usec;
        f->id = ((uint32_t)packet[0] << 24 | (uint32_t)packet[1] << 16 |
                 (uint32_t)packet[2] << 8 | packet[3]) &
                0x1FFFFFFF;
        memcpy(f->data, packet + 8, 8);
    }
    *damaged = code == -1 && strstr(pcap_geterr(pcap), "truncated") == NULL;
    pcap_close(pcap);
    return count;
}

static int by_time(const void *a, const void *b)
{
    const struct bl_frame *x = a;
    const struct bl_frame *y = b;
    if (x->time_ns != y->time_ns) {
        return x->time_ns < y->time_ns ? -1 : 1;
    }
    return memcmp(x->data, y->data, 8);
}

static void records_are_read_as_by_libpcap(void **state)
{
    (void)state;
    struct bl_random random;
    bl_random_seed(&random, 12);
    static uint8_t data[24 + RECORDS * 100];
    static struct bl_frame theirs[RECORDS];
    static struct bl_frame ours[RECORDS];
    size_t compared = 0;
    for (int i = 0; i < FILES; i++) {
        const size_t size = make_pcap(&random, data);
        bool damaged;
        const size_t expected = by_library(data, size, theirs, &damaged);
        struct recording r = read_memory(data, size, NULL);
        assert_int_equal(r.open_status, BL_OK);
        /* What libpcap takes for a cut last record may be a length that no CAN
           frame has. */
        const bool too_long =
            !damaged && r.status == BL_FORMAT &&
            strstr(r.error.message, "expected at most 2112 bytes") != NULL;
        assert_int_equal(r.status, damaged || too_long ? BL_FORMAT : BL_OK);
        size_t count = 0;
        for (size_t k = 0; k < r.frames; k++) {
            if (r.frame[k].length == 8 && r.frame[k].kind == BL_FRAME_CLASSIC &&
                (r.frame[k].flags & BL_FRAME_EXTENDED) != 0) {
                ours[count++] = r.frame[k];
            }
        }
        /* A damaged stamp may put a frame elsewhere, or make a stray of it. */
        qsort(ours, count, sizeof(*ours), by_time);
        qsort(theirs, expected, sizeof(*theirs), by_time);
        assert_true(count + r.info->strays >= expected);
        size_t found = 0;
        for (size_t k = 0; k < expected; k++) {
            for (size_t n = 0; n < count; n++) {
                if (ours[n].time_ns == theirs[k].time_ns &&
                    ours[n].id == theirs[k].id &&
                    memcmp(ours[n].data, theirs[k].data, 8) == 0) {
                    found++;
                    break;
                }
            }
        }
        assert_true(found + r.info->strays >= expected);
        compared += found;
        close_recording(&r);
    }
    assert_true(compared > (size_t)FILES * RECORDS / 3);
}

static size_t put_block(uint8_t *to, bool big, uint32_t type, size_t body)
{
    put(to, type, big);
    put(to + 4, (uint32_t)body + 12, big);
    put(to + 8 + body, (uint32_t)body + 12, big);
    return body + 12;
}

/* An interface whose stamps count nanoseconds, milliseconds, or microseconds
   as where nothing is said; the last kind is no CAN. */
static size_t put_interface(uint8_t *to, bool big, int kind)
{
    static const uint8_t unit[] = {9, 3, 6, 6};
    memset(to, 0, 28);
    to[big ? 9 : 8] = kind == 3 ? 1 : 227;
    if (kind > 1) {
        return put_block(to, big, 1, 8);
    }
    to[big ? 17 : 16] = 9; /* if_tsresol */
    to[big ? 19 : 18] = 1;
    to[20] = unit[kind];
    return put_block(to, big, 1, 20);
}

static size_t put_packet(struct bl_random *random, uint8_t *to, bool big,
                         uint64_t number)
{
    static const uint64_t per_s[] = {1000000000, 1000, 1000000, 1000000};
    const uint32_t interface = (uint32_t)bl_random_below(random, 4);
    const bool usual = bl_random_below(random, 10) != 0;
    const uint32_t size = usual ? 16 : (uint32_t)bl_random_below(random, 80);
    const uint64_t stamp = 1700000000 * per_s[interface] + number;
    memset(to, 0, 160);
    put(to + 8, usual ? interface : (uint32_t)bl_random_below(random, 6), big);
    put(to + 12, (uint32_t)(stamp >> 32), big);
    put(to + 16, (uint32_t)stamp, big);
    put(to + 20, size, big);
    put(to + 24, size, big);
    put(to + 28, 0x80000000U | (uint32_t)bl_random_below(random, 0x20000000),
        true);
    to[32] = (uint8_t)(8 - bl_random_below(random, usual ? 2 : 9));
    for (int i = 36; i < 44; i++) {
        to[i] = (uint8_t)bl_random_below(random, 256);
    }
    return put_block(to, big, 6, 20 + (size + 3) / 4 * 4);
}

static size_t make_pcapng(struct bl_random *random, uint8_t *data)
{
    size_t at = 0;
    for (int section = 0; section < 2; section++) {
        const bool big = bl_random_below(random, 2) == 0;
        memset(data + at, 0xFF, 28);
        put(data + at + 8, 0x1A2B3C4D, big);
        put(data + at + 12, big ? 0x00010000 : 1, big);
        at += put_block(data + at, big, 0x0A0D0D0A, 16);
        for (int kind = 0; kind < 4; kind++) {
            at += put_interface(data + at, big, kind);
        }
        for (uint64_t i = 0; i < RECORDS; i++) {
            at += put_packet(random, data + at, big, i);
        }
    }
    if (bl_random_below(random, 2) == 0) {
        data[28 + bl_random_below(random, at - 28)] =
            (uint8_t)bl_random_below(random, 256);
    }
    if (bl_random_below(random, 4) == 0) {
        at -= bl_random_below(random, 60);
    }
    return at;
}

struct drip {
    const uint8_t *data;
    size_t size;
};

static enum bl_status few_bytes(void *context, uint8_t *buffer, size_t size,
                                size_t *got, struct bl_error *error)
{
    struct drip *drip = context;
    (void)error;
    *got = size < 7 ? size : 7;
    *got = *got < drip->size ? *got : drip->size;
    memcpy(buffer, drip->data, *got);
    drip->data += *got;
    drip->size -= *got;
    return BL_OK;
}

static void assert_same_notes(const struct bl_notes *a,
                              const struct bl_notes *b)
{
    assert_int_equal(a->count, b->count);
    for (size_t i = 0; i < a->count; i++) {
        assert_string_equal(a->item[i].code, b->item[i].code);
        assert_string_equal(a->item[i].text, b->item[i].text);
        assert_int_equal(a->item[i].count, b->item[i].count);
        assert_int_equal(a->item[i].first_offset, b->item[i].first_offset);
    }
}

static void blocks_are_read_as_from_a_slow_source(void **state)
{
    (void)state;
    struct bl_random random;
    bl_random_seed(&random, 13);
    static uint8_t data[400 + 2 * RECORDS * 160];
    size_t compared = 0;
    for (int i = 0; i < FILES; i++) {
        const size_t size = make_pcapng(&random, data);
        struct recording quick = read_memory(data, size, NULL);
        struct recording slow = {.status = BL_OK};
        struct drip drip = {data, size};
        bl_error_clear(&slow.error);
        assert_int_equal(bl_bytes_open_function(&slow.source, "memory",
                                                few_bytes, &drip, NULL),
                         BL_OK);
        read_source(&slow, NULL);
        assert_int_equal(quick.open_status, slow.open_status);
        assert_int_equal(quick.status, slow.status);
        assert_string_equal(quick.error.message, slow.error.message);
        assert_int_equal(quick.error.offset, slow.error.offset);
        assert_int_equal(quick.frames, slow.frames);
        for (size_t k = 0; k < quick.frames; k++) {
            assert_true(same_frame(&quick.frame[k], &slow.frame[k]));
            assert_int_equal(quick.frame[k].bus, slow.frame[k].bus);
        }
        if (quick.info != NULL) {
            assert_int_equal(quick.info->other_packets,
                             slow.info->other_packets);
            assert_int_equal(quick.info->after_damage, slow.info->after_damage);
            assert_same_notes(&quick.info->notes, &slow.info->notes);
        }
        compared += quick.frames;
        close_recording(&quick);
        close_recording(&slow);
    }
    assert_true(compared > (size_t)FILES * RECORDS);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(plain_lines_are_read_as_all_lines),
        cmocka_unit_test(records_are_read_as_by_libpcap),
        cmocka_unit_test(blocks_are_read_as_from_a_slow_source),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
