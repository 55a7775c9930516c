/* SPDX-License-Identifier: MIT */
/*
 * Ready or not, item by item: a run that is good in everything, then the same
 * run with one thing wrong. What an item must say is the table of
 * docs/methods/check.md; its bounds are common practice where that page says
 * so.
 */
#include "made_run.h"

#include "brakelag/check.h"

/* Command and outputs of a train in order; 1 kHz, 12 s. */
static const struct corner command_line[] = {
    {0, 0}, {2, 0}, {2.2, 600}, {6, 600}, {6.2, 0}};
static const struct corner front_line[] = {
    {0, 0}, {2.1, 0}, {2.4, 600}, {6.1, 600}, {6.5, 0}};
static const struct corner rear_line[] = {
    {0, 0}, {2.2, 0}, {2.5, 600}, {6.2, 600}, {6.6, 0}};

enum { COMMAND, FRONT, REAR };

enum { LINKS = 2 };
static char link_name[1][64] = {"link"};
static struct bl_link_id link_id[LINKS];

/* Frames that say the same are one segment, as the loader makes them. */
static void join_frames(struct bl_steps *steps, struct bl_segment *segment)
{
    size_t n = 0;
    for (size_t i = 1; i < steps->count; i++) {
        if (segment[i].value == segment[n].value) {
            segment[n].last_ns = segment[i].last_ns;
            segment[n].count++;
        } else {
            const int64_t before = segment[n].last_ns;
            segment[++n] = segment[i];
            segment[n].before_ns = before;
        }
    }
    segment[0].before_ns = INT64_MIN;
    steps->count = n + 1;
}

/* A demand from the unit in front every 10 ms, as ISO 11992-2 has it: 32 to
   200, and 200 to 192 5 ms later. */
static void good_demand(struct made_run *m)
{
    static const uint8_t address[] = {32, 200, 192};
    m->message.period_ms = 10;
    m->loaded[1].bus = link_name;
    m->loaded[1].buses = 1;
    m->loaded[1].last_ns = m->time_ns[m->rows - 1];
    for (size_t i = 0; i < LINKS; i++) {
        const size_t d =
            made_demand(m, command_line, 5, 0.003 + 0.005 * (double)i, 0.010);
        struct bl_bus_series *s = &m->bus[d];
        m->signal[d].scale = 5.0 / 256;
        s->source = address[i];
        s->destination = address[i + 1];
        memcpy(s->bus, link_name[0], sizeof(s->bus));
        link_id[i] = (struct bl_link_id){
            .recording = 1,
            .id = 3U << 26 | 0x200U << 8 | (uint32_t)s->destination << 8 |
                  s->source,
            .extended = true,
            .message = &m->message,
            .frames = s->steps.frames,
            .first_ns = m->segment[d][0].first_ns,
            .last_ns = m->segment[d][s->steps.count - 1].last_ns,
            .least_s = 0.01,
            .median_s = 0.01,
            .most_s = 0.01,
            .nominal_s = 0.01};
        join_frames(&s->steps, m->segment[d]);
    }
    m->data.links.id = link_id;
    m->data.links.ids = LINKS;
    m->message.signal = m->signal;
    m->message.signals = 1;
}

/* Everything good: two trailers, a demand to each, one clock. */
static void good_run(struct made_run *m)
{
    made_start(m, 12, 1000);
    (void)made_channel(m, BL_QUANTITY_PRESSURE, command_line, 5);
    (void)made_channel(m, BL_QUANTITY_PRESSURE, front_line, 5);
    (void)made_channel(m, BL_QUANTITY_PRESSURE, rear_line, 5);
    good_demand(m);
    made_unit(m, -1, -1)->address = 32;
    made_unit(m, FRONT, -1)->address = 200;
    made_unit(m, REAR, -1)->address = 192;
    made_command(m, COMMAND, 20);
    m->recording[0].name = (char *)"yard.csv";
    m->recording[1].name = (char *)"link.pcap";
    m->run.data = BL_STATED_ON;
}

static struct bl_check *checked(struct made_run *m)
{
    struct bl_error error;
    struct bl_run_lag *lag = NULL;
    struct bl_check *check = NULL;
    const enum bl_status measured =
        bl_measure_run(&lag, &m->trial, &m->data, &m->clocks, &error);
    assert_true(measured == BL_OK || measured == BL_NODATA);
    assert_int_equal(
        bl_check_run(&check, &m->trial, &m->data, &m->clocks, lag, &error),
        BL_OK);
    bl_run_lag_destroy(lag);
    return check;
}

