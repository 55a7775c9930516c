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

/* Unit 2 in every application: still rising at the release, later than
   `later_than_s`; the limit is 0.5 s. */
static void bounded_trial(struct bl_findings *list, double later_than_s)
{
    struct plant_fault none[PLANT_UNITS];
    struct plant p;
    struct bl_trial_limit limit = {.name = (char *)"rear",
                                   .figure = BL_FIGURE_APPLY_75,
                                   .unit = 2,
                                   .max_s = 0.5};
    memset(none, 0, sizeof(none));
    plant_start(&p, 5);
    plant_run(&p, 0, none, &plant_full);
    plant_run(&p, 1, none, &plant_full);
    plant_measure(&p);
    p.trial.limit = &limit;
    p.trial.limits = 1;
    for (size_t a = 0; a < p.lag[1]->applications; a++) {
        struct bl_figure *f =
            &p.lag[1]->application[a].unit[2].figure[BL_FIGURE_APPLY_75];
        *f = (struct bl_figure){.reason = BL_REASON_HOLD_LONGER,
                                .s = NAN,
                                .u_s = NAN,
                                .part = f->part,
                                .bounded = true,
                                .later_than_s = later_than_s,
                                .u_later_s = 0.004};
    }
    causes_of(list, &p);
    p.trial.limit = NULL;
    p.trial.limits = 0;
    plant_finish(&p);
}

static void a_bound_is_found_or_cannot_tell(void **state)
{
    (void)state;
    struct bl_findings list;
    bounded_trial(&list, 0.2);
    assert_null(find(&list, BL_FINDING_SLOW_FILL, 2, BL_SHOWN_FOUND));
    const struct bl_finding *f =
        find(&list, BL_FINDING_SLOW_FILL, 2, BL_SHOWN_CANNOT_TELL);
    assert_non_null(f);
    assert_non_null(strstr(f->next_check, "Hold longer"));
    bl_findings_finish(&list);
    bounded_trial(&list, 1.5);
    f = find(&list, BL_FINDING_SLOW_FILL, 2, BL_SHOWN_FOUND);
    assert_non_null(f);
    assert_non_null(strstr(f->text, "at least"));
    /* Unit 1 is compared with no bound as if it were a figure. */
    assert_null(find(&list, BL_FINDING_SLOW_FILL, 1, BL_SHOWN_FOUND));
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

/* Full applications with one fault at unit 2; what is declared is changed by
   `declare`. */
static void declared_trial(struct bl_findings *list,
                           const struct plant_fault *fault,
                           void (*declare)(struct plant *p))
{
    struct set_up t;
    struct plant p;
    start_set_up(&t);
    t.now[2] = *fault;
    plant_start(&p, 78);
    p.shelf_kpa = t.shelf_kpa;
    p.run[0].condition = (char *)(uintptr_t)t.condition_before;
    for (size_t u = 1; u < PLANT_UNITS; u++) {
        p.unit[u].control_b = (struct bl_trial_input){.channel = -1};
    }
    declare(&p);
    plant_run(&p, 0, t.before, &t.before_course);
    plant_run(&p, 1, t.now, &t.now_course);
    plant_causes(list, &p);
    plant_finish(&p);
}

static void as_before(struct plant *p)
{
    p->run[0].condition = p->run[1].condition;
}

/* A chain that answers more to more pressure and never looks ahead is later by
   no more than its command is at each level: what a slower pedal does to every
   unit is no fault of any, and what is beyond it still is. */
static void a_slower_pedal_accuses_no_unit(void **state)
{
    (void)state;
    struct bl_findings list;
    declared_trial(&list, &(struct plant_fault){.pedal_s = 0.25, .dead_s = 0.1},
                   as_before);
    for (size_t i = 0; i < list.count; i++) {
        if (list.item[i].shown == BL_SHOWN_FOUND &&
            strstr(list.item[i].text, "earlier runs") != NULL) {
            fail_msg("%s", list.item[i].text);
        }
    }
    const struct bl_finding *f =
        find(&list, BL_FINDING_NOT_COMPARABLE, -1, BL_SHOWN_CANNOT_TELL);
    assert_non_null(f);
    assert_true(f->headline);
    assert_non_null(strstr(f->text, "slower in run"));
    bl_findings_finish(&list);
    declared_trial(&list, &(struct plant_fault){.pedal_s = 0.1, .dead_s = 0.4},
                   as_before);
    assert_true(has(&list, BL_FINDING_LATE_APPLY, 2, BL_SHOWN_FOUND));
    bl_findings_finish(&list);
}

/* Light applications cannot show a slow fill: two beside two full ones that
   show it hide nothing. */
static void kinds_are_judged_apart(void **state)
{
    (void)state;
    enum { FULL = 2 };
    struct plant_fault none[PLANT_UNITS];
    struct plant_fault slow[PLANT_UNITS];
    struct bl_findings list;
    struct plant p;
    memset(none, 0, sizeof(none));
    memset(slow, 0, sizeof(slow));
    slow[2].fill_factor = 1;
    plant_start(&p, 5);
    p.run[0].condition = p.run[1].condition;
    plant_run(&p, 0, none, &plant_full);
    plant_run(&p, 1, slow, &plant_full);
    plant_measure(&p);
    for (size_t r = 0; r < 2; r++) {
        assert_true(p.lag[r]->applications > FULL + 1);
        for (size_t a = FULL; a < p.lag[r]->applications; a++) {
            struct bl_application *one = &p.lag[r]->application[a];
            one->kind = BL_KIND_LIGHT;
            one->unit[2].figure[BL_FIGURE_FILLED] =
                p.lag[0]->application[a].unit[2].figure[BL_FIGURE_FILLED];
        }
    }
    causes_of(&list, &p);
    const struct bl_finding *f =
        find(&list, BL_FINDING_SLOW_FILL, 2, BL_SHOWN_FOUND);
    assert_non_null(f);
    assert_int_equal(f->judged, FULL);
    bl_findings_finish(&list);
    plant_finish(&p);
}

static void all_relay(struct plant *p)
{
    p->trial.control_line = BL_CONTROL_LINE_RELAYED;
}

static void unit_1_hands_on(struct plant *p)
{
    p->trial.control_line = BL_CONTROL_LINE_RELAYED;
    p->unit[1].control_line = BL_CONTROL_LINE_THROUGH;
}

static void unit_1_relays(struct plant *p)
{
    p->trial.control_line = BL_CONTROL_LINE_THROUGH;
    p->unit[1].control_line = BL_CONTROL_LINE_RELAYED;
}

/* A valve sets a pressure of its own; what each unit does counts, not what the
   most of them do. */
static void a_line_loses_where_it_is_handed_on(void **state)
{
    (void)state;
    static const struct {
        void (*declare)(struct plant *p);
        bool found;
    } cases[] = {
        {all_relay, false}, {unit_1_hands_on, true}, {unit_1_relays, false}};
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        struct bl_findings list;
        declared_trial(&list, &(struct plant_fault){.line_loss_kpa = 100},
                       cases[i].declare);
        assert_int_equal(
            has(&list, BL_FINDING_CONTROL_LINE_LOSS, 2, BL_SHOWN_FOUND),
            cases[i].found);
        bl_findings_finish(&list);
    }
}

