/* SPDX-License-Identifier: MIT */
/* Causes against trials of an independent plant: a few of each, the many are
   in causes_many_test.c; and faults of channels, which have no severity. */
#include "causes_plant.h"

static void some_healthy(void **state)
{
    (void)state;
    healthy_trials(15, false);
    healthy_trials(5, true);
}

static void expect(const char *what, const struct plant_fault *fault,
                   enum bl_finding_code code, enum bl_shown shown)
{
    struct set_up trial;
    struct bl_findings list;
    start_set_up(&trial);
    trial.now[2] = *fault;
    one_trial(&list, 77, &trial);
    if (!has(&list, code, 2, shown)) {
        for (size_t i = 0; i < list.count; i++) {
            print_error("%d %s %s\n", (int)list.item[i].shown,
                        bl_finding_kind(list.item[i].code)->code,
                        list.item[i].text);
        }
        fail_msg("%s was not found", what);
    }
    bl_findings_finish(&list);
}

static void channels(void **state)
{
    (void)state;
    expect("no output", &(struct plant_fault){.none = true},
           BL_FINDING_NO_OUTPUT, BL_SHOWN_FOUND);
    expect("dead", &(struct plant_fault){.dead = true}, BL_FINDING_CHANNEL_DEAD,
           BL_SHOWN_FOUND);
    expect("clipped", &(struct plant_fault){.clip_kpa = 400},
           BL_FINDING_CHANNEL_CLIPPED, BL_SHOWN_FOUND);
    expect("stairs", &(struct plant_fault){.stairs = 10},
           BL_FINDING_STAIR_STEPS, BL_SHOWN_FOUND);
    expect("absolute", &(struct plant_fault){.absolute_kpa = 101.3},
           BL_FINDING_GAUGE_ABSOLUTE, BL_SHOWN_FOUND);
    expect("psi read as kPa", &(struct plant_fault){.scale = 0.1450377},
           BL_FINDING_WRONG_PRESSURE_UNIT, BL_SHOWN_FOUND);
    expect("zero", &(struct plant_fault){.zero_kpa = -15},
           BL_FINDING_ZERO_OFFSET, BL_SHOWN_FOUND);
    /* A shifted zero and pressure that stays look alike from the start on. */
    expect("zero or pressure", &(struct plant_fault){.zero_kpa = 15},
           BL_FINDING_ZERO_OFFSET, BL_SHOWN_CANNOT_TELL);
    expect("swapped", &(struct plant_fault){.exchanged = true},
           BL_FINDING_CHANNELS_SWAPPED, BL_SHOWN_FOUND);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(channels),
        cmocka_unit_test(some_healthy),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