/* The first item of a code whose text holds `about`; NULL. */
static const struct bl_check_item *find(const struct bl_check *check,
                                        const char *code, const char *about)
{
    for (size_t i = 0; i < check->items; i++) {
        if (strcmp(check->item[i].code, code) == 0 &&
            strstr(check->item[i].text, about) != NULL) {
            return &check->item[i];
        }
    }
    return NULL;
}

/* The item is there, in that state, and tells what to do unless it is good.
   Ends the run. */
static void expect(struct made_run *m, const char *code, const char *about,
                   enum bl_check_state state, const char *next, bool ready)
{
    struct bl_check *check = checked(m);
    const struct bl_check_item *item = find(check, code, about);
    if (item == NULL) {
        for (size_t i = 0; i < check->items; i++) {
            print_error("%s: %s\n", check->item[i].code, check->item[i].text);
        }
        fail_msg("no item '%s' about '%s'", code, about);
        return;
    }
    assert_int_equal(item->state, state);
    assert_int_equal(item->next[0] == '\0', state == BL_CHECK_GOOD);
    assert_non_null(strstr(item->next, next));
    assert_int_equal(check->ready, ready);
    bl_check_destroy(check);
    made_finish(m);
}

static void a_good_run_is_ready_and_asks_for_nothing(void **state)
{
    (void)state;
    struct made_run m;
    good_run(&m);
    struct bl_check *check = checked(&m);
    assert_true(check->ready);
    static const char *const looked_at[] = {"command", "clock", "moved",
                                            "demand", "uncertainty"};
    for (size_t i = 0; i < COUNT_OF(looked_at); i++) {
        assert_non_null(find(check, looked_at[i], ""));
    }
    for (size_t i = 0; i < check->items; i++) {
        assert_int_equal(check->item[i].state, BL_CHECK_GOOD);
        assert_string_equal(check->item[i].next, "");
    }
    bl_check_destroy(check);
    made_finish(&m);
}

static void no_application_stops_the_trial(void **state)
{
    (void)state;
    struct made_run m;
    good_run(&m);
    memset(m.value[COMMAND], 0, m.rows * sizeof(float));
    expect(&m, "command", "no whole application", BL_CHECK_NOT_READY,
           "press the pedal fully", false);
    good_run(&m);
    memset(m.value[COMMAND], 0, m.rows * sizeof(float));
    expect(&m, "answer", "no unit can be judged", BL_CHECK_CANNOT_TELL,
           "one whole application", false);
}

static void an_application_cut_by_the_end_is_not_whole(void **state)
{
    (void)state;
    struct made_run m;
    good_run(&m);
    for (size_t i = 0; i < 3; i++) {
        m.series[i].samples.count = 4000; /* 4 s: brakes still on */
    }
    expect(&m, "command", "no whole application", BL_CHECK_NOT_READY, "wait",
           false);
}

static void a_damaged_recording_stops_the_trial(void **state)
{
    (void)state;
    struct made_run m;
    good_run(&m);
    m.loaded[1].status = BL_FORMAT;
    snprintf(m.loaded[1].failure, sizeof(m.loaded[1].failure),
             "link.pcap: byte 4711: cut record");
    expect(&m, "recording", "byte 4711", BL_CHECK_NOT_READY, "record again",
           false);
}

static void what_a_clock_allows_is_said(void **state)
{
    (void)state;
    struct made_run m;
    good_run(&m);
    m.tie[1].claim = BL_CLAIM_BOUNDED;
    m.tie[1].u_bias_s = 0.0015;
    /* twice 1.5 ms */
    expect(&m, "clock", "within 3.0 ms", BL_CHECK_GOOD, "", true);
    good_run(&m);
    m.tie[1].claim = BL_CLAIM_DIFFERENCES_ONLY;
    expect(&m, "clock", "differences only", BL_CHECK_CAUTION, "stop lamp",
           true);
    good_run(&m);
    m.tie[1].claim = BL_CLAIM_AMBIGUOUS;
    expect(&m, "clock", "ambiguous", BL_CHECK_NOT_READY, "different pauses",
           false);
    good_run(&m);
    m.tie[1].claim = BL_CLAIM_NONE;
    expect(&m, "clock", "not tied", BL_CHECK_NOT_READY, "state the offset",
           false);
}

