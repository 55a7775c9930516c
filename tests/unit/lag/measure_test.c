/* SPDX-License-Identifier: MIT */
/*
 * Figures against paper: all traces are straight lines, and every expected
 * value below is a definition of docs/methods/figures.md worked out by hand on
 * them (the numbers stand beside the checks).
 */
#include "made_run.h"

/* Command 0 to 600 kPa in 0.2 s from 2.0 s; back in 0.2 s from 6.0 s. */
static const struct corner command_step[] = {
    {0, 0}, {2, 0}, {2.2, 600}, {6, 600}, {6.2, 0}};
/* Output of the unit that follows: 2.1 to 2.4 s up, 6.1 to 6.5 s down. */
static const struct corner output_step[] = {
    {0, 0}, {2.1, 0}, {2.4, 600}, {6.1, 600}, {6.5, 0}};

#define assert_figure(figure, expected, tolerance)                             \
    do {                                                                       \
        const struct bl_figure checked = (figure);                             \
        if (!checked.known) {                                                  \
            fail_msg("%s:%d: null (%s)", __FILE__, __LINE__,                   \
                     bl_reason_name(checked.reason));                          \
        }                                                                      \
        assert_near(checked.s, expected, tolerance);                           \
    } while (0)

#define assert_missing(figure, expected_reason)                                \
    do {                                                                       \
        const struct bl_figure checked = (figure);                             \
        assert_false(checked.known);                                           \
        assert_string_equal(bl_reason_name(checked.reason), expected_reason);  \
    } while (0)

/* A pedal that overshoots: 639 kPa, falling with 0.4 s to 437 kPa, let go from
   437 + 202 exp(-(4 - 2.2) / 0.4) = 439.2 kPa at 4 s, to 0 in 0.2 s. Its 90 %
   are 395.3 kPa: passed 0.2 (439.2 - 395.3) / 439.2 = 20.0 ms after 4 s. */
static void an_overshoot_is_no_hold(void **state)
{
    (void)state;
    struct corner c[24] = {{0, 0}, {2, 0}, {2.2, 639}};
    size_t n = 3;
    for (double s = 2.3; s < 4.05; s += 0.1) {
        c[n++] = (struct corner){s, 437 + 202 * exp(-(s - 2.2) / 0.4)};
    }
    c[n++] = (struct corner){4.2, 0};
    struct made_run m;
    made_start(&m, 9, 1000);
    const long command = made_channel(&m, BL_QUANTITY_PRESSURE, c, n);
    made_unit(&m, -1, -1);
    made_command(&m, command, 20);
    struct bl_run_lag *lag = made_measured(&m);
    assert_int_equal(lag->applications, 1);
    const struct bl_application *a = &lag->application[0];
    assert_near(a->command_hold.value, 440, 4);
    assert_int_equal(a->kind, BL_KIND_SERVICE);
    assert_figure(a->command_release, 4.020, 2e-3);
    bl_run_lag_destroy(lag);
    made_finish(&m);
}

/* Pressed to 600 kPa for 2 s, eased to 350 kPa for 1 s, let go at 5.1 s: it is
   let go from 350, the earlier fall is none. 315 kPa: 20 ms after 5.1 s. */
static void it_is_let_go_from_the_last_level(void **state)
{
    (void)state;
    static const struct corner c[] = {
        {0, 0}, {2, 0}, {2.2, 600}, {4, 600}, {4.1, 350}, {5.1, 350}, {5.3, 0}};
    struct made_run m;
    made_start(&m, 9, 1000);
    const long command = made_channel(&m, BL_QUANTITY_PRESSURE, c, 7);
    made_unit(&m, -1, -1);
    made_command(&m, command, 20);
    struct bl_run_lag *lag = made_measured(&m);
    const struct bl_application *a = &lag->application[0];
    assert_near(a->command_hold.value, 350, 0.01);
    assert_figure(a->command_release, 5.12, 1e-4);
    bl_run_lag_destroy(lag);
    made_finish(&m);
}

/* A pedal that is pressed and let go within one row, 10 and 100 rows a second:
   pressed between the rows at 2.0 and at 2.0 + dt, let go between those at 4.0
   and at 4.0 + dt. Each passage lies between its two rows, and the release is
   no more lost than the apply. */
