/* SPDX-License-Identifier: MIT */
/* Which trends are called a drift: the bound of 0.05 is divided by the number
   of series that could tell (Bonferroni's inequality). */
#include "testing.h"

#include "study/compare/compare.h"

static void bound_is_shared_by_all_series(void **state)
{
    (void)state;
    struct bl_comparison_row row[2] = {{.trend_base = {.n = 8, .p = 0.012},
                                        .trend_against = {.n = 8, .p = 0.5}},
                                       {.trend_base = {.n = 8, .p = 0.013}}};
    struct bl_comparison c = {.row = row, .rows = 2};
    /* Three series: 0.05 / 3 = 0.0167. */
    bl_compare_drift(&c);
    assert_int_equal(c.trends, 3);
    assert_true(row[0].drifts_base && row[1].drifts_base);
    assert_false(row[0].drifts_against);
    assert_false(row[1].drifts_against); /* too few to tell */
    /* Four: 0.0125. */
    row[1].trend_against = (struct bl_trend){.n = 8, .p = 0.9};
    c.trends = 0;
    bl_compare_drift(&c);
    assert_true(row[0].drifts_base);
    assert_false(row[1].drifts_base);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(bound_is_shared_by_all_series),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
