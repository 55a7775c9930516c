/* SPDX-License-Identifier: MIT */
/*
 * Prediction against what is outside of it: the independent computation of a
 * line (line_cases.h), times of rules and rigs, and the plant of
 * tests/support/plant.h, which is a dead time and a first-order lag and shares
 * nothing with the models here.
 */
#include "made_run.h"
#include "plant.h"

#include "../physics/line_cases.h"

#include "base/alloc.h"
#include "lag/track.h"
#include "study/predict/drive.h"
#include "study/predict/figures.h"
#include "study/predict/inputs.h"

/* Sound takes 116.5 ms for 40 m at 20 degC (textbook: 343.2 m/s). */
static void knows_what_no_wave_undercuts(void **state)
{
    (void)state;
    assert_near(bl_predict_least_s(40, 293.15), 0.1165 / 1.3, 1e-4);
    assert_near(bl_predict_least_s(40, 253.15), 40 / (1.3 * 318.9), 1e-4);
}

static void reads_a_temperature(void **state)
{
    static const struct {
        const char *text;
        double low, high;
    } good[] = {{"18 degC", 18, 18},
                {"12 to 25 degC", 12, 25},
                {"-5 .. 3.5 degC", -5, 3.5},
                {"59 degF", 15, 15},
                {"293.15 K", 20, 20}};
    static const char *const bad[] = {"",        "warm",          "18",
                                      "18 kPa",  "25 to 12 degC", "18 degC-",
                                      "1 to 2 ", "4000 degC"};
    (void)state;
    double low;
    double high;
    for (size_t i = 0; i < COUNT_OF(good); i++) {
        assert_true(bl_temperature_read(good[i].text, &low, &high));
        assert_near(low, good[i].low, 1e-9);
        assert_near(high, good[i].high, 1e-9);
    }
    for (size_t i = 0; i < COUNT_OF(bad); i++) {
        assert_false(bl_temperature_read(bad[i], &low, &high));
    }
}

/* ---- the chain around the independent line and chamber */

enum { STEPS = 4500, RELEASE = 2000 };
static double drive[STEPS], control[STEPS], output[STEPS];

static double passed(double level, size_t from, bool up)
{
    for (size_t i = from + 1; i < STEPS; i++) {
        if (up ? control[i] >= level : control[i] <= level) {
            const double part =
                (level - control[i - 1]) / (control[i] - control[i - 1]);
            return ((double)(i - 1 - from) + part) * BL_CHAIN_STEP_S;
        }
    }
    return NAN;
}

static struct bl_trial_unit plain_unit(double pipe_m)
{
    return (struct bl_trial_unit){.pipe_m = pipe_m,
                                  .length_m = NAN,
                                  .bore_mm = 11,
                                  .volume_cm3 = 50,
                                  .keeps_kpa = NAN,
                                  .crack_kpa = NAN,
                                  .chambers_cm3 = NAN,
                                  .reservoir_volume_cm3 = NAN,
                                  .threshold_kpa = NAN,
                                  .gain = NAN};
}

/* One unit behind a bare pipe, as the table has it: nothing of it is drawn but
   what does not touch the line. */
static void run_plain(const struct bl_trial_unit *unit, unsigned draw,
                      double kpa)
{
    const struct bl_trial trial = {.unit = (struct bl_trial_unit *)unit,
                                   .units = 1};
    const struct bl_asked asked = {kpa, NAN};
    struct bl_unit_inputs in;
    struct bl_unit_values values;
    struct bl_chain_unit made;
    size_t done;
    bl_inputs_of(&in, &trial, 0, NAN, NAN, false);
    bl_inputs_draw(&values, &in, 1, draw);
    values.value[BL_INPUT_FITTINGS] = 1;
    values.value[BL_INPUT_EXPONENT] = draw == BL_PREDICT_DRAWS ? 1.0 : 1.1;
    values.value[BL_INPUT_TEMPERATURE] = 20;
    bl_inputs_build(&made, &in, &values, &asked, false);
    made.coupling_c = 0;
    struct bl_chain chain = {.unit = &made, .units = 1};
    bl_inputs_chain(&chain, &values);
    chain.feed = line_feed;
    chain.vent = line_vent;
    assert_int_equal(
        bl_chain_run(&chain,
                     &(const struct bl_chain_drive){drive, STEPS, STEPS, 1},
                     control, output, &done, NULL),
        BL_OK);
}

