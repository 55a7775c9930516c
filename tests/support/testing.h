/* SPDX-License-Identifier: MIT */
/* What every test program includes first: cmocka with what it needs, and a
   few helpers. Header only, so that a test is one file. */
#ifndef BRAKELAG_TESTS_SUPPORT_TESTING_H
#define BRAKELAG_TESTS_SUPPORT_TESTING_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
/* cmocka needs the four above before it. */
#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define COUNT_OF(array) (sizeof(array) / sizeof((array)[0]))

/* cmocka 1.1.5 compares floats only. */
#define assert_near(actual, expected, tolerance)                               \
    do {                                                                       \
        const double near_actual = (actual);                                   \
        const double near_expected = (expected);                               \
        if (!(fabs(near_actual - near_expected) <= (tolerance))) {             \
            print_error("%s:%d: %.15g is not within %g of %.15g\n", __FILE__,  \
                        __LINE__, near_actual, (double)(tolerance),            \
                        near_expected);                                        \
            fail();                                                            \
        }                                                                      \
    } while (0)

#define assert_nan(actual) assert_true(isnan(actual))

static inline const char *test_path(const char *variable, const char *name,
                                    char *text, size_t size)
{
    const char *folder = getenv(variable);
    snprintf(text, size, "%s/%s", folder == NULL ? "." : folder, name);
    return text;
}

/* A fixture under tests/data. */
static inline const char *test_data(const char *name, char *text, size_t size)
{
    return test_path("BL_TEST_DATA", name, text, size);
}

/* A file of the openly licensed recordings (docs/testing.md) below the folder
   that BL_SHARED_DATA names. Skips the test, saying so in the words that
   tests/support/count.py counts, where it is absent: to be asked for before
   anything is allocated. */
static inline const char *shared_data(const char *name, char *text, size_t size)
{
    FILE *file = NULL;
    if (getenv("BL_SHARED_DATA") != NULL) {
        test_path("BL_SHARED_DATA", name, text, size);
        file = fopen(text, "rb");
    }
    if (file == NULL) {
        print_message("no real recording: %s\n", name);
        skip();
        return text;
    }
    fclose(file);
    return text;
}

/* Template for mkdtemp in the folder for passing files. */
static inline const char *test_folder_name(char *text, size_t size,
                                           const char *what)
{
    const char *folder = getenv("TMPDIR");
    snprintf(text, size, "%s/brakelag-%s-XXXXXX", folder == NULL ? "." : folder,
             what);
    return text;
}

#endif
