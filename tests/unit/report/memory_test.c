/* SPDX-License-Identifier: MIT */
/* mkdtemp is in POSIX.1-2008, but as an XSI extension in some systems. */
#define _XOPEN_SOURCE 700
#include "memory_whole.h"

static void small_trial_without_memory(void **state)
{
    (void)state;
    char path[600];
    memory_simulate(path, sizeof(path), memory_small);
    memory_fail_in_turn(path, 13);
    memory_remove(path, "P");
}

static void some_of_a_report(void **state)
{
    (void)state;
    char path[600];
    memory_studied_trial(path, sizeof(path));
    memory_report_in_turn(path, 1361, 1);
    memory_remove(path, "RPU");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(small_trial_without_memory),
        cmocka_unit_test(some_of_a_report)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
