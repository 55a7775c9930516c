/* SPDX-License-Identifier: MIT */
/*
 * Single frames by the published definitions: link type 227
 * (tcpdump.org/linktypes/LINKTYPE_CAN_SOCKETCAN.html), error classes
 * (linux/can/error.h of the Linux UAPI), and the frame notation of the text
 * recording as its public parser documents it.
 */
#include "recordings.h"

#include "bus/textline.h"

struct text_case {
    const char *frame;
    uint32_t id;
    uint8_t kind, flags, length;
    const char *data;
};

static const struct text_case good[] = {
    {"123#R", 0x123, BL_FRAME_REMOTE, 0, 0, ""},
    {"123##311", 0x123, BL_FRAME_FD,
     BL_FRAME_BIT_RATE_SWITCH | BL_FRAME_ERROR_STATE, 1, "\x11"},
    {"00000123#R3", 0x123, BL_FRAME_REMOTE, BL_FRAME_EXTENDED, 3, ""},
    {"1F334455#11", 0x1F334455, BL_FRAME_CLASSIC, BL_FRAME_EXTENDED, 1, "\x11"},
    {"5A1#11.2233.44556677.88", 0x5A1, BL_FRAME_CLASSIC, 0, 8,
     "\x11\x22\x33\x44\x55\x66\x77\x88"},
    {"123#1122334455667788_E", 0x123, BL_FRAME_CLASSIC, 0, 8,
     "\x11\x22\x33\x44\x55\x66\x77\x88"},
    {"123#R8_E", 0x123, BL_FRAME_REMOTE, 0, 8, ""},
    {"123#", 0x123, BL_FRAME_CLASSIC, 0, 0, ""},
    {"123#DEADBEEF", 0x123, BL_FRAME_CLASSIC, 0, 4, "\xDE\xAD\xBE\xEF"},
    {"123#deadBEef R", 0x123, BL_FRAME_CLASSIC, 0, 4, "\xDE\xAD\xBE\xEF"},
    {"123#00 T", 0x123, BL_FRAME_CLASSIC, BL_FRAME_OUTGOING, 1, "\0"},
    {"7FF##0", 0x7FF, BL_FRAME_FD, 0, 0, ""},
    {"20000004#0010000000000000", 0x4, BL_FRAME_ERROR, 0, 8,
     "\0\x10\0\0\0\0\0\0"},
};

static void the_frame_notation_is_read(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT_OF(good); i++) {
        char text[128];
        struct bl_frame frame;
        struct bl_textline line;
        snprintf(text, sizeof(text), "(1.25) can0 %s", good[i].frame);
        if (bl_textline_parse(text, strlen(text), &frame, &line) !=
            BL_TEXTLINE_FRAME) {
            fail_msg("%s: expected %s", good[i].frame, line.expected);
        }
        assert_int_equal(frame.time_ns, 1250000000);
        assert_int_equal(frame.id, good[i].id);
        assert_int_equal(frame.kind, good[i].kind);
        assert_int_equal(frame.flags, good[i].flags);
        assert_int_equal(frame.length, good[i].length);
        if (frame.kind != BL_FRAME_REMOTE) {
            assert_memory_equal(frame.data, good[i].data, frame.length);
        }
        assert_int_equal(line.bus_length, 4);
    }
}