static void meets_the_independent_line(void **state)
{
    (void)state;
    for (size_t i = 0; i < STEPS; i++) {
        const double s = (double)i * BL_CHAIN_STEP_S;
        drive[i] = i < RELEASE ? 650 * fmin(s / 0.02, 1) : 0;
    }
    for (size_t r = 0; r < COUNT_OF(line_cases); r++) {
        const struct line_case *row = &line_cases[r];
        const struct bl_trial_unit unit = plain_unit(row->length_m);
        run_plain(&unit, BL_PREDICT_DRAWS, 650);
        assert_line_time(passed(30, 0, true), row->apply_s[1]);
        assert_line_time(passed(65, 0, true), row->apply_s[2]);
        assert_line_time(passed(413.685, 0, true), row->apply_s[3]);
        assert_line_time(passed(487.5, 0, true), row->apply_s[4]);
        assert_line_time(passed(65, RELEASE, false), row->release_s[2]);
        assert_line_time(passed(34.474, RELEASE, false), row->release_s[3]);
    }
}

/* Three axles of type 24 at 75 % of their volume and C = 25 fill from 0 to
   60 psi in 0.088 s and empty from 95 to 5 psi in 0.291 s (independent
   computation): behind a line of no length the draws lie around it. */
static void spans_the_independent_chamber(void **state)
{
    double low = INFINITY;
    double high = 0;
    (void)state;
    for (size_t i = 0; i < STEPS; i++) {
        drive[i] = i < RELEASE ? 655 : 0;
    }
    struct bl_trial_unit unit = plain_unit(0.2);
    unit.bore_mm = 13;
    unit.volume_cm3 = 0;
    unit.crack_kpa = 25;
    unit.chambers_cm3 = 6 * 67 * 16.387064;
    unit.gain = 1;
    for (unsigned d = 0; d < BL_PREDICT_DRAWS; d++) {
        run_plain(&unit, d, 655);
        size_t from = 0;
        size_t to = 0;
        while (from < STEPS && output[from] < 1) {
            from++;
        }
        while (to < STEPS && output[to] < 413.685) {
            to++;
        }
        const double fill = (double)(to - from) * BL_CHAIN_STEP_S;
        low = fmin(low, fill);
        high = fmax(high, fill);
    }
    assert_true(low < 0.088 && 0.088 < high);
    /* Six chambers do not fill in no time, nor in seconds. */
    assert_true(low > 0.02 && high < 0.6);
}

/* ---- whole runs of the plant: its lines are dead times of 60 and 90 ms, by
   which lines of 14 and 20 m have their first 10 % (line_cases.h), and fill as
   if each had its own valve;
   its valves open at 20 kPa. */

enum { LOOKED_AT = 1 }; /* applications: they differ in noise only */

struct predicted {
    struct plant p;
    struct bl_predict *is;
};

static void predict(struct predicted *to, const struct plant_fault *fault)
{
    struct plant_fault all[PLANT_UNITS];
    static const struct plant_course course = {.hold_kpa = 500, .period_s = 10};
    memset(all, 0, sizeof(all));
    plant_start(&to->p, 11);
    plant_run(&to->p, 0, all, &course);
    all[2] = *fault;
    plant_run(&to->p, 1, all, &course);
    to->p.trial.control_line = BL_CONTROL_LINE_RELAYED;
    to->p.unit[1].pipe_m = 14;
    to->p.unit[2].pipe_m = 20;
    to->p.unit[1].crack_kpa = to->p.unit[2].crack_kpa = 20;
    plant_measure(&to->p);
    to->p.lag[1]->applications = LOOKED_AT;
    assert_int_equal(bl_predict_run(&to->is, &to->p.trial, &to->p.data[1],
                                    &to->p.clocks[1], to->p.lag[1], NULL),
                     BL_OK);
}

static void finish(struct predicted *it)
{
    bl_predict_destroy(it->is);
    it->p.lag[1]->applications = PLANT_APPLICATIONS;
    plant_finish(&it->p);
}

static const struct bl_predict_row *
row_of(const struct predicted *it, size_t unit, enum bl_predict_figure figure)
{
    const struct bl_predict_unit *is = &it->is->unit[unit];
    for (size_t i = 0; i < is->rows; i++) {
        if (is->row[i].figure == figure) {
            return &is->row[i];
        }
    }
    fail_msg("unit %zu has no such row", unit);
    return NULL;
}

