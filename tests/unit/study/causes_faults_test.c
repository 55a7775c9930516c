/* SPDX-License-Identifier: MIT */
/* Causes against graded faults of an independent plant: a few of each. */
#include "causes_plant.h"

static void some_faults(void **state)
{
    (void)state;
    fault_trials(fault_cases, COUNT_OF(fault_cases), 0, 1, 1);
}

static void some_bus_faults(void **state)
{
    (void)state;
    fault_trials(bus_cases, COUNT_OF(bus_cases), 0, 5, 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(some_faults),
        cmocka_unit_test(some_bus_faults),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
