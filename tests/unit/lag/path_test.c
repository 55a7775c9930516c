/* SPDX-License-Identifier: MIT */
/*
 * Where a response goes, on paper: straight lines for the command and the
 * output, frames at stated times, every leg worked out by hand beside the
 * check. A state between two frames: midpoint and width / sqrt 12, by the
 * definition of docs/methods/path.md.
 */
#include "made_run.h"

/* 20 kPa at 3000 kPa/s: 2.006667 s. */
static const struct corner command_step[] = {
    {0, 0}, {2, 0}, {2.2, 600}, {6, 600}, {6.2, 0}};
/* 20 kPa at 2000 kPa/s: 2.110 s. */
static const struct corner output_step[] = {
    {0, 0}, {2.1, 0}, {2.4, 600}, {6.1, 600}, {6.5, 0}};
static const double apply_s = 2 + 20.0 / 3000;
static const double out_s = 2.11;

struct bus_signal {
    struct bl_message message;
    struct bl_segment segment[2];
};

static int64_t at(double s)
{
    return (int64_t)llround(s * 1e9);
}

/* A signal that is 0 until the frame at `last_s` and `value` from the frame at
   `first_s` on. */
struct spoken {
    enum bl_role role;
    uint8_t source, destination;
    double last_s,
        first_s; /* the last frame without, the first with the value */
    double value;
};

static void made_bus(struct made_run *m, struct bus_signal *is,
                     struct spoken said)
{
    const size_t i = m->data.series_count++;
    const bool state = said.role == BL_ROLE_BRAKE_ACTIVE;
    is->message = (struct bl_message){.name = "made"};
    m->signal[i] =
        (struct bl_signal){.message = &is->message,
                           .unit = state ? "" : "kPa",
                           .kind = state ? BL_SIGNAL_STATE : BL_SIGNAL_NUMBER,
                           .role = said.role,
                           .scale = 1};
    is->segment[0] = (struct bl_segment){.before_ns = INT64_MIN,
                                         .first_ns = at(0.5),
                                         .last_ns = at(said.last_s),
                                         .count = 50,
                                         .state = BL_VALUE_VALID};
    is->segment[1] = (struct bl_segment){.before_ns = at(said.last_s),
                                         .first_ns = at(said.first_s),
                                         .last_ns = at(6),
                                         .count = 50,
                                         .raw = 1,
                                         .value = said.value,
                                         .state = BL_VALUE_VALID};
    m->bus[i] = (struct bl_bus_series){.signal = &m->signal[i],
                                       .recording = 1,
                                       .source = said.source,
                                       .destination = said.destination,
                                       .steps = {.segment = is->segment,
                                                 .count = 2,
                                                 .interval_ns = 10000000,
                                                 .frames = 100}};
}

/* Demand sent at 2.012 s, on the second link at 2.022 s; unit 2 reports
   between its frames at 2.03 s and 2.05 s, unit 1 does not say a word. */
static void train(struct made_run *m, struct bus_signal is[3])
{
    made_start(m, 12, 1000);
    const long command = made_channel(m, BL_QUANTITY_PRESSURE, command_step, 5);
    const long output = made_channel(m, BL_QUANTITY_PRESSURE, output_step, 5);
    made_unit(m, output, -1)->address = 32;
    made_unit(m, output, -1)->address = 200;
    made_unit(m, output, -1)->address = 192;
    made_command(m, command, 20);
    made_bus(
        m, &is[0],
        (struct spoken){BL_ROLE_SERVICE_DEMAND, 32, 200, 2.002, 2.012, 600});
    made_bus(
        m, &is[1],
        (struct spoken){BL_ROLE_SERVICE_DEMAND, 200, 192, 2.012, 2.022, 600});
    made_bus(m, &is[2],
             (struct spoken){BL_ROLE_BRAKE_ACTIVE, 192, 255, 2.03, 2.05, 1});
}

static struct bl_run_lag *measured(struct made_run *m)
{
    struct bl_error error;
    struct bl_run_lag *lag = NULL;
    bl_error_clear(&error);
    if (bl_measure_run(&lag, &m->trial, &m->data, &m->clocks, &error) !=
        BL_OK) {
        fail_msg("%s", error.message);
    }
    assert_int_equal(lag->applications, 1);
    assert_int_equal(lag->application[0].units, 3);
    return lag;
}

static void check_leg(const struct bl_unit_lag *unit, enum bl_path_event from,
                      enum bl_path_event to, double s, double u_s)
{
    const struct bl_path_leg *leg = &unit->path[to - 1];
    assert_int_equal(leg->to, to);
    assert_int_equal(leg->from, from);
    assert_true(leg->time.known);
    assert_near(leg->time.s, s, 1e-5);
    assert_near(leg->time.u_s, u_s, 1e-5);
}

static void check_missing(const struct bl_unit_lag *unit, enum bl_path_event to,
                          enum bl_reason reason)
{
    assert_false(unit->path[to - 1].time.known);
    assert_int_equal(unit->path[to - 1].time.reason, reason);
}

