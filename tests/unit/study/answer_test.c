/* SPDX-License-Identifier: MIT */
/* The answer's sentences, from trials of round numbers made by hand: what they
   may say, and what they must leave open. A difference is shown beyond 2 u of
   it (k = 2, JCGM 100:2008 6.2), u of two figures of 2 ms each being 2.83 ms.
 */
#include "study/findings/fill.h"
#include "testing.h"

#include "brakelag/answer.h"

#include <math.h>
#include <string.h>

enum { UNITS = 3, APPLICATIONS = 3 };

struct plant {
    struct bl_trial_unit unit[UNITS];
    struct bl_trial_input output[UNITS];
    struct bl_trial_run trial_run[1];
    struct bl_trial trial;
    struct bl_unit_lag lag_unit[APPLICATIONS][UNITS];
    struct bl_application application[APPLICATIONS];
    struct bl_run_lag lag;
    struct bl_causes_run run[1];
    struct bl_reach reach;
    struct bl_reach_unit reach_unit[2];
    struct bl_answer_input input;
};

/* Unit u responds at `at[u]` s in every application; u = 2 ms. */
static void make(struct plant *p, const double at[UNITS])
{
    static char names[UNITS][16] = {"prime mover", "dolly", "bin trailer"};
    memset(p, 0, sizeof(*p));
    for (int u = 0; u < UNITS; u++) {
        p->unit[u] = (struct bl_trial_unit){.combination = 'A',
                                            .number = u,
                                            .name = names[u],
                                            .output = &p->output[u],
                                            .outputs = 1};
    }
    p->trial_run[0] = (struct bl_trial_run){.name = (char *)"P1",
                                            .condition = (char *)"powered",
                                            .power = BL_STATED_ON};
    p->trial = (struct bl_trial){.unit = p->unit,
                                 .units = UNITS,
                                 .run = p->trial_run,
                                 .runs = 1,
                                 .response_at_kpa = 20};
    for (int i = 0; i < APPLICATIONS; i++) {
        for (size_t u = 0; u < UNITS; u++) {
            p->lag_unit[i][u] = (struct bl_unit_lag){
                .unit = u,
                .responded = BL_YES,
                .figure[BL_FIGURE_RESPONSE] = {
                    .known = true, .s = at[u], .u_s = 0.002}};
        }
        p->application[i] = (struct bl_application){.number = i + 1,
                                                    .combination = 'A',
                                                    .kind = BL_KIND_FULL,
                                                    .shape = BL_SHAPE_STEP,
                                                    .unit = p->lag_unit[i],
                                                    .units = UNITS};
    }
    p->lag = (struct bl_run_lag){.application = p->application,
                                 .applications = APPLICATIONS};
    p->run[0].lag = &p->lag;
    p->input = (struct bl_answer_input){.trial = &p->trial, .run = p->run};
}

static void plan_reach(struct plant *p, enum bl_reach_verdict one,
                       enum bl_reach_verdict other)
{
    p->reach_unit[0] = (struct bl_reach_unit){.unit = 1, .verdict = one};
    p->reach_unit[1] = (struct bl_reach_unit){.unit = 2, .verdict = other};
    p->reach = (struct bl_reach){
        .applications_known = true, .unit = p->reach_unit, .units = 2};
    for (size_t i = 0; i < 2; i++) {
        p->reach_unit[i].claim[BL_REACH_ACTED_ON].answer = BL_YES;
        p->reach_unit[i].claim[BL_REACH_IN_TIME].answer = BL_YES;
    }
    p->run[0].reach = &p->reach;
}

/* All sentences of a topic, with '|' between. */
static const char *said(const struct plant *p, enum bl_answer_topic topic)
{
    static char text[1000];
    struct bl_answer_sentences *answer = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    assert_int_equal(bl_answer_create(&answer, &p->input, &error), BL_OK);
    text[0] = '\0';
    for (size_t i = 0; i < answer->count; i++) {
        const size_t used = strlen(text);
        if (answer->item[i].topic == topic) {
            snprintf(text + used, sizeof(text) - used, "%s%s",
                     used == 0 ? "" : "|", answer->item[i].text);
        }
    }
    bl_answer_destroy(answer);
    return text;
}

