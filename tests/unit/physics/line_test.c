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
    const struct bl_air_line_shape shape = {
        .length_m = length_m, .bore_mm = bore_mm, .end_volume_cm3 = 50};
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

/* What the end of a line gets: a rise of the pressure ahead of its valve in
   `ramp_s`, until 10 and 75 %. */
struct rise {
    double t10, t75;
};
static struct rise rise_of(const struct bl_air_line_shape *shape, double ramp_s)
{
    struct line_run run = {NULL, 0.0005, ramp_s, 0, 650, 0, 0};
    struct rise out;
    assert_int_equal(bl_air_line_create(&run.line, shape, run.step_s, NULL),
                     BL_OK);
    out.t10 = line_passes(&run, 65);
    out.t75 = line_passes(&run, 487.5);
    bl_air_line_destroy(run.line);
    return out;
}

/* Short form of the independent table: t10 = 3.67 L + 0.0371 L2,
   t75 = 7.55 L + 0.143 L2 (ms, m), fitted there within 3 ms. Lengths between
   its rows, so that nothing is tested twice. */
static void follows_the_short_form(void **state)
{
    static const double length[] = {15, 25, 35, 45};
    (void)state;
    for (size_t i = 0; i < COUNT_OF(length); i++) {
        const double l = length[i];
        const struct bl_air_line_shape shape = {
            .length_m = l, .bore_mm = 11, .end_volume_cm3 = 50};
        const struct rise is = rise_of(&shape, 0.020);
        assert_line_time(is.t10, 3.67e-3 * l + 0.0371e-3 * l * l);
        assert_line_time(is.t75, 7.55e-3 * l + 0.143e-3 * l * l);
    }
}

/* The same computation with other bores, 75 % at 30 and 52 m. Those of 13 mm
   are met. Those of 9 mm, 0.421 and 0.968 s, are met by neither this scheme nor
   the method of characteristics (../study/chain_reference.h, which meets the
   table of 11 mm within 1 %), and cannot be had from the law of friction: by
   Blasius the flow at a given fall of pressure goes with D^(19/7) and the
   volume with D^2, so that the part of a fill which friction takes grows with
   D^(-5/7), by 1.15 from 11 to 9 mm, while the part of the valve shrinks with
   D^2; from 0.779 s at 52 m no more than 0.90 s can come. So: within an eighth
   of the table, within 5 % of the second scheme, and below that bound. */
static void follows_the_bore(void **state)
{
    static const struct {
        double bore_mm, length_m, t75;
    } row[] = {
        {13, 30, 0.363}, {13, 52, 0.757}, {9, 30, 0.378}, {9, 52, 0.854}};
    static const double table_of_9[] = {0.421, 0.968};
    static const double of_11[] = {0.355, 0.779}; /* by the short form */
    (void)state;
    for (size_t i = 0; i < COUNT_OF(row); i++) {
        const struct bl_air_line_shape shape = {.length_m = row[i].length_m,
                                                .bore_mm = row[i].bore_mm,
                                                .end_volume_cm3 = 50};
        const double t75 = rise_of(&shape, 0.020).t75;
        assert_line_time(t75, row[i].t75);
        if (i >= 2) {
            assert_near(t75, table_of_9[i - 2], 0.125 * table_of_9[i - 2]);
            assert_true(t75 > of_11[i - 2] && t75 < 1.155 * of_11[i - 2]);
        }
    }
}

/* The same computation: a pedal that takes 0.2 s adds 0.03 to 0.07 s to 10 %
   and 0.08 to 0.10 s to 75 %; 50 in3 behind 30 m add 0.04 and 0.14 s. Given
   to a hundredth, so met within one; the volume's second figure within two. */
static void a_slow_pedal_and_a_volume_behind(void **state)
{
    static const double length[] = {12, 30, 52};
    (void)state;
    for (size_t i = 0; i < COUNT_OF(length); i++) {
        const struct bl_air_line_shape shape = {
            .length_m = length[i], .bore_mm = 11, .end_volume_cm3 = 50};
        const struct rise step = rise_of(&shape, 0.020);
        const struct rise pedal = rise_of(&shape, 0.2);
        assert_near(pedal.t10 - step.t10, 0.05, 0.03);
        assert_near(pedal.t75 - step.t75, 0.09, 0.02);
    }
    const struct bl_air_line_shape plain = {
        .length_m = 30, .bore_mm = 11, .end_volume_cm3 = 50};
    const struct bl_air_line_shape more = {
        .length_m = 30, .bore_mm = 11, .end_volume_cm3 = 50 + 819.35};
    const struct rise a = rise_of(&plain, 0.020);
    const struct rise b = rise_of(&more, 0.020);
    assert_near(b.t10 - a.t10, 0.04, 0.01);
    assert_near(b.t75 - a.t75, 0.14, 0.02);
}

/* The independent computation: a wave that keeps its heat is faster by about
   25 %. By hand: its speed grows by sqrt(1.4) = 1.18, and so does what friction
   lets through (by 1.16 with Blasius' law), but the same air from the valve
   raises the pressure by 1.4: a whole rise lies between. */
static void a_warm_wave_is_faster(void **state)
{
    (void)state;
    const struct bl_air_line_shape cold = {
        .length_m = 30, .bore_mm = 11, .end_volume_cm3 = 50};
    const struct bl_air_line_shape warm = {.length_m = 30,
                                           .bore_mm = 11,
                                           .end_volume_cm3 = 50,
                                           .speed_m_s =
                                               bl_air_speed(1.4, 293.15)};
    const struct rise a = rise_of(&cold, 0.020);
    const struct rise b = rise_of(&warm, 0.020);
    assert_near(a.t10 / b.t10, 1.25, 0.1);
    assert_near(a.t75 / b.t75, 1.25, 0.1);
}