static void a_sound_train_is_as_expected(void **state)
{
    struct predicted it;
    (void)state;
    predict(&it, &(struct plant_fault){.none = false});
    assert_int_equal(it.is->modelled, LOOKED_AT);
    /* Unit 0 states no line. */
    assert_int_equal(it.is->unit[0].reason, BL_PREDICT_WHY_NO_LINE);
    assert_near(it.is->unit[2].path_m, 34, 1e-12);
    for (size_t u = 1; u < PLANT_UNITS; u++) {
        size_t rows = 2; /* fill and fall */
        for (enum bl_figure_name i = 0; i < BL_FIGURES; i++) {
            const struct bl_figure_entry *entry = bl_figure_entry(i);
            rows += entry->at == BL_AT_HOLD || entry->at == BL_AT_RESPONSE_AT;
        }
        assert_int_equal(it.is->unit[u].rows, rows);
        for (size_t i = 0; i < rows; i++) {
            const struct bl_predict_row *row = &it.is->unit[u].row[i];
            if (row->later + row->earlier + row->implausible > 0) {
                fail_msg("unit %zu, %s: %g not in %g to %g", u,
                         bl_predict_figure_name(row->figure), row->measured_s,
                         row->low_s, row->high_s);
            }
            assert_int_equal(row->n, LOOKED_AT);
        }
    }
    assert_int_equal(row_of(&it, 1, BL_PREDICT_RESPONSE)->verdict,
                     BL_PREDICT_INSIDE);
    finish(&it);
}

/* The unit at fault, its figure and way; its neighbour stays as it was. */
static void expect(const struct plant_fault *fault,
                   enum bl_predict_figure figure,
                   enum bl_predict_verdict verdict)
{
    struct predicted it;
    predict(&it, fault);
    const struct bl_predict_row *row = row_of(&it, 2, figure);
    assert_int_not_equal(row_of(&it, 1, figure)->verdict, BL_PREDICT_LATER);
    if (row->verdict != verdict) {
        fail_msg("%s: %g against %g to %g is %s",
                 bl_predict_figure_name(figure), row->measured_s, row->low_s,
                 row->high_s, bl_predict_verdict_name(row->verdict));
    }
    finish(&it);
}

/* A late unit fills as a sound one does. */
static void late_is_not_slow(void **state)
{
    struct predicted sound;
    struct predicted late;
    (void)state;
    predict(&sound, &(struct plant_fault){.none = false});
    predict(&late, &(struct plant_fault){.dead_s = 0.35});
    const struct bl_predict_row *was = row_of(&sound, 2, BL_PREDICT_FILL);
    const struct bl_predict_row *now = row_of(&late, 2, BL_PREDICT_FILL);
    assert_int_equal(now->verdict, was->verdict);
    assert_int_not_equal(now->verdict, BL_PREDICT_LATER);
    assert_near(now->measured_s, was->measured_s, 0.005);
    finish(&sound);
    finish(&late);
}

static void faults_stand_out(void **state)
{
    (void)state;
    /* Behind two lines of which little is stated, only gross lateness. */
    expect(&(struct plant_fault){.dead_s = 0.5}, BL_PREDICT_RESPONSE,
           BL_PREDICT_LATER);
    expect(&(struct plant_fault){.line_dead_s = 0.5}, BL_PREDICT_RESPONSE,
           BL_PREDICT_LATER);
    /* Chambers of any size are usual, so a slow fill takes much to stand out.
     */
    expect(&(struct plant_fault){.fill_factor = 8}, BL_PREDICT_FILL,
           BL_PREDICT_LATER);
    expect(&(struct plant_fault){.early_s = 0.2}, BL_PREDICT_RESPONSE,
           BL_PREDICT_EARLIER);
}

/* 34 m in no time at all: an output that is stamped 0.2 s too early. */
static void sooner_than_sound_is_implausible(void **state)
{
    struct predicted it;
    (void)state;
    predict(&it, &(struct plant_fault){.early_s = 0.2});
    assert_int_equal(row_of(&it, 2, BL_PREDICT_RESPONSE)->implausible,
                     LOOKED_AT);
    assert_int_equal(row_of(&it, 1, BL_PREDICT_RESPONSE)->implausible, 0);
    finish(&it);
}