/* The last sentence of those that stand before everything else. */
static const char *last_first(const struct plant *p)
{
    static char text[1000];
    struct bl_answer_sentences *answer = NULL;
    assert_int_equal(bl_answer_create(&answer, &p->input, NULL), BL_OK);
    text[0] = '\0';
    for (size_t i = 0; i < answer->count; i++) {
        if (answer->item[i].first) {
            snprintf(text, sizeof(text), "%s", answer->item[i].text);
        }
    }
    bl_answer_destroy(answer);
    return text;
}

static void counts_what_was_measured(void **state)
{
    (void)state;
    struct plant p;
    make(&p, (const double[]){0.1, 0.2, 0.3});
    assert_string_equal(said(&p, BL_ANSWER_MEASURED),
                        "3 applications in 1 run were measured.");
    p.application[0].excluded = true;
    assert_string_equal(said(&p, BL_ANSWER_MEASURED),
                        "2 applications in 1 run were measured, 1 left out by "
                        "the trial file.");
}

static void says_who_responded(void **state)
{
    (void)state;
    struct plant p;
    make(&p, (const double[]){0.1, 0.2, 0.3});
    assert_string_equal(said(&p, BL_ANSWER_RESPONDED),
                        "Every unit with an output responded each time.");
    p.lag_unit[0][1].responded = BL_NO;
    assert_string_equal(said(&p, BL_ANSWER_RESPONDED),
                        "Dolly did not respond in 1 of 3 "
                        "applications.");
    /* One of which it is not known is no "every unit". */
    p.lag_unit[0][1].responded = BL_UNKNOWN;
    assert_string_equal(said(&p, BL_ANSWER_RESPONDED),
                        "Whether dolly responded cannot be told in 1 "
                        "of 3 applications.");
    /* A unit without an output has nothing to respond with. */
    p.unit[1].outputs = 0;
    assert_string_equal(said(&p, BL_ANSWER_RESPONDED),
                        "Every unit with an output responded each time.");
    p.unit[0].outputs = p.unit[2].outputs = 0;
    assert_string_equal(said(&p, BL_ANSWER_RESPONDED),
                        "No output was wired, so no first air could be timed.");
}

static void names_the_last_only_where_shown(void **state)
{
    (void)state;
    struct plant p;
    /* 100 ms later than the next: 35 times u of the difference. */
    make(&p, (const double[]){0.1, 0.2, 0.3});
    assert_string_equal(said(&p, BL_ANSWER_LAST),
                        "In full applications of condition \"powered\", bin "
                        "trailer gets its first air (20 kPa) last, 0.300 s "
                        "after the command (median of 3).");
    /* 5 ms later: below 2 times 2.83 ms. */
    make(&p, (const double[]){0.1, 0.295, 0.3});
    assert_string_equal(said(&p, BL_ANSWER_LAST),
                        "In full applications of condition \"powered\", dolly "
                        "and bin trailer get their first air (20 kPa) last, "
                        "too close to tell which is later, 0.300 s after the "
                        "command (median of 3).");
    /* Later in two of three: by the median, but not in three or all. */
    make(&p, (const double[]){0.1, 0.2, 0.3});
    p.lag_unit[0][2].figure[BL_FIGURE_RESPONSE].s = 0.2;
    assert_non_null(strstr(said(&p, BL_ANSWER_LAST), "too close to tell"));
    /* The reference compares measuring chains, it brakes nothing. */
    make(&p, (const double[]){0.1, 0.2, 0.3});
    p.trial_run[0].condition = (char *)"reference";
    assert_null(strstr(said(&p, BL_ANSWER_LAST), "last"));
}

