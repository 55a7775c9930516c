/* SPDX-License-Identifier: MIT */
/* One signal in and out of a payload; words; references. Outside reference:
   the little-endian rule and value ranges of SAE J1939-71 in public tables,
   UN R13 Annex 17 (33280 is 650 kPa), and arithmetic by hand. */
#include "support.h"

#define ROWS                                                                   \
    "A,65300,any,any,,odd,1.7,12,1,0,,0,4094,number,,,own,confirmed\n"         \
    "A,65300,any,any,,wide,3.3,46,,,,,,count,,,own,confirmed\n"                \
    "B,65301,any,any,,all,1.1,64,,,,,,count,,,own,confirmed\n"                 \
    "C,65302,any,any,,temp,1.1,8,2,-40,degC,-40,200,number,,,own,confirmed\n"  \
    "C,65302,any,any,,down,2.1,8,-1,100,%,0,100,number,,,own,confirmed\n"      \
    "D,65303,any,any,,word,1.1,8,,,,,,state,,0=off;1=half on;9=on,own,"        \
    "confirmed\n"                                                              \
    "E,65304,any,any,,head,1.1,32,,,,,,text,,,own,confirmed\n"                 \
    "E,65304,any,any,,rest,1.1,0,,,,,,text,,,own,confirmed\n"                  \
    "E,65304,any,any,,late,17.1,8,,,,,,count,,,own,confirmed\n"

static void fields_cross_bytes_from_the_low_end(void **state)
{
    (void)state;
    struct bl_tables *tables = table_of(ROWS);
    const struct bl_signal *odd = signal_of(tables, "A.odd");
    const struct bl_signal *wide = signal_of(tables, "A.wide");
    const struct bl_signal *all = signal_of(tables, "B.all");
    uint8_t data[8] = {0x80, 0xA5, 0x01, 0x02, 0x03, 0x04, 0x05, 0x06};
    assert_int_equal(odd->start_bit, 6);
    /* Bits 7-8 of byte 1 are 10b, byte 2 is 0xA5, bits 1-2 of byte 3 are 01b:
       0x2 + (0xA5 << 2) + (1 << 10). */
    assert_int_equal(bl_signal_decode(odd, data, 8).raw, 0x696);
    assert_true(bl_signal_decode(wide, data, 8).raw ==
                UINT64_C(0x060504030201) >> 2);
    assert_true(bl_signal_decode(all, data, 8).raw ==
                UINT64_C(0x060504030201A580));
    assert_int_equal(bl_signal_encode(odd, 0x123, data, 8), BL_OK);
    assert_int_equal(data[0], 0xC0);
    assert_int_equal(data[1], 0x48);
    assert_int_equal(data[2], 0x00);
    assert_int_equal(data[3], 0x02);
    bl_tables_destroy(tables);
}

static void short_frames_lack_the_field(void **state)
{
    (void)state;
    struct bl_tables *tables = shipped();
    const struct bl_signal *demand = signal_of(tables, "EBS11.service_demand");
    uint8_t data[8] = {0, 0, 0x00, 0x82};
    assert_near(bl_signal_decode(demand, data, 4).value, 650, 0);
    const struct bl_value lacking = bl_signal_decode(demand, data, 3);
    assert_int_equal(lacking.state, BL_VALUE_ABSENT);
    assert_nan(lacking.value);
    assert_int_equal(bl_signal_encode(demand, 650, data, 3), BL_ARG);
    assert_int_equal(bl_signal_encode_raw(demand, 0, data, 3), BL_ARG);
    bl_tables_destroy(tables);
}

