/* SPDX-License-Identifier: MIT */
/* Causes against graded faults of an independent plant: a few of each. */
#include "causes_plant.h"

static void some_faults(void **state)
{
    (void)state;
    fault_trials(4);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(some_faults),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