static void a_step_between_two_rows_has_apply_and_release(void **state)
{
    (void)state;
    static const double rates[] = {10, 100, 500};
    for (size_t i = 0; i < sizeof(rates) / sizeof(rates[0]); i++) {
        const double dt = 1 / rates[i];
        const struct corner c[] = {{0, 0},   {2, 0},          {2 + dt / 2, 600},
                                   {4, 600}, {4 + dt / 2, 0}, {9, 0}};
        struct made_run m;
        made_start(&m, 9, rates[i]);
        const long command = made_channel(&m, BL_QUANTITY_PRESSURE, c, 6);
        const long output = made_channel(&m, BL_QUANTITY_PRESSURE, c, 6);
        made_unit(&m, output, -1);
        made_command(&m, command, 20);
        struct bl_run_lag *lag = made_measured(&m);
        assert_int_equal(lag->applications, 1);
        const struct bl_application *a = &lag->application[0];
        assert_int_equal(a->command_release.reason, BL_REASON_NONE);
        assert_figure(a->command_release, 4 + dt / 2, dt / 2 + 1e-6);
        assert_true(4 * a->command_release.u_s >= dt / 2);
        const struct bl_unit_lag *unit = &a->unit[0];
        for (unsigned f = 0; f < 2; f++) {
            static const enum bl_figure_name name[] = {BL_FIGURE_RESPONSE,
                                                       BL_FIGURE_RELEASE_START};
            assert_figure(unit->figure[name[f]], 0, dt);
        }
        bl_run_lag_destroy(lag);
        made_finish(&m);
    }
}

/* The recording ends 0.25 s after the step of the command: what was seen is
   given, what it was going to be is not guessed. */
static void cut_in_the_rise_is_no_good_application(void **state)
{
    (void)state;
    for (unsigned cut_output = 0; cut_output < 2; cut_output++) {
        struct made_run m;
        made_start(&m, cut_output == 0 ? 2.15 : 12, 1000);
        const long command =
            made_channel(&m, BL_QUANTITY_PRESSURE, command_step, 5);
        const long output =
            made_channel(&m, BL_QUANTITY_PRESSURE, output_step, 5);
        const long late =
            made_channel(&m, BL_QUANTITY_PRESSURE, output_step, 2);
        if (cut_output != 0) {
            m.series[output].samples.count = 2250;
        }
        made_unit(&m, -1, -1);
        made_unit(&m, output, -1);
        made_unit(&m, late, -1);
        made_command(&m, command, 20);
        struct bl_run_lag *lag = made_measured(&m);
        assert_int_equal(lag->applications, 1);
        const struct bl_application *a = &lag->application[0];
        const struct bl_unit_lag *u = &a->unit[1];
        assert_figure(a->command_apply, 2 + 20.0 / 3000, 1e-4);
        assert_figure(u->figure[BL_FIGURE_RESPONSE], 2.11 - (2 + 20.0 / 3000),
                      1e-4);
        assert_missing(u->figure[BL_FIGURE_APPLY_10], "unfinished");
        assert_missing(u->figure[BL_FIGURE_APPLY_75], "unfinished");
        if (cut_output == 0) {
            assert_true(a->unfinished);
            assert_int_equal(a->kind, BL_KIND_UNKNOWN);
            assert_int_equal(a->shape, BL_SHAPE_UNKNOWN);
            /* 0.15 s are too short to say that it does not answer. */
            assert_int_equal(a->unit[2].responded, BL_UNKNOWN);
            assert_missing(a->unit[2].figure[BL_FIGURE_RESPONSE], "unfinished");
        }
        bl_run_lag_destroy(lag);
        made_finish(&m);
    }
}

