/* SPDX-License-Identifier: MIT */
/* mkdtemp is in POSIX.1-2008, but as an XSI extension in some systems. */
#define _XOPEN_SOURCE 700
#include "memory.h"

static void every_allocation_of_a_small_trial(void **state)
{
    (void)state;
    char path[600];
    memory_small_trial(path, sizeof(path));
    memory_fail_in_turn(path, 1, BL_RESULT_JSON);
    memory_fail_in_turn(path, 3, BL_RESULT_PAGE);
    memory_fail_in_turn(path, 3, BL_RESULT_TEXT);
    memory_remove(path);
}

/* One pass over the demo takes seconds: some forty, spread evenly. */
static void forty_over_the_demo(void **state)
{
    (void)state;
    char path[1024];
    snprintf(path, sizeof(path), "%s/captures-demo/trial.ini",
             getenv("BL_SOURCE_ROOT"));
    memory_fail_in_turn(path, 0, BL_RESULT_PAGE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_allocation_of_a_small_trial),
        cmocka_unit_test(forty_over_the_demo)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
