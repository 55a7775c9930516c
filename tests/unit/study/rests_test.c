/* SPDX-License-Identifier: MIT */
/*
 * A unit with an output at each of two axles, of which one has a fault; and
 * outputs that rise while nobody brakes. The plant's third unit lends its
 * output to the second as that of a rear axle.
 */
#include "causes_plant.h"

struct axles {
    struct plant plant;
    struct bl_trial_input output[2];
};

/* Run "now" has the faults, of the front and of the rear axle. */
static void axles_start(struct axles *t, const struct plant_fault *front,
                        const struct plant_fault *rear)
{
    struct plant_fault fault[PLANT_UNITS];
    memset(fault, 0, sizeof(fault));
    plant_start(&t->plant, 41);
    plant_run(&t->plant, 0, fault, &plant_full);
    fault[1] = *front;
    fault[2] = *rear;
    plant_run(&t->plant, 1, fault, &plant_full);
    t->plant.trial.units = 2;
    t->output[0] = plant_input(AT_OUT1);
    t->output[0].label = (char *)"front";
    t->output[1] = plant_input(AT_OUT2);
    t->output[1].label = (char *)"rear";
    t->plant.unit[1].output = t->output;
    t->plant.unit[1].outputs = 2;
}

static void axles_judge(struct bl_findings *list, struct axles *t)
{
    plant_causes(list, &t->plant);
    plant_finish(&t->plant);
}

static void print_all(const struct bl_findings *list)
{
    for (size_t i = 0; i < list->count; i++) {
        print_error("%d %s %s\n", (int)list->item[i].shown,
                    bl_finding_kind(list->item[i].code)->code,
                    list->item[i].text);
    }
}

/* Shown, with these words in its sentence. */
static void expect(const struct bl_findings *list, enum bl_finding_code code,
                   enum bl_shown shown, const char *words)
{
    const struct bl_finding *f = find(list, code, 1, shown);
    if (f == NULL || strstr(f->text, words) == NULL) {
        print_all(list);
        fail_msg("not said: %s", words);
    }
}

static void the_second_output_is_judged(void **state)
{
    (void)state;
    static const struct {
        struct plant_fault fault;
        enum bl_finding_code code;
        enum bl_shown shown;
        const char *at_rear, *at_front;
    } rows[] = {
        {{.leak_kpa_s = 25},
         BL_FINDING_HOLD_FALLS,
         BL_SHOWN_FOUND,
         "at its output rear while",
         "at its output front while"},
        {{.zero_kpa = -15},
         BL_FINDING_ZERO_OFFSET,
         BL_SHOWN_FOUND,
         "output rear of unit",
         "output front of unit"},
        {{.zero_kpa = 15},
         BL_FINDING_ZERO_OFFSET,
         BL_SHOWN_CANNOT_TELL,
         "output rear of unit",
         "output front of unit"},
        {{.stays_kpa = 14},
         BL_FINDING_RESIDUAL_PRESSURE,
         BL_SHOWN_FOUND,
         "output rear of unit",
         "output front of unit"},
        {{.stays_kpa = 14},
         BL_FINDING_NOT_VENTED,
         BL_SHOWN_FOUND,
         "at its output rear before 3 of 4 applications: up to 14 kPa stayed",
         "at its output front before 3 of 4"},
        {{.none = true},
         BL_FINDING_NO_OUTPUT,
         BL_SHOWN_FOUND,
         "no output at its output rear although",
         "no output at its output front although"},
        {{.lost_kpa = 90},
         BL_FINDING_LOW_HOLD,
         BL_SHOWN_FOUND,
         "at its output rear where",
         "at its output front where"},
    };
    static const struct plant_fault sound;
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        for (int rear = 0; rear < 2; rear++) {
            struct axles t;
            struct bl_findings list;
            axles_start(&t, rear ? &sound : &rows[i].fault,
                        rear ? &rows[i].fault : &sound);
            axles_judge(&list, &t);
            expect(&list, rows[i].code, rows[i].shown,
                   rear ? rows[i].at_rear : rows[i].at_front);
            bl_findings_finish(&list);
        }
    }
}

static void both_outputs_are_the_unit(void **state)
{
    (void)state;
    static const struct plant_fault leaks = {.leak_kpa_s = 25};
    static const struct plant_fault dead = {.none = true};
    struct axles t;
    struct bl_findings list;
    axles_start(&t, &leaks, &leaks);
    axles_judge(&list, &t);
    expect(&list, BL_FINDING_HOLD_FALLS, BL_SHOWN_FOUND, " kPa while");
    bl_findings_finish(&list);
    axles_start(&t, &dead, &dead);
    axles_judge(&list, &t);
    expect(&list, BL_FINDING_NO_OUTPUT, BL_SHOWN_FOUND, "no output although");
    bl_findings_finish(&list);
}

static void sound_outputs_give_nothing(void **state)
{
    (void)state;
    static const struct plant_fault sound;
    struct axles t;
    struct bl_findings list;
    axles_start(&t, &sound, &sound);
    axles_judge(&list, &t);
    if (first_found(&list) != NULL) {
        print_all(&list);
        fail_msg("a sound train is not");
    }
    bl_findings_finish(&list);
}

