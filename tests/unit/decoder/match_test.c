/* SPDX-License-Identifier: MIT */
/* Which message a frame is. Outside reference: identifiers of public trailer
   scripts and captures (10 ms and 100 ms trailer messages), the J1939 bridge
   addresses of towed units, and the twin numbers 65197 and 65134, which brake
   controllers and trailers use for different messages. */
#include "support.h"

static const char *name_of(const struct bl_tables *tables, uint32_t id,
                           const struct bl_addresses *units)
{
    const struct bl_message *found[4] = {0};
    const size_t count = bl_tables_match(tables, id, true, units, found, 4);
    assert_true(count <= 1);
    return count == 0 ? "" : found[0]->name;
}

static void identifiers_of_public_captures_are_known(void **state)
{
    (void)state;
    static const struct {
        uint32_t id;
        const char *name;
    } cases[] = {
        {0x0C02C820, "EBS11"},         {0x0C0320C8, "EBS21"},
        {0x18FEC920, "EBS12"},         {0x18FEC4C8, "EBS22"},
        {0x18FEC6C8, "EBS23"},         {0x18FD9AC8, "EBS24"},
        {0x18F020C8, "EBS25"},         {0x0CF01FC8, "EBS26"},
        {0x18E4C820, "RGE11"},         {0x188AC820, "RGE12"},
        {0x18E520C8, "RGE21"},         {0x18FE5CC8, "RGE22"},
        {0x18FE5EC8, "RGE23"},         {0x188920C8, "RGE24"},
        {0x18FEE620, "TD11"},          {0x18F0010B, "EBC1"},
        {0x18FEBF0B, "EBC2"},          {0x18FEF100, "CCVS1"},
        {0x18F0093E, "VDC2"},          {0x0CFE6CEE, "TCO1"},
        {0x1CFEAE30, "AIR1"},          {0x18FE7027, "CVW"},
        {0x18FECA0B, "DM1"},           {0x08FE6E0B, "HRW"},
        {0x18EEFF0B, "ADDRESS-CLAIM"}, {0x18FFFF00, ""},
    };
    struct bl_tables *tables = shipped();
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        assert_string_equal(name_of(tables, cases[i].id, NULL), cases[i].name);
        /* An 11-bit frame is none of them. */
        assert_int_equal(
            bl_tables_match(tables, cases[i].id & 0x7FF, false, NULL, NULL, 0),
            0);
    }
    bl_tables_destroy(tables);
}

static void twins_are_told_by_their_sender(void **state)
{
    (void)state;
    struct bl_tables *tables = shipped();
    assert_string_equal(name_of(tables, 0x18FEADC8, NULL), "EBS25-65197");
    assert_string_equal(name_of(tables, 0x18FEAD0B, NULL), "EBC3");
    assert_string_equal(name_of(tables, 0x0CFE6EC8, NULL), "EBS26-65134");
    assert_string_equal(name_of(tables, 0x0CFE6E0B, NULL), "HRW");
    assert_string_equal(name_of(tables, 0x18FEE6EE, NULL), "TD");
    /* With addresses of its own, 0xC8 is no towed unit any more. */
    static const uint8_t own[] = {0x21, 0x90, 0x88};
    const struct bl_addresses units = {own, COUNT_OF(own)};
    assert_string_equal(name_of(tables, 0x18FEADC8, &units), "EBC3");
    assert_string_equal(name_of(tables, 0x18FEAD90, &units), "EBS25-65197");
    assert_string_equal(name_of(tables, 0x18FEAD88, &units), "EBS25-65197");
    assert_string_equal(name_of(tables, 0x18FEE621, &units), "TD11");
    bl_tables_destroy(tables);
}

/* Each link of a chain of five: front to rear and back. */
static void towed_units_that_tow_are_both(void **state)
{
    (void)state;
    static const uint32_t down[] = {0x0C02C820, 0x0C02C0C8, 0x0C02B8C0,
                                    0x0C02B0B8, 0x0C02A8B0};
    static const uint32_t up[] = {0x0C0320C8, 0x0C03C8C0, 0x0C03C0B8,
                                  0x0C03B8B0, 0x0C03B0A8};
    static const uint32_t broadcast_down[] = {
        0x18FEC920, 0x18FEC9C8, 0x18FEC9C0, 0x18FEC9B8, 0x18FEC9B0};
    static const uint32_t broadcast_up[] = {0x18FEC4C8, 0x18FEC4C0, 0x18FEC4B8,
                                            0x18FEC4B0, 0x18FEC4A8};
    struct bl_tables *tables = shipped();
    for (size_t i = 0; i < COUNT_OF(down); i++) {
        assert_string_equal(name_of(tables, down[i], NULL), "EBS11");
        assert_string_equal(name_of(tables, up[i], NULL), "EBS21");
        assert_string_equal(name_of(tables, broadcast_down[i], NULL), "EBS12");
        assert_string_equal(name_of(tables, broadcast_up[i], NULL), "EBS22");
    }
    /* A demand against its direction is not a demand. */
    assert_string_equal(name_of(tables, 0x0C0220C8, NULL), "");
    assert_string_equal(name_of(tables, 0x0C03C820, NULL), "");
    bl_tables_destroy(tables);
}