static void what_is_stated_narrows_the_band(void **state)
{
    struct predicted it;
    struct bl_predict *better = NULL;
    (void)state;
    predict(&it, &(struct plant_fault){.none = false});
    struct bl_trial_unit *unit = &it.p.unit[2];
    for (size_t u = 1; u < PLANT_UNITS; u++) { /* the middle of what is usual */
        it.p.unit[u].bore_mm = 8;
        it.p.unit[u].volume_cm3 = 300;
        it.p.unit[u].keeps_kpa = 20;
        it.p.unit[u].valve_delay_s = 0.02;
    }
    unit->chambers_cm3 = 4000;
    struct bl_trial_pair record = {(char *)"temperature", (char *)"20 degC", 1};
    it.p.trial.record = &record;
    it.p.trial.records = 1;
    assert_int_equal(bl_predict_run(&better, &it.p.trial, &it.p.data[1],
                                    &it.p.clocks[1], it.p.lag[1], NULL),
                     BL_OK);
    const struct bl_predict_row *wide = row_of(&it, 2, BL_PREDICT_APPLY_75);
    for (size_t i = 0; i < better->unit[2].rows; i++) {
        const struct bl_predict_row *row = &better->unit[2].row[i];
        if (row->figure == BL_PREDICT_APPLY_75) {
            assert_true(row->low_s > wide->low_s);
            assert_true(row->high_s < wide->high_s);
        }
    }
    for (size_t i = 0; i < better->unit[2].inputs; i++) {
        const struct bl_predict_input *in = &better->unit[2].input[i];
        if (strcmp(in->what, "bore") == 0) {
            assert_int_equal(in->from, BL_PREDICT_FROM_TRIAL);
        } else if (strcmp(in->what, "air temperature") == 0) {
            assert_int_equal(in->from, BL_PREDICT_FROM_RECORD);
        } else if (strcmp(in->what, "reservoir pressure") == 0) {
            assert_int_equal(in->from, BL_PREDICT_FROM_MEASURED);
            assert_near(in->low, 800, 2); /* the plant's reservoir */
        } else if (strcmp(in->what, "valve delay") == 0) {
            assert_int_equal(in->from, BL_PREDICT_FROM_USUAL);
        }
    }
    bl_predict_destroy(better);
    finish(&it);
}

static enum bl_predict_reason reason_now(struct predicted *it)
{
    bl_predict_destroy(it->is);
    assert_int_equal(bl_predict_run(&it->is, &it->p.trial, &it->p.data[1],
                                    &it->p.clocks[1], it->p.lag[1], NULL),
                     BL_OK);
    return it->is->unit[2].reason;
}

static void refuses_by_name(void **state)
{
    struct predicted it;
    (void)state;
    predict(&it, &(struct plant_fault){.none = false});
    assert_int_equal(reason_now(&it), BL_PREDICT_WHY_NONE);
    it.p.run[1].control_air = BL_AIR_BLOCKED;
    assert_int_equal(reason_now(&it), BL_PREDICT_WHY_CONTROL_BLOCKED);
    it.p.run[1].control_air = BL_AIR_OPEN;
    it.p.run[1].power = BL_STATED_UNKNOWN;
    it.p.run[1].data = BL_STATED_UNKNOWN;
    it.p.unit[1].address = 200; /* a train with a link must say it was off */
    assert_int_equal(reason_now(&it), BL_PREDICT_WHY_CONDITION_NOT_STATED);
    it.p.run[1].power = BL_STATED_ON;
    assert_int_equal(reason_now(&it), BL_PREDICT_WHY_POWERED);
    it.p.run[1].data = BL_STATED_OFF;
    assert_int_equal(reason_now(&it), BL_PREDICT_WHY_NONE);
    it.p.unit[0].command_kind = BL_COMMAND_CONTROL_MOVEMENT;
    assert_int_equal(reason_now(&it), BL_PREDICT_WHY_COMMAND_NOT_PRESSURE);
    it.p.unit[0].command_kind = BL_COMMAND_TREADLE_PRESSURE;
    it.p.unit[1].pipe_m = NAN;
    assert_int_equal(reason_now(&it), BL_PREDICT_WHY_NO_LINE);
    finish(&it);
}

/* Whether the control line is passed on or re-issued is not known: the band
   holds both answers. */