/* Adds to what the rear axle's transducer tells in run "now". */
static void rises(struct axles *t, double from_s, double to_s, double kpa)
{
    for (size_t i = (size_t)(from_s * PLANT_RATE);
         i < (size_t)(to_s * PLANT_RATE); i++) {
        t->plant.value[1][AT_OUT2][i] += (float)kpa;
    }
}

/* Applications of 3.1 s begin at 4 s and every 10 s; the recording ends at
   46 s. */
static void a_rise_outside_applications_is_found(void **state)
{
    (void)state;
    static const struct plant_fault sound;
    static const struct {
        double from_s, to_s, kpa;
        bool found;
    } rows[] = {
        {1, 2.5, 120, true},      /* before the first */
        {8.6, 9.6, 60, true},     /* 1.5 s behind a release */
        {41, 43, 120, true},      /* after the last */
        {1, 1.05, 120, false},    /* a spike */
        {1, 2.5, 20, false},      /* below response_at + 10 kPa */
        {0, 2.5, 120, false},     /* applied from the start on: a fall */
        {7.15, 7.45, 120, false}, /* not vented yet: part of the release */
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct axles t;
        struct bl_findings list;
        axles_start(&t, &sound, &sound);
        rises(&t, rows[i].from_s, rows[i].to_s, rows[i].kpa);
        axles_judge(&list, &t);
        if (rows[i].found) {
            expect(&list, BL_FINDING_OUTPUT_WITHOUT_COMMAND, BL_SHOWN_FOUND,
                   "output rear of unit (unit 1) rose once");
        } else if (has(&list, BL_FINDING_OUTPUT_WITHOUT_COMMAND, 1,
                       BL_SHOWN_FOUND)) {
            print_all(&list);
            fail_msg("row %zu is no rise by itself", i);
        }
        bl_findings_finish(&list);
    }
}

/* The pedal is touched below command_at, and the brake answers. */
static void a_touched_pedal_is_a_command(void **state)
{
    (void)state;
    static const struct plant_fault sound;
    struct axles t;
    struct bl_findings list;
    axles_start(&t, &sound, &sound);
    for (size_t i = PLANT_RATE; i < 2 * PLANT_RATE; i++) {
        t.plant.value[1][AT_PEDAL][i] += 12;
    }
    rises(&t, 1.1, 2.1, 60);
    axles_judge(&list, &t);
    assert_false(
        has(&list, BL_FINDING_OUTPUT_WITHOUT_COMMAND, 1, BL_SHOWN_FOUND));
    bl_findings_finish(&list);
}

/* The outputs of run "now" are on a recorder of their own, which runs 2 s late
   and which nothing ties to the pedal's. */
static void an_untied_output_is_not_accused(void **state)
{
    (void)state;
    static const struct plant_fault sound;
    static const enum bl_finding_code codes[] = {
        BL_FINDING_NO_OUTPUT,   BL_FINDING_LOW_HOLD,
        BL_FINDING_HOLD_FALLS,  BL_FINDING_OUTPUT_WITHOUT_COMMAND,
        BL_FINDING_NOT_VENTED,  BL_FINDING_RESIDUAL_PRESSURE,
        BL_FINDING_ZERO_OFFSET, BL_FINDING_BELOW_THRESHOLD};
    static const enum bl_clock_claim claims[] = {BL_CLAIM_NONE,
                                                 BL_CLAIM_AMBIGUOUS};
    for (size_t k = 0; k < COUNT_OF(claims); k++) {
        struct axles t;
        struct bl_findings list;
        axles_start(&t, &sound, &sound);
        struct bl_loaded_recording loaded[2] = {t.plant.loaded[1],
                                                t.plant.loaded[1]};
        struct bl_clock_tie tie[2] = {
            t.plant.tie[1],
            {.method = "none", .claim = claims[k], .offset_s = 2}};
        t.plant.data[1].recording = loaded;
        t.plant.data[1].recordings = 2;
        t.plant.clocks[1].tie = tie;
        t.plant.clocks[1].ties = 2;
        t.plant.series[1][AT_OUT1].recording = 1;
        t.plant.series[1][AT_OUT2].recording = 1;
        plant_measure(&t.plant);
        const struct bl_run_lag *lag = t.plant.lag[1];
        for (size_t a = 0; a < lag->applications; a++) {
            const struct bl_unit_lag *unit = &lag->application[a].unit[1];
            assert_int_equal(unit->responded, BL_UNKNOWN);
            assert_false(unit->hold.known);
        }
        causes_of(&list, &t.plant);
        plant_finish(&t.plant);
        for (size_t i = 0; i < COUNT_OF(codes); i++) {
            bool missing = false;
            for (size_t m = 0; m < list.missing_count; m++) {
                missing =
                    missing ||
                    (list.missing[m].code == codes[i] &&
                     list.missing[m].unit == 1 && list.missing[m].run == 1 &&
                     strstr(list.missing[m].needs, "clocks tied") != NULL);
            }
            assert_true(missing);
            assert_false(has(&list, codes[i], 1, BL_SHOWN_FOUND));
        }
        bl_findings_finish(&list);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_second_output_is_judged),
        cmocka_unit_test(both_outputs_are_the_unit),
        cmocka_unit_test(sound_outputs_give_nothing),
        cmocka_unit_test(a_rise_outside_applications_is_found),
        cmocka_unit_test(a_touched_pedal_is_a_command),
        cmocka_unit_test(an_untied_output_is_not_accused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
