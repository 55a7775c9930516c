/* SPDX-License-Identifier: MIT */
/*
 * What is written reads back as it was. The reader of pcap is libpcap, that of
 * pcapng is compared with libpcap in pcapng_test.c, that of text against
 * python3-can in independent.py.
 */
#include "recordings.h"

#include "base/alloc.h"

enum { FRAMES = 3000, BUSES = 3 };

static struct bl_frame frames[FRAMES];

/* Every kind, every length, both id widths, three buses. */
static void make_frames(void)
{
    static const uint8_t fd_lengths[] = {0,  1,  7,  8,  12, 16,
                                         20, 24, 32, 48, 64};
    for (int i = 0; i < FRAMES; i++) {
        struct bl_frame *f = &frames[i];
        memset(f, 0, sizeof(*f));
        f->time_ns = INT64_C(1701364099986950123) + i * INT64_C(250001);
        f->bus = (uint16_t)(i % BUSES);
        f->kind = (uint8_t)(i % 4);
        const bool wide = i % 3 != 0;
        f->id = wide ? 0x0C02C820u + (uint32_t)i * 4099u
                     : (uint32_t)(i * 7) & 0x7FF;
        f->id &= 0x1FFFFFFF;
        f->flags = wide ? BL_FRAME_EXTENDED : 0;
        f->length = (uint8_t)(i % 9);
        if (f->kind == BL_FRAME_FD) {
            f->length = fd_lengths[i % (int)COUNT_OF(fd_lengths)];
            f->flags |= i % 5 == 0 ? BL_FRAME_BIT_RATE_SWITCH : 0;
            f->flags |= i % 7 == 0 ? BL_FRAME_ERROR_STATE : 0;
        } else if (f->kind == BL_FRAME_ERROR) {
            f->id = 1u << (i % 10);
            f->flags = 0;
            f->length = 8;
        }
        for (int k = 0; k < f->length && f->kind != BL_FRAME_REMOTE; k++) {
            f->data[k] = (uint8_t)(i + k);
        }
    }
}

static const char *const names[BUSES] = {"can0", "vcan-rear", "can2"};

static struct bl_output *write_frames(const char *format, int link_type,
                                      bool big, size_t buses)
{
    struct bl_output *output;
    struct bl_bus_writer *writer;
    assert_int_equal(bl_output_open(&output, NULL, NULL), BL_OK);
    const struct bl_bus_writer_options options = {.format = format,
                                                  .link_type = link_type,
                                                  .bus = names,
                                                  .buses = buses,
                                                  .big_endian = big};
    assert_int_equal(bl_bus_writer_open(&writer, output, &options, NULL),
                     BL_OK);
    for (size_t i = 0; i < FRAMES; i++) {
        struct bl_frame frame = frames[i];
        frame.bus = (uint16_t)(frame.bus % buses);
        assert_int_equal(bl_bus_writer_put(writer, &frame, NULL), BL_OK);
    }
    assert_int_equal(bl_bus_writer_close(writer, NULL), BL_OK);
    return output;
}

static void check_round_trip(const char *format, int link_type, bool big,
                             size_t buses, bool named)
{
    struct bl_output *output = write_frames(format, link_type, big, buses);
    size_t size;
    const char *data = bl_output_memory(output, &size);
    struct recording r = read_memory(data, size, NULL);
    assert_int_equal(r.open_status, BL_OK);
    assert_int_equal(r.status, BL_OK);
    assert_string_equal(r.info->format, format);
    assert_int_equal(r.frames, FRAMES);
    assert_int_equal(r.info->buses, buses);
    assert_int_equal(r.info->resolution_ns, 1);
    assert_int_equal(r.info->notes.count, 0);
    for (size_t i = 0; i < FRAMES; i++) {
        if (!same_frame(&frames[i], &r.frame[i])) {
            fail_msg("%s, link type %d, %s: frame %zu (id %x, read %x)", format,
                     link_type, big ? "big" : "little", i, frames[i].id,
                     r.frame[i].id);
        }
        const size_t bus = frames[i].bus % buses;
        const char *name = r.info->bus[r.frame[i].bus].name;
        if (named) {
            assert_string_equal(name, names[bus]);
        } else if (buses > 1) {
            char expected[8];
            snprintf(expected, sizeof(expected), "if%zu", bus + 1);
            assert_string_equal(name, expected);
        }
    }
    close_recording(&r);
    bl_output_discard(output);
}

static void pcap_round_trips(void **state)
{
    (void)state;
    for (int big = 0; big < 2; big++) {
        check_round_trip("pcap", 227, big != 0, 1, false);
        check_round_trip("pcap", 113, big != 0, 1, false);
        check_round_trip("pcap", 276, big != 0, 3, false);
    }
}

static void pcapng_round_trips(void **state)
{
    (void)state;
    for (int big = 0; big < 2; big++) {
        check_round_trip("pcapng", 227, big != 0, 3, true);
        check_round_trip("pcapng", 113, big != 0, 3, true);
        check_round_trip("pcapng", 276, big != 0, 3, false);
        check_round_trip("pcapng", 0, big != 0, 1, true);
    }
}