static void a_step_gives_every_figure(void **state)
{
    (void)state;
    struct made_run m;
    made_start(&m, 12, 1000);
    const long command =
        made_channel(&m, BL_QUANTITY_PRESSURE, command_step, 5);
    const long output = made_channel(&m, BL_QUANTITY_PRESSURE, output_step, 5);
    double levels[] = {65, 414, 650};
    m.trial.level_kpa = levels;
    m.trial.levels = 3;
    made_unit(&m, -1, -1);
    made_unit(&m, output, -1);
    made_command(&m, command, 20);
    struct bl_run_lag *lag = made_measured(&m);
    assert_int_equal(lag->applications, 1);
    const struct bl_application *a = &lag->application[0];
    assert_int_equal(a->kind, BL_KIND_FULL);
    assert_int_equal(a->shape, BL_SHAPE_STEP);
    /* 20 kPa at 3000 kPa/s: 6.667 ms after 2 s */
    assert_figure(a->command_apply, 2 + 20.0 / 3000, 1e-4);
    /* 540 kPa: 60 kPa down at 3000 kPa/s after 6 s */
    assert_figure(a->command_release, 6.02, 1e-4);
    assert_near(a->command_hold.value, 600, 0.01);
    assert_int_equal(a->command_hold_from, BL_HOLD_SETTLED);
    assert_int_equal(a->units, 2);
    const struct bl_unit_lag *u = &a->unit[1];
    assert_int_equal(u->responded, BL_YES);
    assert_near(u->hold.value, 600, 0.01);
    const double apply = 2 + 20.0 / 3000;
    /* rise 2000 kPa/s from 2.1 s, fall 1500 kPa/s from 6.1 s */
    assert_figure(u->figure[BL_FIGURE_RISE_START], 2.1 - apply, 2e-3);
    assert_figure(u->figure[BL_FIGURE_RESPONSE], 2.1 + 20.0 / 2000 - apply,
                  1e-4);
    assert_figure(u->figure[BL_FIGURE_APPLY_10], 2.1 + 60.0 / 2000 - apply,
                  1e-4);
    assert_figure(u->figure[BL_FIGURE_APPLY_75], 2.1 + 450.0 / 2000 - apply,
                  1e-4);
    assert_figure(u->figure[BL_FIGURE_APPLY_90], 2.1 + 540.0 / 2000 - apply,
                  1e-4);
    assert_figure(u->level[0], 2.1 + 65.0 / 2000 - apply, 1e-4);
    assert_figure(u->level[1], 2.1 + 414.0 / 2000 - apply, 1e-4);
    assert_missing(u->level[2], "not-reached");
    assert_figure(u->figure[BL_FIGURE_RELEASE_START], 6.1 + 60.0 / 1500 - 6.02,
                  1e-4);
    assert_figure(u->figure[BL_FIGURE_RELEASE_10], 6.1 + 540.0 / 1500 - 6.02,
                  1e-4);
    assert_figure(u->figure[BL_FIGURE_RELEASE_END], 6.1 + 580.0 / 1500 - 6.02,
                  1e-4);
    /* unit 0 has no output wired: said so, not zero */
    assert_int_equal(a->unit[0].responded, BL_UNKNOWN);
    assert_missing(a->unit[0].figure[BL_FIGURE_RESPONSE], "no-channel");
    bl_run_lag_destroy(lag);
    made_finish(&m);
}

static void the_least_supply_is_that_of_the_application(void **state)
{
    (void)state;
    /* 800 kPa, from 4 to 5 s 700 kPa, a spike of 2 ms to 100 kPa, and 300 kPa
       after the release at 6.02 s: 700 kPa is what the application left. */
    static const struct corner reservoir[] = {
        {0, 800},     {2, 800}, {4, 700}, {4.4, 700}, {4.401, 100},
        {4.402, 700}, {5, 700}, {6, 790}, {7, 300},   {8, 800}};
    /* 24 V, from 3 to 3.5 s 21 V */
    static const struct corner voltage[] = {
        {0, 24}, {2.9, 24}, {3, 21}, {3.5, 21}, {3.6, 24}};
    struct made_run m;
    made_start(&m, 12, 1000);
    const long command =
        made_channel(&m, BL_QUANTITY_PRESSURE, command_step, 5);
    const long output = made_channel(&m, BL_QUANTITY_PRESSURE, output_step, 5);
    made_unit(&m, -1, -1);
    struct bl_trial_unit *unit = made_unit(&m, output, -1);
    unit->reservoir = (struct bl_trial_input){
        .kind = BL_INPUT_CHANNEL,
        .channel = made_channel(&m, BL_QUANTITY_PRESSURE, reservoir, 10)};
    unit->voltage = (struct bl_trial_input){
        .kind = BL_INPUT_CHANNEL,
        .channel = made_channel(&m, BL_QUANTITY_VOLTAGE, voltage, 5)};
    made_command(&m, command, 20);
    struct bl_run_lag *lag = made_measured(&m);
    const struct bl_unit_lag *u = &lag->application[0].unit[1];
    assert_true(u->reservoir_least.known && u->voltage_least.known);
    assert_near(u->reservoir_least.value, 700, 0.01);
    assert_int_equal(u->reservoir_least.quantity, BL_QUANTITY_PRESSURE);
    assert_near(u->voltage_least.value, 21, 0.01);
    assert_int_equal(u->voltage_least.quantity, BL_QUANTITY_VOLTAGE);
    /* unit 0 has neither: said so, not zero */
    assert_false(lag->application[0].unit[0].reservoir_least.known);
    assert_string_equal(
        bl_reason_name(lag->application[0].unit[0].reservoir_least.reason),
        "no-channel");
    bl_run_lag_destroy(lag);
    made_finish(&m);
}