static void an_unknown_line_holds_both(void **state)
{
    static const enum bl_control_line lines[] = {BL_CONTROL_LINE_UNKNOWN,
                                                 BL_CONTROL_LINE_THROUGH,
                                                 BL_CONTROL_LINE_RELAYED};
    struct predicted it;
    double low[3];
    double high[3];
    (void)state;
    predict(&it, &(struct plant_fault){.none = false});
    for (size_t u = 1; u < PLANT_UNITS; u++) {
        it.p.unit[u].bore_mm = 11; /* so that 34 m in one fill in time */
        it.p.unit[u].volume_cm3 = 50;
    }
    for (size_t i = 0; i < COUNT_OF(lines); i++) {
        it.p.trial.control_line = lines[i];
        assert_int_equal(reason_now(&it), BL_PREDICT_WHY_NONE);
        low[i] = row_of(&it, 2, BL_PREDICT_APPLY_75)->low_s;
        high[i] = row_of(&it, 2, BL_PREDICT_APPLY_75)->high_s;
    }
    assert_near(low[0], fmin(low[1], low[2]), 1e-12);
    assert_near(high[0], fmax(high[1], high[2]), 1e-12);
    /* What a unit says of itself goes before the trial. */
    it.p.trial.control_line = BL_CONTROL_LINE_THROUGH;
    it.p.unit[1].control_line = BL_CONTROL_LINE_RELAYED;
    assert_int_equal(reason_now(&it), BL_PREDICT_WHY_NONE);
    assert_near(row_of(&it, 2, BL_PREDICT_APPLY_75)->high_s, high[2], 1e-12);
    finish(&it);
}

/* Any single allocation may fail: an error, no leak, no result. */
static void survives_without_memory(void **state)
{
    struct predicted it;
    (void)state;
    predict(&it, &(struct plant_fault){.none = false});
    bl_alloc_fail_at(0); /* counts anew */
    assert_int_equal(reason_now(&it), BL_PREDICT_WHY_NONE);
    const uint64_t all = bl_alloc_count();
    assert_true(all > 20);
    for (uint64_t i = 1; i <= all; i += i < 14 ? 1 : all / 2) {
        struct bl_predict *none = NULL;
        struct bl_error error;
        bl_error_clear(&error);
        bl_alloc_fail_at(i);
        const enum bl_status status =
            bl_predict_run(&none, &it.p.trial, &it.p.data[1], &it.p.clocks[1],
                           it.p.lag[1], &error);
        bl_alloc_fail_at(0);
        if (status != BL_NOMEM) {
            fail_msg("allocation %d: status %d", (int)i, (int)status);
        }
        assert_null(none);
        assert_int_equal(error.status, BL_NOMEM);
    }
    finish(&it);
}

/* Three applications by hand, the second 0.5 s after the command of the first
   has gone. A model is fed from 1 s before: it would answer the end of the
   first, and be early by nearly a second. */
static void one_that_follows_closely_is_no_test(void **state)
{
    (void)state;
    static const struct corner treadle[] = {
        {0, 0},      {3, 0},     {3.2, 600}, {5, 600}, {5.1, 0},
        {5.6, 0},    {5.8, 600}, {8, 600},   {8.1, 0}, {12, 0},
        {12.2, 600}, {14, 600},  {14.1, 0},  {18, 0}};
    static const bool modelled[] = {true, false, true};
    struct made_run m;
    struct bl_run_lag *lag = NULL;
    struct bl_track command;
    made_start(&m, 18, 200);
    const long c =
        made_channel(&m, BL_QUANTITY_PRESSURE, treadle, COUNT_OF(treadle));
    made_unit(&m, c, -1);
    made_command(&m, c, 20);
    assert_int_equal(bl_measure_run(&lag, &m.trial, &m.data, &m.clocks, NULL),
                     BL_OK);
    assert_int_equal(lag->applications, COUNT_OF(modelled));
    bl_track_find(&command, &m.trial, &m.data, &m.clocks, &m.unit[0].command);
    for (size_t a = 0; a < COUNT_OF(modelled); a++) {
        struct bl_drive fed;
        enum bl_status status = BL_OK;
        assert_int_equal(bl_drive_make(&fed, &command, lag, a, &status),
                         modelled[a]);
        assert_int_equal(status, BL_OK);
        bl_drive_finish(&fed);
    }
    bl_run_lag_destroy(lag);
    made_finish(&m);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(knows_what_no_wave_undercuts),
        cmocka_unit_test(reads_a_temperature),
        cmocka_unit_test(meets_the_independent_line),
        cmocka_unit_test(spans_the_independent_chamber),
        cmocka_unit_test(a_sound_train_is_as_expected),
        cmocka_unit_test(faults_stand_out),
        cmocka_unit_test(late_is_not_slow),
        cmocka_unit_test(sooner_than_sound_is_implausible),
        cmocka_unit_test(what_is_stated_narrows_the_band),
        cmocka_unit_test(refuses_by_name),
        cmocka_unit_test(an_unknown_line_holds_both),
        cmocka_unit_test(one_that_follows_closely_is_no_test),
        cmocka_unit_test(survives_without_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
