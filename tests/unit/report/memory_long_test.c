/* SPDX-License-Identifier: MIT */
/* mkdtemp is in POSIX.1-2008, but as an XSI extension in some systems. */
#define _XOPEN_SOURCE 700
#include "memory.h"

static void every_allocation_of_a_small_trial(void **state)
{
    (void)state;
    char path[600];
    memory_small_trial(path, sizeof(path));
    memory_fail_in_turn(path, 1);
    memory_remove(path);
}

static void every_97th_over_the_demo(void **state)
{
    (void)state;
    char path[1024];
    snprintf(path, sizeof(path), "%s/captures-demo/trial.ini",
             getenv("BL_SOURCE_ROOT"));
    memory_fail_in_turn(path, 97);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_allocation_of_a_small_trial),
        cmocka_unit_test(every_97th_over_the_demo)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
