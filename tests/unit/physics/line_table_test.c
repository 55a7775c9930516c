/* SPDX-License-Identifier: MIT */
#include "line_cases.h"

/* Every row, at the fine step and at the one that simulate uses. */
static void whole_table(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT_OF(line_cases); i++) {
        check_line_case(&line_cases[i], 0.0005);
        check_line_case(&line_cases[i], 0.001);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(whole_table)};
    return cmocka_run_group_tests(tests, NULL, NULL);
}
