/* SPDX-License-Identifier: MIT */
/* Value ranges, NAME, trouble codes. Outside reference: a public signal-range
   table (SAE J1939-71 ranges), tests of j1939-84, python-can-j1939 and
   AgIsoStack (all MIT), worked examples of SAE J1939-73 5.7.1.11 and 5.7.1.14
   quoted in public tests, and real truck recordings (MIT). */
#include "hex.h"

#include "brakelag/j1939.h"

static void ranges_are_those_of_the_signal_table(void **state)
{
    (void)state;
    static const struct {
        uint64_t raw;
        unsigned bits;
        enum bl_value_state expected;
    } cases[] = {
        {0, 2, BL_VALUE_VALID},
        {1, 2, BL_VALUE_VALID},
        {2, 2, BL_VALUE_ERROR},
        {3, 2, BL_VALUE_NOT_AVAILABLE},
        {0xD, 4, BL_VALUE_VALID}, /* 4 bits: from memory */
        {0xE, 4, BL_VALUE_ERROR},
        {0xF, 4, BL_VALUE_NOT_AVAILABLE},
        {0xFA, 8, BL_VALUE_VALID},
        {0xFB, 8, BL_VALUE_SPECIFIC},
        {0xFC, 8, BL_VALUE_RESERVED},
        {0xFD, 8, BL_VALUE_RESERVED},
        {0xFE, 8, BL_VALUE_ERROR},
        {0xFF, 8, BL_VALUE_NOT_AVAILABLE},
        {0xFAFF, 16, BL_VALUE_VALID},
        {0xFB00, 16, BL_VALUE_SPECIFIC},
        {0xFBFF, 16, BL_VALUE_SPECIFIC},
        {0xFC00, 16, BL_VALUE_RESERVED},
        {0xFDFF, 16, BL_VALUE_RESERVED},
        {0xFE00, 16, BL_VALUE_ERROR},
        {0xFEFF, 16, BL_VALUE_ERROR},
        {0xFF00, 16, BL_VALUE_NOT_AVAILABLE},
        {0xFFFF, 16, BL_VALUE_NOT_AVAILABLE},
        {0xFAFFFFFF, 32, BL_VALUE_VALID},
        {0xFB000000, 32, BL_VALUE_SPECIFIC},
        {0xFDFFFFFF, 32, BL_VALUE_RESERVED},
        {0xFE000000, 32, BL_VALUE_ERROR},
        {0xFFFFFFFF, 32, BL_VALUE_NOT_AVAILABLE},
        /* other widths, design of this project: all ones only */
        {0, 1, BL_VALUE_VALID},
        {1, 1, BL_VALUE_VALID},
        {6, 3, BL_VALUE_VALID},
        {7, 3, BL_VALUE_NOT_AVAILABLE},
        {62, 6, BL_VALUE_VALID},
        {63, 6, BL_VALUE_NOT_AVAILABLE},
        {UINT64_MAX - 1, 64, BL_VALUE_VALID},
        {UINT64_MAX, 64, BL_VALUE_NOT_AVAILABLE},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        const enum bl_value_state got =
            bl_value_range(cases[i].raw, cases[i].bits);
        if (got != cases[i].expected) {
            fail_msg("%llx in %u bits reads %s",
                     (unsigned long long)cases[i].raw, cases[i].bits,
                     bl_value_state_name(got));
        }
    }
}

struct name_case {
    const char *bytes;
    struct bl_name expected;
};

