/* SPDX-License-Identifier: MIT */
/* Distances that any account of the method gives (from memory), and the rules
   that make a number a distance. */
#include "testing.h"

#include "brakelag/words.h"

#include <string.h>

static void distances_of_the_books(void **state)
{
    static const struct {
        const char *a, *b;
        size_t apart;
    } row[] = {{"kitten", "sitting", 3}, {"saturday", "sunday", 3},
               {"flaw", "lawn", 2},      {"", "abc", 3},
               {"same", "same", 0},      {"gumbo", "gambol", 2}};
    (void)state;
    for (size_t i = 0; i < COUNT_OF(row); i++) {
        assert_int_equal(bl_word_distance(row[i].a, row[i].b), row[i].apart);
        assert_int_equal(bl_word_distance(row[i].b, row[i].a), row[i].apart);
    }
}

static void capitals_are_no_slip(void **state)
{
    (void)state;
    assert_int_equal(bl_word_distance("kPa", "KPA"), 0);
    assert_int_equal(bl_word_distance("[@", "{`"), 2);
}

static void long_words_have_no_distance(void **state)
{
    char word[BL_WORD_MAX + 2];
    (void)state;
    memset(word, 'a', sizeof(word));
    word[BL_WORD_MAX] = '\0';
    assert_int_equal(bl_word_distance(word, ""), BL_WORD_MAX);
    assert_int_equal(bl_word_distance("", word), BL_WORD_MAX);
    word[BL_WORD_MAX] = 'a';
    word[BL_WORD_MAX + 1] = '\0';
    assert_true(bl_word_distance(word, "a") == SIZE_MAX);
    assert_true(bl_word_distance("a", word) == SIZE_MAX);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(distances_of_the_books),
        cmocka_unit_test(capitals_are_no_slip),
        cmocka_unit_test(long_words_have_no_distance),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
