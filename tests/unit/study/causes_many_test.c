/* SPDX-License-Identifier: MIT */
/* Causes against many trials of an independent plant. */
#include "causes_plant.h"

static void many_healthy(void **state)
{
    (void)state;
    healthy_trials(300, false);
}

static void many_healthy_on_the_bus(void **state)
{
    (void)state;
    healthy_trials(300, true);
}

static void many_faults(void **state)
{
    (void)state;
    fault_trials(fault_cases, COUNT_OF(fault_cases), 0, 1, 30);
}

static void many_bus_faults(void **state)
{
    (void)state;
    fault_trials(bus_cases, COUNT_OF(bus_cases), 0, 1, 30);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(many_healthy),
        cmocka_unit_test(many_healthy_on_the_bus),
        cmocka_unit_test(many_faults),
        cmocka_unit_test(many_bus_faults),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
