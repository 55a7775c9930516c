/* SPDX-License-Identifier: MIT */
/* Causes against graded faults of an independent plant: a few of each. */
#include "causes_plant.h"

static bool has_case(const struct fault_case *cases, size_t count,
                     enum bl_finding_code code)
{
    for (size_t i = 0; i < count; i++) {
        if (cases[i].code == code) {
            return true;
        }
    }
    return false;
}

/* Shown by trains of first_visit.h, whose causes odd_test.c holds. */
static const enum bl_finding_code at_first_visits[] = {
    BL_FINDING_HOSE_RESTRICTED, BL_FINDING_AIR_PATH_SHUT,
    BL_FINDING_HIGH_HOLD,       BL_FINDING_PARK_IN_SERVICE,
    BL_FINDING_SUPPLY_CROSSED,  BL_FINDING_RESERVOIR_FALLS,
    BL_FINDING_VALVE_KEEPS,
};

static bool has_visit(enum bl_finding_code code)
{
    for (size_t i = 0; i < COUNT_OF(at_first_visits); i++) {
        if (at_first_visits[i] == code) {
            return true;
        }
    }
    return false;
}

static void every_code_has_a_case(void **state)
{
    (void)state;
    for (int i = 0; i < BL_FINDINGS; i++) {
        const enum bl_finding_code code = (enum bl_finding_code)i;
        if (!has_visit(code) &&
            !has_case(fault_cases, COUNT_OF(fault_cases), code) &&
            !has_case(bus_cases, COUNT_OF(bus_cases), code)) {
            fail_msg("no trial of causes_cases.h shows %s",
                     bl_finding_kind(code)->code);
        }
    }
}

static void some_faults(void **state)
{
    (void)state;
    fault_trials(fault_cases, COUNT_OF(fault_cases), 0, 1, 1);
}

static void some_bus_faults(void **state)
{
    (void)state;
    fault_trials(bus_cases, COUNT_OF(bus_cases), 0, 5, 1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_code_has_a_case),
        cmocka_unit_test(some_faults),
        cmocka_unit_test(some_bus_faults),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