static void leaves_the_demand_open(void **state)
{
    (void)state;
    struct plant p;
    make(&p, (const double[]){0.1, 0.2, 0.3});
    assert_string_equal(said(&p, BL_ANSWER_REACHED), "");
    plan_reach(&p, BL_REACH_REACHED, BL_REACH_REACHED);
    assert_string_equal(said(&p, BL_ANSWER_REACHED),
                        "The electronic demand arrived at every towed unit, "
                        "unchanged and at its rate, in run P1, and all of them "
                        "acted on it.");
    p.reach_unit[1].claim[BL_REACH_ACTED_ON].answer = BL_UNKNOWN;
    assert_non_null(
        strstr(said(&p, BL_ANSWER_REACHED), "acted on it was not shown"));
    plan_reach(&p, BL_REACH_REACHED, BL_REACH_REACHED);
    p.reach_unit[0].claim[BL_REACH_IN_TIME].answer = BL_UNKNOWN;
    assert_string_equal(said(&p, BL_ANSWER_REACHED),
                        "The electronic demand arrived at every towed unit, "
                        "unchanged and at its rate, in run P1, and all of them "
                        "acted on it. That it came in time was not shown of "
                        "each.");
    plan_reach(&p, BL_REACH_REACHED, BL_REACH_CANNOT_TELL);
    assert_string_equal(said(&p, BL_ANSWER_REACHED),
                        "In run P1 the electronic demand reached 1 of 2 towed "
                        "units; it cannot be told of bin trailer.");
    plan_reach(&p, BL_REACH_DEFECTS, BL_REACH_NOT_REACHED);
    assert_string_equal(said(&p, BL_ANSWER_REACHED),
                        "In run P1 the electronic demand reached 0 of 2 towed "
                        "units as it should; with defects dolly; it did not "
                        "reach bin trailer.");
    p.reach_unit[0].claim[BL_REACH_ARRIVES].answer = BL_NO;
    assert_non_null(strstr(said(&p, BL_ANSWER_REACHED), "in part only dolly"));
    plan_reach(&p, BL_REACH_CANNOT_TELL, BL_REACH_CANNOT_TELL);
    assert_string_equal(said(&p, BL_ANSWER_REACHED), "");
    /* No command was found: nothing was asked for that could arrive. */
    plan_reach(&p, BL_REACH_REACHED, BL_REACH_REACHED);
    p.reach.applications_known = false;
    assert_string_equal(said(&p, BL_ANSWER_REACHED), "");
    plan_reach(&p, BL_REACH_REACHED, BL_REACH_REACHED);
    p.reach.declared_off = true;
    assert_string_equal(said(&p, BL_ANSWER_REACHED), "");
}

static void says_what_changed_where_shown(void **state)
{
    (void)state;
    struct plant p;
    struct bl_comparison_row row[2] = {{.unit = 1,
                                        .figure = BL_FIGURE_RESPONSE,
                                        .verdict = BL_VERDICT_EARLIER,
                                        .difference_s = -0.125,
                                        .u_s = 0.002,
                                        .low_s = -0.130,
                                        .high_s = -0.120},
                                       /* Larger, but not shown. */
                                       {.unit = 2,
                                        .figure = BL_FIGURE_APPLY_75,
                                        .verdict = BL_VERDICT_RUN_MORE,
                                        .difference_s = -0.5}};
    struct bl_comparison comparison = {.base = (char *)"unpowered",
                                       .against = (char *)"powered",
                                       .confidence = 0.95,
                                       .row = row,
                                       .rows = 2};
    make(&p, (const double[]){0.1, 0.2, 0.3});
    p.input.comparison = &comparison;
    assert_string_equal(said(&p, BL_ANSWER_CHANGED),
                        "Most changed by \"powered\" against \"unpowered\": "
                        "dolly, first air (20 kPa) 0.125 s earlier (between "
                        "0.120 and 0.130 s).");
    row[0].verdict = BL_VERDICT_NO_CHANGE_SHOWN;
    assert_string_equal(said(&p, BL_ANSWER_CHANGED), "");
}

/* The greatest difference is named, the others are counted; 0.7004 to 0.7206 s
   is rounded away from the middle. */
