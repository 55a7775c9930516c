/* SPDX-License-Identifier: MIT */
/*
 * Applications that follow each other before all is at rest, on paper: straight
 * lines, every expected value a definition of docs/methods/figures.md.
 */
#include "made_run.h"

/* Let go from 6.0 to 6.2 s, pressed again from 6.6 s on with 600 kPa/s: half a
   second before the command only the hold of 600 kPa has stood for 0.3 s. The
   demand is 20 kPa above rest at 6.6333 s, where the command is: the frame of
   6.635 s says so. */
static void the_hold_before_is_not_the_rest_of_the_demand(void **state)
{
    (void)state;
    static const struct corner twice[] = {{0, 0},     {2, 0},     {2.2, 600},
                                          {6, 600},   {6.2, 0},   {6.6, 0},
                                          {7.6, 600}, {9.6, 600}, {9.8, 0}};
    struct made_run m;
    made_start(&m, 12, 1000);
    const long command =
        made_channel(&m, BL_QUANTITY_PRESSURE, twice, COUNT_OF(twice));
    made_demand(&m, twice, COUNT_OF(twice), 0.005, 0.010);
    made_unit(&m, -1, -1);
    made_unit(&m, command, -1);
    made_command(&m, command, 20);
    struct bl_run_lag *lag = made_measured(&m);
    assert_int_equal(lag->applications, 2);
    const struct bl_figure *f =
        &lag->application[1].unit[1].figure[BL_FIGURE_DEMAND_ARRIVAL];
    assert_true(f->known);
    assert_near(f->s, 6.635 - (6.6 + 20.0 / 600), 1e-4);
    bl_run_lag_destroy(lag);
    made_finish(&m);
}

/* A foot that slips, and a slow unit that reaches 33 kPa, where it stays for
   0.4 s before it falls: the crest is as quiet as a rest, but the output is
   back at 0 when the next application begins. It falls through 20 kPa, for
   good, 20 / 1500 s before 6.5 s. */
static void the_crest_of_a_slow_unit_is_no_rest(void **state)
{
    (void)state;
    static const struct corner command[] = {{0, 0},     {1.5, 0}, {1.6, 100},
                                            {1.7, 100}, {1.8, 0}, {3.2, 0},
                                            {3.4, 600}, {6, 600}, {6.2, 0}};
    static const struct corner output[] = {{0, 0},     {1.7, 0},   {1.9, 33},
                                           {2.3, 33},  {2.9, 1},   {3.3, 0},
                                           {3.6, 600}, {6.1, 600}, {6.5, 0}};
    struct made_run m;
    made_start(&m, 12, 1000);
    const long treadle =
        made_channel(&m, BL_QUANTITY_PRESSURE, command, COUNT_OF(command));
    const long slow =
        made_channel(&m, BL_QUANTITY_PRESSURE, output, COUNT_OF(output));
    made_unit(&m, -1, -1);
    made_unit(&m, slow, -1);
    made_command(&m, treadle, 20);
    struct bl_run_lag *lag = made_measured(&m);
    assert_int_equal(lag->applications, 2);
    const struct bl_unit_lag *u = &lag->application[1].unit[1];
    assert_near(u->rest.value, 0, 1.0);
    assert_near(u->figure[BL_FIGURE_RELEASE_END].s,
                6.5 - 20.0 / 1500 - (6 + 0.2 * 0.1), 2e-3);
    bl_run_lag_destroy(lag);
    made_finish(&m);
}

/* Two presses of which the rear output answers the first just before the second
   begins: it passes 20 kPa at 2.807 s, 0.8 s behind the first command and 0.3 s
   before the second, and stands then until the second lets go. As it falls it
   passes 20 kPa upwards once more, as noise does: that answers nothing. The
   fall is the second one's: for good through 20 kPa at 6.48 + 0.02 * 5 / 25. */
static void what_answers_the_press_before_is_not_counted_again(void **state)
{
    (void)state;
    static const struct corner command[] = {{0, 0},     {2, 0},   {2.1, 600},
                                            {2.6, 600}, {2.7, 0}, {3.1, 0},
                                            {3.2, 600}, {6, 600}, {6.2, 0}};
    static const struct corner output[] = {{0, 0},     {2.8, 0},  {3, 600},
                                           {6.1, 600}, {6.4, 10}, {6.44, 25},
                                           {6.48, 25}, {6.5, 0}};
    struct made_run m;
    made_start(&m, 12, 1000);
    const long treadle =
        made_channel(&m, BL_QUANTITY_PRESSURE, command, COUNT_OF(command));
    const long rear =
        made_channel(&m, BL_QUANTITY_PRESSURE, output, COUNT_OF(output));
    made_unit(&m, -1, -1);
    made_unit(&m, rear, -1);
    made_command(&m, treadle, 20);
    struct bl_run_lag *lag = made_measured(&m);
    assert_int_equal(lag->applications, 2);
    const struct bl_unit_lag *u = &lag->application[1].unit[1];
    assert_true((u->flags & BL_FLAG_NOT_VENTED) != 0);
    for (enum bl_figure_name i = 0; i < BL_FIGURES; i++) {
        assert_false(bl_figure_entry(i)->side == BL_SIDE_APPLY &&
                     u->figure[i].known);
    }
    assert_int_equal(u->figure[BL_FIGURE_RESPONSE].reason,
                     BL_REASON_NOT_VENTED);
    assert_int_equal(u->responded, BL_UNKNOWN);
    assert_near(u->figure[BL_FIGURE_RELEASE_END].s,
                6.48 + 0.02 * 5 / 25 - (6 + 0.2 * 0.1), 3e-3);
    bl_run_lag_destroy(lag);
    made_finish(&m);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_hold_before_is_not_the_rest_of_the_demand),
        cmocka_unit_test(the_crest_of_a_slow_unit_is_no_rest),
        cmocka_unit_test(what_answers_the_press_before_is_not_counted_again),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
