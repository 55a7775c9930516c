/* SPDX-License-Identifier: MIT */
/* mkdtemp is in POSIX.1-2008, but as an XSI extension in some systems. */
#define _XOPEN_SOURCE 700
/* Every allocation. tests/run --long takes a release build for it: without
   sanitizers a child takes a quarter of the time, and what is left behind is
   counted all the same. */
#include "memory_whole.h"

static void every_allocation_of_a_report(void **state)
{
    (void)state;
    char path[600];
    memory_studied_trial(path, sizeof(path));
    memory_report_in_turn(path, 1, 11);
    memory_remove(path, "RPU");
}

static void every_97th_of_the_demo(void **state)
{
    (void)state;
    memory_demo_in_turn(97, 11);
}

int main(int argc, char **argv)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_allocation_of_a_report),
        cmocka_unit_test(every_97th_of_the_demo)};
    if (argc > 1) { /* one of them, by a part of its name */
        cmocka_set_test_filter(argv[1]);
    }
    return cmocka_run_group_tests(tests, NULL, NULL);
}
