/* SPDX-License-Identifier: MIT */
/*
 * Which characteristic the messages call for within the time after power-up,
 * and the voltage at the last unit under load. What was sent, and when, is the
 * scenario's word; 10 V at the rearmost unit: permit scheme of Main Roads,
 * Western Australia.
 */
#include "reach_trains.h"

static const char characteristics[] =
    "[characteristic heavy]\nthreshold = 70 kPa\nwhen = EBS11, EBS12\n"
    "within = 5 s\n"
    "[characteristic plain]\nthreshold = 50 kPa\nwhen = none\n";

static void check_called(const struct train *t, const char *called,
                         const char *kind)
{
    struct judged j;
    judge_train(&j, t);
    assert_int_equal(j.reach->units, t->units);
    for (size_t k = 0; k < j.reach->units; k++) {
        const struct bl_reach_unit *unit = &j.reach->unit[k];
        assert_true(unit->called_known);
        assert_non_null(unit->called);
        assert_string_equal(unit->called, called);
        assert_string_equal(unit->towing_kind, kind);
    }
    judged_finish(&j);
}

/* The demand and its companion: a towing vehicle with brake electronics. */
static void brake_electronics(void **state)
{
    (void)state;
    check_called(&(struct train){.units = 2,
                                 .seed = 31,
                                 .shared_clock = true,
                                 .trial = characteristics},
                 "heavy", "towing vehicle with brake electronics");
}

/* The demand alone: 65225 is the group of the companion (ISO 11992-2). */
static void demand_converter(void **state)
{
    (void)state;
    check_called(&(struct train){.units = 2,
                                 .seed = 32,
                                 .shared_clock = true,
                                 .without = 65225,
                                 .trial = characteristics},
                 "plain", "demand converter only");
}

/* Five pins: power, but no data wires; no frame on the units' links. */
static void power_without_data(void **state)
{
    (void)state;
    check_called(&(struct train){.units = 2,
                                 .seed = 33,
                                 .shared_clock = true,
                                 .run = "power = on\ndata = off\n",
                                 .trial = characteristics},
                 "plain", "power without data");
}

/* The link speaks from the start (the unit's own status does), the demand comes
   2 s later: too late for `within = 1 s`, early enough for 5 s. */
static void only_within_the_time(void **state)
{
    (void)state;
    static const char *const within[] = {"1 s", "5 s"};
    static const char *const called[] = {"plain", "heavy"};
    for (size_t i = 0; i < 2; i++) {
        struct judged j;
        char text[256];
        struct train t = {
            .units = 2, .seed = 34, .shared_clock = true, .trial = text};
        (void)snprintf(text, sizeof(text),
                       "[characteristic heavy]\nthreshold = 70 kPa\n"
                       "when = EBS11\nwithin = %s\n"
                       "[characteristic plain]\nthreshold = 50 kPa\n"
                       "when = none\n",
                       within[i]);
        t.late_demand_s = 2;
        judge_train(&j, &t);
        assert_true(j.reach->unit[1].called_known);
        assert_string_equal(j.reach->unit[1].called, called[i]);
        judged_finish(&j);
    }
}

/* Nothing recorded on the links, and nothing said of power: cannot tell. */
static void no_power_stated(void **state)
{
    (void)state;
    struct judged j;
    const struct train t = {.units = 2,
                            .seed = 35,
                            .shared_clock = true,
                            .run = "power = on\ndata = off\n",
                            .says = "power = unknown\n",
                            .instead = "power = on\n",
                            .trial = characteristics};
    judge_train(&j, &t);
    assert_false(j.reach->unit[0].called_known);
    assert_null(j.reach->unit[0].called);
    judged_finish(&j);
}

static const char voltage[] = "[sensors]\nvoltage = yes\n";

static const struct bl_finding *voltage_low(const struct judged *j, long unit)
{
    for (size_t i = 0; i < j->reach->findings.count; i++) {
        const struct bl_finding *f = &j->reach->findings.item[i];
        if (f->code == BL_FINDING_VOLTAGE_LOW && f->unit == unit) {
            return f;
        }
    }
    return NULL;
}

/* 27 V less 18 V while the valves work. At rest there are 27 V. */
static void voltage_under_load(void **state)
{
    (void)state;
    struct judged j;
    struct train t = {
        .units = 3, .seed = 36, .shared_clock = true, .sensors = voltage};
    (void)snprintf(t.fault, sizeof(t.fault),
                   "code = voltage-low\nunit = 3\namount = 18\n");
    judge_train(&j, &t);
    assert_near(j.reach->unit[2].volts_least, 9, 0.5);
    assert_non_null(voltage_low(&j, 3));
    assert_int_equal(j.reach->unit[2].verdict, BL_REACH_DEFECTS);
    assert_near(j.reach->unit[1].volts_least, 27, 0.5);
    assert_null(voltage_low(&j, 2));
    assert_int_equal(j.reach->unit[1].verdict, BL_REACH_REACHED);
    judged_finish(&j);
}

/* 23 V under load are plenty; a trial may ask for more. */
static void voltage_that_is_asked_for(void **state)
{
    (void)state;
    struct judged j;
    struct train t = {
        .units = 3, .seed = 37, .shared_clock = true, .sensors = voltage};
    (void)snprintf(t.fault, sizeof(t.fault),
                   "code = voltage-low\nunit = 3\namount = 4\n");
    judge_train(&j, &t);
    assert_null(voltage_low(&j, 3));
    judged_finish(&j);
    t.trial = "[expect]\nvoltage_min = 24 V\n";
    judge_train(&j, &t);
    assert_non_null(voltage_low(&j, 3));
    judged_finish(&j);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(brake_electronics),
        cmocka_unit_test(demand_converter),
        cmocka_unit_test(power_without_data),
        cmocka_unit_test(only_within_the_time),
        cmocka_unit_test(no_power_stated),
        cmocka_unit_test(voltage_under_load),
        cmocka_unit_test(voltage_that_is_asked_for),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