static void a_comparison_has_its_own_answer(void **state)
{
    (void)state;
    struct plant p;
    const struct bl_comparison_row late = {.kind = BL_KIND_FULL,
                                           .shape = BL_SHAPE_STEP,
                                           .figure = BL_FIGURE_FILLED,
                                           .verdict = BL_VERDICT_EARLIER,
                                           .difference_s = -0.71,
                                           .u_s = 0.005,
                                           .low_s = -0.7206,
                                           .high_s = -0.7004,
                                           .confidence = 0.961,
                                           .same_within_s = 0.02,
                                           .n_base = 3,
                                           .n_against = 3};
    struct bl_comparison_row row[] = {late, late, late, late};
    struct bl_comparison comparison = {.base = (char *)"unpowered",
                                       .against = (char *)"powered",
                                       .confidence = 0.95,
                                       .row = row,
                                       .rows = 4};
    row[0].verdict = BL_VERDICT_SAME;
    row[0].difference_s = 0.001;
    row[1].unit = 1;
    row[1].difference_s = -0.2;
    row[2].unit = 2;
    /* First air differs by more, but 75 % is what is spoken of. */
    row[3].unit = 1;
    row[3].figure = BL_FIGURE_RESPONSE;
    row[3].difference_s = -2;
    make(&p, (const double[]){0.1, 0.2, 0.3});
    p.input.comparison = &comparison;
    p.input.topics = BL_ANSWER_OF_COMPARISON;
    assert_string_equal(
        said(&p, BL_ANSWER_COMPARED),
        "In full steps, bin trailer reaches 75 % of its settled pressure 0.710 "
        "s earlier in \"powered\" than in \"unpowered\" (between 0.700 and "
        "0.721 s, 96 % confidence); 1 unit is earlier too, 1 unit is the same "
        "within 0.020 s.");
    row[0].verdict = BL_VERDICT_EARLIER;
    assert_non_null(strstr(said(&p, BL_ANSWER_COMPARED),
                           "; every other unit is earlier too."));
    for (size_t i = 0; i < 3; i++) {
        row[i].verdict =
            i == 0 ? BL_VERDICT_NO_VALUES : BL_VERDICT_NO_CHANGE_SHOWN;
    }
    assert_string_equal(said(&p, BL_ANSWER_COMPARED),
                        "In full steps no unit is shown to differ between "
                        "\"powered\" and \"unpowered\"; 2 units show no "
                        "difference, 1 unit cannot be compared.");
    /* What one run shows is not said of others. */
    row[2].verdict = BL_VERDICT_RUN_MORE;
    row[2].of_runs.least_s = -0.8;
    row[2].of_runs.most_s = 0.1;
    assert_string_equal(
        said(&p, BL_ANSWER_COMPARED),
        "In full steps, in these runs bin trailer reaches 75 % of its settled "
        "pressure 0.710 s earlier in \"powered\" than in \"unpowered\" (single "
        "applications from 0.800 s earlier to 0.100 s later); 1 unit shows no "
        "difference, 1 unit cannot be compared. Other runs may differ: three "
        "runs of each would show it.");
    /* A study's own answer has nothing else. */
    assert_string_equal(said(&p, BL_ANSWER_MEASURED), "");
    p.input.topics = 0;
    assert_string_equal(said(&p, BL_ANSWER_COMPARED), "");
}

