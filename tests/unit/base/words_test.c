/* SPDX-License-Identifier: MIT */
/* Distances that any account of the method gives (from memory), the rules that
   make a number a distance, and which word is taken. */
#include "testing.h"

#include "base/words.h"

#include <stdio.h>
#include <string.h>

static void distances_of_the_books(void **state)
{
    static const struct {
        const char *a, *b;
        size_t apart;
    } row[] = {{"kitten", "sitting", 3}, {"saturday", "sunday", 3},
               {"flaw", "lawn", 2},      {"", "abc", 3},
               {"same", "same", 0},      {"gumbo", "gambol", 2},
               {"ca", "ac", 1},          {"measrue", "measure", 1}};
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

static void offer(struct bl_nearest *nearest, const char *words)
{
    char word[64];
    int taken;
    while (sscanf(words, "%63s%n", word, &taken) == 1) {
        bl_nearest_offer(nearest, word);
        words += taken;
    }
}

static void the_word_that_may_be_meant(void **state)
{
    (void)state;
    static const struct {
        const char *wanted, *words, *best;
        size_t letters;
    } row[] = {
        {"mesure", "measure compare check", "measure", 0},
        {"verison", "version report", "version", 0},
        {"chek", "check show", "check", 0},
        {"kpa", "kPa Pa bar", "kPa", 0},
        /* as near as one another: none */
        {"P3.csv", "P1.csv P2.csv P4.csv", NULL, 2},
        {"P3.csv", "P1.csv U9.csv", "P1.csv", 2},
        /* the same word twice is one */
        {"spd", "spid spid", "spid", 0},
        /* letters behind the dot are no reason */
        {"P3.csv.gz", "U1.csv.gz", NULL, 2},
        {"P1.csv", "P1.csv.gz U1.csv.gz", "P1.csv.gz", 2},
        {"P1.csv.gz", "P1.csv P2.csv", "P1.csv", 2},
        /* cut short, from three letters on */
        {"iso11992", "j1939-brakes iso11992-2", "iso11992-2", 0},
        {"is", "iso11992-2", NULL, 0},
        /* another word */
        {"brake", "survey", NULL, 0},
        /* right already */
        {"unit", "unit units", NULL, 0},
        {NULL, "unit", NULL, 0},
        {"unit", "", NULL, 0},
    };
    for (size_t i = 0; i < COUNT_OF(row); i++) {
        struct bl_nearest nearest = {.wanted = row[i].wanted,
                                     .letters = row[i].letters};
        offer(&nearest, row[i].words);
        const char *best = bl_nearest_word(&nearest);
        if (row[i].best == NULL) {
            assert_null(best);
        } else {
            assert_non_null(best);
            assert_string_equal(best, row[i].best);
        }
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(distances_of_the_books),
        cmocka_unit_test(capitals_are_no_slip),
        cmocka_unit_test(long_words_have_no_distance),
        cmocka_unit_test(the_word_that_may_be_meant),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