/* Clocks that allow no lag do not make a demand that is there absent. */
static void a_demand_is_seen_without_a_clock(void **state)
{
    (void)state;
    struct made_run m;
    good_run(&m);
    m.tie[1].claim = BL_CLAIM_DIFFERENCES_ONLY;
    expect(&m, "demand", "arrives", BL_CHECK_GOOD, "", true);
}

/* Command on the bus, outputs on the log, clocks for differences only: the
   units answer, which is enough to go on; how late is not known. */
static void an_answer_is_seen_without_a_clock(void **state)
{
    (void)state;
    struct made_run m;
    good_run(&m);
    m.tie[1].claim = BL_CLAIM_DIFFERENCES_ONLY;
    m.unit[0].command = (struct bl_trial_input){
        .kind = BL_INPUT_SIGNAL,
        .signal = {.signal = &m.signal[0], .address = -1}};
    m.unit[0].command_kind = BL_COMMAND_ELECTRONIC_DEMAND;
    expect(&m, "answer", "unit (unit 2): follows the command", BL_CHECK_CAUTION,
           "tie the clocks", true);
}

static void a_missing_channel_stops_the_trial(void **state)
{
    (void)state;
    struct made_run m;
    good_run(&m);
    m.data.channels = 2;
    expect(&m, "present", "not in any log", BL_CHECK_NOT_READY, "column",
           false);
    good_run(&m);
    m.series[REAR].samples.count = 0;
    expect(&m, "present", "not a single value", BL_CHECK_NOT_READY, "logger",
           false);
}

static void a_channel_that_does_not_move_stops_the_trial(void **state)
{
    (void)state;
    struct made_run m;
    good_run(&m);
    for (size_t i = 0; i < m.rows; i++) {
        m.value[REAR][i] /= 31; /* 19.4 kPa, and 20 are asked for */
    }
    expect(&m, "moved", "0.0 to 19.4 kPa", BL_CHECK_NOT_READY, "check plug",
           false);
    good_run(&m);
    m.channel[REAR].quantity = BL_QUANTITY_SWITCH;
    m.series[REAR].samples.is_switch = true;
    memset(m.value[REAR], 0, m.rows * sizeof(float));
    expect(&m, "moved", "never changed", BL_CHECK_NOT_READY, "check plug",
           false);
}

static void a_slow_logger_is_a_caution(void **state)
{
    (void)state;
    struct made_run m;
    good_run(&m);
    m.series[REAR].samples.stair_steps = true;
    m.series[REAR].samples.stair_ns = 50000000;
    expect(&m, "rate", "every 50 ms", BL_CHECK_CAUTION, "200 values a second",
           true);
}

static void the_end_of_the_range_is_told(void **state)
{
    (void)state;
    struct made_run m;
    good_run(&m);
    m.series[REAR].at_range_end = 12;
    expect(&m, "range", "12 values", BL_CHECK_CAUTION, "wider range", true);
    good_run(&m);
    m.series[REAR].at_range_end = 1200; /* a hold lies there */
    expect(&m, "range", "1200 values", BL_CHECK_NOT_READY, "wider range",
           false);
}

/* 17 V is below, 20 V above 80 % of 24 V (19.2 V). */
static void a_voltage_that_dips_is_a_caution(void **state)
{
    (void)state;
    static const struct corner dips[] = {
        {0, 24}, {2, 24}, {2.1, 17}, {6, 17}, {6.1, 24}};
    static const struct corner holds[] = {
        {0, 24}, {2, 24}, {2.1, 20}, {6, 20}, {6.1, 24}};
    struct made_run m;
    good_run(&m);
    made_channel(&m, BL_QUANTITY_VOLTAGE, dips, 5);
    expect(&m, "voltage", "17.0 to 24.0 V", BL_CHECK_CAUTION, "under load",
           true);
    good_run(&m);
    made_channel(&m, BL_QUANTITY_VOLTAGE, holds, 5);
    expect(&m, "voltage", "20.0 to 24.0 V", BL_CHECK_GOOD, "", true);
    /* declared off: none is good, some is not */
    static const struct corner none[] = {{0, -0.1}, {2, 0.1}, {6, -0.1}};
    good_run(&m);
    m.run.power = BL_STATED_OFF;
    m.run.data = BL_STATED_OFF;
    m.data.series_count = 0;
    made_channel(&m, BL_QUANTITY_VOLTAGE, none, 3);
    expect(&m, "voltage", "no power as declared", BL_CHECK_GOOD, "", true);
    good_run(&m);
    m.run.power = BL_STATED_OFF;
    m.run.data = BL_STATED_OFF;
    m.data.series_count = 0;
    made_channel(&m, BL_QUANTITY_VOLTAGE, holds, 5);
    expect(&m, "voltage", "20.0 to 24.0 V", BL_CHECK_CAUTION, "unplug the unit",
           true);
}

