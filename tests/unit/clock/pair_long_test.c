/* SPDX-License-Identifier: MIT */
/* The acceptance of clock pairing: 500 and then 2000 simulated pairs. */
#include "simulated.h"

static void five_hundred(void **state)
{
    (void)state;
    const struct tally tally = run_simulated(500, 3);
    check_tally(&tally);
}

static void two_thousand(void **state)
{
    (void)state;
    const struct tally tally = run_simulated(2000, 20260302);
    check_tally(&tally);
}

static void nearly_even_pauses(void **state)
{
    (void)state;
    check_nearly_even(20000);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(five_hundred),
        cmocka_unit_test(two_thousand),
        cmocka_unit_test(nearly_even_pauses),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