static void a_unit_that_stays_below_the_level_is_named(void **state)
{
    (void)state;
    /* 12 kPa is less than the 20 kPa of a first response */
    static const struct corner weak[] = {
        {0, 0}, {2.1, 0}, {2.4, 12}, {6.1, 12}, {6.5, 0}};
    struct made_run m;
    made_start(&m, 12, 1000);
    const long command =
        made_channel(&m, BL_QUANTITY_PRESSURE, command_step, 5);
    const long good = made_channel(&m, BL_QUANTITY_PRESSURE, output_step, 5);
    const long bad = made_channel(&m, BL_QUANTITY_PRESSURE, weak, 5);
    made_unit(&m, -1, -1);
    made_unit(&m, good, -1);
    made_unit(&m, bad, -1);
    made_command(&m, command, 20);
    struct bl_run_lag *lag = made_measured(&m);
    const struct bl_application *a = &lag->application[0];
    assert_int_equal(a->unit[1].responded, BL_YES);
    assert_int_equal(a->unit[2].responded, BL_NO);
    assert_missing(a->unit[2].figure[BL_FIGURE_RESPONSE], "did-not-respond");
    assert_missing(a->unit[2].figure[BL_FIGURE_RELEASE_END], "did-not-respond");
    assert_near(a->unit[2].peak.value, 12, 0.01);
    assert_missing(a->spread, "not-all-responded");
    assert_figure(a->unit[1].figure[BL_FIGURE_STAGGER], 0, 0);
    bl_run_lag_destroy(lag);
    made_finish(&m);
}

static void stagger_and_spread_are_differences_of_responses(void **state)
{
    (void)state;
    /* the second unit is 70 ms later than the first all along */
    static const struct corner later[] = {
        {0, 0}, {2.17, 0}, {2.47, 600}, {6.1, 600}, {6.5, 0}};
    struct made_run m;
    made_start(&m, 12, 1000);
    const long command =
        made_channel(&m, BL_QUANTITY_PRESSURE, command_step, 5);
    const long first = made_channel(&m, BL_QUANTITY_PRESSURE, output_step, 5);
    const long second = made_channel(&m, BL_QUANTITY_PRESSURE, later, 5);
    made_unit(&m, -1, -1);
    made_unit(&m, first, -1);
    made_unit(&m, second, -1);
    made_command(&m, command, 20);
    struct bl_run_lag *lag = made_measured(&m);
    const struct bl_application *a = &lag->application[0];
    assert_int_equal(a->stagger_from, 1);
    assert_figure(a->unit[2].figure[BL_FIGURE_STAGGER], 0.070, 1e-4);
    assert_figure(a->spread, 0.070, 1e-4);
    bl_run_lag_destroy(lag);
    made_finish(&m);
}

static void the_least_favourable_output_counts(void **state)
{
    (void)state;
    static const struct corner later[] = {
        {0, 0}, {2.15, 0}, {2.45, 600}, {6.05, 600}, {6.45, 0}};
    struct made_run m;
    made_start(&m, 12, 1000);
    const long command =
        made_channel(&m, BL_QUANTITY_PRESSURE, command_step, 5);
    const long front = made_channel(&m, BL_QUANTITY_PRESSURE, output_step, 5);
    const long rear = made_channel(&m, BL_QUANTITY_PRESSURE, later, 5);
    made_unit(&m, -1, -1);
    made_unit(&m, front, rear);
    made_command(&m, command, 20);
    struct bl_run_lag *lag = made_measured(&m);
    const struct bl_unit_lag *u = &lag->application[0].unit[1];
    const double apply = 2 + 20.0 / 3000;
    assert_int_equal(u->output, 1);
    assert_figure(u->figure[BL_FIGURE_RESPONSE], 2.15 + 0.01 - apply, 1e-4);
    /* on release the front output is the later one: 6.1 s against 6.05 s */
    assert_figure(u->figure[BL_FIGURE_RELEASE_START], 6.1 + 60.0 / 1500 - 6.02,
                  1e-4);
    bl_run_lag_destroy(lag);
    made_finish(&m);
}

