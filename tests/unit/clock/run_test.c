/* SPDX-License-Identifier: MIT */
/*
 * Ties of whole runs. The recordings are written here sample by sample with a
 * known offset and drift between the two clocks, so truth is ours; the
 * formulas are those of docs/methods/clocks.md.
 */
#include "clock/auto.h"
#include "testing.h"

#include "base/alloc.h"
#include "base/random.h"
#include "brakelag/clock.h"

enum { SAMPLES = 60000, SEGMENTS = 400, EVENTS = 14 };
static const int64_t MS = 1000000;
static const double OFFSET = 3.217; /* log minus bus at the first frame */
static const double DRIFT = 62e-6;

/* One run: a log of 500 Hz over 120 s, a capture with one signal. */
struct bench {
    int64_t time[SAMPLES];
    float switched[SAMPLES], pressure[SAMPLES];
    size_t part_start[1];
    struct bl_segment segment[SEGMENTS];
    struct bl_segment passed_on[SEGMENTS]; /* the same on another link */
    double event_s[EVENTS];                /* true, on the bus clock */
    struct bl_message message;
    struct bl_signal signal;
    struct bl_trial_channel trial_channel[2];
    struct bl_trial_unit unit[2];
    struct bl_trial_recording trial_recording[3];
    struct bl_trial_run run;
    struct bl_trial trial;
    struct bl_channel_series channel[2];
    struct bl_bus_series series[2];
    struct bl_loaded_recording recording[3];
    struct bl_run_data data;
};

static char switch_name[] = "stop_lamp";
static char control_name[] = "control_1";
static char first_name[] = "p1.pcap";
static char log_name[] = "p1.csv";
static char second_name[] = "p2.pcap";

/* Stamps of the capture count from 1970, those of the log from its start. */
static const int64_t BUS_ZERO = INT64_C(1700000000000000000);

static double to_log(double bus_s)
{
    return bus_s + OFFSET + DRIFT * bus_s;
}

static void write_events(struct bench *b, bool periodic)
{
    struct bl_random random;
    bl_random_seed(&random, 11);
    double now = 4;
    for (int i = 0; i < EVENTS; i++) {
        b->event_s[i] = now;
        now += periodic ? 8 : 4 + 8 * bl_random_uniform(&random);
    }
}

static void write_log(struct bench *b, double air_lag)
{
    for (int i = 0; i < SAMPLES; i++) {
        b->time[i] = 2 * MS * i;
        const double t = 2e-3 * i;
        b->switched[i] = 0;
        b->pressure[i] = 1.0F + 0.2F * (float)(i % 3);
        for (int k = 0; k < EVENTS; k++) {
            const double since = t - to_log(b->event_s[k]);
            if (since >= 0 && since < 1.5) {
                b->switched[i] = 1;
            }
            /* 2000 kPa/s up, held at 400 kPa, back within 0.5 s. */
            const double up = (since - air_lag) * 2000;
            const double down = 400 - (since - 1.5) * 800;
            const double p = fmin(fmin(up, 400), down);
            if (p > b->pressure[i]) {
                b->pressure[i] = (float)p;
            }
        }
    }
}

static size_t add_segment(struct bench *b, size_t n, double from, double to,
                          double value)
{
    /* Frames every 10 ms on a grid of their own. */
    const int64_t first = (int64_t)ceil(from * 100) * 10 * MS;
    const int64_t last = ((int64_t)ceil(to * 100) - 1) * 10 * MS;
    b->segment[n] = (struct bl_segment){
        .first_ns = BUS_ZERO + first,
        .last_ns = BUS_ZERO + last,
        .before_ns = n == 0 ? INT64_MIN : b->segment[n - 1].last_ns,
        .longest_gap_ns = 10 * MS,
        .count = (uint64_t)((last - first) / (10 * MS) + 1),
        .value = value};
    return n + 1;
}

