/* SPDX-License-Identifier: MIT */
/* Outside reference: sequences of the tests of python-can-j1939, j1939-84 and
   AgIsoStack (all MIT), a real brake controller's list of trouble codes, and
   the control bytes of Linux net/can/j1939/transport.c. Timers: public J1939
   stacks (T1 750 ms, T2 and T3 1250 ms, T4 1050 ms, Tr 200 ms). */
#include "hex.h"

#include "base/alloc.h"
#include "brakelag/j1939.h"

#define MS INT64_C(1000000)

struct listener {
    struct bl_transport *transport;
    struct bl_transport_message message;
    int64_t now_ns;
    int completed;
};

static void start(struct listener *listener, size_t limit)
{
    *listener = (struct listener){0};
    assert_int_equal(bl_transport_create(&listener->transport, limit, NULL),
                     BL_OK);
}

/* Frames separated by blanks, 50 ms apart. */
static void hear(struct listener *l, const char *frames)
{
    char text[64];
    while (*frames != '\0') {
        const size_t length = strcspn(frames, " ");
        assert_true(length < sizeof(text));
        memcpy(text, frames, length);
        text[length] = '\0';
        frames += length + strspn(frames + length, " ");
        uint32_t id;
        uint8_t data[8];
        const size_t size = hex_frame(text, &id, data, sizeof(data));
        bool done;
        assert_int_equal(bl_transport_feed(l->transport,
                                           &(const struct bl_transport_frame){
                                               l->now_ns, 0, id, data, size},
                                           &done, &l->message),
                         BL_OK);
        l->completed += done;
        l->now_ns += 50 * MS;
        if (done) {
            /* The bytes are valid until the next call only. */
            return;
        }
    }
}

static uint64_t lost(const struct listener *l, enum bl_transport_loss why)
{
    return bl_transport_lost(l->transport, why);
}

static void check_payload(const struct listener *l, uint32_t pgn,
                          uint8_t source, uint8_t destination, const char *hex)
{
    uint8_t want[256];
    const size_t size = hex_bytes(hex, want, sizeof(want));
    assert_int_equal(l->completed, 1);
    assert_int_equal(l->message.pgn, pgn);
    assert_int_equal(l->message.source, source);
    assert_int_equal(l->message.destination, destination);
    assert_int_equal(l->message.size, size);
    assert_memory_equal(l->message.data, want, size);
}

static void broadcast_is_put_together(void **state)
{
    (void)state;
    struct listener l;
    start(&l, 65536);
    /* python-can-j1939 */
    hear(&l, "1CECFF01#20140003FFB0FE00 1CEBFF01#0101020304050607 "
             "1CEBFF01#0201020304050607 1CEBFF01#03010203040506FF");
    check_payload(&l, 65200, 1, 255,
                  "01020304050607 01020304050607 010203040506");
    assert_true(l.message.first_ns == 0);
    assert_true(l.message.last_ns == 150 * MS);
    assert_int_equal(l.completed, 1);
    bl_transport_destroy(l.transport);
}

static void trouble_codes_of_a_broadcast_are_read(void **state)
{
    (void)state;
    struct listener l;
    start(&l, 65536);
    /* AgIsoStack */
    hear(&l, "1CECFFAA#200E0002FFCAFE00 1CEBFFAA#01FFFFD2041F0137 "
             "1CEBFFAA#02020201CE220C01");
    check_payload(&l, 65226, 0xAA, 255, "FFFFD2041F0137020201CE220C01");
    struct bl_trouble code[3];
    size_t count;
    assert_int_equal(
        bl_trouble_read(l.message.data, l.message.size, code, 3, &count),
        BL_OK);
    assert_int_equal(count, 3);
    assert_int_equal(code[0].spn, 1234);
    assert_int_equal(code[1].spn, 567);
    assert_int_equal(code[2].spn, 8910);
    bl_transport_destroy(l.transport);
}

