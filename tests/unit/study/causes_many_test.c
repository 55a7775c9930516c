/* SPDX-License-Identifier: MIT */
/* Causes against many trials of an independent plant. */
#include "causes_plant.h"

static void many_faults(void **state)
{
    (void)state;
    fault_trials(30);
}

static void many_healthy(void **state)
{
    (void)state;
    healthy_trials(300);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(many_healthy),
        cmocka_unit_test(many_faults),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
