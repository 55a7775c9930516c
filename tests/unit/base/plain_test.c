/* SPDX-License-Identifier: MIT */
/*
 * Foreign text made plain. The bidirectional controls are those that Unicode's
 * UAX #9 names (from memory): LRM RLM ALM, LRE RLE PDF LRO RLO, LRI RLI FSI
 * PDI; their UTF-8 was worked out by hand.
 */
#include "testing.h"

#include "base/plain.h"

static void assert_made(const char *text, const char *expected)
{
    struct bl_strbuf made = {0};
    bl_plain_add(&made, text);
    assert_false(made.failed);
    assert_string_equal(bl_strbuf_get(&made), expected);
    assert_int_equal(bl_plain_is(text), strcmp(text, expected) == 0);
    bl_strbuf_finish(&made);
}

#define OPEN "\xE2\x80\xB9"
#define SHUT "\xE2\x80\xBA"

static void bidirectional_controls_are_written_out(void **state)
{
    (void)state;
    static const struct {
        const char *text, *number;
    } control[] = {{"\xE2\x80\x8E", "200E"}, {"\xE2\x80\x8F", "200F"},
                   {"\xD8\x9C", "061C"},     {"\xE2\x80\xAA", "202A"},
                   {"\xE2\x80\xAB", "202B"}, {"\xE2\x80\xAC", "202C"},
                   {"\xE2\x80\xAD", "202D"}, {"\xE2\x80\xAE", "202E"},
                   {"\xE2\x81\xA6", "2066"}, {"\xE2\x81\xA7", "2067"},
                   {"\xE2\x81\xA8", "2068"}, {"\xE2\x81\xA9", "2069"}};
    for (size_t i = 0; i < COUNT_OF(control); i++) {
        char text[32];
        char expected[64];
        snprintf(text, sizeof(text), "a%sb", control[i].text);
        snprintf(expected, sizeof(expected), "a" OPEN "%s" SHUT "b",
                 control[i].number);
        assert_made(text, expected);
    }
}

static void what_controls_a_terminal_is_written_out(void **state)
{
    (void)state;
    assert_made("\x1B[2J", OPEN "001B" SHUT "[2J");
    assert_made("\xC2\x9B\x31m", OPEN "009B" SHUT "1m"); /* CSI in one */
    assert_made("a\nb\tc\x7F",
                "a" OPEN "000A" SHUT "b" OPEN "0009" SHUT "c" OPEN "007F" SHUT);
    assert_made("a\xE2\x80\xA8z", "a" OPEN "2028" SHUT "z");
    assert_made("a\xE2\x80\x8Bz", "a" OPEN "200B" SHUT "z");
    assert_made("\xEF\xBB\xBFz", OPEN "FEFF" SHUT "z");
}

/* Ends of ranges of category Cf (UnicodeData.txt, from memory), among them
   those of four bytes. */
static void format_characters_are_written_out(void **state)
{
    (void)state;
    assert_made("a\xE1\xA0\x8Ez", "a" OPEN "180E" SHUT "z");
    assert_made("a\xEF\xBF\xB9z", "a" OPEN "FFF9" SHUT "z");
    assert_made("a\xEF\xBF\xBBz", "a" OPEN "FFFB" SHUT "z");
    assert_made("a\xF0\x9D\x85\xB3z", "a" OPEN "1D173" SHUT "z");
    assert_made("a\xF3\xA0\x80\x81z", "a" OPEN "E0001" SHUT "z");
    assert_made("a\xF3\xA0\x81\xBFz", "a" OPEN "E007F" SHUT "z");
    assert_made("a\xF0\x9F\x9A\x9Bz", "a\xF0\x9F\x9A\x9Bz"); /* a lorry */
}

/* A cut sequence at the end must not be read past. */
static void what_is_no_text_is_left(void **state)
{
    (void)state;
    assert_made("a\xF3\xA0\x80", "a\xF3\xA0\x80");
    assert_made("a\xE2", "a\xE2");
    assert_made("a\xE2\x80", "a\xE2\x80");
    assert_made("a\xC2", "a\xC2");
    assert_made("\xFF\x80", "\xFF\x80");
}

static void a_line_is_cut_between_characters(void **state)
{
    (void)state;
    char line[8];
    const char *plain = "as it is";
    assert_ptr_equal(bl_plain_line(plain, line, sizeof(line)), plain);
    assert_string_equal(bl_plain_line("a\x1B", line, 2), "a");
    assert_string_equal(bl_plain_line("a\x1Bz", line, sizeof(line)),
                        "a" OPEN "001");
    assert_string_equal(bl_plain_line("abcde\x1B", line, sizeof(line)),
                        "abcde");
}

static void ordinary_text_stays(void **state)
{
    (void)state;
    /* J\u00E4rn, Hebrew, Arabic, an emoji, a dash, guillemets, degrees */
    static const char *const text[] = {"",
                                       "bin trailer A",
                                       "J\xC3\xA4rn",
                                       "\xD7\x90\xD7\x91",
                                       "\xD8\xA7\xD8\xA8",
                                       "\xF0\x9F\x9A\x9A",
                                       "\xE2\x80\x93",
                                       OPEN "x" SHUT,
                                       "20 \xC2\xB0"
                                       "C",
                                       "<&>\"'"};
    for (size_t i = 0; i < COUNT_OF(text); i++) {
        assert_made(text[i], text[i]);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(bidirectional_controls_are_written_out),
        cmocka_unit_test(what_controls_a_terminal_is_written_out),
        cmocka_unit_test(format_characters_are_written_out),
        cmocka_unit_test(what_is_no_text_is_left),
        cmocka_unit_test(a_line_is_cut_between_characters),
        cmocka_unit_test(ordinary_text_stays),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
