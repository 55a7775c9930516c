/* SPDX-License-Identifier: MIT */
/*
 * What `causes` gets of reach: each finding once, with unit and evidence, and
 * for every code of the demand either "looked for" or what is missing. What was
 * put in is the scenario's word.
 */
#include "reach_trains.h"

static void of_train(struct bl_findings *into, const struct train *t)
{
    struct judged j;
    struct bl_error error;
    bl_error_clear(&error);
    judge_train(&j, t);
    must(bl_reach_findings(into, j.trial, j.data, j.clocks, j.lag, 0, &error),
         &error);
    judged_finish(&j);
}

static bool is_missing(const struct bl_findings *list,
                       enum bl_finding_code code)
{
    for (size_t i = 0; i < list->missing_count; i++) {
        if (list->missing[i].code == code) {
            return true;
        }
    }
    return false;
}

static void every_code_is_answered(const struct bl_findings *list)
{
    for (int i = 0; i < BL_FINDINGS; i++) {
        const enum bl_finding_code code = (enum bl_finding_code)i;
        const bool demand = bl_finding_kind(code)->group == BL_GROUP_DEMAND;
        assert_true((list->looked[i] > 0 || is_missing(list, code)) == demand);
    }
}

static void fault_is_handed_on(void **state)
{
    (void)state;
    struct bl_findings list = {0};
    struct train t = {.units = 3, .seed = 21, .shared_clock = true};
    (void)snprintf(t.fault, sizeof(t.fault),
                   "code = demand-altered\nunit = 2\namount = 0.9\n");
    of_train(&list, &t);
    assert_int_equal(list.count, 1);
    assert_int_equal(list.item[0].code, BL_FINDING_DEMAND_ALTERED);
    assert_int_equal(list.item[0].unit, 2);
    assert_int_equal(list.item[0].run, 0);
    assert_true(list.item[0].evidences > 0);
    every_code_is_answered(&list);
    bl_findings_finish(&list);
}

/* One link only: nothing can be held against it. */
static void one_link(void **state)
{
    (void)state;
    struct bl_findings list = {0};
    const struct train t = {.units = 1, .seed = 22, .shared_clock = true};
    of_train(&list, &t);
    assert_int_equal(list.count, 0);
    assert_true(is_missing(&list, BL_FINDING_DEMAND_ALTERED));
    assert_true(is_missing(&list, BL_FINDING_DEMAND_LATE));
    assert_false(is_missing(&list, BL_FINDING_DEMAND_MISSING));
    every_code_is_answered(&list);
    bl_findings_finish(&list);
}

static void no_recording(void **state)
{
    (void)state;
    struct bl_findings list = {0};
    assert_int_equal(bl_reach_findings(&list, NULL, NULL, NULL, NULL, 0, NULL),
                     BL_OK);
    assert_int_equal(list.count, 0);
    assert_true(is_missing(&list, BL_FINDING_UNIT_SILENT));
    every_code_is_answered(&list);
    bl_findings_finish(&list);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(fault_is_handed_on),
        cmocka_unit_test(one_link),
        cmocka_unit_test(no_recording),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