static void encoding_refuses_what_cannot_be_said(void **state)
{
    (void)state;
    struct bl_tables *tables = table_of(ROWS);
    const struct bl_signal *temp = signal_of(tables, "C.temp");
    const struct bl_signal *down = signal_of(tables, "C.down");
    uint8_t data[8] = {0};
    assert_int_equal(bl_signal_encode(temp, 200, data, 8), BL_OK);
    assert_int_equal(data[0], 120);
    assert_int_equal(bl_signal_encode(temp, 20.9, data, 8), BL_OK);
    assert_int_equal(data[0], 30); /* 20 is nearer than 22 */
    assert_int_equal(bl_signal_encode(temp, 202, data, 8), BL_ARG);
    assert_int_equal(bl_signal_encode(temp, -43, data, 8), BL_ARG);
    assert_int_equal(bl_signal_encode(temp, NAN, data, 8), BL_ARG);
    assert_int_equal(bl_signal_encode_raw(temp, 256, data, 8), BL_ARG);
    assert_int_equal(bl_signal_encode(down, 100, data, 8), BL_OK);
    assert_int_equal(data[1], 0);
    assert_int_equal(bl_signal_encode(down, 40, data, 8), BL_OK);
    assert_int_equal(data[1], 60);
    /* 130 x 2 - 40 = 220 is valid as a byte, but not in the table's range. */
    data[0] = 130;
    const struct bl_value hot = bl_signal_decode(temp, data, 8);
    assert_int_equal(hot.state, BL_VALUE_VALID);
    assert_near(hot.value, 220, 0);
    assert_false(hot.in_range);
    bl_tables_destroy(tables);
}

static void text_is_there_or_not(void **state)
{
    (void)state;
    struct bl_tables *tables = table_of(ROWS);
    const struct bl_signal *head = signal_of(tables, "E.head");
    const struct bl_signal *rest = signal_of(tables, "E.rest");
    const struct bl_signal *late = signal_of(tables, "E.late");
    uint8_t data[17];
    memset(data, 0xFF, sizeof(data));
    data[16] = 7;
    assert_int_equal(bl_signal_decode(head, data, 17).state,
                     BL_VALUE_NOT_AVAILABLE);
    assert_int_equal(bl_signal_decode(rest, data, 17).state, BL_VALUE_VALID);
    assert_int_equal(bl_signal_decode(rest, data, 0).state, BL_VALUE_ABSENT);
    assert_int_equal(bl_signal_decode(head, data, 3).state, BL_VALUE_ABSENT);
    assert_nan(bl_signal_decode(rest, data, 17).value);
    assert_near(bl_signal_decode(late, data, 17).value, 7, 0);
    assert_int_equal(bl_signal_encode(head, 1, data, 17), BL_ARG);
    assert_int_equal(bl_signal_encode_raw(rest, 1, data, 17), BL_ARG);
    bl_tables_destroy(tables);
}

static void states_have_words(void **state)
{
    (void)state;
    struct bl_tables *tables = table_of(ROWS);
    const struct bl_signal *word = signal_of(tables, "D.word");
    const struct bl_signal *temp = signal_of(tables, "C.temp");
    char text[32];
    assert_string_equal(bl_signal_state_text(word, 0, text, sizeof(text)),
                        "off");
    assert_string_equal(bl_signal_state_text(word, 1, text, sizeof(text)),
                        "half on");
    assert_string_equal(bl_signal_state_text(word, 9, text, sizeof(text)),
                        "on");
    assert_null(bl_signal_state_text(word, 2, text, sizeof(text)));
    assert_null(bl_signal_state_text(temp, 0, text, sizeof(text)));
    assert_string_equal(bl_signal_state_text(word, 1, text, 5), "half");
    bl_tables_destroy(tables);
}

