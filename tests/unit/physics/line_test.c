/* SPDX-License-Identifier: MIT */
#include "line_cases.h"

#include "base/alloc.h"

static void table_of_short_lines(void **state)
{
    (void)state;
    check_line_case(&line_cases[0], 0.0005);
    check_line_case(&line_cases[2], 0.0005);
    check_line_case(&line_cases[3], 0.001);
}

static double arrival(double length_m, double bore_mm, double level_kpa)
{
    const struct bl_air_line_shape shape = {length_m, bore_mm, 50, 0};
    struct line_run run = {NULL, 0.0005, 0, 0, 650, 0, 0};
    assert_int_equal(bl_air_line_create(&run.line, &shape, run.step_s, NULL),
                     BL_OK);
    const double time_s = line_passes(&run, level_kpa);
    bl_air_line_destroy(run.line);
    return time_s;
}

/* A wave needs L / c, whatever the bore (acoustics); with c = 290.1 m/s. The
   grid runs ahead by up to three steps. */
static void first_arrival_is_length_over_speed(void **state)
{
    (void)state;
    const double c = bl_air_speed(1.0, 293.15);
    assert_near(arrival(12, 11, 1), 12 / c, 0.002);
    assert_near(arrival(24, 11, 1) - arrival(12, 11, 1), 12 / c, 0.001);
    assert_near(arrival(24, 9, 1), arrival(24, 13, 1), 0.002);
}

/* Friction takes more of a thin line: the 75 % time grows as the bore falls
   and faster than the length does. */
static void friction_slows_the_rest(void **state)
{
    (void)state;
    assert_true(arrival(30, 9, 487.5) > 1.1 * arrival(30, 11, 487.5));
    assert_true(arrival(40, 11, 487.5) > 2.3 * arrival(20, 11, 487.5));
}

/* No air is made or lost: it settles at the target and goes back to zero. */
static void settles_at_the_target(void **state)
{
    (void)state;
    const struct bl_air_line_shape shape = {10, 11, 819, 0};
    struct bl_air_line *line;
    assert_int_equal(bl_air_line_create(&line, &shape, 0.001, NULL), BL_OK);
    for (int i = 0; i < 5000; i++) {
        bl_air_line_step(line, 400, &line_feed, &line_vent);
    }
    assert_near(bl_air_line_end(line), 400, 0.1);
    assert_near(bl_air_line_pressure(line, 3), 400, 0.1);
    assert_true(bl_air_line_quiet(line, 400, 0.1));
    for (int i = 0; i < 20000; i++) {
        bl_air_line_step(line, 0, &line_feed, &line_vent);
    }
    assert_near(bl_air_line_end(line), 0, 0.1);
    bl_air_line_destroy(line);
}

static void refuses_what_is_no_line(void **state)
{
    (void)state;
    struct bl_air_line *line = NULL;
    struct bl_error error;
    const struct bl_air_line_shape none = {0, 11, 50, 0};
    assert_int_equal(bl_air_line_create(&line, &none, 0.001, &error), BL_ARG);
    const struct bl_air_line_shape endless = {1e9, 11, 50, 0};
    assert_int_equal(bl_air_line_create(&line, &endless, 0.001, &error),
                     BL_LIMIT);
    const struct bl_air_line_shape fine = {12, 11, 50, 0};
    for (uint64_t i = 1; i <= 4; i++) {
        bl_alloc_fail_at(i);
        assert_int_equal(bl_air_line_create(&line, &fine, 0.001, &error),
                         BL_NOMEM);
    }
    bl_alloc_fail_at(0);
    assert_null(line);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(table_of_short_lines),
        cmocka_unit_test(first_arrival_is_length_over_speed),
        cmocka_unit_test(friction_slows_the_rest),
        cmocka_unit_test(settles_at_the_target),
        cmocka_unit_test(refuses_what_is_no_line),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