static void a_prediction_has_its_own_answer(void **state)
{
    (void)state;
    struct plant p;
    const enum bl_predict_figure filled =
        (enum bl_predict_figure)BL_FIGURE_FILLED;
    struct bl_predict_row row[] = {
        {.kind = BL_KIND_FULL,
         .shape = BL_SHAPE_STEP,
         .figure = BL_PREDICT_FILL,
         .n = 3,
         .verdict = BL_PREDICT_LATER,
         .measured_s = 2,
         .u_s = 0.001},
        {.kind = BL_KIND_FULL,
         .shape = BL_SHAPE_STEP,
         .figure = filled,
         .n = 3,
         .verdict = BL_PREDICT_LATER,
         .measured_s = 0.79,
         .u_s = 0.0012,
         .low_s = 0.329,
         .high_s = 0.458},
        {.figure = filled, .n = 3, .verdict = BL_PREDICT_INSIDE}};
    struct bl_predict_unit unit[UNITS] = {
        {.unit = 0, .reason = BL_PREDICT_WHY_NO_LINE},
        {.unit = 1, .row = &row[2], .rows = 1},
        {.unit = 2, .row = row, .rows = 2}};
    struct bl_predict predict = {.unit = unit, .units = UNITS};
    make(&p, (const double[]){0.1, 0.2, 0.3});
    p.run[0].predict = &predict;
    p.input.topics = BL_ANSWER_OF_PREDICT;
    /* The first of two sentences; 2 u = 2.4 ms is rounded up. */
    struct bl_answer_sentences *answer = NULL;
    assert_int_equal(bl_answer_create(&answer, &p.input, NULL), BL_OK);
    assert_int_equal(answer->count, 2);
    assert_true(answer->item[0].first && answer->item[1].first);
    assert_int_equal(answer->item[0].unit, 2);
    assert_string_equal(
        answer->item[0].text,
        "In condition \"powered\", bin trailer takes longer than air alone "
        "would: 75 % of settled 0.790 \xC2\xB1 0.003 s, air alone 0.329 to "
        "0.458 "
        "s (full steps, run P1).");
    char wanted[400];
    snprintf(wanted, sizeof(wanted),
             "In condition \"powered\", of 3 units 1 takes what air alone "
             "would, 1 takes longer, 1 could not be predicted (%s).",
             bl_predict_reason_meaning(BL_PREDICT_WHY_NO_LINE));
    assert_string_equal(answer->item[1].text, wanted);
    bl_answer_destroy(answer);
}

static void pressure_curves_have_their_own_answer(void **state)
{
    (void)state;
    struct plant p;
    struct bl_characteristic item[UNITS] = {
        {.unit = 0, .used = -1}, {.unit = 1, .used = -1}, {.unit = 2}};
    struct bl_light_unit lit[] = {{.unit = 1, .braked = BL_YES},
                                  {.unit = 2, .braked = BL_NO}};
    struct bl_light_row light[] = {
        {.demand = {60, 1}, .unit = lit, .units = 2},
        {.demand = {80, 1}, .unit = lit, .units = 2},
        {.demand = {90, 1}, .unit = lit, .units = 1}};
    struct bl_characteristics curves = {
        .item = item, .count = UNITS, .light = light, .lights = 3};
    for (size_t i = 0; i < 2; i++) {
        item[i].curve[BL_CURVE_OF_CONTROL].rising.reason = BL_CURVE_NO_INPUT;
        item[i].curve[BL_CURVE_OF_DEMAND].rising.reason = BL_CURVE_TOO_FAST;
    }
    item[2].used = BL_CURVE_OF_CONTROL;
    item[2].curve[BL_CURVE_OF_CONTROL] = (struct bl_curve){
        .input = BL_CURVE_OF_CONTROL,
        .rising = {.on = {35.02, 0.31}, .gain = {0.98, 0.0021}}};
    make(&p, (const double[]){0.1, 0.2, 0.3});
    p.run[0].curves = &curves;
    p.input.topics = BL_ANSWER_OF_CURVES;
    struct bl_answer_sentences *answer = NULL;
    assert_int_equal(bl_answer_create(&answer, &p.input, NULL), BL_OK);
    assert_int_equal(answer->count, 3);
    assert_string_equal(answer->item[0].text,
                        "Bin trailer opens at 35.0 \xC2\xB1 0.7 kPa of control "
                        "pressure and follows with a gain of 0.980 \xC2\xB1 "
                        "0.005 (run P1).");
    assert_non_null(strstr(answer->item[1].text,
                           "No pressure curve could be read of units 0 and 1: "
                           "the pressure was moved too fast"));
    /* 80 kPa, not the 90 kPa at which nobody is known not to brake. */
    assert_string_equal(
        answer->item[2].text,
        "At a demand of 80.0 kPa bin trailer does not brake yet "
        "(condition \"powered\", run P1).");
    bl_answer_destroy(answer);
    /* A reference run has all transducers at one place. */
    p.trial_run[0].condition = (char *)"reference";
    assert_string_equal(said(&p, BL_ANSWER_CURVES), "");
}