static void link_type_227_is_big_endian(void **state)
{
    (void)state;
    /* In a little-endian pcap file of microseconds. */
    static const uint8_t file[] = {
        0xD4, 0xC3, 0xB2, 0xA1, 2,    0,    4, 0, 0,    0,    0,
        0,    0,    0,    0,    0,    0,    0, 4, 0,    0xE3, 0,
        0,    0,    0x83, 0xC1, 0x68, 0x65, 5, 0, 0,    0,    0x10,
        0,    0,    0,    0x10, 0,    0,    0, /* the record: */
        0x98, 0xFE, 0xC4, 0xC8, 8,    0,    0, 0, 0xCE, 0xD1, 0xCF,
        0x4F, 0xF6, 0x22, 0xFF, 0xFF};
    struct recording r = read_memory(file, sizeof(file), NULL);
    assert_int_equal(r.status, BL_OK);
    assert_int_equal(r.frames, 1);
    assert_int_equal(r.frame[0].id, 0x18FEC4C8);
    assert_int_equal(r.frame[0].flags, BL_FRAME_EXTENDED);
    assert_int_equal(r.frame[0].length, 8);
    assert_memory_equal(r.frame[0].data, "\xCE\xD1\xCF\x4F\xF6\x22\xFF\xFF", 8);
    assert_int_equal(r.frame[0].time_ns, INT64_C(1701364099000005000));
    assert_string_equal(r.info->bus[0].name, "");
    close_recording(&r);
    const struct bl_bus_options named = {.bus_name = "can1"};
    r = read_memory(file, sizeof(file), &named);
    assert_string_equal(r.info->bus[0].name, "can1");
    close_recording(&r);
}

static void fd_without_its_flag_is_inferred(void **state)
{
    (void)state;
    char path[4096];
    struct recording r = read_file(
        test_data("bus/good-pcap-fd-without-flag.pcap", path, sizeof(path)),
        NULL);
    assert_int_equal(r.frames, 2);
    assert_int_equal(r.frame[0].kind, BL_FRAME_FD);
    assert_int_equal(r.frame[0].length, 12);
    assert_int_equal(r.frame[1].kind, BL_FRAME_FD);
    assert_int_equal(r.frame[1].length, 8);
    close_recording(&r);
}

/*
 * Linux Documentation/networking/can.rst: what is read is a classic frame where
 * it has the size of one (CAN_MTU, 16 bytes), whatever is in the padding
 * and reserved bytes of struct can_frame. pcap/can_socketcan.h marks FD by bit
 * 2 of a byte whose other bits, and the two bytes behind, are not used. Behind
 * a cooked header ETH_P_CAN or ETH_P_CANFD decides.
 */
static void unset_bytes_of_classic_frames_make_no_fd(void **state)
{
    (void)state;
    static const struct {
        const char *file;
        const char *kinds; /* c classic, f FD */
    } rows[] = {
        {"bus/good-pcap-classic-with-unset-bytes.pcap", "ccccf"},
        {"bus/good-pcapng-classic-with-unset-bytes.pcapng", "ccccf"},
        {"bus/good-pcap-cooked-classic-with-unset-bytes.pcap", "cccccf"},
    };
    for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
        char path[4096];
        struct recording r =
            read_file(test_data(rows[i].file, path, sizeof(path)), NULL);
        assert_int_equal(r.status, BL_OK);
        assert_int_equal(r.frames, strlen(rows[i].kinds));
        for (size_t k = 0; k < r.frames; k++) {
            const bool fd = rows[i].kinds[k] == 'f';
            assert_int_equal(r.frame[k].kind,
                             fd ? BL_FRAME_FD : BL_FRAME_CLASSIC);
            assert_int_equal(r.frame[k].length, k == 1 ? 3 : 8);
            assert_memory_equal(r.frame[k].data, "\1\2\3", 3);
        }
        close_recording(&r);
    }
}

/* pcap holds unsigned 32-bit seconds (draft-ietf-opsawg-pcap). */
static void stamps_after_2038_are_positive(void **state)
{
    (void)state;
    char path[4096];
    struct recording r = read_file(
        test_data("bus/good-pcap-after-2038.pcap", path, sizeof(path)), NULL);
    assert_int_equal(r.frames, 1);
    assert_int_equal(r.frame[0].time_ns, INT64_C(4294967280000000000));
    close_recording(&r);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_frame_notation_is_read),
        cmocka_unit_test(link_type_227_is_big_endian),
        cmocka_unit_test(fd_without_its_flag_is_inferred),
        cmocka_unit_test(unset_bytes_of_classic_frames_make_no_fd),
        cmocka_unit_test(stamps_after_2038_are_positive),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
