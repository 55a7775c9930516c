/* SPDX-License-Identifier: MIT */
/*
 * Steady pressure with real noise and gaps (openly licensed measurements,
 * pneumatic-100hz, its README): nothing rises, so no rise may be found.
 */
#include "testing.h"

#include "signal/signal.h"

enum { ROWS = 12000 };
static int64_t times[ROWS];
static float values[ROWS];

/* Tab separated: time in ms first, pressure in bar sixth. */
static size_t read_pressure(const char *name)
{
    char path[512];
    char line[256];
    size_t count = 0;
    FILE *file = fopen(shared_data(name, path, sizeof(path)), "r");
    assert_non_null(file);
    while (count < ROWS && fgets(line, sizeof(line), file) != NULL) {
        const double ms = strtod(line, NULL);
        const char *cell = line;
        for (int i = 0; i < 5 && cell != NULL; i++) {
            cell = strchr(cell, '\t');
            cell = cell == NULL ? NULL : cell + 1;
        }
        if (cell != NULL) {
            times[count] = llround(ms * 1e6);
            values[count++] = (float)(100 * strtod(cell, NULL));
        }
    }
    fclose(file);
    return count;
}

/* One rise of 100 kPa in 0.1 s is added at `at`, so that the detector is seen
   to work on the same noise. */
static void add_rise(size_t count, size_t at)
{
    for (size_t i = at; i < count; i++) {
        const double t = (double)(times[i] - times[at]) * 1e-9;
        values[i] += (float)(t < 0.1 ? 1000 * t : 100);
    }
}

static unsigned rises(size_t count, int64_t *first_ns, unsigned *rests)
{
    const struct bl_samples samples = {.time_ns = times,
                                       .value = values,
                                       .count = count,
                                       .interval_ns = 10000000,
                                       .resolution = 0.1};
    const int64_t second = 1000000000;
    unsigned found = 0;
    *rests = 0;
    for (int64_t t = 2 * second; t < times[count - 1]; t += second / 2) {
        const int64_t from = t > 10 * second ? t - 10 * second : 0;
        const struct bl_rest rest =
            bl_rest_before(&samples, from, t, second, 10 * second, 0.5);
        if (!rest.known) {
            continue;
        }
        ++*rests;
        /* 20 kPa above rest: where an application begins. The pressure itself
           moves by some 10 kPa as the machine draws air. */
        const double threshold = fmax(5 * rest.noise, 20);
        const struct bl_crossing c =
            bl_rising(&samples, t, t + second, rest.value + threshold,
                      rest.noise, threshold / 2);
        if (c.found && found++ == 0) {
            *first_ns = c.time_ns;
        }
    }
    return found;
}

static void check(const char *name)
{
    int64_t first_ns = 0;
    unsigned rests = 0;
    const size_t count = read_pressure(name);
    assert_true(count > 5000);
    const unsigned found = rises(count, &first_ns, &rests);
    print_message("%s: %zu rows, %u rests, %u rises\n", name, count, rests,
                  found);
    assert_true(rests > 50);
    assert_int_equal(found, 0);
    const size_t at = count / 2;
    add_rise(count, at);
    assert_true(rises(count, &first_ns, &rests) > 0);
    assert_near((double)(first_ns - times[at]) * 1e-9, 0.1, 0.3);
}

static void test_circle_1(void **state)
{
    (void)state;
    check("pneumatic-100hz/Circle_1bar.csv");
}

static void test_circle_5(void **state)
{
    (void)state;
    check("pneumatic-100hz/Circle_5bar.csv");
}

static void test_kidney_3(void **state)
{
    (void)state;
    check("pneumatic-100hz/Kidney_3bar.csv");
}

static void test_kidney_5(void **state)
{
    (void)state;
    check("pneumatic-100hz/Kidney_lc_5bar.csv");
}

static void test_napn_7(void **state)
{
    (void)state;
    check("pneumatic-100hz/NAPN_7bar.csv");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_circle_1), cmocka_unit_test(test_circle_5),
        cmocka_unit_test(test_kidney_3), cmocka_unit_test(test_kidney_5),
        cmocka_unit_test(test_napn_7),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
