/* SPDX-License-Identifier: MIT */
/* Outside reference: identifiers checked in tests of cantools, AgIsoStack and
   python-can-j1939 (all MIT), and of real trucks' recordings; the rule itself
   is in Linux Documentation/networking/j1939.rst. */
#include "hex.h"

#include "brakelag/j1939.h"

struct parts {
    uint32_t id;
    uint8_t priority;
    uint32_t pgn;
    uint8_t destination, source;
    bool pdu1, extended_page, data_page;
};

static const struct parts cases[] = {
    /* cantools */
    {0x14123456, 5, 0x1200, 0x34, 0x56, true, false, false},
    {0x1FFFFFFF, 7, 0x3FFFF, 255, 0xFF, false, true, true},
    {0x15340201, 5, 0x13400, 0x02, 0x01, true, false, true},
    /* AgIsoStack */
    {0x18EF1C80, 6, 0xEF00, 0x1C, 0x80, true, false, false},
    /* python-can-j1939: a group extension is no destination */
    {0x18F09B90, 6, 0xF09B, 255, 0x90, false, false, false},
    /* public truck captures; PGNs by the SAE label list */
    {0x0C02C820, 3, 512, 200, 32, true, false, false},
    {0x0C0320C8, 3, 768, 32, 200, true, false, false},
    {0x18FEC4C8, 6, 65220, 255, 200, false, false, false},
    {0x18F020C8, 6, 61472, 255, 200, false, false, false},
    {0x0CF01FC8, 3, 61471, 255, 200, false, false, false},
    {0x18E4C820, 6, 58368, 200, 32, true, false, false},
    /* rule: data page set */
    {0x19F00100, 6, 126977, 255, 0, false, false, true},
};

static void split_gives_the_published_parts(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        const struct parts *c = &cases[i];
        const struct bl_id id = bl_id_split(c->id);
        assert_int_equal(id.priority, c->priority);
        assert_int_equal(id.pgn, c->pgn);
        assert_int_equal(id.destination, c->destination);
        assert_int_equal(id.source, c->source);
        assert_int_equal(id.pdu1, c->pdu1);
        assert_int_equal(id.extended_page, c->extended_page);
        assert_int_equal(id.data_page, c->data_page);
        assert_int_equal(id.format, (c->id >> 16) & 0xFF);
        assert_int_equal(id.specific, (c->id >> 8) & 0xFF);
    }
}

static void join_gives_the_identifier_back(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        const struct parts *c = &cases[i];
        assert_int_equal(
            bl_id_join(c->priority, c->pgn, c->source, c->destination), c->id);
    }
    /* The low byte of a PDU1 group is the destination's place. */
    assert_int_equal(bl_id_join(6, 0xEF55, 0x80, 0x1C), 0x18EF1C80);
    /* cantools: parts reserved 0, page 1, format 0xEF, specific 0 */
    assert_int_equal(bl_id_split(bl_id_join(0, 0x1EF00, 0, 0)).pgn, 0x1EF00);
}

/* The chain of links: each unit sends to its neighbour (towed addresses as the
   J1939 bridge table has them). */
static void chain_identifiers_name_both_neighbours(void **state)
{
    (void)state;
    static const uint8_t address[] = {32, 200, 192, 184, 176, 168};
    static const uint32_t down[] = {0x0C02C820, 0x0C02C0C8, 0x0C02B8C0,
                                    0x0C02B0B8, 0x0C02A8B0};
    static const uint32_t up[] = {0x0C0320C8, 0x0C03C8C0, 0x0C03C0B8,
                                  0x0C03B8B0, 0x0C03B0A8};
    for (size_t i = 0; i < COUNT_OF(down); i++) {
        assert_int_equal(bl_id_join(3, 512, address[i], address[i + 1]),
                         down[i]);
        assert_int_equal(bl_id_join(3, 768, address[i + 1], address[i]), up[i]);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(split_gives_the_published_parts),
        cmocka_unit_test(join_gives_the_identifier_back),
        cmocka_unit_test(chain_identifiers_name_both_neighbours),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
