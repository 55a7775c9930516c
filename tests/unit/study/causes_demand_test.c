/* SPDX-License-Identifier: MIT */
/*
 * What `causes` gets of the demand's way to the units: each finding once, with
 * unit and evidence, and for every code either "looked for" or what is missing.
 * What was put in is the scenario's word.
 */
#include "reach_trains.h"

#include "studies.h"

static void causes_of(struct bl_findings *into, const struct bl_trial *trial,
                      struct bl_causes_run *run)
{
    struct bl_error error;
    bl_error_clear(&error);
    must(studies_make(run, trial, &error), &error);
    must(bl_causes(into, trial, run, NULL, &error), &error);
    studies_finish(run);
}

/* `lost`: the run's recordings could not be had. */
static void of_train(struct bl_findings *into, const struct train *t, bool lost)
{
    struct judged j;
    judge_train(&j, t);
    struct bl_causes_run run = {
        .data = j.data, .clocks = j.clocks, .lag = j.lag};
    causes_of(into, j.trial,
              lost ? &(struct bl_causes_run){.data = NULL} : &run);
    judged_finish(&j);
}

static bool is_demand(enum bl_finding_code code)
{
    return bl_finding_kind(code)->group == BL_GROUP_DEMAND;
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

static size_t demand_findings(const struct bl_findings *list)
{
    size_t n = 0;
    for (size_t i = 0; i < list->count; i++) {
        n += is_demand(list->item[i].code);
    }
    return n;
}

static void every_code_is_answered(const struct bl_findings *list)
{
    for (int i = 0; i < BL_FINDINGS; i++) {
        const enum bl_finding_code code = (enum bl_finding_code)i;
        assert_true(!is_demand(code) || list->looked[i] > 0 ||
                    is_missing(list, code));
    }
}

static void fault_is_handed_on(void **state)
{
    (void)state;
    struct bl_findings list = {0};
    struct train t = {.units = 3, .seed = 21, .shared_clock = true};
    (void)snprintf(t.fault, sizeof(t.fault),
                   "code = demand-altered\nunit = 2\namount = 0.9\n");
    of_train(&list, &t, false);
    assert_int_equal(demand_findings(&list), 1);
    for (size_t i = 0; i < list.count; i++) {
        const struct bl_finding *f = &list.item[i];
        if (is_demand(f->code)) {
            assert_int_equal(f->code, BL_FINDING_DEMAND_ALTERED);
            assert_int_equal(f->shown, BL_SHOWN_FOUND);
            assert_int_equal(f->unit, 2);
            assert_int_equal(f->run, 0);
            assert_true(f->evidences > 0);
        }
    }
    every_code_is_answered(&list);
    bl_findings_finish(&list);
}

/* One link only: nothing can be compared with it. */
static void one_link(void **state)
{
    (void)state;
    struct bl_findings list = {0};
    const struct train t = {.units = 1, .seed = 22, .shared_clock = true};
    of_train(&list, &t, false);
    assert_int_equal(demand_findings(&list), 0);
    assert_true(is_missing(&list, BL_FINDING_DEMAND_ALTERED));
    assert_true(is_missing(&list, BL_FINDING_DEMAND_LATE));
    assert_false(is_missing(&list, BL_FINDING_DEMAND_MISSING));
    assert_true(list.looked[BL_FINDING_DEMAND_MISSING] > 0);
    every_code_is_answered(&list);
    bl_findings_finish(&list);
}

static void no_recording(void **state)
{
    (void)state;
    struct bl_findings list = {0};
    const struct train t = {.units = 3, .seed = 21, .shared_clock = true};
    of_train(&list, &t, true);
    assert_int_equal(list.count, 0);
    for (int i = 0; i < BL_FINDINGS; i++) {
        if (is_demand((enum bl_finding_code)i)) {
            assert_int_equal(list.looked[i], 0);
            assert_true(is_missing(&list, (enum bl_finding_code)i));
        }
    }
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