static void begun_before_and_unfinished_are_said(void **state)
{
    (void)state;
    static const struct corner command_line[] = {
        {0, 600}, {3, 600}, {3.2, 0}, {8, 0}, {8.2, 600}};
    static const struct corner output_line[] = {
        {0, 600}, {3.1, 600}, {3.5, 0}, {8.1, 0}, {8.4, 600}};
    struct made_run m;
    made_start(&m, 12, 1000);
    const long command =
        made_channel(&m, BL_QUANTITY_PRESSURE, command_line, 5);
    const long output = made_channel(&m, BL_QUANTITY_PRESSURE, output_line, 5);
    made_unit(&m, -1, -1);
    made_unit(&m, output, -1);
    made_command(&m, command, 20);
    struct bl_run_lag *lag = made_measured(&m);
    assert_int_equal(lag->applications, 2);
    const struct bl_application *first = &lag->application[0];
    assert_true(first->begun_before);
    assert_missing(first->command_apply, "begun-before");
    assert_missing(first->unit[1].figure[BL_FIGURE_RESPONSE], "begun-before");
    /* 540 kPa at 3.02 s; output 600 to 0 in 0.4 s from 3.1 s */
    assert_figure(first->command_release, 3.02, 1e-4);
    assert_figure(first->unit[1].figure[BL_FIGURE_RELEASE_START],
                  3.1 + 0.04 - 3.02, 1e-4);
    const struct bl_application *second = &lag->application[1];
    assert_true(second->unfinished);
    assert_missing(second->command_release, "unfinished");
    assert_missing(second->unit[1].figure[BL_FIGURE_RELEASE_START],
                   "unfinished");
    assert_figure(second->unit[1].figure[BL_FIGURE_RESPONSE],
                  8.1 + 20.0 / 2000 - (8 + 20.0 / 3000), 1e-4);
    bl_run_lag_destroy(lag);
    made_finish(&m);
}

static void switches_give_two_figures_only(void **state)
{
    (void)state;
    static const struct corner contact[] = {
        {0, 0}, {2.1495, 0}, {2.1505, 1}, {6.2995, 1}, {6.3005, 0}};
    struct made_run m;
    made_start(&m, 12, 1000);
    const long command =
        made_channel(&m, BL_QUANTITY_PRESSURE, command_step, 5);
    const long output = made_channel(&m, BL_QUANTITY_SWITCH, contact, 5);
    for (size_t i = 0; i < m.rows; i++) {
        m.value[output][i] = m.value[output][i] >= 0.5f ? 1.0f : 0.0f;
    }
    made_unit(&m, -1, -1);
    made_unit(&m, output, -1);
    made_command(&m, command, 20);
    struct bl_run_lag *lag = made_measured(&m);
    const struct bl_unit_lag *u = &lag->application[0].unit[1];
    assert_int_equal(u->responded, BL_YES);
    /* midway between the samples at 2.149/2.150 s: within half a ms */
    assert_figure(u->figure[BL_FIGURE_RESPONSE], 2.15 - (2 + 20.0 / 3000),
                  6e-4);
    assert_figure(u->figure[BL_FIGURE_RELEASE_END], 6.3 - 6.02, 6e-4);
    /* one sample interval, rectangular: 1 ms / root 12 */
    assert_near(u->figure[BL_FIGURE_RESPONSE].part.sampling, 1e-3 / sqrt(12),
                1e-5);
    assert_missing(u->figure[BL_FIGURE_APPLY_75], "switch-only");
    assert_missing(u->figure[BL_FIGURE_RELEASE_START], "switch-only");
    bl_run_lag_destroy(lag);
    made_finish(&m);
}