/* By itself `reach` says of which runs it cannot tell, and why. */
static void reach_names_the_runs_it_cannot_tell(void **state)
{
    (void)state;
    struct plant p;
    make(&p, (const double[]){0.1, 0.2, 0.3});
    plan_reach(&p, BL_REACH_CANNOT_TELL, BL_REACH_CANNOT_TELL);
    snprintf(p.reach_unit[0].claim[BL_REACH_ARRIVES].why, BL_REACH_TEXT,
             "no recording has its link");
    p.input.topics = BL_ANSWER_OF_REACH;
    assert_string_equal(said(&p, BL_ANSWER_REACHED),
                        "Whether the electronic demand reached any unit cannot "
                        "be told in run P1: no recording has its link.");
    p.reach.declared_off = true;
    assert_string_equal(
        said(&p, BL_ANSWER_REACHED),
        "Run P1 is declared without power or data: no demand is "
        "expected.");
}

static void says_what_was_found(void **state)
{
    (void)state;
    struct plant p;
    struct bl_findings findings = {0};
    make(&p, (const double[]){0.1, 0.2, 0.3});
    p.input.findings = &findings;
    bl_findings_looked(&findings, BL_FINDING_SLOW_FILL, 0, 0);
    (void)bl_findings_add(&findings, BL_FINDING_LATE_APPLY,
                          BL_SHOWN_CANNOT_TELL, 1, 0);
    bl_findings_missing(&findings, BL_FINDING_SUPPLY_SAG, 1, 0, "a reservoir");
    assert_string_equal(said(&p, BL_ANSWER_FOUND),
                        "Cannot tell: no unit could be compared with others. "
                        "That takes the outputs of three units in the same "
                        "applications. Not decided: late-apply (dolly). "
                        "Without a limit it cannot be told whether the whole "
                        "train is slow.");
    struct bl_finding *f =
        bl_findings_add(&findings, BL_FINDING_SLOW_FILL, BL_SHOWN_FOUND, 2, 0);
    f->severity = BL_SEVERITY_WARNING;
    bl_finding_say(f, "unit 2 fills slowly");
    assert_string_equal(said(&p, BL_ANSWER_FOUND),
                        "Unit 2 fills slowly. Look along the hoses to its "
                        "chambers for kinks.");
    f = bl_findings_add(&findings, BL_FINDING_NO_OUTPUT, BL_SHOWN_FOUND, 1, 0);
    f->severity = BL_SEVERITY_FAULT;
    bl_finding_say(f, "unit 1 gave nothing");
    assert_string_equal(said(&p, BL_ANSWER_FOUND),
                        "Unit 1 gave nothing. Check every shut-off cock first. "
                        "Besides, there is 1 other finding.");
    bl_findings_finish(&findings);
}

/* Two zeros are off: notes, which the first sentence names all the same. */
static void says_which_zeros_are_off(void **state)
{
    (void)state;
    struct plant p;
    struct bl_findings findings = {0};
    make(&p, (const double[]){0.1, 0.2, 0.3});
    p.input.findings = &findings;
    for (long u = 1; u < UNITS; u++) {
        struct bl_finding *f = bl_findings_add(
            &findings, BL_FINDING_ZERO_OFFSET, BL_SHOWN_FOUND, u, 0);
        bl_finding_evidence(f, "released pressure", u == 1 ? -12 : -8, 0.1,
                            "kPa");
    }
    assert_non_null(
        strstr(said(&p, BL_ANSWER_FOUND),
               " and 1 other unit is off (-12 kPa released). Times and settled "
               "pressures count from each channel's own released pressure, so "
               "they stay valid;"));
    bl_findings_finish(&findings);
}

