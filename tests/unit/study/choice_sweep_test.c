/* SPDX-License-Identifier: MIT */
/* 200 seeds of each kind of recording; the quick suite runs 20. */
#include "choice_sweep.h"

static void two_hundred_seeds(void **state)
{
    (void)state;
    check_sweep(200);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(two_hundred_seeds)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