static void no_gain(struct plant *p)
{
    p->run[0].condition = (char *)"before"; /* no earlier run to go by */
    for (size_t u = 0; u < PLANT_UNITS; u++) {
        p->unit[u].gain = (double)NAN;
    }
}

/* With nothing declared the other units alone make it a warning, where it is
   large; a unit that holds a tenth less is left alone. */
static void a_low_hold_beside_the_others_is_a_warning(void **state)
{
    (void)state;
    struct bl_findings list;
    declared_trial(&list, &(struct plant_fault){.lost_kpa = 260}, no_gain);
    const struct bl_finding *f =
        find(&list, BL_FINDING_LOW_HOLD, 2, BL_SHOWN_FOUND);
    assert_non_null(f);
    assert_int_equal(f->severity, BL_SEVERITY_WARNING);
    bl_findings_finish(&list);
    declared_trial(&list, &(struct plant_fault){.lost_kpa = 65}, no_gain);
    assert_null(find(&list, BL_FINDING_LOW_HOLD, 2, BL_SHOWN_FOUND));
    bl_findings_finish(&list);
}

static void asks_for_nothing(struct plant *p)
{
    (void)p;
}

static void asks_for_23_volts(struct plant *p)
{
    p->trial.expect.line = 1;
    p->trial.expect.voltage_min_v = 23;
}

/* 24 V that fall to 22: below what [expect] asks for, as reach tells it too. */
static void the_voltage_that_is_asked_for(void **state)
{
    (void)state;
    const struct plant_fault two_volts = {.volts = 2};
    struct bl_findings list;
    declared_trial(&list, &two_volts, asks_for_23_volts);
    assert_true(has(&list, BL_FINDING_VOLTAGE_LOW, 2, BL_SHOWN_FOUND));
    bl_findings_finish(&list);
    declared_trial(&list, &two_volts, asks_for_nothing);
    assert_false(has(&list, BL_FINDING_VOLTAGE_LOW, 2, BL_SHOWN_FOUND));
    bl_findings_finish(&list);
}

/* The demand comes to both units, the air 0.35 s later, and one follows that:
   who acts on a demand is at 75 % within 0.4 s of it (UN R13 Annex 6). The run
   is what it declares. */
static void one_unit_by_air_is_no_run_without_power(void **state)
{
    (void)state;
    struct set_up t;
    struct bl_findings list;
    start_set_up(&t);
    t.on_bus = t.now_course.powered = true;
    t.now[1].line_dead_s = 0.35;
    t.now[2].follows_air = true;
    one_trial(&list, 80, &t);
    assert_false(has(&list, BL_FINDING_CONDITION_NOT_MET, -1, BL_SHOWN_FOUND));
    assert_true(has(&list, BL_FINDING_DEMAND_IGNORED, 2, BL_SHOWN_FOUND));
    bl_findings_finish(&list);
}

/* Held from 10 to 200 kPa in steps; unit 1 hands on 150 kPa at most. */
static void a_cap_is_called_so(void **state)
{
    (void)state;
    struct set_up t;
    struct bl_findings list;
    start_set_up(&t);
    t.on_bus = t.now_course.powered = t.now_course.stairs = true;
    t.bus.unit[1].cap_kpa = 150;
    one_trial(&list, 79, &t);
    const struct bl_finding *f =
        find(&list, BL_FINDING_DEMAND_ALTERED, 1, BL_SHOWN_FOUND);
    assert_non_null(f);
    assert_non_null(strstr(f->text, "capped near 150 kPa: 150 kPa where it got "
                                    "200 kPa"));
    bl_findings_finish(&list);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(channels),
        cmocka_unit_test(a_bound_is_found_or_cannot_tell),
        cmocka_unit_test(a_slower_pedal_accuses_no_unit),
        cmocka_unit_test(kinds_are_judged_apart),
        cmocka_unit_test(a_line_loses_where_it_is_handed_on),
        cmocka_unit_test(a_low_hold_beside_the_others_is_a_warning),
        cmocka_unit_test(the_voltage_that_is_asked_for),
        cmocka_unit_test(a_cap_is_called_so),
        cmocka_unit_test(one_unit_by_air_is_no_run_without_power),
        cmocka_unit_test(some_healthy),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
