/* SPDX-License-Identifier: MIT */
/* Outside reference: strtod of the C library in the C locale. */
#include "testing.h"

#include "base/number.h"
#include "base/random.h"

#include <locale.h>

static void scan_agrees_with_strtod_on_random_texts(void **state)
{
    (void)state;
    struct bl_random random;
    bl_random_seed(&random, 20260101);
    for (int i = 0; i < 200000; i++) {
        char text[64];
        const int digits = 1 + (int)bl_random_below(&random, 22);
        size_t at = 0;
        if (bl_random_below(&random, 2) == 0) {
            text[at++] = '-';
        }
        const uint64_t point = bl_random_below(&random, 24);
        for (int d = 0; d < digits; d++) {
            if ((uint64_t)d == point) {
                text[at++] = '.';
            }
            text[at++] = (char)('0' + bl_random_below(&random, 10));
        }
        text[at] = '\0';
        if (bl_random_below(&random, 3) == 0) {
            snprintf(text + at, sizeof(text) - at, "e%d",
                     (int)bl_random_below(&random, 640) - 330);
        }
        double value;
        size_t used;
        assert_true(bl_number_scan(text, strlen(text), '.', &value, &used));
        assert_int_equal(used, strlen(text));
        const double expected = strtod(text, NULL);
        if (memcmp(&value, &expected, sizeof(value)) != 0) {
            fail_msg("'%s' gives %.17g, strtod gives %.17g", text, value,
                     expected);
        }
    }
}

static void scan_stops_at_the_first_foreign_sign(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        char decimal;
        bool ok;
        size_t used;
        double value;
    } cases[] = {
        {"12,5;", ',', true, 4, 12.5},   {"12,5", '.', true, 2, 12},
        {".5", '.', true, 2, 0.5},       {"5.", '.', true, 2, 5},
        {".", '.', false, 0, 0},         {"", '.', false, 0, 0},
        {"-", '.', false, 0, 0},         {"nan", '.', false, 0, 0},
        {"1e", '.', true, 1, 1},         {"1e+", '.', true, 1, 1},
        {"1,23E+02", ',', true, 8, 123}, {"0x10", '.', true, 1, 0},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        double value = 0;
        size_t used = 0;
        const bool ok = bl_number_scan(cases[i].text, strlen(cases[i].text),
                                       cases[i].decimal, &value, &used);
        assert_int_equal(ok, cases[i].ok);
        if (ok) {
            assert_int_equal(used, cases[i].used);
            assert_near(value, cases[i].value, 0);
        }
    }
}

static void seconds_are_exact(void **state)
{
    (void)state;
    int64_t ns;
    unsigned digits;
    assert_true(bl_seconds_parse("1701364099.986950", 17, &ns, &digits));
    assert_int_equal(ns, INT64_C(1701364099986950000));
    assert_int_equal(digits, 6);
    assert_true(bl_seconds_parse("-0.5", 4, &ns, &digits));
    assert_int_equal(ns, -500000000);
    assert_true(bl_seconds_parse("0.0000000019", 12, &ns, &digits));
    assert_int_equal(ns, 2);
    assert_false(bl_seconds_parse("9223372037", 10, &ns, &digits));
    assert_false(bl_seconds_parse("1.2x", 4, &ns, &digits));
    assert_false(bl_seconds_parse("", 0, &ns, &digits));
}

static void integers_know_their_range(void **state)
{
    (void)state;
    uint64_t u;
    int64_t i;
    assert_true(bl_unsigned_parse("18446744073709551615", 20, &u));
    assert_true(u == UINT64_MAX);
    assert_false(bl_unsigned_parse("18446744073709551616", 20, &u));
    assert_true(bl_unsigned_parse("0xFE", 4, &u));
    assert_int_equal(u, 254);
    assert_false(bl_unsigned_parse("-1", 2, &u));
    assert_true(bl_integer_parse("-9223372036854775808", 20, &i));
    assert_true(i == INT64_MIN);
    assert_false(bl_integer_parse("9223372036854775808", 19, &i));
    assert_false(bl_integer_parse("- 1", 3, &i));
}

