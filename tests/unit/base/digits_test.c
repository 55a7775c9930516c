/* SPDX-License-Identifier: MIT */
/*
 * Hex digits many at a time, by words and by what the machine has, against the
 * C library, one character after the other.
 */
#include "testing.h"

#include "base/digits.h"
#include "base/random.h"

#include <ctype.h>

enum { TURNS = 300000, DIGITS = 16 };

static bool by_library(const char *text, size_t digits, uint8_t *bytes)
{
    for (size_t i = 0; i < digits; i += 2) {
        const unsigned char first = (unsigned char)text[i];
        const unsigned char second = (unsigned char)text[i + 1];
        if (!isxdigit(first) || !isxdigit(second)) {
            return false;
        }
        const char pair[3] = {text[i], text[i + 1], '\0'};
        bytes[i / 2] = (uint8_t)strtoul(pair, NULL, 16);
    }
    return true;
}

static void assert_as_library(const char *text)
{
    uint8_t expected[DIGITS / 2];
    uint8_t bytes[DIGITS / 2];
    uint32_t word = 0;
    bool good = by_library(text, DIGITS, expected);
    assert_int_equal(bl_digits_hex_eight(text, bytes), good);
    if (good) {
        assert_memory_equal(bytes, expected, sizeof(bytes));
    }
    good = by_library(text, 8, expected);
    assert_int_equal(bl_digits_hex(text, &word), good);
    for (int i = 0; good && i < 4; i++) {
        assert_int_equal(word >> 8 * i & 0xFF, expected[i]);
    }
    assert_int_equal(bl_digits_hex_words(text, &word), good);
    for (int i = 0; good && i < 4; i++) {
        assert_int_equal(word >> 8 * i & 0xFF, expected[i]);
    }
}

/* Every character at every place among digits. */
static void each_character_anywhere(void **state)
{
    (void)state;
    for (int c = 0; c < 256; c++) {
        for (size_t at = 0; at < DIGITS; at++) {
            char text[DIGITS + 1] = "0123456789abCDEf";
            text[at] = (char)c;
            assert_as_library(text);
        }
    }
}

static void digits_at_random(void **state)
{
    (void)state;
    static const char hex[] = "0123456789abcdefABCDEF";
    struct bl_random random;
    bl_random_seed(&random, 5);
    for (int turn = 0; turn < TURNS; turn++) {
        char text[DIGITS];
        for (size_t i = 0; i < DIGITS; i++) {
            text[i] = hex[bl_random_below(&random, sizeof(hex) - 1)];
        }
        if (turn % 3 == 0) {
            text[bl_random_below(&random, DIGITS)] =
                (char)bl_random_below(&random, 256);
        }
        assert_as_library(text);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_character_anywhere),
        cmocka_unit_test(digits_at_random),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
