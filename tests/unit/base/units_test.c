/* SPDX-License-Identifier: MIT */
/*
 * Units as agreed internationally (1 psi = 6.894757293168361 kPa, 1 in3 =
 * 16.387064 cm3, 1 ft = 0.3048 m, 1 mile = 1609.344 m), by the figures that
 * rules and handbooks of braking give in them.
 */
#include "study/travel.h"
#include "testing.h"

#include "brakelag/compare.h"
#include "brakelag/units.h"

static double canonical(double number, const char *unit)
{
    const struct bl_measurement_unit *is = bl_measurement_unit_find(unit);
    assert_non_null(is);
    return number * is->factor + is->shift;
}

/* 49 CFR 571.121 in kPa: 5, 20, 60, 85, 95 and 100 psi; its 50 in3. */
static void pressures_and_volumes_of_rules(void **state)
{
    static const struct {
        double psi, kpa;
    } row[] = {{5, 34.474},   {20, 137.895}, {60, 413.685},
               {85, 586.054}, {95, 655.002}, {100, 689.476}};
    (void)state;
    for (size_t i = 0; i < COUNT_OF(row); i++) {
        assert_near(canonical(row[i].psi, "psi"), row[i].kpa, 5e-4);
    }
    assert_near(canonical(50, "in3"), 819.353, 5e-4);
    assert_near(canonical(1, "bar"), 14.5037737730 * canonical(1, "psi"), 1e-8);
}

/* Driver handbooks: air brake lag of 0.4 s is 32 ft at 55 mph (32.27 ft,
   9.835 m); half a second would be 40.33 ft. */
static void lag_of_the_handbooks(void **state)
{
    (void)state;
    const double kmh = canonical(55, "mph");
    assert_near(bl_travel_m(kmh, 0.4), 9.835, 5e-4);
    assert_near(bl_travel_m(kmh, 0.4) / canonical(1, "ft"), 32.27, 0.005);
    assert_near(bl_travel_m(kmh, 0.5) / canonical(1, "ft"), 40.33, 0.005);
}

/* Kinematics: 60, 80, 90, 100 km/h are 1.667, 2.222, 2.500, 2.778 m in a
   tenth of a second. */
static void metres_in_a_tenth_of_a_second(void **state)
{
    static const double row[][2] = {
        {60, 1.667}, {80, 2.222}, {90, 2.5}, {100, 2.778}};
    (void)state;
    for (size_t i = 0; i < COUNT_OF(row); i++) {
        assert_near(bl_travel_m(row[i][0], 0.1), row[i][1], 5e-4);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(pressures_and_volumes_of_rules),
        cmocka_unit_test(lag_of_the_handbooks),
        cmocka_unit_test(metres_in_a_tenth_of_a_second),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
