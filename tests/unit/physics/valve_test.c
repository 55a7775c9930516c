/* SPDX-License-Identifier: MIT */
#include "testing.h"

#include "physics/valve.h"

#define ATM BL_AIR_ATMOSPHERE_KPA

/* Relay valves of trailers: crack 20 to 40 kPa, hysteresis 5 to 20 kPa
   (common practice). */
static const struct bl_relay relay = {30, 0, 10, 1, 800};

static void nothing_below_crack(void **state)
{
    (void)state;
    struct bl_relay_state at = {0};
    assert_near(bl_relay_target(&relay, &at, 29.9), 0, 0);
    assert_near(bl_relay_target(&relay, &at, 30), 30, 0);
    /* Open, it follows down until crack less hysteresis. */
    assert_near(bl_relay_target(&relay, &at, 21), 30, 0);
    assert_near(bl_relay_target(&relay, &at, 19.9), 0, 0);
    assert_near(bl_relay_target(&relay, &at, 25), 0, 0);
}

static void hysteresis_parts_the_branches(void **state)
{
    (void)state;
    struct bl_relay_state at = {0};
    assert_near(bl_relay_target(&relay, &at, 300), 300, 0);
    assert_near(bl_relay_target(&relay, &at, 295), 300, 0); /* lapped */
    assert_near(bl_relay_target(&relay, &at, 280), 290, 0);
    assert_near(bl_relay_target(&relay, &at, 285), 290, 0);
    assert_near(bl_relay_target(&relay, &at, 900), 800, 0); /* reservoir */
}

/* Three stages that each keep 30 kPa leave 10 kPa of 100: cracks add up along
   a chain of spool valves (common practice). */
static void differentials_add_up(void **state)
{
    (void)state;
    const struct bl_relay spool = {30, 30, 0, 1, 800};
    double kpa = 100;
    for (int i = 0; i < 3; i++) {
        struct bl_relay_state at = {0};
        kpa = bl_relay_target(&spool, &at, kpa);
    }
    assert_near(kpa, 10, 1e-12);
}

/* Demand that opens the last of a chain: the sum of all cracks where each
   valve keeps its own, the greatest one where a valve is 1:1 once it is open
   (common practice). */
static double demand_of_last(const double crack[3], bool keeps)
{
    for (double demand = 0; demand < 200; demand += 0.5) {
        double kpa = demand;
        for (int i = 0; i < 3; i++) {
            const struct bl_relay stage = {crack[i], keeps ? crack[i] : 0, 0, 1,
                                           800};
            struct bl_relay_state at = {0};
            kpa = bl_relay_target(&stage, &at, kpa);
        }
        if (kpa > 0) {
            return demand;
        }
    }
    return NAN;
}

static void cracks_of_a_chain(void **state)
{
    static const double crack[3] = {20, 30, 25};
    (void)state;
    assert_near(demand_of_last(crack, true), 20 + 30 + 25, 0.5);
    assert_near(demand_of_last(crack, false), 30, 0);
}

/* 49 CFR 571.121 S5.3.5: a unit may lose 1 psi of little, 2 psi of middling
   and 5 % of much pressure. Three units: 20.7 kPa, 41.4 kPa, 0.857. */
static void lawful_losses_of_three_units(void **state)
{
    (void)state;
    const struct {
        struct bl_relay relay;
        double kpa, left;
    } row[] = {{{0, 6.894757, 0, 1, 800}, 100, 100 - 20.7},
               {{0, 2 * 6.894757, 0, 1, 800}, 250, 250 - 41.4},
               {{0, 0, 0, 0.95, 800}, 600, 600 * 0.857}};
    for (size_t i = 0; i < COUNT_OF(row); i++) {
        double kpa = row[i].kpa;
        for (int k = 0; k < 3; k++) {
            struct bl_relay_state at = {0};
            kpa = bl_relay_target(&row[i].relay, &at, kpa);
        }
        assert_near(kpa, row[i].left, 0.3);
    }
}

/* A valve takes its time to open and none to shut (mechanical delays of relay
   valves: 10 to 25 ms, common practice). */
static void a_valve_travels(void **state)
{
    (void)state;
    double at = 0;
    for (int i = 0; i < 10; i++) {
        at = bl_valve_travel(at, 5, 0.04);
    }
    assert_near(at, 0.4, 1e-12);
    assert_near(bl_valve_travel(at, 0, 0.04), 0, 0);
    assert_near(bl_valve_travel(at, -5, 0.04), -0.04, 1e-12);
    assert_near(bl_valve_travel(0.99, 5, 0.04), 1, 0);
    assert_near(bl_valve_travel(-0.99, -5, 0.04), -1, 0);
}