static void single_identifiers_and_addresses_win(void **state)
{
    (void)state;
    struct bl_tables *tables = table_of(
        "SHORT,id:0x123,any,any,,a,1.1,8,,,,,,count,,,own,confirmed\n"
        "LONG,id:0x18FF0021,any,any,,a,1.1,8,,,,,,count,,,own,confirmed\n"
        "GROUP,0xFF00,any,any,,a,1.1,8,,,,,,count,,,own,confirmed\n"
        "FROM33,0xFF00,0x33,any,,a,1.1,8,,,,,,count,,,own,confirmed\n");
    const struct bl_message *found[4];
    assert_int_equal(bl_tables_match(tables, 0x123, false, NULL, found, 4), 1);
    assert_string_equal(found[0]->name, "SHORT");
    assert_int_equal(bl_tables_match(tables, 0x123, true, NULL, found, 4), 0);
    assert_string_equal(name_of(tables, 0x18FF0021, NULL), "LONG");
    assert_string_equal(name_of(tables, 0x1CFF0021, NULL), "GROUP");
    assert_string_equal(name_of(tables, 0x18FF0033, NULL), "FROM33");
    assert_string_equal(name_of(tables, 0x18FF0034, NULL), "GROUP");
    bl_tables_destroy(tables);
}

/* Two layouts that fit equally well are both given. */
static void equal_messages_are_all_given(void **state)
{
    (void)state;
    struct bl_tables *tables =
        table_of("A,0xFF00,any,any,,a,1.1,8,,,,,,count,,,own,confirmed\n"
                 "B,0xFF00,any,any,,a,2.1,8,,,,,,count,,,own,confirmed\n");
    const struct bl_message *found[2];
    assert_int_equal(bl_tables_match(tables, 0x18FF0021, true, NULL, found, 1),
                     2);
    assert_string_equal(found[0]->name, "A");
    assert_int_equal(bl_tables_match(tables, 0x18FF0021, true, NULL, found, 2),
                     2);
    assert_string_equal(found[1]->name, "B");
    bl_tables_destroy(tables);
}

/* Analysis finds these by role alone; the law (EU) 2015/68 Annex XII names
   the first five as the least that a link carries. */
static void roles_find_their_signals(void **state)
{
    (void)state;
    static const struct {
        enum bl_role role;
        const char *reference;
    } cases[] = {
        {BL_ROLE_SERVICE_DEMAND, "EBS11.service_demand"},
        {BL_ROLE_CIRCUITS, "EBS12.two_circuits"},
        {BL_ROLE_CONTROL_LINE_PRESENT, "EBS12.pneumatic_control_line"},
        {BL_ROLE_ELECTRIC_SUPPLY_SUFFICIENT, "EBS22.electric_supply"},
        {BL_ROLE_SUPPLY_LINE_REQUEST, "EBS22.supply_line_request"},
        {BL_ROLE_PEDAL_POSITION, "EBC1.pedal_position"},
        {BL_ROLE_TROUBLE_CODES, "DM1.trouble_codes"},
        {BL_ROLE_ADDRESS_CLAIM, "ADDRESS-CLAIM.name"},
    };
    struct bl_tables *tables = shipped();
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        const struct bl_signal *found[2] = {0};
        assert_int_equal(bl_tables_by_role(tables, cases[i].role, found, 2), 1);
        assert_ptr_equal(found[0], signal_of(tables, cases[i].reference));
    }
    /* Two trailer messages (one under either number) and one of the truck. */
    assert_int_equal(
        bl_tables_by_role(tables, BL_ROLE_DELIVERED_PRESSURE, NULL, 0), 18);
    bl_tables_destroy(tables);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(identifiers_of_public_captures_are_known),
        cmocka_unit_test(twins_are_told_by_their_sender),
        cmocka_unit_test(towed_units_that_tow_are_both),
        cmocka_unit_test(single_identifiers_and_addresses_win),
        cmocka_unit_test(equal_messages_are_all_given),
        cmocka_unit_test(roles_find_their_signals),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
