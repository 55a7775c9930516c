/* SPDX-License-Identifier: MIT */
/*
 * Outputs that hunt while they are held, and what may look like it: a foot, a
 * control pressure and a transducer. Expectations follow from how the parts
 * work: whatever moves in front moves every sound brake behind it.
 */
#include "causes_plant.h"

struct hunting {
    struct plant_fault fault[PLANT_UNITS];
    double foot_kpa;
    bool powered, no_control, a_switch;
};

static void judge(struct bl_findings *list, const struct hunting *h)
{
    static const struct plant_fault sound[PLANT_UNITS];
    struct plant_course course = plant_full;
    struct plant p;
    course.powered = h->powered;
    plant_start(&p, 61);
    p.run[0].power = p.run[1].power = h->powered ? BL_STATED_ON : BL_STATED_OFF;
    p.run[0].data = p.run[1].data = p.run[0].power;
    for (size_t u = 0; u < PLANT_UNITS; u++) {
        const struct bl_trial_input none = {.channel = -1};
        p.unit[u].voltage = p.unit[u].control_b = none;
        p.unit[u].control = h->no_control ? none : p.unit[u].control;
    }
    plant_run(&p, 0, sound, &course);
    course.foot_kpa = h->foot_kpa;
    plant_run(&p, 1, h->fault, &course);
    plant_causes(list, &p);
    plant_finish(&p);
}

static const struct {
    const char *what;
    struct hunting is;
    long found, open; /* unit; 0: none */
} cases[] = {
    {"sound", {.powered = false}, 0, 0},
    {"by air", {.fault[2].hunt_kpa = 90}, 2, 0},
    {"by air, in front", {.fault[1].hunt_kpa = 90}, 1, 0},
    {"with the demand", {.fault[1].hunt_kpa = 90, .powered = true}, 1, 0},
    {"no control", {.fault[2].hunt_kpa = 90, .no_control = true}, 2, 0},
    {"just enough", {.fault[2].hunt_kpa = 22}, 2, 0},
    {"little", {.fault[2].hunt_kpa = 11}, 0, 0},
    {"the foot", {.foot_kpa = 60}, 0, 0},
    {"the foot, with the demand", {.foot_kpa = 60, .powered = true}, 0, 0},
    {"the foot and the unit", {.fault[2].hunt_kpa = 120, .foot_kpa = 20}, 2, 0},
    /* Both units have it from in front: the first one's line is named. */
    {"the control pressure", {.fault[1].air_hunt_kpa = 60}, 0, 1},
    {"no transducer's noise", {.fault[2].noise_kpa = 20}, 0, 0},
    /* By air and without control the next one behind is not accused. */
    {"both, no control",
     {.fault = {{0}, {.hunt_kpa = 90}, {.hunt_kpa = 90}}, .no_control = true},
     1,
     2},
    /* The demand may do it, which nobody recorded. */
    {"both, with the demand",
     {.fault = {{.hunt_kpa = 90}, {.hunt_kpa = 90}, {.hunt_kpa = 90}},
      .powered = true},
     0,
     1},
};

static void what_hunts(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        struct bl_findings list;
        judge(&list, &cases[i].is);
        for (long u = 1; u < PLANT_UNITS; u++) {
            const bool found =
                has(&list, BL_FINDING_HOLD_UNSTEADY, u, BL_SHOWN_FOUND);
            const bool open =
                has(&list, BL_FINDING_HOLD_UNSTEADY, u, BL_SHOWN_CANNOT_TELL);
            if (found != (cases[i].found == u) ||
                (open && cases[i].open == 0) || (cases[i].open == u && !open)) {
                for (size_t k = 0; k < list.count; k++) {
                    print_error("%d %s %s\n", (int)list.item[k].shown,
                                bl_finding_kind(list.item[k].code)->code,
                                list.item[k].text);
                }
                fail_msg("%s: unit %ld", cases[i].what, u);
            }
        }
        const struct bl_finding *first = first_found(&list);
        if (cases[i].found > 0) {
            assert_non_null(first);
            print_message("%s: %s\n", cases[i].what, first->text);
            assert_int_equal(first->code, BL_FINDING_HOLD_UNSTEADY);
        }
        bl_findings_finish(&list);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_hunts),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