/* A real brake controller with eight codes, 50 ms spacing. */
static void a_real_list_of_eight_codes_is_read(void **state)
{
    (void)state;
    static const uint32_t want[8][3] = {
        {811, 13, 126}, {789, 2, 126}, {790, 2, 126}, {791, 2, 126},
        {792, 2, 126},  {802, 4, 126}, {639, 5, 126}, {1045, 7, 0}};
    struct listener l;
    start(&l, 65536);
    hear(&l, "18ECFF0B#20220005FFCAFE00 18EBFF0B#0104FF2B030D7E15 "
             "18EBFF0B#0203027E1603027E 18EBFF0B#031703027E180302 "
             "18EBFF0B#047E2203047E7F02 18EBFF0B#05057E15040700FF");
    assert_int_equal(l.completed, 1);
    assert_int_equal(l.message.size, 34);
    struct bl_trouble code[8];
    size_t count;
    assert_int_equal(
        bl_trouble_read(l.message.data, l.message.size, code, 8, &count),
        BL_OK);
    assert_int_equal(count, 8);
    for (size_t i = 0; i < 8; i++) {
        assert_int_equal(code[i].spn, want[i][0]);
        assert_int_equal(code[i].fmi, want[i][1]);
        assert_int_equal(code[i].count, want[i][2]);
    }
    bl_transport_destroy(l.transport);
}

static void a_connection_is_put_together(void **state)
{
    (void)state;
    struct listener l;
    start(&l, 65536);
    /* python-can-j1939, one packet per clearance */
    hear(&l, "1CEC0201#1014000301B0FE00 1CEC0102#110101FFFFB0FE00 "
             "1CEB0201#0101020304050607 1CEC0102#110102FFFFB0FE00 "
             "1CEB0201#0201020304050607 1CEC0102#110103FFFFB0FE00 "
             "1CEB0201#03010203040506FF");
    check_payload(&l, 65200, 1, 2,
                  "01020304050607 01020304050607 010203040506");
    hear(&l, "1CEC0102#13140003FFB0FE00");
    assert_int_equal(lost(&l, BL_TRANSPORT_INCOMPLETE), 0);
    bl_transport_destroy(l.transport);
}

static void longer_published_connections_are_put_together(void **state)
{
    (void)state;
    struct listener l;
    start(&l, 65536);
    /* python-can-j1939: a group that has a destination */
    hear(&l, "18EC9B90#101400030100DF00 1CEC909B#110101FFFF00DF00 "
             "1CEB9B90#0101020304050607 1CEC909B#110102FFFF00DF00 "
             "1CEB9B90#0201020304050607 1CEC909B#110103FFFF00DF00 "
             "1CEB9B90#03010203040506FF");
    check_payload(&l, 57088, 0x90, 0x9B,
                  "01020304050607 01020304050607 010203040506");
    hear(&l, "1CEC909B#13140003FF00DF00");
    /* j1939-84: 21 bytes fill three packets */
    l.completed = 0;
    hear(&l, "18ECF900#10150003FF00EA00 18EBF900#0101020304050607 "
             "18EBF900#0208090A0B0C0D0E 18EBF900#030F101112131415");
    check_payload(&l, 0xEA00, 0, 0xF9,
                  "01020304050607 08090A0B0C0D0E 0F101112131415");
    bl_transport_destroy(l.transport);
}

/* A combustion truck's engine, 18 bytes (public capture, MIT). */
static void a_real_engine_list_is_read(void **state)
{
    (void)state;
    static const uint32_t want[4][3] = {
        {980, 9, 126}, {3216, 20, 2}, {609, 9, 1}, {609, 12, 3}};
    struct listener l;
    start(&l, 65536);
    hear(&l, "18ECFF00#20120003FFCAFE00 18EBFF00#0143FFD403097E90 "
             "18EBFF00#020C140261020901 18EBFF00#0361020C03FFFFFF");
    assert_int_equal(l.completed, 1);
    struct bl_trouble code[4];
    size_t count;
    assert_int_equal(
        bl_trouble_read(l.message.data, l.message.size, code, 4, &count),
        BL_OK);
    assert_int_equal(count, 4);
    for (size_t i = 0; i < 4; i++) {
        assert_int_equal(code[i].spn, want[i][0]);
        assert_int_equal(code[i].fmi, want[i][1]);
        assert_int_equal(code[i].count, want[i][2]);
    }
    bl_transport_destroy(l.transport);
}