static void references_are_read(void **state)
{
    (void)state;
    struct bl_tables *tables = shipped();
    struct bl_signal_ref ref;
    struct bl_error error;
    assert_int_equal(
        bl_signal_ref_parse(tables, "EBS11.service_demand", &ref, NULL), BL_OK);
    assert_string_equal(ref.signal->name, "service_demand");
    assert_string_equal(ref.signal->message->name, "EBS11");
    assert_int_equal(ref.address, -1);
    assert_string_equal(ref.bus, "");
    assert_int_equal(
        bl_signal_ref_parse(tables, "EBC1.pedal_position@11/can1", &ref, NULL),
        BL_OK);
    assert_int_equal(ref.address, 11);
    assert_string_equal(ref.bus, "can1");
    assert_int_equal(
        bl_signal_ref_parse(tables, "EBS25-65197.yaw_control@0xC8", &ref, NULL),
        BL_OK);
    assert_int_equal(ref.address, 0xC8);
    assert_int_equal(
        bl_signal_ref_parse(tables, "EBC1.pedal_position/a@b", &ref, NULL),
        BL_OK);
    assert_string_equal(ref.bus, "a@b");
    static const struct {
        const char *text, *message;
    } wrong[] = {
        {"", "expected MESSAGE.signal, found ''"},
        {"EBC1", "expected MESSAGE.signal, found 'EBC1'"},
        {"EBC1.", "expected MESSAGE.signal, found 'EBC1.'"},
        {".x", "expected MESSAGE.signal, found '.x'"},
        {"EBC9.x", "no message 'EBC9' in the mapping tables"},
        {"EBC1.x", "message EBC1 has no signal 'x'"},
        {"EBC1.pedal_position@", "found ''"},
        {"EBC1.pedal_position@254", "found '254'"},
        {"EBC1.pedal_position/", "expected a bus name"},
    };
    for (size_t i = 0; i < COUNT_OF(wrong); i++) {
        bl_error_clear(&error);
        const enum bl_status status =
            bl_signal_ref_parse(tables, wrong[i].text, &ref, &error);
        assert_int_equal(status, BL_TRIAL);
        assert_non_null(strstr(error.message, wrong[i].message));
    }
    bl_tables_destroy(tables);
}

/* Start bits as public descriptions of message databases number them: bit 7 of
   the first byte is 7, of the second 15; a big-endian field begins at its most
   significant bit and goes on at bit 7 of the next byte. The first three are an
   example that goes round in public (from memory), C0 06 E0: 1 100000 is 1 and
   32, then 0 00000110 111 = 55. The rest by hand. */
#define BIG_ROWS                                                               \
    "A,id:0x1F0,any,any,,enable,1.8 big,1,,,,,,count,,,own,confirmed\n"        \
    "A,id:0x1F0,any,any,,radius,1.7 big,6,0.1,0,,0,6.3,number,,,own,"          \
    "confirmed\n"                                                              \
    "A,id:0x1F0,any,any,,temperature,1.1 big,12,0.01,250,,229.52,270.47,"      \
    "signed,,,own,confirmed\n"                                                 \
    "B,id:0x200,any,any,,word,3.8 big,16,0.1,0,kPa,0,1000,number,,,own,"       \
    "confirmed\n"                                                              \
    "B,id:0x200,any,any,,byte,5 big,8,,,,,,count,,,own,confirmed\n"            \
    "B,id:0x200,any,any,,little,7.1,16,1,0,,-32768,32767,signed,,,own,"        \
    "confirmed\n"                                                              \
    "C,id:0x201,any,any,,all,1.8 big,64,,,,,,count,,,own,confirmed\n"          \
    "D,id:0x202,any,any,,three,2.6 big,3,1,0,,-4,3,signed,,,own,confirmed\n"

static void big_endian_and_twos_complement(void **state)
{
    (void)state;
    struct bl_tables *tables = table_of(BIG_ROWS);
    static const struct {
        const char *signal;
        uint8_t data[8];
        double value;
    } cases[] = {
        {"A.enable", {0xC0, 0x06, 0xE0}, 1},
        {"A.radius", {0xC0, 0x06, 0xE0}, 3.2},
        {"A.temperature", {0xC0, 0x06, 0xE0}, 250.55},
        /* 1 11111111 000 is -8; 1 00000000 000 is -2048. */
        {"A.temperature", {0x01, 0xFF, 0x00}, 249.92},
        {"A.temperature", {0x01, 0x00, 0x00}, 229.52},
        {"B.word", {0, 0, 0x19, 0x64}, 650},
        {"B.byte", {0, 0, 0, 0, 0x5A}, 0x5A},
        {"B.little", {0, 0, 0, 0, 0, 0, 0x38, 0xFF}, -200},
        {"B.little", {0, 0, 0, 0, 0, 0, 0xFF, 0xFF}, -1},
        {"B.little", {0, 0, 0, 0, 0, 0, 0xFF, 0x7F}, 32767},
        {"D.three", {0, 0x20}, -4}, /* 100 in bits 6 to 4 */
        {"D.three", {0, 0x18}, 3},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        const struct bl_signal *signal = signal_of(tables, cases[i].signal);
        const struct bl_value value =
            bl_signal_decode(signal, cases[i].data, 8);
        assert_int_equal(value.state, BL_VALUE_VALID);
        assert_near(value.value, cases[i].value, 1e-9);
        /* And back, without touching what lies around. */
        uint8_t back[8];
        memset(back, 0xA5, sizeof(back));
        if (signal->kind == BL_SIGNAL_NUMBER) {
            assert_int_equal(bl_signal_encode(signal, cases[i].value, back, 8),
                             BL_OK);
            assert_near(bl_signal_decode(signal, back, 8).value, cases[i].value,
                        1e-9);
        }
    }
    static const uint8_t counting[8] = {1, 2, 3, 4, 5, 6, 7, 8};
    assert_true(bl_signal_decode(signal_of(tables, "C.all"), counting, 8).raw ==
                UINT64_C(0x0102030405060708));
    uint8_t around[8] = {0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF};
    assert_int_equal(
        bl_signal_encode(signal_of(tables, "D.three"), 0, around, 8), BL_OK);
    assert_int_equal(around[1], 0xC7);
    /* 12 bits from bit 1 of byte 1 end in byte 3. */
    assert_int_equal(
        bl_signal_decode(signal_of(tables, "A.temperature"), counting, 2).state,
        BL_VALUE_ABSENT);
    assert_int_equal(
        bl_signal_decode(signal_of(tables, "A.temperature"), counting, 3).state,
        BL_VALUE_VALID);
    bl_tables_destroy(tables);
}