static const struct bl_chamber chamber = {1000, 4000, 25, 60, 1.2};

static void volume_grows_with_the_stroke(void **state)
{
    (void)state;
    assert_near(bl_chamber_volume(&chamber, 0), 1000, 0);
    assert_near(bl_chamber_volume(&chamber, 42.5), 3000, 1e-9);
    assert_near(bl_chamber_volume(&chamber, 600), 5000, 0);
    /* On the shelf the pressure creeps: n p dV/dp comes on top of V. */
    const double before = bl_chamber_rate(&chamber, 24, 0.01);
    const double shelf = bl_chamber_rate(&chamber, 26, 0.01);
    const double after = bl_chamber_rate(&chamber, 61, 0.01);
    assert_true(shelf < after / 3 && after < before);
}

/* Without a stroke the stepwise fill must meet the quadrature of air.h, up to
   where the opening begins to close. */
static void steps_agree_with_quadrature(void **state)
{
    (void)state;
    const struct bl_chamber rigid = {4940, 0, 25, 60, 1.2};
    const struct bl_chamber_ways ways = {
        {25, 0.3, 0}, {25, 0.3, 0}, 689.476, 15, 1};
    double kpa = 0;
    double time_s = 0;
    const double step = 1e-5;
    while (kpa < 413.685) {
        kpa = bl_chamber_step(&rigid, &ways, kpa, 650, step);
        time_s += step;
    }
    const struct bl_air_fill fill = {ways.feed, 689.476 + ATM, 0, 4940, 1.2};
    assert_near(time_s, bl_air_fill_time(&fill, ATM, ATM, 413.685 + ATM), 1e-4);
}

/* The air that goes into the stroke: p V^n balance from 0 to 400 kPa. The
   time at constant choked flow is the integral of (V + n p V') dp. */
static void coarse_steps_do_not_jump_the_shelf(void **state)
{
    (void)state;
    const struct bl_chamber_ways ways = {
        {10, 0.3, 0}, {10, 0.3, 0}, 1400, 1, 1};
    double time_s[2] = {0, 0};
    const double step[2] = {1e-5, 2e-3};
    for (int i = 0; i < 2; i++) {
        double kpa = 0;
        while (kpa < 200) {
            kpa = bl_chamber_step(&chamber, &ways, kpa, 650, step[i]);
            time_s[i] += step[i];
        }
    }
    const double flow = bl_air_flow(&ways.feed, 1400 + ATM, ATM);
    const double rt = 287.05 * 293.15 * 1.2;
    const double mean = 1.2 * (42.5 + ATM) * 4000; /* n p dV over the shelf */
    const double filled = (25 * 1000 + 35 * 3000 + 140 * 5000 + mean) * 1e-3;
    assert_near(time_s[0], filled / (rt * flow), 0.002);
    assert_near(time_s[1], time_s[0], 0.004);
}

static void meets_the_target_and_never_passes(void **state)
{
    (void)state;
    const struct bl_chamber_ways ways = {
        {40, 0.3, 0}, {40, 0.3, 0}, 700, 15, 1};
    const struct bl_chamber tiny = {20, 0, 25, 60, 1.2};
    double kpa = 0;
    for (int i = 0; i < 100; i++) {
        kpa = bl_chamber_step(&tiny, &ways, kpa, 300, 0.002);
        assert_true(kpa <= 300);
    }
    assert_near(kpa, 300, 1e-9);
    for (int i = 0; i < 100; i++) {
        kpa = bl_chamber_step(&tiny, &ways, kpa, 0, 0.002);
        assert_true(kpa >= 0);
    }
    assert_near(kpa, 0, 1e-9);
    /* A closed valve neither. */
    const struct bl_chamber_ways shut = {
        {40, 0.3, 0}, {40, 0.3, 0}, 700, 15, 0};
    assert_near(bl_chamber_step(&tiny, &shut, 0, 300, 0.002), 0, 0);
    /* An empty reservoir gives nothing. */
    const struct bl_chamber_ways flat = {{40, 0.3, 0}, {40, 0.3, 0}, 0, 15, 1};
    assert_near(bl_chamber_step(&tiny, &flat, 0, 300, 0.002), 0, 0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_below_crack),
        cmocka_unit_test(hysteresis_parts_the_branches),
        cmocka_unit_test(differentials_add_up),
        cmocka_unit_test(cracks_of_a_chain),
        cmocka_unit_test(lawful_losses_of_three_units),
        cmocka_unit_test(a_valve_travels),
        cmocka_unit_test(volume_grows_with_the_stroke),
        cmocka_unit_test(steps_agree_with_quadrature),
        cmocka_unit_test(coarse_steps_do_not_jump_the_shelf),
        cmocka_unit_test(meets_the_target_and_never_passes),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
