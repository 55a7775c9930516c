/* SPDX-License-Identifier: MIT */
/* mkdtemp is in POSIX.1-2008, but as an XSI extension in some systems. */
#define _XOPEN_SOURCE 700
#include "memory.h"

static void small_trial_without_memory(void **state)
{
    (void)state;
    char path[600];
    memory_small_trial(path, sizeof(path));
    memory_fail_in_turn(path, 13, BL_RESULT_JSON);
    memory_fail_in_turn(path, 0, BL_RESULT_PAGE);
    memory_fail_in_turn(path, 0, BL_RESULT_TEXT);
    memory_remove(path);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(small_trial_without_memory)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