static void write_bus(struct bench *b, double pressed, bool is_state)
{
    size_t n = 0;
    double from = 0;
    for (int k = 0; k < EVENTS; k++) {
        n = add_segment(b, n, from, b->event_s[k], 0);
        from = b->event_s[k] + 1.5;
        n = add_segment(b, n, b->event_s[k], from, pressed);
    }
    n = add_segment(b, n, from, 125, 0);
    b->series[0].steps = (struct bl_steps){.segment = b->segment,
                                           .count = n,
                                           .interval_ns = 10 * MS,
                                           .resolution = 1,
                                           .frames = 12500};
    b->message.name = "DEMAND";
    b->signal = (struct bl_signal){
        .message = &b->message,
        .name = "pedal",
        .unit = is_state ? "" : "kPa",
        .kind = is_state ? BL_SIGNAL_STATE : BL_SIGNAL_NUMBER,
        .role = is_state ? BL_ROLE_BRAKE_SWITCH : BL_ROLE_SERVICE_DEMAND};
    b->series[0].signal = &b->signal;
    b->series[0].recording = 0;
}

static void write_trial(struct bench *b)
{
    b->trial_channel[0] = (struct bl_trial_channel){
        .name = switch_name, .quantity = BL_QUANTITY_SWITCH};
    b->trial_channel[1] = (struct bl_trial_channel){
        .name = control_name, .quantity = BL_QUANTITY_PRESSURE};
    for (int i = 0; i < 2; i++) {
        b->unit[i] = (struct bl_trial_unit){.combination = 'A', .number = i};
    }
    b->unit[1].control.kind = BL_INPUT_CHANNEL;
    b->unit[1].control.channel = 1;
    char *const names[] = {first_name, log_name, second_name};
    for (size_t i = 0; i < 3; i++) {
        b->trial_recording[i].name = names[i];
        b->trial_recording[i].kind =
            i == 1 ? BL_RECORDING_LOG : BL_RECORDING_CAPTURE;
        b->recording[i].recording = i;
        b->recording[i].kind = b->trial_recording[i].kind;
        b->recording[i].frames = i == 1 ? 0 : 12500;
        b->recording[i].rows = i == 1 ? SAMPLES : 0;
        b->recording[i].first_ns = i == 1 ? 0 : BUS_ZERO;
        b->recording[i].last_ns =
            i == 1 ? b->time[SAMPLES - 1] : BUS_ZERO + 124990 * MS;
    }
    b->trial.channel = b->trial_channel;
    b->trial.channels = 2;
    b->trial.unit = b->unit;
    b->trial.units = 2;
    b->trial.recording = b->trial_recording;
    b->trial.recordings = 3;
    b->trial.run = &b->run;
    b->trial.runs = 1;
}

static void write_data(struct bench *b)
{
    const float *values[] = {b->switched, b->pressure};
    for (size_t i = 0; i < 2; i++) {
        b->channel[i].channel = i;
        b->channel[i].recording = 1;
        b->channel[i].samples =
            (struct bl_samples){.time_ns = b->time,
                                .value = values[i],
                                .count = SAMPLES,
                                .interval_ns = 2 * MS,
                                .resolution = i == 0 ? 1 : 0.2,
                                .is_switch = i == 0,
                                .part_start = b->part_start,
                                .parts = 1};
    }
    b->data.recording = b->recording;
    b->data.recordings = 2;
    b->data.channel = b->channel;
    b->data.channels = 2;
    b->data.series = b->series;
    b->data.series_count = 1;
}

static struct bench *bench_new(bool periodic, double pressed, bool is_state)
{
    struct bench *b = calloc(1, sizeof(*b));
    assert_non_null(b);
    write_events(b, periodic);
    write_log(b, 0.150);
    write_bus(b, pressed, is_state);
    write_trial(b);
    write_data(b);
    return b;
}