static void packets_may_come_in_any_order(void **state)
{
    (void)state;
    struct listener l;
    start(&l, 65536);
    /* j1939-84 */
    hear(&l, "18EC00F9#10090002FF00EA00 18EB00F9#020809FFFFFFFFFF "
             "18EB00F9#0101020304050607");
    check_payload(&l, 0xEA00, 0xF9, 0, "010203040506070809");
    bl_transport_destroy(l.transport);
}

static const char *const forty[] = {
    "18ECFF00#20280006FFEEFF00", "18EBFF00#0100010203040506",
    "18EBFF00#0207080900010203", "18EBFF00#0304050607080900",
    "18EBFF00#0401020304050607", "18EBFF00#0508090001020304",
    "18EBFF00#060506070809FFFF"};

/* j1939-84: any one packet missing, nothing is delivered. */
static void a_missing_packet_delivers_nothing(void **state)
{
    (void)state;
    for (size_t missing = 0; missing < COUNT_OF(forty); missing++) {
        struct listener l;
        start(&l, 65536);
        for (size_t i = 0; i < COUNT_OF(forty); i++) {
            if (i != missing) {
                hear(&l, forty[i]);
            }
        }
        assert_int_equal(l.completed, 0);
        bl_transport_flush(l.transport);
        /* Without its announcement there was no session to lose. */
        assert_int_equal(lost(&l, BL_TRANSPORT_INCOMPLETE), missing > 0);
        bl_transport_destroy(l.transport);
    }
}

static void forty_bytes_are_four_times_ten(void **state)
{
    (void)state;
    struct listener l;
    start(&l, 65536);
    for (size_t i = 0; i < COUNT_OF(forty); i++) {
        hear(&l, forty[i]);
    }
    check_payload(&l, 0xFFEE, 0, 255,
                  "00010203040506070809 00010203040506070809"
                  "00010203040506070809 00010203040506070809");
    bl_transport_destroy(l.transport);
}

static void an_abort_ends_the_session(void **state)
{
    (void)state;
    struct listener l;
    start(&l, 65536);
    for (size_t i = 0; i < COUNT_OF(forty); i++) {
        if (i == 4) {
            hear(&l, "18ECFF00#FFFFFFFFFFEEFF00");
        }
        hear(&l, forty[i]);
    }
    assert_int_equal(l.completed, 0);
    assert_int_equal(lost(&l, BL_TRANSPORT_ABORTED), 1);
    /* The receiver may abort as well. */
    hear(&l, "1CEC0201#1014000301B0FE00 1CEC0102#FF01FFFFFFB0FE00");
    assert_int_equal(lost(&l, BL_TRANSPORT_ABORTED), 2);
    /* An abort of another group is none of its business. */
    hear(&l, "1CEC0201#1014000301B0FE00 1CEC0102#FF01FFFFFFB1FE00");
    assert_int_equal(lost(&l, BL_TRANSPORT_ABORTED), 2);
    bl_transport_destroy(l.transport);
}

/* j1939-84: the second announcement from the same address wins. */
static void a_second_announcement_replaces(void **state)
{
    (void)state;
    struct listener l;
    start(&l, 65536);
    hear(&l, "1CECFF01#20140003FFB0FE00 1CEBFF01#0199999999999999");
    hear(&l, "1CECFF01#20140003FFB0FE00 1CEBFF01#0101020304050607 "
             "1CEBFF01#0201020304050607 1CEBFF01#03010203040506FF");
    check_payload(&l, 65200, 1, 255,
                  "01020304050607 01020304050607 010203040506");
    assert_int_equal(lost(&l, BL_TRANSPORT_REPLACED), 1);
    bl_transport_destroy(l.transport);
}