static void shift(struct made_run *m, size_t channel, float kpa)
{
    for (size_t i = 0; i < m->rows; i++) {
        m->value[channel][i] += kpa;
    }
}

static void a_zero_that_is_off_is_a_caution(void **state)
{
    (void)state;
    struct made_run m;
    good_run(&m);
    shift(&m, REAR, 12);
    expect(&m, "zero", "unit (unit 2): released at 12.0 kPa", BL_CHECK_CAUTION,
           "set its zero", true);
    good_run(&m);
    shift(&m, COMMAND, -15);
    expect(&m, "zero", "command: released at -15.0 kPa", BL_CHECK_CAUTION,
           "set its zero", true);
    good_run(&m);
    shift(&m, REAR, 9); /* within 10 kPa */
    struct bl_check *check = checked(&m);
    assert_null(find(check, "zero", ""));
    bl_check_destroy(check);
    made_finish(&m);
}

static void a_unit_that_does_not_answer_stops_the_trial(void **state)
{
    (void)state;
    struct made_run m;
    good_run(&m);
    memset(m.value[REAR], 0, m.rows * sizeof(float));
    expect(&m, "answer", "unit (unit 2): its output did not follow",
           BL_CHECK_NOT_READY, "brakes go on at all", false);
}

/* Unit 1 answers 0.15 s before the command: no brake does that. */
static void an_answer_before_the_command_stops_the_trial(void **state)
{
    (void)state;
    static const struct corner early[] = {
        {0, 0}, {1.85, 0}, {2.15, 600}, {6.1, 600}, {6.5, 0}};
    struct made_run m;
    good_run(&m);
    for (size_t i = 0; i < m.rows; i++) {
        m.value[FRONT][i] =
            (float)made_line(early, 5, (double)m.time_ns[i] * 1e-9);
    }
    expect(&m, "plausible", "unit (unit 1): answers 0.1", BL_CHECK_NOT_READY,
           "swapped channels", false);
}

static void a_rear_unit_that_is_first_is_a_caution(void **state)
{
    (void)state;
    struct made_run m;
    good_run(&m);
    float *front = m.value[FRONT];
    m.value[FRONT] = m.value[REAR];
    m.value[REAR] = front;
    m.series[FRONT].samples.value = m.value[FRONT];
    m.series[REAR].samples.value = m.value[REAR];
    expect(&m, "order", "unit (unit 2) answers before", BL_CHECK_CAUTION,
           "one transducer at a time", true);
}

static void a_demand_that_does_not_arrive_stops_the_trial(void **state)
{
    (void)state;
    struct made_run m;
    good_run(&m);
    m.data.series_count = 0;
    m.data.links.ids = 0;
    expect(&m, "demand", "unit (unit 1): electronic demand not reached",
           BL_CHECK_NOT_READY, "listen-in lead on this link", false);
    /* It stands at 0: there, and no demand (0.1 called it arrived). */
    good_run(&m);
    for (size_t i = 0; i < m.bus[0].steps.count; i++) {
        m.segment[0][i].value = 0;
    }
    expect(&m, "demand",
           "unit (unit 1): electronic demand not reached (arrives)",
           BL_CHECK_NOT_READY, "listen-in lead on this link", false);
    /* not asked for: not looked at */
    good_run(&m);
    m.data.series_count = 0;
    m.run.data = BL_STATED_OFF;
    struct bl_check *check = checked(&m);
    assert_null(find(check, "demand", ""));
    assert_true(check->ready);
    bl_check_destroy(check);
    made_finish(&m);
}

/* Logs alone can answer who is late; what no recorder saw is no fault of a
   link. */
static void without_a_capture_the_demand_is_a_caution(void **state)
{
    (void)state;
    struct made_run m;
    good_run(&m);
    m.data.series_count = 0;
    m.data.recordings = 1;
    m.clocks.ties = 1;
    expect(&m, "demand", "no capture in this run", BL_CHECK_CAUTION,
           "record the link", true);
}