static void big_endian_places_are_checked(void **state)
{
    (void)state;
    static const struct {
        const char *rows, *says;
    } cases[] = {
        {"A,id:0x1,any,any,,a,1.1 big,12,,,,,,count,,,own,confirmed\n"
         "A,id:0x1,any,any,,b,3.6,1,,,,,,count,,,own,confirmed\n",
         "A.b overlaps a of line 2"},
        {"A,id:0x1,any,any,,a,2.4 big,9,,,,,,count,,,own,confirmed\n"
         "A,id:0x1,any,any,,b,3.4,12,,,,,,count,,,own,confirmed\n",
         "A.b overlaps a of line 2"},
        {"A,id:0x1,any,any,,a,8.4 big,5,,,,,,count,,,own,confirmed\n",
         "A.a ends in byte 9"},
        {"A,id:0x1,any,any,,a,1,8,1,0,,0,200,signed,,,own,confirmed\n",
         "does not fit into 8 bits"},
        {"A,id:0x1,any,any,,a,3.9 big,5,,,,,,count,,,own,confirmed\n",
         "found '3.9 big'"},
        {"A,id:0x1,any,any,,a,1 big,8,,,,,,text,,,own,confirmed\n",
         "text begins at bit 1"},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        struct bl_tables *tables;
        struct bl_error error;
        char text[2048];
        bl_error_clear(&error);
        snprintf(text, sizeof(text), "%s%s", TABLE_HEADER, cases[i].rows);
        assert_int_equal(bl_tables_create(&tables, NULL), BL_OK);
        assert_int_equal(add_text(tables, "own", text, NULL, &error), BL_TRIAL);
        if (strstr(error.message, cases[i].says) == NULL) {
            fail_msg("case %zu: %s", i, error.message);
        }
        bl_tables_destroy(tables);
    }
    /* Beside each other: bits 4 down of byte 2 and 8 to 4 of byte 3. */
    bl_tables_destroy(
        table_of("A,id:0x1,any,any,,a,2.4 big,9,,,,,,count,,,own,confirmed\n"
                 "A,id:0x1,any,any,,b,3.1,3,,,,,,count,,,own,confirmed\n"
                 "A,id:0x1,any,any,,c,2.5,4,,,,,,count,,,own,confirmed\n"));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(fields_cross_bytes_from_the_low_end),
        cmocka_unit_test(short_frames_lack_the_field),
        cmocka_unit_test(encoding_refuses_what_cannot_be_said),
        cmocka_unit_test(text_is_there_or_not),
        cmocka_unit_test(states_have_words),
        cmocka_unit_test(references_are_read),
        cmocka_unit_test(big_endian_and_twos_complement),
        cmocka_unit_test(big_endian_places_are_checked),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