static void broadcasts_of_two_units_do_not_mix(void **state)
{
    (void)state;
    struct listener l;
    start(&l, 65536);
    hear(&l, "1CECFF01#20090002FFB0FE00 1CECFF02#20090002FFB1FE00 "
             "1CEBFF02#0111111111111111 1CEBFF01#0122222222222222 "
             "1CEBFF02#021111FFFFFFFFFF");
    check_payload(&l, 65201, 2, 255, "111111111111111111");
    l.completed = 0;
    hear(&l, "1CEBFF01#022222FFFFFFFFFF");
    check_payload(&l, 65200, 1, 255, "222222222222222222");
    bl_transport_destroy(l.transport);
}

static void waits_run_out_as_the_timers_say(void **state)
{
    (void)state;
    static const struct {
        const char *before, *after;
        int64_t wait_ms;
        bool completes;
    } cases[] = {
        {"1CECFF01#20090002FFB0FE00 1CEBFF01#0122222222222222",
         "1CEBFF01#022222FFFFFFFFFF", 750, true},
        {"1CECFF01#20090002FFB0FE00 1CEBFF01#0122222222222222",
         "1CEBFF01#022222FFFFFFFFFF", 751, false},
        {"1CEC0201#10090002FFB0FE00 1CEC0102#110201FFFFB0FE00 "
         "1CEB0201#0122222222222222",
         "1CEB0201#022222FFFFFFFFFF", 1450, true},
        {"1CEC0201#10090002FFB0FE00 1CEC0102#110201FFFFB0FE00 "
         "1CEB0201#0122222222222222",
         "1CEB0201#022222FFFFFFFFFF", 1451, false},
        /* held by the receiver: T4 */
        {"1CEC0201#10090002FFB0FE00 1CEB0201#0122222222222222 "
         "1CEC0102#110002FFFFB0FE00",
         "1CEB0201#022222FFFFFFFFFF", 1250, true},
        {"1CEC0201#10090002FFB0FE00 1CEB0201#0122222222222222 "
         "1CEC0102#110002FFFFB0FE00",
         "1CEB0201#022222FFFFFFFFFF", 1251, false},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        struct listener l;
        start(&l, 65536);
        hear(&l, cases[i].before);
        l.now_ns += (cases[i].wait_ms - 50) * MS;
        hear(&l, cases[i].after);
        assert_int_equal(l.completed, cases[i].completes);
        assert_int_equal(lost(&l, BL_TRANSPORT_TIMED_OUT), !cases[i].completes);
        bl_transport_destroy(l.transport);
    }
}

/* A receiver may hold as long as it says so again in time. */
static void holding_again_keeps_the_session(void **state)
{
    (void)state;
    struct listener l;
    start(&l, 65536);
    hear(&l, "1CEC0201#10090002FFB0FE00");
    for (int i = 0; i < 10; i++) {
        hear(&l, "1CEC0102#1100FFFFFFB0FE00");
        l.now_ns += 900 * MS;
    }
    hear(&l, "1CEC0102#110201FFFFB0FE00 1CEB0201#0122222222222222 "
             "1CEB0201#022222FFFFFFFFFF");
    check_payload(&l, 65200, 1, 2, "222222222222222222");
    bl_transport_destroy(l.transport);
}