static void kinds_and_shapes_are_kept_apart(void **state)
{
    (void)state;
    /* light step to 100 kPa, then a slow ramp to 400 kPa in 2 s */
    static const struct corner line[] = {{0, 0},    {2, 0},    {2.1, 100},
                                         {5, 100},  {5.1, 0},  {9, 0},
                                         {11, 400}, {14, 400}, {14.3, 0}};
    struct made_run m;
    made_start(&m, 18, 500);
    const long command = made_channel(&m, BL_QUANTITY_PRESSURE, line, 9);
    made_unit(&m, -1, -1);
    made_unit(&m, command, -1);
    made_command(&m, command, 20);
    struct bl_run_lag *lag = made_measured(&m);
    assert_int_equal(lag->applications, 2);
    assert_int_equal(lag->application[0].kind, BL_KIND_LIGHT);
    assert_int_equal(lag->application[0].shape, BL_SHAPE_STEP);
    assert_int_equal(lag->application[1].kind, BL_KIND_SERVICE);
    assert_int_equal(lag->application[1].shape, BL_SHAPE_RAMP);
    /* the output is the command itself: every lag is zero */
    assert_figure(lag->application[1].unit[1].figure[BL_FIGURE_RESPONSE], 0,
                  1e-6);
    bl_run_lag_destroy(lag);
    made_finish(&m);
}

static void untied_clocks_give_no_lag(void **state)
{
    (void)state;
    struct made_run m;
    made_start(&m, 12, 1000);
    const long command =
        made_channel(&m, BL_QUANTITY_PRESSURE, command_step, 5);
    const long output = made_channel(&m, BL_QUANTITY_PRESSURE, output_step, 5);
    made_unit(&m, -1, -1);
    made_unit(&m, output, -1);
    made_command(&m, command, 20);
    m.series[output].recording = 1;
    m.tie[1].claim = BL_CLAIM_NONE;
    struct bl_run_lag *lag = made_measured(&m);
    assert_missing(lag->application[0].unit[1].figure[BL_FIGURE_RESPONSE],
                   "clocks-unrelated");
    bl_run_lag_destroy(lag);
    m.tie[1].claim = BL_CLAIM_ABSOLUTE;
    m.tie[1].u_offset_s = 0.004;
    lag = made_measured(&m);
    const struct bl_figure *f =
        &lag->application[0].unit[1].figure[BL_FIGURE_RESPONSE];
    assert_true(f->known);
    assert_near(f->part.clock, 0.004, 1e-9);
    assert_true(f->u_s >= 0.004);
    bl_run_lag_destroy(lag);
    made_finish(&m);
}

static void a_stated_delay_is_taken_off(void **state)
{
    (void)state;
    struct made_run m;
    made_start(&m, 12, 1000);
    const long command =
        made_channel(&m, BL_QUANTITY_PRESSURE, command_step, 5);
    const long output = made_channel(&m, BL_QUANTITY_PRESSURE, output_step, 5);
    made_unit(&m, -1, -1);
    made_unit(&m, output, -1);
    made_command(&m, command, 20);
    m.channel[output].delay_s = 0.005;
    m.channel[output].u_delay_s = 0.001;
    m.channel[output].u_gain_fraction = 0.01;
    m.channel[output].u_zero = 2;
    double levels[] = {400};
    m.trial.level_kpa = levels;
    m.trial.levels = 1;
    struct bl_run_lag *lag = made_measured(&m);
    const struct bl_unit_lag *u = &lag->application[0].unit[1];
    const double apply = 2 + 20.0 / 3000;
    /* recorded at 2.11 s; the chain is 5 ms late */
    assert_figure(u->figure[BL_FIGURE_RESPONSE], 2.110 - 0.005 - apply, 1e-4);
    assert_near(u->figure[BL_FIGURE_RESPONSE].part.delay, 0.001, 1e-9);
    /* 1 % of 400 kPa at 2000 kPa/s is 2 ms; 2 kPa of zero error is 1 ms */
    assert_near(u->level[0].part.gain, 0.002, 1e-5);
    assert_near(u->level[0].part.zero, 0.001, 1e-5);
    /* a share of the unit's own hold: gain and zero cancel */
    assert_near(u->figure[BL_FIGURE_APPLY_75].part.gain, 0, 0);
    assert_near(u->figure[BL_FIGURE_APPLY_75].part.zero, 0, 0);
    bl_run_lag_destroy(lag);
    made_finish(&m);
}