static void a_locale_with_decimal_comma_changes_nothing(void **state)
{
    (void)state;
    static const char *const names[] = {"de_DE.UTF-8", "fr_FR.UTF-8", "de_DE"};
    bool found = false;
    for (size_t i = 0; i < COUNT_OF(names) && !found; i++) {
        found = setlocale(LC_NUMERIC, names[i]) != NULL;
    }
    if (!found) {
        print_message("skipped: no locale with a decimal comma here\n");
        skip();
        return;
    }
    double value;
    size_t used;
    assert_true(
        bl_number_scan("0.1234567890123456789e3", 23, '.', &value, &used));
    assert_near(value, 123.4567890123456789, 1e-12);
    char text[32];
    assert_string_equal(bl_number_format(1.5, 12, text, sizeof(text)), "1.5");
    setlocale(LC_NUMERIC, "C");
}

static int by_size(const void *a, const void *b)
{
    float x;
    float y;
    memcpy(&x, a, sizeof(x));
    memcpy(&y, b, sizeof(y));
    return (x > y) - (x < y);
}

/* Outside reference: the definition of the median, on values that qsort put in
   order. */
static void median_is_that_of_the_sorted(void **state)
{
    (void)state;
    struct bl_random random;
    bl_random_seed(&random, 5);
    for (int i = 0; i < 20000; i++) {
        float value[200];
        float sorted[200];
        const size_t count = 1 + (size_t)bl_random_below(&random, 200);
        /* Few or many different values; rising, falling or as they come. */
        const uint64_t kinds = 1 + bl_random_below(&random, 300);
        const uint64_t shape = bl_random_below(&random, 3);
        for (size_t k = 0; k < count; k++) {
            const float noise = (float)bl_random_below(&random, kinds) / 3;
            value[k] = shape == 0   ? noise
                       : shape == 1 ? (float)k
                                    : -(float)k + noise;
        }
        memcpy(sorted, value, count * sizeof(*value));
        qsort(sorted, count, sizeof(*sorted), by_size);
        const size_t half = count / 2;
        const float expected =
            count % 2 == 1
                ? sorted[half]
                : sorted[half - 1] + (sorted[half] - sorted[half - 1]) / 2;
        const float median = bl_median_float(value, count);
        assert_true(median == expected);
        qsort(value, count, sizeof(*value), by_size);
        assert_memory_equal(value, sorted, count * sizeof(*value));
    }
    assert_nan(bl_median_float(NULL, 0));
}

/* The same for as many values as a quiet stretch has: noise about a level as a
   converter writes it, one far spike, all alike, ranges that no scale parts. */
static void median_of_many_is_that_of_the_sorted(void **state)
{
    enum { MOST = 6000 };
    static float value[MOST];
    static float sorted[MOST];
    (void)state;
    struct bl_random random;
    bl_random_seed(&random, 6);
    for (int i = 0; i < 300; i++) {
        const size_t count = 100 + (size_t)bl_random_below(&random, MOST - 100);
        const double step = bl_random_below(&random, 2) == 0 ? 0.25 : 1e-7;
        const uint64_t spikes = bl_random_below(&random, 4);
        const float far[4] = {1e30f, -1e30f, INFINITY, 3e38f};
        for (size_t k = 0; k < count; k++) {
            const double noise = i % 10 == 9 ? 0 : bl_random_normal(&random);
            value[k] = (float)(step * round((700 + noise) / step));
            if (bl_random_below(&random, 500) < spikes) {
                value[k] = far[bl_random_below(&random, 4)];
            }
        }
        memcpy(sorted, value, count * sizeof(*value));
        qsort(sorted, count, sizeof(*sorted), by_size);
        const size_t half = count / 2;
        const float expected =
            count % 2 == 1
                ? sorted[half]
                : sorted[half - 1] + (sorted[half] - sorted[half - 1]) / 2;
        assert_true(bl_median_float(value, count) == expected);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(scan_agrees_with_strtod_on_random_texts),
        cmocka_unit_test(scan_stops_at_the_first_foreign_sign),
        cmocka_unit_test(seconds_are_exact),
        cmocka_unit_test(integers_know_their_range),
        cmocka_unit_test(median_is_that_of_the_sorted),
        cmocka_unit_test(median_of_many_is_that_of_the_sorted),
        cmocka_unit_test(a_locale_with_decimal_comma_changes_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