static void textlog_round_trips(void **state)
{
    (void)state;
    check_round_trip("textlog", 0, false, 3, true);
}

static void text_has_the_digits_it_needs(void **state)
{
    (void)state;
    struct bl_output *output;
    struct bl_bus_writer *writer;
    assert_int_equal(bl_output_open(&output, NULL, NULL), BL_OK);
    const struct bl_bus_writer_options options = {.format = "textlog"};
    assert_int_equal(bl_bus_writer_open(&writer, output, &options, NULL),
                     BL_OK);
    struct bl_frame f = {.time_ns = 1500000, .id = 0x123, .length = 1};
    f.data[0] = 0xAB;
    assert_int_equal(bl_bus_writer_put(writer, &f, NULL), BL_OK);
    f.time_ns = 1500001;
    f.flags = BL_FRAME_OUTGOING;
    assert_int_equal(bl_bus_writer_put(writer, &f, NULL), BL_OK);
    assert_int_equal(bl_bus_writer_close(writer, NULL), BL_OK);
    size_t size;
    assert_string_equal(bl_output_memory(output, &size),
                        "(0000000000.001500) can0 123#AB\n"
                        "(0000000000.001500001) can0 123#AB T\n");
    bl_output_discard(output);
}

static void expect_refused(struct bl_bus_writer_options options,
                           enum bl_status status, const char *says)
{
    struct bl_output *output;
    struct bl_bus_writer *writer;
    struct bl_error error;
    bl_error_clear(&error);
    assert_int_equal(bl_output_open(&output, NULL, NULL), BL_OK);
    assert_int_equal(bl_bus_writer_open(&writer, output, &options, &error),
                     status);
    assert_null(writer);
    assert_non_null(strstr(error.message, says));
    bl_output_discard(output);
}

static void what_cannot_be_written_is_refused(void **state)
{
    (void)state;
    expect_refused((struct bl_bus_writer_options){.format = "other"}, BL_ARG,
                   "'other'");
    expect_refused((struct bl_bus_writer_options){0}, BL_ARG, "format");
    expect_refused((struct bl_bus_writer_options){.format = "pcap", .buses = 2},
                   BL_UNSUPPORTED, "buses");
    expect_refused(
        (struct bl_bus_writer_options){.format = "pcap", .link_type = 1},
        BL_ARG, "link type");
    struct bl_output *output;
    struct bl_bus_writer *writer;
    assert_int_equal(bl_output_open(&output, NULL, NULL), BL_OK);
    const struct bl_bus_writer_options options = {.format = "pcap"};
    assert_int_equal(bl_bus_writer_open(&writer, output, &options, NULL),
                     BL_OK);
    struct bl_frame f = {.id = 1, .bus = 1};
    assert_int_equal(bl_bus_writer_put(writer, &f, NULL), BL_ARG);
    f = (struct bl_frame){.id = 1, .length = 9};
    assert_int_equal(bl_bus_writer_put(writer, &f, NULL), BL_ARG);
    f = (struct bl_frame){.id = 1, .time_ns = -1};
    assert_int_equal(bl_bus_writer_put(writer, &f, NULL), BL_UNSUPPORTED);
    assert_int_equal(bl_bus_writer_close(writer, NULL), BL_OK);
    bl_output_discard(output);
}

static void every_allocation_may_fail(void **state)
{
    (void)state;
    static const char *const formats[] = {"pcap", "pcapng", "textlog"};
    for (size_t k = 0; k < COUNT_OF(formats); k++) {
        struct bl_output *output = write_frames(formats[k], 227, false, 1);
        size_t size;
        const char *data = bl_output_memory(output, &size);
        bool whole = false;
        for (uint64_t n = 1; !whole; n++) {
            assert_true(n < 200);
            struct bl_bytes *source = NULL;
            struct bl_bus_reader *reader = NULL;
            const struct bl_frame *batch;
            size_t count = 1;
            bl_alloc_fail_at(n);
            enum bl_status status =
                bl_bytes_open_memory(&source, "m", data, size, NULL);
            if (status == BL_OK) {
                status = bl_bus_open(&reader, source, NULL, NULL);
            }
            while (status == BL_OK && count > 0) {
                status = bl_bus_next(reader, &batch, &count, NULL);
            }
            bl_alloc_fail_at(0);
            whole = status == BL_OK;
            assert_true(whole || status == BL_NOMEM);
            bl_bus_close(reader);
            bl_bytes_close(source);
        }
        bl_output_discard(output);
    }
}

static int setup(void **state)
{
    (void)state;
    make_frames();
    return 0;
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(pcap_round_trips),
        cmocka_unit_test(pcapng_round_trips),
        cmocka_unit_test(textlog_round_trips),
        cmocka_unit_test(text_has_the_digits_it_needs),
        cmocka_unit_test(what_cannot_be_written_is_refused),
        cmocka_unit_test(every_allocation_may_fail),
    };
    return cmocka_run_group_tests(tests, setup, NULL);
}