static void names_split_as_published(void **state)
{
    (void)state;
    static const struct name_case cases[] = {
        /* j1939-84 */
        {"10F7450100450001",
         {.identity = 390928,
          .manufacturer = 10,
          .function = 69,
          .vehicle_system_instance = 1}},
        {"0000000000000000", {.identity = 0}},
        {"0000400500006514",
         {.manufacturer = 42,
          .vehicle_system = 50,
          .vehicle_system_instance = 4,
          .industry_group = 1}},
        {"4347600500130000",
         {.identity = 18243, .manufacturer = 43, .function = 19}},
        {"0000E0FF00820000", {.manufacturer = 2047, .function = 130}},
        /* python-can-j1939 */
        {"87D6525382C9FE52",
         {.identity = 1234567,
          .manufacturer = 666,
          .ecu_instance = 2,
          .function_instance = 16,
          .function = 201,
          .vehicle_system = 127,
          .vehicle_system_instance = 2,
          .industry_group = 5}},
        {"87D6525382C9FED2",
         {.identity = 1234567,
          .manufacturer = 666,
          .ecu_instance = 2,
          .function_instance = 16,
          .function = 201,
          .vehicle_system = 127,
          .vehicle_system_instance = 2,
          .industry_group = 5,
          .arbitrary_address = true}},
        /* AgIsoStack: 0x9704033501000004 */
        {"0400000135030497",
         {.identity = 4,
          .manufacturer = 8,
          .ecu_instance = 5,
          .function_instance = 6,
          .function = 3,
          .vehicle_system = 2,
          .vehicle_system_instance = 7,
          .industry_group = 1,
          .arbitrary_address = true}},
        /* truck-bench-drive (MIT) */
        {"0000400B00090000", {.manufacturer = 90, .function = 9}},
        /* arithmetic from the field list: 0x9004090135612345 */
        {"4523613501090490",
         {.identity = 0x12345,
          .manufacturer = 0x1AB,
          .ecu_instance = 1,
          .function = 9,
          .vehicle_system = 2,
          .industry_group = 1,
          .arbitrary_address = true}},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        uint8_t bytes[8];
        assert_int_equal(hex_bytes(cases[i].bytes, bytes, 8), 8);
        const struct bl_name got = bl_name_split(bytes);
        const struct bl_name *want = &cases[i].expected;
        assert_int_equal(got.identity, want->identity);
        assert_int_equal(got.manufacturer, want->manufacturer);
        assert_int_equal(got.ecu_instance, want->ecu_instance);
        assert_int_equal(got.function_instance, want->function_instance);
        assert_int_equal(got.function, want->function);
        assert_int_equal(got.vehicle_system, want->vehicle_system);
        assert_int_equal(got.vehicle_system_instance,
                         want->vehicle_system_instance);
        assert_int_equal(got.industry_group, want->industry_group);
        assert_int_equal(got.arbitrary_address, want->arbitrary_address);
    }
}

/* python-can-j1939: of two claims for one address the lower NAME stays. */
static void the_lower_name_wins(void **state)
{
    (void)state;
    uint8_t a[8], b[8];
    hex_bytes("87D6525382C9FE52", a, 8);
    hex_bytes("87D65253826FFE52", b, 8);
    assert_true(bl_name_split(b).raw < bl_name_split(a).raw);
}

static void code_bytes_read_as_published(void **state)
{
    (void)state;
    static const struct {
        const char *bytes;
        uint32_t spn;
        unsigned fmi, count, method;
    } cases[] = {
        {"61021300", 609, 19, 0, 0},   {"61021381", 609, 19, 1, 1},
        {"21061F00", 1569, 31, 0, 0},  {"21061F23", 1569, 31, 35, 0},
        {"EE100400", 4334, 4, 0, 0},   {"FFFFE000", 524287, 0, 0, 0},
        {"00001F00", 0, 31, 0, 0},     {"0000007F", 0, 0, 127, 0},
        {"00000080", 0, 0, 0, 1},      {"D2041F01", 1234, 31, 1, 0},
        {"37020201", 567, 2, 1, 0},    {"CE220C01", 8910, 12, 1, 0},
        {"2B030D7E", 811, 13, 126, 0}, {"B804030A", 1208, 3, 10, 0},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        uint8_t data[6] = {0, 0xFF};
        hex_bytes(cases[i].bytes, data + 2, 4);
        struct bl_trouble code;
        size_t count;
        assert_int_equal(bl_trouble_read(data, 6, &code, 1, &count), BL_OK);
        assert_int_equal(count, 1);
        assert_int_equal(code.spn, cases[i].spn);
        assert_int_equal(code.fmi, cases[i].fmi);
        assert_int_equal(code.count, cases[i].count);
        assert_int_equal(code.method, cases[i].method);
    }
}