/* A touch of the pedal, 12 kPa at its most, ends 0.45 s before the stroke, so
   that 0.5 s before the command (where the search begins) a frame says 8 kPa.
   Rest is 0 all the same, and the first frame from 20 kPa on is the one at
   2.008 s: 8 ms at 3000 kPa/s are 24 kPa. */
static void a_touch_of_the_pedal_is_not_the_rest_of_the_demand(void **state)
{
    (void)state;
    static const struct corner touched[] = {{0, 0},    {1.4, 0}, {1.475, 12},
                                            {1.55, 0}, {2, 0},   {2.2, 600},
                                            {6, 600},  {6.2, 0}};
    struct made_run m;
    made_start(&m, 12, 1000);
    const long command =
        made_channel(&m, BL_QUANTITY_PRESSURE, command_step, 5);
    made_demand(&m, touched, COUNT_OF(touched), 0.008, 0.010);
    made_unit(&m, -1, -1);
    made_unit(&m, command, -1);
    made_command(&m, command, 20);
    struct bl_run_lag *lag = made_measured(&m);
    assert_figure(lag->application[0].unit[1].figure[BL_FIGURE_DEMAND_ARRIVAL],
                  2.008 - (2 + 20.0 / 3000), 1e-4);
    bl_run_lag_destroy(lag);
    made_finish(&m);
}

/* A command on the bus: frames of 8 kPa at 2.005 s, 24 kPa at 2.015 s. Rest is
   0, not the 8 kPa in force just before, so 20 kPa are there at 2.015 s. */
static void the_first_frames_of_a_rise_are_not_rest(void **state)
{
    (void)state;
    static const struct corner ramp[] = {
        {0, 0}, {2, 0}, {2.375, 600}, {6, 600}, {6.2, 0}};
    struct made_run m;
    made_start(&m, 12, 1000);
    const long output = made_channel(&m, BL_QUANTITY_PRESSURE, output_step, 5);
    const size_t demand = made_demand(&m, ramp, COUNT_OF(ramp), 0.005, 0.010);
    made_unit(&m, output, -1);
    m.unit[0].command = (struct bl_trial_input){
        .kind = BL_INPUT_SIGNAL,
        .signal = {.signal = &m.signal[demand], .address = -1}};
    m.unit[0].command_kind = BL_COMMAND_ELECTRONIC_DEMAND;
    m.unit[0].command_at_kind = BL_COMMAND_AT_PRESSURE;
    m.unit[0].command_at = 20;
    struct bl_run_lag *lag = made_measured(&m);
    assert_int_equal(lag->applications, 1);
    const struct bl_application *a = &lag->application[0];
    assert_near(a->command_rest.value, 0, 0);
    assert_figure(a->command_apply, 2.015, 1e-6);
    /* the output passes 20 kPa at 2.11 s */
    assert_figure(a->unit[0].figure[BL_FIGURE_RESPONSE], 2.110 - 2.015, 1e-4);
    bl_run_lag_destroy(lag);
    made_finish(&m);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_step_gives_every_figure),
        cmocka_unit_test(an_overshoot_is_no_hold),
        cmocka_unit_test(a_step_between_two_rows_has_apply_and_release),
        cmocka_unit_test(cut_in_the_rise_is_no_good_application),
        cmocka_unit_test(it_is_let_go_from_the_last_level),
        cmocka_unit_test(a_unit_that_stays_below_the_level_is_named),
        cmocka_unit_test(stagger_and_spread_are_differences_of_responses),
        cmocka_unit_test(the_least_favourable_output_counts),
        cmocka_unit_test(begun_before_and_unfinished_are_said),
        cmocka_unit_test(switches_give_two_figures_only),
        cmocka_unit_test(kinds_and_shapes_are_kept_apart),
        cmocka_unit_test(untied_clocks_give_no_lag),
        cmocka_unit_test(the_least_supply_is_that_of_the_application),
        cmocka_unit_test(a_stated_delay_is_taken_off),
        cmocka_unit_test(a_touch_of_the_pedal_is_not_the_rest_of_the_demand),
        cmocka_unit_test(the_first_frames_of_a_rise_are_not_rest),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
