/* SPDX-License-Identifier: MIT */
/*
 * Output alone: what powered figures say beside those by air alone. The bounds
 * are those of docs/methods/reach.md: 0.4 s and 0.6 s (UN R13 Annex 6: 0.2 s
 * for the demand, 0.4 s for the brake), equal within 5 ms and 10 ms.
 */
#include "testing.h"

#include "brakelag/reach.h"

enum { APPLICATIONS = 4, RUNS = 2 };

/* Two runs, powered and by air alone, of one towed unit without any capture. */
struct pair {
    struct bl_trial trial;
    struct bl_trial_unit unit[2];
    struct bl_trial_run run[RUNS];
    struct bl_application application[RUNS][APPLICATIONS];
    struct bl_unit_lag lag[RUNS][APPLICATIONS];
    struct bl_run_lag run_lag[RUNS];
    struct bl_reach_unit reached[RUNS];
    struct bl_reach reach[RUNS];
};

static void put(struct pair *p, size_t run, size_t applications,
                double response_s, double at_75_s)
{
    for (size_t i = 0; i < applications; i++) {
        const double off = (double)i * 0.001;
        p->lag[run][i] = (struct bl_unit_lag){.unit = 1, .responded = BL_YES};
        p->lag[run][i].figure[BL_FIGURE_RESPONSE] = (struct bl_figure){
            .known = true, .s = response_s + off, .u_s = 0.0005};
        p->lag[run][i].figure[BL_FIGURE_APPLY_75] = (struct bl_figure){
            .known = true, .s = at_75_s + off, .u_s = 0.0005};
        p->application[run][i] =
            (struct bl_application){.number = (int)i + 1,
                                    .combination = 'A',
                                    .kind = BL_KIND_FULL,
                                    .shape = BL_SHAPE_STEP,
                                    .command_apply = {.known = true},
                                    .command_release = {.known = true, .s = 2},
                                    .unit = &p->lag[run][i],
                                    .units = 1};
    }
    p->run_lag[run] = (struct bl_run_lag){.run = run,
                                          .application = p->application[run],
                                          .applications = applications};
}

static void start(struct pair *p)
{
    memset(p, 0, sizeof(*p));
    for (size_t i = 0; i < 2; i++) {
        p->unit[i] =
            (struct bl_trial_unit){.combination = 'A', .number = (int)i};
        p->reached[i] = (struct bl_reach_unit){
            .unit = 1, .verdict = BL_REACH_CANNOT_TELL, .first_valid_s = NAN};
        p->reach[i] =
            (struct bl_reach){.run = i, .unit = &p->reached[i], .units = 1};
    }
    p->run[0] = (struct bl_trial_run){
        .name = (char *)"P", .power = BL_STATED_ON, .data = BL_STATED_ON};
    p->run[1] = (struct bl_trial_run){
        .name = (char *)"U", .power = BL_STATED_OFF, .data = BL_STATED_OFF};
    p->reach[1].declared_off = true;
    p->trial = (struct bl_trial){
        .unit = p->unit, .units = 2, .run = p->run, .runs = RUNS};
}

/* The answer for the powered run; the air run's own stays as it was. */
static enum bl_answer answer(struct pair *p, size_t *findings)
{
    struct bl_reach *reach[RUNS] = {&p->reach[0], &p->reach[1]};
    const struct bl_run_lag *lag[RUNS] = {&p->run_lag[0], &p->run_lag[1]};
    struct bl_error error;
    assert_int_equal(bl_reach_across(&p->trial, reach, lag, &error), BL_OK);
    assert_int_equal(p->reached[1].claim[BL_REACH_ACTED_ON].answer, BL_UNKNOWN);
    *findings = p->reach[0].findings.count;
    bl_findings_finish(&p->reach[0].findings);
    return p->reached[0].claim[BL_REACH_ACTED_ON].answer;
}

static void late_alike_was_not_used(void **state)
{
    (void)state;
    struct pair p;
    size_t findings;
    start(&p);
    put(&p, 0, 4, 0.702, 0.953);
    put(&p, 1, 4, 0.700, 0.950);
    assert_int_equal(answer(&p, &findings), BL_NO);
    assert_int_equal(p.reached[0].verdict, BL_REACH_NOT_REACHED);
    assert_int_equal(findings, 1);
}

/* Sooner with power; early by both; alike, but with two steps only; or another
   unit already shown to act: nothing is said. */
static void nothing_is_said(void **state)
{
    (void)state;
    static const double with[][2] = {{0.25, 0.45}, {0.21, 0.42}};
    static const double air[][2] = {{0.70, 0.95}, {0.21, 0.42}};
    struct pair p;
    size_t findings;
    for (size_t i = 0; i < COUNT_OF(with); i++) {
        start(&p);
        put(&p, 0, 4, with[i][0], with[i][1]);
        put(&p, 1, 4, air[i][0], air[i][1]);
        assert_int_equal(answer(&p, &findings), BL_UNKNOWN);
        assert_int_equal(p.reached[0].verdict, BL_REACH_CANNOT_TELL);
        assert_int_equal(findings, 0);
    }
    start(&p);
    put(&p, 0, 2, 0.700, 0.950);
    put(&p, 1, 4, 0.700, 0.950);
    assert_int_equal(answer(&p, &findings), BL_UNKNOWN);
    start(&p);
    put(&p, 0, 4, 0.700, 0.950);
    put(&p, 1, 4, 0.700, 0.950);
    p.reached[0].claim[BL_REACH_ACTED_ON].answer = BL_YES;
    assert_int_equal(answer(&p, &findings), BL_YES);
    /* Blocked air is no run by air. */
    start(&p);
    put(&p, 0, 4, 0.700, 0.950);
    put(&p, 1, 4, 0.700, 0.950);
    p.run[1].control_air = BL_AIR_BLOCKED;
    assert_int_equal(answer(&p, &findings), BL_UNKNOWN);
}

/* What causes found of the unit is not left open here; what was seen of it by
   itself stands. */
static void causes_and_reach_share_one_answer(void **state)
{
    (void)state;
    struct bl_reach_unit unit[2] = {{.unit = 1, .found = true, .moved = 3},
                                    {.unit = 2, .found = true, .moved = 3}};
    struct bl_reach reach = {.unit = unit, .units = 2};
    for (size_t k = 0; k < 2; k++) {
        for (size_t i = 0; i < BL_REACH_CLAIMS; i++) {
            unit[k].claim[i].answer = BL_YES;
        }
    }
    unit[0].claim[BL_REACH_ACTED_ON].answer = BL_UNKNOWN;
    bl_reach_ignores(&reach, 1);
    bl_reach_ignores(&reach, 2);
    bl_reach_ignores(NULL, 1);
    assert_int_equal(unit[0].claim[BL_REACH_ACTED_ON].answer, BL_NO);
    assert_int_equal(unit[0].verdict, BL_REACH_DEFECTS);
    assert_int_equal(unit[1].claim[BL_REACH_ACTED_ON].answer, BL_YES);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(late_alike_was_not_used),
        cmocka_unit_test(nothing_is_said),
        cmocka_unit_test(causes_and_reach_share_one_answer),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