/* SAE J1939-73 5.7.1.14 as a public test quotes it: version 1 of SPN 1208;
   versions 2 and 3 follow from the same bits in the other byte orders. */
static void older_conversions_are_all_given(void **state)
{
    (void)state;
    uint8_t data[6] = {0, 0xFF, 0x00, 0x97, 0x03, 0x81};
    struct bl_trouble code;
    size_t count;
    assert_int_equal(bl_trouble_read(data, 6, &code, 1, &count), BL_OK);
    assert_int_equal(code.spn_v1, 1208);
    assert_int_equal(code.spn_v2, 0x9700 << 3);
    assert_int_equal(code.spn_v3, 0x9700);
    assert_int_equal(code.fmi, 3);
    assert_int_equal(code.count, 1);
    assert_int_equal(code.method, 1);
}

static void empty_lists_have_no_codes(void **state)
{
    (void)state;
    static const char *const none[] = {
        "00FF00000000FFFF", /* truck-short (MIT) */
        "0000000000000000", /* AgIsoStack: zeros in SPN, FMI and count */
        "00FFFFFFFFFFFFFF", /* padding only */
    };
    for (size_t i = 0; i < COUNT_OF(none); i++) {
        uint8_t data[8];
        hex_bytes(none[i], data, 8);
        size_t count = 9;
        assert_int_equal(bl_trouble_read(data, 8, NULL, 0, &count), BL_OK);
        assert_int_equal(count, 0);
    }
    const uint8_t small[5] = {0};
    size_t count;
    assert_int_equal(bl_trouble_read(small, 5, NULL, 0, &count), BL_FORMAT);
}

/* j1939-84: three codes; with room for one the count still says three. */
static void lists_are_read_whole(void **state)
{
    (void)state;
    uint8_t data[14];
    hex_bytes("11CD 61021300 21061F00 EE100400", data, sizeof(data));
    struct bl_trouble code[3];
    size_t count;
    assert_int_equal(bl_trouble_read(data, 14, code, 1, &count), BL_OK);
    assert_int_equal(count, 3);
    assert_int_equal(bl_trouble_read(data, 14, code, 3, &count), BL_OK);
    assert_int_equal(code[0].spn, 609);
    assert_int_equal(code[1].spn, 1569);
    assert_int_equal(code[2].spn, 4334);
}

static void failure_modes_have_words(void **state)
{
    (void)state;
    /* SAE J1939-73 list, restated: 2 erratic, 12 bad device, 31 exists. */
    assert_non_null(strstr(bl_fmi_text(2), "erratic"));
    assert_non_null(strstr(bl_fmi_text(12), "bad"));
    assert_non_null(strstr(bl_fmi_text(19), "network"));
    assert_string_equal(bl_fmi_text(31), "condition exists");
    assert_string_equal(bl_fmi_text(25), "");
    assert_string_equal(bl_fmi_text(4000), "");
}

/* The bound says the same as the ranges: every raw value of the narrow fields,
   those around the bound of the wide ones. */
static void valid_values_end_where_the_ranges_do(void **state)
{
    (void)state;
    for (unsigned bits = 1; bits <= 64; bits++) {
        const uint64_t most = bl_value_most(bits);
        const uint64_t ones = UINT64_MAX >> (64 - bits);
        const uint64_t span = bits <= 16 ? ones : 0xFFFF;
        for (uint64_t step = 0; step <= span; step++) {
            const uint64_t low = bits <= 16 ? step : most - 0x7FFF + step;
            if (low <= ones && (bl_value_range(low, bits) == BL_VALUE_VALID) !=
                                   (low <= most)) {
                fail_msg("%u bits, %#jx", bits, (uintmax_t)low);
            }
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(valid_values_end_where_the_ranges_do),
        cmocka_unit_test(ranges_are_those_of_the_signal_table),
        cmocka_unit_test(names_split_as_published),
        cmocka_unit_test(the_lower_name_wins),
        cmocka_unit_test(code_bytes_read_as_published),
        cmocka_unit_test(older_conversions_are_all_given),
        cmocka_unit_test(empty_lists_have_no_codes),
        cmocka_unit_test(lists_are_read_whole),
        cmocka_unit_test(failure_modes_have_words),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