static struct bl_run_clocks *tie(const struct bench *b)
{
    struct bl_run_clocks *clocks = NULL;
    struct bl_error error;
    assert_int_equal(bl_clock_tie_run(&clocks, &b->trial, &b->data, &error),
                     BL_OK);
    assert_int_equal(clocks->ties, b->data.recordings);
    return clocks;
}

/* Seconds by which the mapping misses the truth at a time of the bus. */
static double miss(const struct bl_clock_tie *tie, double bus_s, double lag)
{
    const int64_t raw = BUS_ZERO + (int64_t)llround(bus_s * 1e9);
    return (double)bl_clock_map(tie, raw) * 1e-9 - to_log(bus_s) - lag;
}

static void a_switch_on_both_ties_within_its_bound(void **state)
{
    (void)state;
    struct bench *b = bench_new(false, 1, true);
    struct bl_run_clocks *clocks = tie(b);
    const struct bl_clock_tie *t = &clocks->tie[0];
    assert_string_equal(t->method, "pulse");
    assert_int_equal(t->claim, BL_CLAIM_BOUNDED);
    assert_int_equal(t->pairs, EVENTS);
    /* A frame every 10 ms: 10 / sqrt 12 ms. */
    assert_near(t->u_bias_s, 0.00288675, 5e-6);
    assert_near(t->drift_ppm, DRIFT * 1e6, 3 * t->u_drift_ppm);
    for (double at = 0; at < 130; at += 13) {
        const int64_t raw = BUS_ZERO + (int64_t)(at * 1e9);
        assert_true(fabs(miss(t, at, 0)) < 2 * bl_clock_u(t, raw));
        assert_true(bl_clock_u(t, raw) < 0.010);
    }
    /* Mapped, the capture starts before the log. */
    assert_int_equal(clocks->t0_ns, 0);
    assert_string_equal(clocks->tie[1].method, "own");
    bl_run_clocks_destroy(clocks);

    /* Named by the trial, the same event ties absolutely. */
    b->run.clock.kind = BL_CLOCK_SYNC;
    b->run.clock.channel = b->trial_channel[0].name;
    b->run.clock.channel_index = 0;
    b->run.clock.signal_ref.signal = &b->signal;
    b->run.clock.signal_ref.address = -1;
    clocks = tie(b);
    assert_int_equal(clocks->tie[0].claim, BL_CLAIM_ABSOLUTE);
    assert_string_equal(clocks->tie[0].method, "pulse");
    assert_true(fabs(miss(&clocks->tie[0], 60, 0)) <
                2 * bl_clock_u(&clocks->tie[0], BUS_ZERO + 60000 * MS));
    bl_run_clocks_destroy(clocks);
    b->run.clock.channel_index = 7;
    clocks = tie(b);
    assert_int_equal(clocks->tie[0].claim, BL_CLAIM_NONE);
    assert_non_null(bl_notes_find(&clocks->notes, "clock-sync-missing"));
    bl_run_clocks_destroy(clocks);
    b->run.clock.channel_index = 0;
    b->run.clock.signal_ref.address = 0x31;
    clocks = tie(b);
    assert_int_equal(clocks->tie[0].claim, BL_CLAIM_NONE);
    assert_non_null(bl_notes_find(&clocks->notes, "clock-sync-missing"));
    bl_run_clocks_destroy(clocks);
    free(b);
}

/* The mean lag of the air, 150 ms and 10 ms to 20 kPa, is in the offset. */
static void demand_against_pressure_allows_differences_only(void **state)
{
    (void)state;
    struct bench *b = bench_new(false, 400, false);
    struct bl_run_clocks *clocks = tie(b);
    const struct bl_clock_tie *t = &clocks->tie[0];
    assert_int_equal(t->claim, BL_CLAIM_DIFFERENCES_ONLY);
    assert_string_equal(t->method, "demand");
    bl_run_clocks_destroy(clocks);

    b->data.channel = b->channel + 1; /* no switch wired */
    b->data.channels = 1;
    clocks = tie(b);
    t = &clocks->tie[0];
    assert_int_equal(t->claim, BL_CLAIM_DIFFERENCES_ONLY);
    assert_string_equal(t->method, "demand-pressure");
    assert_near(t->u_bias_s, 0, 0);
    assert_near(miss(t, 60, 0.160), 0, 0.005);
    bl_run_clocks_destroy(clocks);
    free(b);
}