static double sum(const struct bl_unit_lag *unit)
{
    double s = 0;
    for (size_t i = 0; i < BL_PATH_LEGS; i++) {
        s += unit->path[i].time.known ? unit->path[i].time.s : 0;
    }
    return s;
}

static void legs_sum_to_the_response(void **state)
{
    (void)state;
    struct made_run m;
    struct bus_signal is[3];
    train(&m, is);
    struct bl_run_lag *lag = measured(&m);
    const struct bl_unit_lag *unit = &lag->application[0].unit[2];
    const double half = 0.02 / sqrt(12);
    assert_true(unit->has_path);
    check_leg(unit, BL_PATH_COMMAND, BL_PATH_DEMAND_SENT, 2.012 - apply_s, 0);
    check_leg(unit, BL_PATH_DEMAND_SENT, BL_PATH_DEMAND_ARRIVAL, 0.010, 0);
    check_leg(unit, BL_PATH_DEMAND_ARRIVAL, BL_PATH_UNIT_REPORT, 2.04 - 2.022,
              half);
    check_leg(unit, BL_PATH_UNIT_REPORT, BL_PATH_RESPONSE, out_s - 2.04, half);
    assert_near(sum(unit), unit->figure[BL_FIGURE_RESPONSE].s, 1e-12);
    assert_near(sum(unit), out_s - apply_s, 1e-5);
    bl_run_lag_destroy(lag);
    made_finish(&m);
}

/* The towing unit has no way of its own; on the first link the demand arrives
   when it is sent; who reports nothing has that leg null. */
static void unseen_legs_are_null(void **state)
{
    (void)state;
    struct made_run m;
    struct bus_signal is[3];
    train(&m, is);
    struct bl_run_lag *lag = measured(&m);
    const struct bl_unit_lag *unit = &lag->application[0].unit[1];
    assert_false(lag->application[0].unit[0].has_path);
    check_leg(unit, BL_PATH_DEMAND_SENT, BL_PATH_DEMAND_ARRIVAL, 0, 0);
    check_missing(unit, BL_PATH_UNIT_REPORT, BL_REASON_NOT_SEEN);
    check_leg(unit, BL_PATH_DEMAND_ARRIVAL, BL_PATH_RESPONSE, out_s - 2.012, 0);
    assert_near(sum(unit), unit->figure[BL_FIGURE_RESPONSE].s, 1e-12);
    bl_run_lag_destroy(lag);
    made_finish(&m);
}

static void a_unit_that_does_not_report(void **state)
{
    (void)state;
    struct made_run m;
    struct bus_signal is[3];
    train(&m, is);
    is[2].segment[1].raw = 0;
    is[2].segment[1].value = 0;
    struct bl_run_lag *lag = measured(&m);
    const struct bl_unit_lag *unit = &lag->application[0].unit[2];
    check_missing(unit, BL_PATH_UNIT_REPORT, BL_REASON_NOT_REPORTED);
    check_leg(unit, BL_PATH_DEMAND_ARRIVAL, BL_PATH_RESPONSE, out_s - 2.022, 0);
    bl_run_lag_destroy(lag);
    made_finish(&m);
}

/* One recorder's own events stay related when the other's are not. */
static void untied_clocks(void **state)
{
    (void)state;
    struct made_run m;
    struct bus_signal is[3];
    train(&m, is);
    m.tie[1].claim = BL_CLAIM_NONE;
    struct bl_run_lag *lag = measured(&m);
    const struct bl_unit_lag *unit = &lag->application[0].unit[2];
    check_missing(unit, BL_PATH_DEMAND_SENT, BL_REASON_CLOCKS_UNRELATED);
    check_leg(unit, BL_PATH_DEMAND_SENT, BL_PATH_DEMAND_ARRIVAL, 0.010, 0);
    check_leg(unit, BL_PATH_DEMAND_ARRIVAL, BL_PATH_UNIT_REPORT, 2.04 - 2.022,
              0.02 / sqrt(12));
    check_missing(unit, BL_PATH_RESPONSE, BL_REASON_CLOCKS_UNRELATED);
    assert_near(unit->figure[BL_FIGURE_RESPONSE].s, out_s - apply_s, 1e-5);
    bl_run_lag_destroy(lag);
    made_finish(&m);
}

/* A log alone has no way to tell. */
static void no_bus(void **state)
{
    (void)state;
    struct made_run m;
    struct bus_signal is[3];
    train(&m, is);
    m.data.series_count = 0;
    struct bl_run_lag *lag = measured(&m);
    assert_false(lag->application[0].unit[2].has_path);
    bl_run_lag_destroy(lag);
    made_finish(&m);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(legs_sum_to_the_response),
        cmocka_unit_test(unseen_legs_are_null),
        cmocka_unit_test(a_unit_that_does_not_report),
        cmocka_unit_test(untied_clocks),
        cmocka_unit_test(no_bus),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
