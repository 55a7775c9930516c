/* SPDX-License-Identifier: MIT */
/* Ten million texts against strtod of the C library in the C locale: plain
   decimals as logs hold them, digits at random, doubles written with 17 digits,
   and points half way between two doubles, with a digit more or less. */
#include "testing.h"

#include "base/number.h"
#include "base/random.h"

#include <inttypes.h>
#include <math.h>

enum { EACH = 2500000 };

static void expect_as_strtod(const char *text)
{
    double value;
    size_t used;
    const size_t length = strlen(text);
    if (!bl_number_scan(text, length, '.', &value, &used) || used != length) {
        fail_msg("'%s' is not read whole", text);
    }
    const double expected = strtod(text, NULL);
    if (memcmp(&value, &expected, sizeof(value)) != 0) {
        fail_msg("'%s' gives %.17g, strtod gives %.17g", text, value, expected);
    }
    /* As a cell of a row: the next cells must not show. */
    char cell[128];
    (void)snprintf(cell, sizeof(cell), "%s,98765432109876543210", text);
    const char *stop = bl_number_short(cell, cell + length + 12, '.', &value);
    if (stop == cell + length &&
        memcmp(&value, &expected, sizeof(value)) != 0) {
        fail_msg("the cell '%s' gives %.17g, strtod gives %.17g", text, value,
                 expected);
    }
    const char *plain = bl_number_plain(cell, cell + length + 1, '.', &value);
    if (stop != plain) {
        fail_msg("the cell '%s' is read in one way only", text);
    }
}

static void plain_decimals(void **state)
{
    (void)state;
    struct bl_random random;
    bl_random_seed(&random, 1);
    for (int i = 0; i < EACH; i++) {
        char text[48];
        const int places = (int)bl_random_below(&random, 10);
        const int64_t whole =
            (int64_t)bl_random_below(&random, 2000000) - 1000000;
        (void)snprintf(text, sizeof(text), "%" PRId64 ".%0*" PRIu64, whole,
                       places, bl_random_below(&random, 1000000000));
        expect_as_strtod(text);
    }
}

static void digits_at_random(void **state)
{
    (void)state;
    struct bl_random random;
    bl_random_seed(&random, 2);
    for (int i = 0; i < EACH; i++) {
        char text[64];
        size_t at = 0;
        const uint64_t digits = 1 + bl_random_below(&random, 24);
        const uint64_t point = bl_random_below(&random, 26);
        if (bl_random_below(&random, 4) == 0) {
            text[at++] = '-';
        }
        for (uint64_t d = 0; d < digits; d++) {
            if (d == point) {
                text[at++] = '.';
            }
            text[at++] = (char)('0' + bl_random_below(&random, 10));
        }
        text[at] = '\0';
        if (bl_random_below(&random, 4) == 0) {
            (void)snprintf(text + at, sizeof(text) - at, "e%d",
                           (int)bl_random_below(&random, 660) - 340);
        }
        expect_as_strtod(text);
    }
}

static double any_double(struct bl_random *random)
{
    double value;
    do {
        uint64_t bits = bl_random_next(random);
        memcpy(&value, &bits, sizeof(value));
    } while (!isfinite(value));
    return value;
}

static void doubles_written_out(void **state)
{
    (void)state;
    struct bl_random random;
    bl_random_seed(&random, 3);
    for (int i = 0; i < EACH; i++) {
        char text[64];
        (void)snprintf(text, sizeof(text), "%.*e",
                       14 + (int)bl_random_below(&random, 5),
                       any_double(&random));
        expect_as_strtod(text);
    }
}

/* Half way between two doubles of up to 2^53 everything hangs on the last
   digit. Such a point has few enough digits to be written exactly. */
static void points_half_way(void **state)
{
    (void)state;
    struct bl_random random;
    bl_random_seed(&random, 4);
    for (int i = 0; i < EACH; i++) {
        char text[96];
        const int shift = (int)bl_random_below(&random, 20);
        const uint64_t odd = (UINT64_C(1) << 53) +
                             2 * bl_random_below(&random, UINT64_C(1) << 52) +
                             1;
        /* odd has 54 bits: odd / 2^shift lies between two doubles. */
        const int length =
            snprintf(text, sizeof(text), "%" PRIu64, odd >> shift);
        uint64_t rest = odd & ((UINT64_C(1) << shift) - 1);
        size_t at = (size_t)length;
        text[at++] = '.';
        for (int d = 0; d < shift || d < 1; d++) {
            rest *= 10;
            text[at++] = (char)('0' + (rest >> shift));
            rest &= (UINT64_C(1) << shift) - 1;
        }
        switch (bl_random_below(&random, 3)) {
        case 0: /* a hair above */
            text[at++] = '0';
            text[at++] = '1';
            break;
        case 1: /* a hair below */
            if (text[at - 1] > '0') {
                text[at - 1]--;
                text[at++] = '9';
            }
            break;
        default:
            break;
        }
        text[at] = '\0';
        expect_as_strtod(text);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(plain_decimals),
        cmocka_unit_test(digits_at_random),
        cmocka_unit_test(doubles_written_out),
        cmocka_unit_test(points_half_way),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