static void malformed_frames_are_counted(void **state)
{
    (void)state;
    static const char *const cases[] = {
        "1CECFF01#2014",             /* too short */
        "1CECFF01#20000000FFB0FE00", /* no bytes */
        "1CECFF01#20140004FFB0FE00", /* 20 bytes are 3 packets */
        "1CECFF01#1014000301B0FE00", /* everybody cannot answer */
        "1CEC0201#2114000301B0FE00", /* no such control byte */
        "1CECFF01#20FA06FFFFB0FE00", /* 1786 bytes need the extended form */
        "1CECFF01#20090002FFB0FE00 1CEBFF01#0022222222222222",
        "1CECFF01#20090002FFB0FE00 1CEBFF01#0322222222222222",
        "1CECFF01#20090002FFB0FE00 1CEBFF01#01222222",
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        struct listener l;
        start(&l, 65536);
        hear(&l, cases[i]);
        assert_int_equal(lost(&l, BL_TRANSPORT_MALFORMED), 1);
        bl_transport_flush(l.transport);
        assert_int_equal(lost(&l, BL_TRANSPORT_INCOMPLETE), 0);
        bl_transport_destroy(l.transport);
    }
}

/* Linux: 7 * 255 bytes is the most of the plain form. */
static void the_largest_plain_message_has_255_packets(void **state)
{
    (void)state;
    struct listener l;
    start(&l, 1785);
    hear(&l, "1CECFF01#20F906FFFFB0FE00");
    for (unsigned i = 1; i <= 255; i++) {
        assert_int_equal(l.completed, 0);
        char frame[32];
        snprintf(frame, sizeof(frame),
                 "1CEBFF01#%02X%02X%02X%02X%02X%02X%02X"
                 "%02X",
                 i, i, i, i, i, i, i, i);
        hear(&l, frame);
    }
    assert_int_equal(l.completed, 1);
    assert_int_equal(l.message.size, 1785);
    assert_int_equal(l.message.data[0], 1);
    assert_int_equal(l.message.data[1784], 255);
    bl_transport_destroy(l.transport);
}

/* 1786 bytes: 256 packets in two blocks (255 + 1). */
static void the_extended_form_is_put_together(void **state)
{
    (void)state;
    struct listener l;
    start(&l, 65536);
    hear(&l, "18C80201#14FA060000B0FE00 18C80102#15FF010000B0FE00 "
             "18C80201#16FF000000B0FE00");
    for (unsigned i = 1; i <= 255; i++) {
        char frame[32];
        snprintf(frame, sizeof(frame), "18C70201#%02X%02X0000000000%02X", i, i,
                 i);
        hear(&l, frame);
    }
    assert_int_equal(l.completed, 0);
    hear(&l, "18C80102#1501000100B0FE00 18C80201#1601FF0000B0FE00 "
             "18C70201#01ABFFFFFFFFFFFF");
    assert_int_equal(l.completed, 1);
    assert_int_equal(l.message.size, 1786);
    assert_int_equal(l.message.data[0], 1);
    assert_int_equal(l.message.data[6], 1);
    assert_int_equal(l.message.data[254 * 7], 255);
    assert_int_equal(l.message.data[1785], 0xAB);
    /* A packet before the block was said cannot be placed. */
    hear(&l, "18C80201#14FA060000B0FE00 18C70201#01ABFFFFFFFFFFFF");
    assert_int_equal(lost(&l, BL_TRANSPORT_MALFORMED), 1);
    bl_transport_destroy(l.transport);
}

