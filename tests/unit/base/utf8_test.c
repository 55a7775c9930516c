/* SPDX-License-Identifier: MIT */
/* UTF-8: examples of RFC 3629, section 7, its table in section 4 and the
   overlong form it warns of in section 10; ISO 8859-1 by its definition, that
   byte N is U+00N. */
#include "testing.h"

#include "base/utf8.h"

#include <string.h>

static void well_formed(void **state)
{
    (void)state;
    static const char *const good[] = {
        "",
        "plain",
        "A\xE2\x89\xA2\xCE\x91.",               /* A, not identical, Alpha */
        "\xED\x95\x9C\xEA\xB5\xAD\xEC\x96\xB4", /* hangugeo */
        "\xE6\x97\xA5\xE6\x9C\xAC\xE8\xAA\x9E", /* nihongo */
        "\xEF\xBB\xBF\xF0\xA3\x8E\xB4",         /* mark, stump of tree */
        "\xF4\x8F\xBF\xBF"};                    /* U+10FFFF */
    static const char *const bad[] = {
        "\xC0\x80",             /* overlong NUL */
        "\x2F\xC0\xAE\x2E\x2F", /* its example of an overlong dot */
        "\xED\xA0\x80",         /* surrogate */
        "\xF4\x90\x80\x80",     /* above U+10FFFF */
        "\xE2\x89",             /* cut */
        "\xE2(\xA1",
        "\x80",
        "\xFF"};
    for (size_t i = 0; i < COUNT_OF(good); i++) {
        assert_true(bl_utf8_good(good[i], strlen(good[i])));
    }
    for (size_t i = 0; i < COUNT_OF(bad); i++) {
        assert_false(bl_utf8_good(bad[i], strlen(bad[i])));
    }
}

/* A text cut anywhere keeps all characters before the cut, and no part of the
   one that is cut: lengths of 1, 2, 3 and 4 bytes, RFC 3629, section 3. */
static void cut_at_a_border(void **state)
{
    (void)state;
    static const char text[] = "A\xCE\x91\xE2\x89\xA2\xF0\xA3\x8E\xB4";
    static const size_t kept[] = {0, 1, 1, 3, 3, 3, 6, 6, 6, 6, 10};
    for (size_t i = 0; i < COUNT_OF(kept); i++) {
        assert_int_equal(bl_utf8_whole(text, i), kept[i]);
        assert_true(bl_utf8_good(text, kept[i]));
    }
    /* Not UTF-8: nothing to keep together. */
    assert_int_equal(bl_utf8_whole("A\x80\x80", 3), 3);
    assert_int_equal(bl_utf8_whole("\x80\x80", 2), 2);
}

static void every_foreign_byte(void **state)
{
    (void)state;
    for (unsigned byte = 1; byte < 256; byte++) {
        const char text[] = {(char)byte, '\0'};
        struct bl_strbuf utf8 = {0};
        bl_utf8_add_latin1(&utf8, text);
        const unsigned char *at = (const unsigned char *)bl_strbuf_get(&utf8);
        assert_true(bl_utf8_good(bl_strbuf_get(&utf8), utf8.length));
        assert_int_equal(utf8.length, byte < 0x80 ? 1 : 2);
        assert_int_equal(byte < 0x80
                             ? at[0]
                             : (unsigned)(at[0] & 0x1F) << 6 | (at[1] & 0x3F),
                         byte);
        bl_strbuf_finish(&utf8);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(well_formed),
                                       cmocka_unit_test(cut_at_a_border),
                                       cmocka_unit_test(every_foreign_byte)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