/* At two light applications by air; what a sound chain does is marked so. */
static void says_who_does_not_brake_lightly(void **state)
{
    (void)state;
    struct plant p;
    enum bl_trait_class by[1] = {BL_BY_AIR};
    struct bl_traits traits = {.runs = 1, .by = by};
    struct bl_findings findings = {.traits = &traits};
    make(&p, (const double[]){0.1, 0.2, 0.3});
    p.input.findings = &findings;
    for (int i = 0; i < 2; i++) {
        p.application[i].kind = BL_KIND_LIGHT;
        p.lag_unit[i][2].responded = BL_NO;
    }
    p.lag_unit[0][1].responded = BL_NO;
    assert_string_equal(
        last_first(&p),
        "This may be normal, as opening pressures add up along the train: "
        "in light applications by air alone, bin trailer does not brake.");
    /* The unit behind it brakes: no chain does that. */
    p.lag_unit[1][1].responded = BL_NO;
    p.lag_unit[0][2].responded = p.lag_unit[1][2].responded = BL_YES;
    assert_string_equal(
        last_first(&p),
        "In light applications by air alone, dolly does not brake.");
    by[0] = BL_BY_DEMAND;
    assert_null(strstr(last_first(&p), "light"));
}

/* A clock that is wrong is a remark: the answer stands before it. */
static void answers_before_it_remarks(void **state)
{
    (void)state;
    struct plant p;
    struct bl_findings findings = {0};
    make(&p, (const double[]){0.1, 0.2, 0.3});
    p.input.findings = &findings;
    struct bl_finding *f = bl_findings_add(
        &findings, BL_FINDING_CLOCK_AMBIGUOUS, BL_SHOWN_FOUND, -1, 0);
    f->severity = BL_SEVERITY_FAULT;
    bl_finding_say(f, "the clocks of run P1 fit in two ways");
    assert_memory_equal(said(&p, BL_ANSWER_FOUND),
                        "Cannot tell: no unit could be compared", 38);
    assert_memory_equal(last_first(&p), "The clocks of run P1 fit", 24);
    f = bl_findings_add(&findings, BL_FINDING_SLOW_FILL, BL_SHOWN_FOUND, 2, 0);
    f->severity = BL_SEVERITY_WARNING;
    bl_finding_say(f, "unit 2 fills slowly");
    assert_memory_equal(said(&p, BL_ANSWER_FOUND), "Unit 2 fills slowly.", 20);
    assert_memory_equal(last_first(&p), "The clocks of run P1 fit", 24);
    bl_findings_finish(&findings);
}

/* What could not be read is named beside what was found, and is no clearance.
 */
static void names_what_was_not_read(void **state)
{
    (void)state;
    struct plant p;
    make(&p, (const double[]){0.1, 0.2, 0.3});
    assert_string_equal(said(&p, BL_ANSWER_UNREAD), "");
    struct bl_loaded_recording recording[2] = {
        {.kind = BL_RECORDING_CAPTURE, .status = BL_IO, .failure = "p1: gone"},
        {.kind = BL_RECORDING_LOG,
         .status = BL_FORMAT,
         .rows = 7,
         .failure = "p1.csv: cut"}};
    const struct bl_run_data data = {.recording = recording, .recordings = 2};
    p.run[0].data = &data;
    assert_string_equal(
        said(&p, BL_ANSWER_UNREAD),
        "Not read: the bus recording of run P1 (p1: gone). What it holds of "
        "the electronic demand is not known.|Read in part only: the log of "
        "run P1 (p1.csv: cut). What else it holds is not known.");
    p.run[0].lag = NULL;
    assert_string_equal(said(&p, BL_ANSWER_UNREAD), "Not measured: run P1.");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(counts_what_was_measured),
        cmocka_unit_test(says_who_responded),
        cmocka_unit_test(names_the_last_only_where_shown),
        cmocka_unit_test(leaves_the_demand_open),
        cmocka_unit_test(says_what_changed_where_shown),
        cmocka_unit_test(a_comparison_has_its_own_answer),
        cmocka_unit_test(a_prediction_has_its_own_answer),
        cmocka_unit_test(pressure_curves_have_their_own_answer),
        cmocka_unit_test(reach_names_the_runs_it_cannot_tell),
        cmocka_unit_test(says_what_was_found),
        cmocka_unit_test(says_which_zeros_are_off),
        cmocka_unit_test(says_who_does_not_brake_lightly),
        cmocka_unit_test(answers_before_it_remarks),
        cmocka_unit_test(names_what_was_not_read),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