/* The second link shows the same later, and comes first in the list: what is
   passed on comes later, so that the other one is the foot's. */
static void tied_beside_a_later_link(int64_t later_ns)
{
    struct bench *b = bench_new(false, 1, true);
    b->series[1] = b->series[0];
    memcpy(b->passed_on, b->segment, sizeof(b->passed_on));
    for (size_t i = 0; i < b->series[0].steps.count; i++) {
        struct bl_segment *one = &b->passed_on[i];
        one->first_ns += i == 0 ? 0 : later_ns;
        one->last_ns += later_ns;
        one->before_ns += i == 0 ? 0 : later_ns;
    }
    b->series[0].steps.segment = b->passed_on;
    snprintf(b->series[0].bus, sizeof(b->series[0].bus), "can3");
    snprintf(b->series[1].bus, sizeof(b->series[1].bus), "can1");
    b->data.series_count = 2;
    struct bl_run_clocks *clocks = tie(b);
    const struct bl_clock_tie *t = &clocks->tie[0];
    assert_int_equal(t->pairs, EVENTS);
    assert_true(fabs(miss(t, 60, 0)) <
                2 * bl_clock_u(t, BUS_ZERO + 60000 * MS));
    assert_true(fabs(miss(t, 60, 0)) < 1e-9 * (double)later_ns / 2);
    bl_run_clocks_destroy(clocks);
    free(b);
}

static void of_two_links_the_earlier_one_ties(void **state)
{
    (void)state;
    tied_beside_a_later_link(330 * MS);
    tied_beside_a_later_link(12 * MS); /* within the u of either */
}

/* A frame lost for half a second before one event: that event is left out of
   the pairing, and counted aloud. */
static void an_event_in_a_gap_is_left_out_and_told(void **state)
{
    (void)state;
    struct bench *b = bench_new(false, 1, true);
    b->segment[4].last_ns -= 500 * MS;
    struct bl_run_clocks *clocks = tie(b);
    assert_int_equal(clocks->tie[0].pairs, EVENTS - 1);
    const struct bl_note *note =
        bl_notes_find(&clocks->notes, "clock-events-left-out");
    assert_non_null(note);
    assert_non_null(strstr(note->text, "1 events"));
    bl_run_clocks_destroy(clocks);
    free(b);
}

static void even_pauses_are_ambiguous(void **state)
{
    (void)state;
    struct bench *b = bench_new(true, 1, true);
    struct bl_run_clocks *clocks = tie(b);
    assert_int_equal(clocks->tie[0].claim, BL_CLAIM_AMBIGUOUS);
    const struct bl_note *note =
        bl_notes_find(&clocks->notes, "clock-ambiguous");
    assert_non_null(note);
    assert_non_null(strstr(note->text, "p1.pcap"));
    assert_non_null(strstr(note->text, "14 pairs"));
    assert_non_null(strstr(note->text, "8.000 s"));
    bl_run_clocks_destroy(clocks);
    free(b);
}

static void nothing_in_common_is_said(void **state)
{
    (void)state;
    struct bench *b = bench_new(false, 1, true);
    b->data.series_count = 0;
    struct bl_run_clocks *clocks = tie(b);
    assert_int_equal(clocks->tie[0].claim, BL_CLAIM_NONE);
    assert_non_null(bl_notes_find(&clocks->notes, "clock-nothing-in-common"));
    bl_run_clocks_destroy(clocks);
    free(b);
}

