/* SPDX-License-Identifier: MIT */
/*
 * Runs that are not what the trial file declares of power, data and control
 * air. What was done is the scenario's word; the trial file is made to say
 * something else.
 */
#include "reach_trains.h"

struct lie {
    const char *did, *says, *instead, *why_part;
};

static const char voltage[] = "[sensors]\nvoltage = yes\n";

static size_t contradictions(const struct judged *j, const char *why_part)
{
    size_t n = 0;
    for (size_t i = 0; i < j->reach->findings.count; i++) {
        const struct bl_finding *f = &j->reach->findings.item[i];
        n += f->code == BL_FINDING_CONDITION_NOT_MET &&
             (why_part == NULL || strstr(f->text, why_part) != NULL);
    }
    return n;
}

static void lies_are_named(void **state)
{
    (void)state;
    static const struct lie lies[] = {
        {"power = on\ndata = on\ncontrol_air = blocked\n",
         "control_air = open\n", "control_air = blocked\n", "comes to no unit"},
        {"power = on\ndata = on\ncontrol_air = open\n",
         "control_air = blocked\n", "control_air = open\n",
         "comes to every unit"},
        {"power = on\ndata = on\n", "data = off\n", "data = on\n",
         "demand frames are there"},
        {"power = on\ndata = off\n", "data = on\n", "data = off\n",
         "no demand frame is there"},
        {"power = on\ndata = off\n", "power = off\n", "power = on\n",
         "a unit is supplied"},
        {"power = off\ndata = off\n", "power = on\n", "power = off\n",
         "a unit is not supplied"},
        {"power = on\ndata = off\n", "power = stop-lamp-only\n", "power = on\n",
         "a unit is supplied at rest"},
        {"power = off\ndata = off\n", "power = stop-lamp-only\n",
         "power = off\n", "has none while braking"},
    };
    for (size_t i = 0; i < COUNT_OF(lies); i++) {
        struct judged j;
        const struct train t = {.units = 2,
                                .seed = 51 + i,
                                .shared_clock = true,
                                .sensors = voltage,
                                .run = lies[i].did,
                                .says = lies[i].says,
                                .instead = lies[i].instead};
        judge_train(&j, &t);
        if (contradictions(&j, lies[i].why_part) != 1) {
            print_findings(&j);
            fail_msg("did %ssaid %s", lies[i].did, lies[i].says);
        }
        assert_true(j.lag->applications > 0);
        assert_int_equal(j.lag->summaries, 0);
        for (size_t a = 0; a < j.lag->applications; a++) {
            assert_true(j.lag->application[a].excluded);
        }
        judged_finish(&j);
    }
}

/* Six units: at the last one the output leads its air, with data or without
   control air at all. Who says that data was off is contradicted, be there no
   capture of the link. */
static void outputs_before_their_air(void **state)
{
    (void)state;
    struct judged j;
    const struct train t = {.units = 6,
                            .seed = 61,
                            .shared_clock = true,
                            .says = "data = off\n",
                            .instead = "data = on\n",
                            .without = 512};
    judge_train(&j, &t);
    assert_int_equal(contradictions(&j, "before the air"), 1);
    judged_finish(&j);
}

static void truth_is_believed(void **state)
{
    (void)state;
    static const char *const runs[] = {
        "power = on\ndata = on\ncontrol_air = open\n",
        "power = on\ndata = on\ncontrol_air = blocked\n",
        "power = on\ndata = off\ncontrol_air = open\n",
        "power = off\ndata = off\ncontrol_air = open\n"};
    for (size_t i = 0; i < COUNT_OF(runs); i++) {
        struct judged j;
        const struct train t = {.units = 1 + 2 * i,
                                .seed = 71 + i,
                                .shared_clock = true,
                                .sensors = voltage,
                                .run = runs[i]};
        judge_train(&j, &t);
        if (contradictions(&j, NULL) != 0) {
            print_findings(&j);
            fail_msg("%s", runs[i]);
        }
        assert_true(j.lag->summaries > 0);
        judged_finish(&j);
    }
}

/* Without control air an output can follow nothing but the data. */
static void by_level(void **state)
{
    (void)state;
    struct judged j;
    const struct train t = {
        .units = 2,
        .seed = 81,
        .shared_clock = true,
        .run = "power = on\ndata = on\ncontrol_air = blocked\n"};
    judge_train(&j, &t);
    for (size_t k = 0; k < 2; k++) {
        const struct bl_reach_unit *unit = &j.reach->unit[k];
        assert_int_equal(unit->follows, BL_FOLLOWS_DATA);
        assert_int_equal(unit->follows_count, 3);
        for (size_t i = 0; i < 3; i++) {
            assert_int_equal(unit->follow[i].follow.by_level, BL_FOLLOWS_DATA);
        }
    }
    judged_finish(&j);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lies_are_named),
        cmocka_unit_test(outputs_before_their_air),
        cmocka_unit_test(truth_is_believed),
        cmocka_unit_test(by_level),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