/* Friction takes more of a thin line: the 75 % time grows as the bore falls
   (by less than 1.15 from 11 to 9 mm, see above) and faster than the length
   does. */
static void friction_slows_the_rest(void **state)
{
    (void)state;
    assert_true(arrival(30, 9, 487.5) > 1.05 * arrival(30, 11, 487.5));
    assert_true(arrival(40, 11, 487.5) > 2.3 * arrival(20, 11, 487.5));
}

/* Friction with fittings slows the rest and not the first arrival; a coupling
   and a branch slow it too, wherever they are. */
static void fittings_slow_the_rest(void **state)
{
    (void)state;
    const struct bl_air_line_shape plain = {
        .length_m = 14, .bore_mm = 8, .end_volume_cm3 = 50};
    const struct rise bare = rise_of(&plain, 0.020);
    struct bl_air_line_shape rough = plain;
    rough.friction = 2;
    const struct rise fitted = rise_of(&rough, 0.020);
    assert_true(fitted.t75 > 1.1 * bare.t75);
    assert_near(fitted.t10, bare.t10, 0.02);
    for (int i = 1; i < 4; i++) {
        const struct bl_air_fitting coupling = {.x_m = 3.5 * i, .c = 4};
        const struct bl_air_fitting branch = {.x_m = 3.5 * i,
                                              .volume_cm3 = 300};
        struct bl_air_line_shape with = plain;
        with.fittings = 1;
        with.fitting = &coupling;
        assert_true(rise_of(&with, 0.020).t75 > 1.04 * bare.t75);
        with.fitting = &branch;
        assert_true(rise_of(&with, 0.020).t75 > 1.04 * bare.t75);
    }
}

/* In steady flow a coupling drops what ISO 6358 says: a line that is fed at
   one end and vented at the other through restrictions of known size. Here:
   the same volumes on either side of it, so slow that the line is at rest but
   for the coupling, fill as one volume does through it (bl_air_fill_time). */
static void a_coupling_passes_what_iso_6358_says(void **state)
{
    (void)state;
    const struct bl_air_fitting small = {.x_m = 0.5, .c = 0.4};
    const struct bl_air_line_shape shape = {.length_m = 1,
                                            .bore_mm = 20,
                                            .end_volume_cm3 = 5000,
                                            .fitting = &small,
                                            .fittings = 1};
    struct line_run run = {NULL, 0.0005, 0, 0, 100, 0, 0};
    assert_int_equal(bl_air_line_create(&run.line, &shape, run.step_s, NULL),
                     BL_OK);
    const double from = line_passes(&run, 40);
    const double to = line_passes(&run, 80);
    bl_air_line_destroy(run.line);
    const struct bl_air_fill fill = {.way = {0.4, 0.3, 0},
                                     .source_kpa = 201.325,
                                     .volume_cm3 = 5157,
                                     .exponent = 1};
    const double expected = bl_air_fill_time(&fill, 141.325, 141.325, 181.325);
    assert_near(to - from, expected, 0.05 * expected);
}

/* A wide piece behind a narrow one has to be filled through it: slower than the
   narrow bore throughout. The narrow piece behind the wide one is faster. */
static void bores_one_behind_the_other(void **state)
{
    (void)state;
    const struct bl_air_piece narrow_first[] = {{10, 8, 1}, {20, 11, 1}};
    const struct bl_air_piece wide_first[] = {{10, 11, 1}, {20, 8, 1}};
    const struct bl_air_line_shape narrow = {
        .length_m = 20, .bore_mm = 8, .end_volume_cm3 = 50};
    struct bl_air_line_shape both = {
        .length_m = 20, .end_volume_cm3 = 50, .pieces = 2};
    const double plain = rise_of(&narrow, 0.2).t75;
    both.piece = narrow_first;
    assert_true(rise_of(&both, 0.2).t75 > 1.05 * plain);
    both.piece = wide_first;
    assert_true(rise_of(&both, 0.2).t75 < plain);
}

/* No air is made or lost: it settles at the target and goes back to zero. */
static void settles_at_the_target(void **state)
{
    (void)state;
    const struct bl_air_line_shape shape = {
        .length_m = 10, .bore_mm = 11, .end_volume_cm3 = 819};
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
    const struct bl_air_line_shape none = {
        .length_m = 0, .bore_mm = 11, .end_volume_cm3 = 50};
    assert_int_equal(bl_air_line_create(&line, &none, 0.001, &error), BL_ARG);
    const struct bl_air_line_shape endless = {
        .length_m = 1e9, .bore_mm = 11, .end_volume_cm3 = 50};
    assert_int_equal(bl_air_line_create(&line, &endless, 0.001, &error),
                     BL_LIMIT);
    const struct bl_air_line_shape fine = {
        .length_m = 12, .bore_mm = 11, .end_volume_cm3 = 50};
    for (uint64_t i = 1; i <= 2; i++) {
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
        cmocka_unit_test(follows_the_short_form),
        cmocka_unit_test(follows_the_bore),
        cmocka_unit_test(a_slow_pedal_and_a_volume_behind),
        cmocka_unit_test(a_warm_wave_is_faster),
        cmocka_unit_test(friction_slows_the_rest),
        cmocka_unit_test(fittings_slow_the_rest),
        cmocka_unit_test(a_coupling_passes_what_iso_6358_says),
        cmocka_unit_test(bores_one_behind_the_other),
        cmocka_unit_test(settles_at_the_target),
        cmocka_unit_test(refuses_what_is_no_line),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