static void limits_hold(void **state)
{
    (void)state;
    struct listener l;
    start(&l, 100);
    hear(&l, "1CECFF01#20650010FFB0FE00"); /* 101 bytes, 16 packets: malformed
                                              would be 15 */
    hear(&l, "1CECFF01#2065000FFFB0FE00");
    assert_int_equal(lost(&l, BL_TRANSPORT_MALFORMED), 1);
    assert_int_equal(lost(&l, BL_TRANSPORT_TOO_LARGE), 1);
    hear(&l, "18C80201#14FFFFFFFFB0FE00");
    assert_int_equal(lost(&l, BL_TRANSPORT_MALFORMED), 2);
    hear(&l, "18C80201#1400000006B0FE00");
    assert_int_equal(lost(&l, BL_TRANSPORT_TOO_LARGE), 2);
    bl_transport_destroy(l.transport);
    /* More sessions than places: the oldest gives way. */
    start(&l, 100);
    for (unsigned i = 0; i < 1030; i++) {
        const uint32_t id = 0x1CEC0000 | (i & 0x7F) << 8 | (0x80 + (i >> 7));
        static const uint8_t rts[8] = {16, 9, 0, 2, 255, 0xB0, 0xFE, 0};
        bool done;
        assert_int_equal(bl_transport_feed(l.transport,
                                           &(const struct bl_transport_frame){
                                               i, 0, id, rts, 8},
                                           &done, &l.message),
                         BL_OK);
    }
    assert_int_equal(lost(&l, BL_TRANSPORT_REPLACED), 6);
    bl_transport_flush(l.transport);
    assert_int_equal(lost(&l, BL_TRANSPORT_INCOMPLETE), 1024);
    bl_transport_destroy(l.transport);
}

static void a_jump_back_in_time_ends_what_was_open(void **state)
{
    (void)state;
    struct listener l;
    start(&l, 100);
    l.now_ns = 5000 * MS;
    hear(&l, "1CECFF01#20090002FFB0FE00 1CEBFF01#0122222222222222");
    l.now_ns = 0;
    hear(&l, "1CEBFF01#022222FFFFFFFFFF");
    assert_int_equal(l.completed, 0);
    assert_int_equal(lost(&l, BL_TRANSPORT_INCOMPLETE), 1);
    bl_transport_destroy(l.transport);
}

static void memory_that_runs_out_is_reported(void **state)
{
    (void)state;
    struct listener l;
    bl_alloc_fail_at(1);
    assert_int_equal(bl_transport_create(&l.transport, 9, NULL), BL_NOMEM);
    bl_alloc_fail_at(2);
    assert_int_equal(bl_transport_create(&l.transport, 9, NULL), BL_NOMEM);
    start(&l, 100);
    static const uint8_t bam[8] = {32, 9, 0, 2, 255, 0xB0, 0xFE, 0};
    for (uint64_t at = 1; at <= 2; at++) {
        bool done;
        bl_alloc_fail_at(at);
        assert_int_equal(bl_transport_feed(l.transport,
                                           &(const struct bl_transport_frame){
                                               0, 0, 0x1CECFF01, bam, 8},
                                           &done, &l.message),
                         BL_NOMEM);
    }
    bl_alloc_fail_at(0);
    bl_transport_destroy(l.transport);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(broadcast_is_put_together),
        cmocka_unit_test(trouble_codes_of_a_broadcast_are_read),
        cmocka_unit_test(a_real_list_of_eight_codes_is_read),
        cmocka_unit_test(a_connection_is_put_together),
        cmocka_unit_test(longer_published_connections_are_put_together),
        cmocka_unit_test(a_real_engine_list_is_read),
        cmocka_unit_test(packets_may_come_in_any_order),
        cmocka_unit_test(a_missing_packet_delivers_nothing),
        cmocka_unit_test(forty_bytes_are_four_times_ten),
        cmocka_unit_test(an_abort_ends_the_session),
        cmocka_unit_test(a_second_announcement_replaces),
        cmocka_unit_test(broadcasts_of_two_units_do_not_mix),
        cmocka_unit_test(waits_run_out_as_the_timers_say),
        cmocka_unit_test(holding_again_keeps_the_session),
        cmocka_unit_test(malformed_frames_are_counted),
        cmocka_unit_test(the_largest_plain_message_has_255_packets),
        cmocka_unit_test(the_extended_form_is_put_together),
        cmocka_unit_test(limits_hold),
        cmocka_unit_test(a_jump_back_in_time_ends_what_was_open),
        cmocka_unit_test(memory_that_runs_out_is_reported),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