static void what_the_trial_states_is_taken(void **state)
{
    (void)state;
    struct bench *b = bench_new(false, 1, true);
    b->run.clock = (struct bl_trial_clock){.kind = BL_CLOCK_OFFSET,
                                           .offset_s = -1699999996.75,
                                           .drift_ppm = (double)NAN,
                                           .half_width_s = 0.002};
    struct bl_run_clocks *clocks = tie(b);
    const struct bl_clock_tie *t = &clocks->tie[0];
    assert_string_equal(t->method, "offset");
    assert_int_equal(t->claim, BL_CLAIM_ABSOLUTE);
    assert_int_equal(bl_clock_map(t, BUS_ZERO), 3250 * MS);
    /* Half-width over sqrt 3 (GUM 4.3.7); 100 ppm either way, unstated. */
    assert_near(bl_clock_u(t, BUS_ZERO), 0.002 / sqrt(3), 1e-12);
    assert_near(bl_clock_u(t, BUS_ZERO + 100000 * MS),
                hypot(0.002, 0.010) / sqrt(3), 1e-12);
    bl_run_clocks_destroy(clocks);

    b->run.clock.drift_ppm = 37;
    clocks = tie(b);
    assert_int_equal(bl_clock_map(&clocks->tie[0], BUS_ZERO + 100000 * MS),
                     103250 * MS + 3700000);
    assert_near(bl_clock_u(&clocks->tie[0], BUS_ZERO + 100000 * MS),
                0.002 / sqrt(3), 1e-12);
    bl_run_clocks_destroy(clocks);

    /* The log's first row (0) lies 1.25 s after the first frame. */
    b->run.clock.kind = BL_CLOCK_START;
    b->run.clock.offset_s = 1.25;
    clocks = tie(b);
    assert_string_equal(clocks->tie[0].method, "start");
    assert_int_equal(bl_clock_map(&clocks->tie[0], BUS_ZERO), -1250 * MS);
    assert_int_equal(clocks->t0_ns, -1250 * MS);
    bl_run_clocks_destroy(clocks);

    b->run.clock.half_width_s = (double)NAN;
    clocks = tie(b);
    assert_non_null(bl_notes_find(&clocks->notes, "clock-u-not-stated"));
    bl_run_clocks_destroy(clocks);
    free(b);
}

static void shared_own_and_same_as(void **state)
{
    (void)state;
    struct bench *b = bench_new(false, 1, true);
    b->data.recordings = 3;
    b->trial_recording[2].clock.kind = BL_CLOCK_SAME_AS;
    b->trial_recording[2].clock.same_as = first_name;
    struct bl_run_clocks *clocks = tie(b);
    assert_string_equal(clocks->tie[2].method, "same-as");
    assert_int_equal(clocks->tie[2].claim, clocks->tie[0].claim);
    assert_int_equal(bl_clock_map(&clocks->tie[2], BUS_ZERO + 5 * MS),
                     bl_clock_map(&clocks->tie[0], BUS_ZERO + 5 * MS));
    bl_run_clocks_destroy(clocks);

    b->trial_recording[2].clock.same_as = second_name;
    b->trial_recording[0].clock.kind = BL_CLOCK_OWN;
    clocks = tie(b);
    assert_int_equal(clocks->tie[0].claim, BL_CLAIM_NONE);
    assert_string_equal(clocks->tie[0].method, "own");
    assert_int_equal(clocks->tie[2].claim, BL_CLAIM_NONE);
    assert_non_null(bl_notes_find(&clocks->notes, "clock-same-as-nothing"));
    bl_run_clocks_destroy(clocks);

    /* The run's own clock is that of a log; said of it, it holds for the
       capture that it names. */
    b->trial_recording[2].clock.kind = BL_CLOCK_UNSET;
    b->trial_recording[0].clock.kind = BL_CLOCK_UNSET;
    b->trial_recording[1].clock.kind = BL_CLOCK_SAME_AS;
    b->trial_recording[1].clock.same_as = first_name;
    clocks = tie(b);
    assert_string_equal(clocks->tie[0].method, "same-as");
    assert_int_equal(clocks->tie[0].claim, BL_CLAIM_ABSOLUTE);
    assert_int_equal(bl_clock_map(&clocks->tie[0], BUS_ZERO), BUS_ZERO);
    bl_run_clocks_destroy(clocks);
    b->trial_recording[1].clock.kind = BL_CLOCK_UNSET;

    /* Stamps from 1970 on one side only: shared cannot be right. */
    b->data.recordings = 2;
    b->trial_recording[0].clock.kind = BL_CLOCK_SHARED;
    clocks = tie(b);
    assert_string_equal(clocks->tie[0].method, "shared");
    assert_non_null(bl_notes_find(&clocks->notes, "clock-no-overlap"));
    assert_int_equal(bl_clock_map(&clocks->tie[0], BUS_ZERO), BUS_ZERO);
    bl_run_clocks_destroy(clocks);
    bl_run_clocks_destroy(NULL);
    free(b);
}

