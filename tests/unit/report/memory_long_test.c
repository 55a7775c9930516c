/* SPDX-License-Identifier: MIT */
/* mkdtemp is in POSIX.1-2008, but as an XSI extension in some systems. */
#define _XOPEN_SOURCE 700
/* With sanitizers, which see what a failure left half made; memory_every_test.c
   has the allocations between. */
#include "memory_whole.h"

static void every_allocation_of_a_small_trial(void **state)
{
    (void)state;
    char path[600];
    memory_simulate(path, sizeof(path), memory_small);
    memory_fail_in_turn(path, 1);
    memory_remove(path, "P");
}

static void every_13th_of_a_report(void **state)
{
    (void)state;
    char path[600];
    memory_studied_trial(path, sizeof(path));
    memory_report_in_turn(path, 13, 11);
    memory_remove(path, "RPU");
}

static void every_970th_of_the_demo(void **state)
{
    (void)state;
    memory_demo_in_turn(970, 11);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_allocation_of_a_small_trial),
        cmocka_unit_test(every_13th_of_a_report),
        cmocka_unit_test(every_970th_of_the_demo)};
    if (argc > 1) { /* one of them, by a part of its name */
        cmocka_set_test_filter(argv[1]);
    }
    return cmocka_run_group_tests(tests, NULL, NULL);
}