/* A stated delay known to 6 ms leaves 2 u of 12 ms, and 10 ms are wanted. */
static void a_response_that_stays_unsure_is_a_caution(void **state)
{
    (void)state;
    struct made_run m;
    good_run(&m);
    m.channel[REAR].delay_s = 0;
    m.channel[REAR].u_delay_s = 0.006;
    expect(&m, "uncertainty",
           "unit (unit 2): first air after 0.203 s, with an uncertainty of "
           "12.0 ms",
           BL_CHECK_CAUTION, "log faster", true);
}

/* An output in steps of 10 kPa, of which three are 30 kPa: above the response
   at 20 kPa. Its 75 % is far above, and stands. */
static void a_response_within_resolution_names_the_level(void **state)
{
    (void)state;
    struct made_run m;
    good_run(&m);
    struct bl_samples *s = &m.series[REAR].samples;
    for (size_t i = 0; i < s->count; i++) {
        m.value[REAR][i] = 10 * roundf(m.value[REAR][i] / 10);
    }
    s->resolution = 10;
    struct bl_run_lag *lag = NULL;
    struct bl_error error;
    assert_int_equal(bl_measure_run(&lag, &m.trial, &m.data, &m.clocks, &error),
                     BL_OK);
    const struct bl_application *a = &lag->application[lag->applications - 1];
    const struct bl_unit_lag *rear = &a->unit[a->units - 1];
    assert_int_equal(rear->responded, BL_YES);
    assert_false(rear->figure[BL_FIGURE_RESPONSE].known);
    assert_int_equal(rear->figure[BL_FIGURE_RESPONSE].reason,
                     BL_REASON_BELOW_NOISE);
    assert_false(rear->figure[BL_FIGURE_RISE_START].known);
    assert_true(rear->figure[BL_FIGURE_APPLY_75].known);
    assert_true(rear->figure[BL_FIGURE_RELEASE_START].known);
    const struct bl_note *note =
        bl_notes_find(&lag->notes, "level-below-noise");
    assert_non_null(note);
    assert_string_equal(
        note->text, "unit (unit 2): response_at = 20 kPa lies within noise or "
                    "resolution of its output; response_at = 30 kPa would "
                    "do");
    bl_run_lag_destroy(lag);
    expect(&m, "answer", "response_at = 30 kPa would do", BL_CHECK_CANNOT_TELL,
           "raise response_at", false);
}

/* Nothing could be measured or tied at all: still an answer. */
static void without_clocks_and_figures_it_still_answers(void **state)
{
    (void)state;
    struct made_run m;
    good_run(&m);
    struct bl_check *check = NULL;
    struct bl_error error;
    assert_int_equal(
        bl_check_run(&check, &m.trial, &m.data, NULL, NULL, &error), BL_OK);
    assert_false(check->ready);
    assert_int_equal(find(check, "command", "")->state, BL_CHECK_NOT_READY);
    bl_check_destroy(check);
    made_finish(&m);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_good_run_is_ready_and_asks_for_nothing),
        cmocka_unit_test(no_application_stops_the_trial),
        cmocka_unit_test(an_application_cut_by_the_end_is_not_whole),
        cmocka_unit_test(a_damaged_recording_stops_the_trial),
        cmocka_unit_test(what_a_clock_allows_is_said),
        cmocka_unit_test(a_demand_is_seen_without_a_clock),
        cmocka_unit_test(an_answer_is_seen_without_a_clock),
        cmocka_unit_test(a_missing_channel_stops_the_trial),
        cmocka_unit_test(a_channel_that_does_not_move_stops_the_trial),
        cmocka_unit_test(a_slow_logger_is_a_caution),
        cmocka_unit_test(the_end_of_the_range_is_told),
        cmocka_unit_test(a_voltage_that_dips_is_a_caution),
        cmocka_unit_test(a_zero_that_is_off_is_a_caution),
        cmocka_unit_test(a_unit_that_does_not_answer_stops_the_trial),
        cmocka_unit_test(an_answer_before_the_command_stops_the_trial),
        cmocka_unit_test(a_rear_unit_that_is_first_is_a_caution),
        cmocka_unit_test(a_demand_that_does_not_arrive_stops_the_trial),
        cmocka_unit_test(without_a_capture_the_demand_is_a_caution),
        cmocka_unit_test(a_response_that_stays_unsure_is_a_caution),
        cmocka_unit_test(a_response_within_resolution_names_the_level),
        cmocka_unit_test(without_clocks_and_figures_it_still_answers),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