static void mapping_back_returns_the_stamp(void **state)
{
    (void)state;
    struct bl_random random;
    bl_random_seed(&random, 8);
    for (int i = 0; i < 1000; i++) {
        struct bl_clock_tie t = bl_clock_own();
        t.t_first_ns = BUS_ZERO;
        t.offset_s = 2e9 * (bl_random_uniform(&random) - 0.5);
        t.drift_ppm = 400 * (bl_random_uniform(&random) - 0.5);
        const int64_t raw =
            BUS_ZERO + (int64_t)bl_random_below(&random, 36000) * 1000 * MS +
            (int64_t)bl_random_below(&random, 1000000000);
        const int64_t there = bl_clock_map(&t, raw);
        const int64_t back = bl_clock_unmap(&t, there);
        assert_true(back - raw <= 1 && raw - back <= 1);
    }
    struct bl_clock_tie far = bl_clock_own();
    far.offset_s = 1e300;
    assert_true(bl_clock_map(&far, 5) == INT64_MAX);
    far.offset_s = -1e300;
    assert_true(bl_clock_map(&far, -5) == INT64_MIN);
    assert_true(bl_clock_unmap(&far, 5) == INT64_MAX);
    const struct bl_clock_tie own = bl_clock_own();
    assert_true(bl_clock_map(&own, INT64_MAX) == INT64_MAX);
    assert_near(bl_clock_u(&own, INT64_MIN), 0, 0);
    assert_string_equal(bl_clock_claim_name(BL_CLAIM_DIFFERENCES_ONLY),
                        "differences-only");
}

static void every_lost_allocation_is_reported(void **state)
{
    (void)state;
    struct bench *b = bench_new(false, 400, false);
    struct bl_run_clocks *clocks = NULL;
    int failures = 0;
    for (uint64_t i = 1; i < 500; i++) {
        bl_alloc_fail_at(i);
        const enum bl_status status =
            bl_clock_tie_run(&clocks, &b->trial, &b->data, NULL);
        bl_alloc_fail_at(0);
        if (status == BL_OK) {
            break;
        }
        assert_int_equal(status, BL_NOMEM);
        assert_null(clocks);
        failures++;
    }
    assert_in_range(failures, 10, 490);
    bl_run_clocks_destroy(clocks);
    free(b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_switch_on_both_ties_within_its_bound),
        cmocka_unit_test(demand_against_pressure_allows_differences_only),
        cmocka_unit_test(of_two_links_the_earlier_one_ties),
        cmocka_unit_test(an_event_in_a_gap_is_left_out_and_told),
        cmocka_unit_test(even_pauses_are_ambiguous),
        cmocka_unit_test(nothing_in_common_is_said),
        cmocka_unit_test(what_the_trial_states_is_taken),
        cmocka_unit_test(shared_own_and_same_as),
        cmocka_unit_test(mapping_back_returns_the_stamp),
        cmocka_unit_test(every_lost_allocation_is_reported),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
