/* SPDX-License-Identifier: MIT */
/*
 * What the page draws, against the samples that it was made of: no extreme is
 * lost, and no line runs across damage, a gap or a jump.
 */
#include "made_run.h"

#include "report/result.h"
#include "signal/signal.h"

/* Command 0 to 600 kPa in 0.2 s from 2.0 s; back in 0.2 s from 6.0 s. */
static const struct corner step[] = {
    {0, 0}, {2, 0}, {2.2, 600}, {6, 600}, {6.2, 0}};
enum { ROWS = 12000, SPIKE = 4123, DIP = 5001, AT = 4500 };

struct drawn {
    double low, high;
    size_t points, breaks;
    double break_s; /* of the last one, since the window's start */
};

/* The output's trace of the only application, put together again. */
static struct drawn draw(struct made_run *m)
{
    struct bl_error error;
    struct bl_tree tree = {false};
    struct bl_run_lag *lag = NULL;
    struct drawn d = {INFINITY, -INFINITY, 0, 0, NAN};
    assert_int_equal(
        bl_measure_run(&lag, &m->trial, &m->data, &m->clocks, &error), BL_OK);
    json_t *all = bl_model_traces(&tree, &m->trial, &m->data, &m->clocks, lag);
    assert_false(tree.failed);
    const json_t *traces = json_object_get(
        json_array_get(json_object_get(all, "applications"), 0), "traces");
    const json_t *channels = json_object_get(all, "channels");
    const json_t *trace = NULL;
    const json_t *channel = NULL;
    for (size_t i = 0; i < json_array_size(traces); i++) {
        const json_t *is = json_array_get(traces, i);
        const json_t *of =
            json_array_get(channels, (size_t)bl_tree_get_number(is, "channel"));
        if (strcmp(bl_tree_get_text(of, "what"), "output") == 0) {
            trace = is;
            channel = of;
        }
    }
    const json_t *times = json_object_get(trace, "t");
    const json_t *values = json_object_get(trace, "v");
    const double scale = bl_tree_get_number(channel, "scale");
    double tick = 0;
    double value = 0;
    assert_int_equal(json_array_size(times), json_array_size(values));
    for (size_t i = 0; i < json_array_size(times); i++) {
        tick += json_number_value(json_array_get(times, i));
        if (json_is_null(json_array_get(values, i))) {
            d.breaks++;
            d.break_s = tick * 1e-4;
            continue;
        }
        value += json_number_value(json_array_get(values, i)) * scale;
        d.low = fmin(d.low, value);
        d.high = fmax(d.high, value);
        d.points++;
    }
    json_decref(all);
    bl_run_lag_destroy(lag);
    return d;
}

static long make(struct made_run *m)
{
    made_start(m, 12, 1000);
    const long command = made_channel(m, BL_QUANTITY_PRESSURE, step, 5);
    const long output = made_channel(m, BL_QUANTITY_PRESSURE, step, 5);
    made_unit(m, -1, -1);
    made_unit(m, output, -1);
    made_command(m, command, 20);
    return output;
}

static void keeps_every_extreme(void **state)
{
    (void)state;
    struct made_run m;
    const long output = make(&m);
    /* ripple, so that thousands of samples differ from their neighbours */
    for (size_t i = 0; i < ROWS; i++) {
        m.value[output][i] += (float)(i % 7) - 3;
    }
    m.value[output][SPIKE] = 777.7F;
    m.value[output][DIP] = -55.5F;
    const struct drawn d = draw(&m);
    assert_in_range(d.points, 10, 1000); /* of 5,600 in the window */
    assert_near(d.high, 777.7, 0.051);
    assert_near(d.low, -55.5, 0.051);
    assert_int_equal(d.breaks, 0);
    made_finish(&m);
}

static void breaks_at_damage_of_one_interval(void **state)
{
    (void)state;
    struct made_run m;
    const long output = make(&m);
    /* rows were lost, however short the time: 4.500 to 4.501 s */
    struct bl_damage damage = {m.time_ns[AT], m.time_ns[AT + 1]};
    m.series[output].samples.damage = &damage;
    m.series[output].samples.damages = 1;
    const struct drawn d = draw(&m);
    assert_int_equal(d.breaks, 1);
    /* the window begins half a second before the command, at 1.5 s; the
       command passes 20 kPa 6.7 ms after 2 s */
    assert_near(d.break_s, 4.5005 - 1.5067, 2e-4);
    made_finish(&m);
}

static void breaks_at_a_gap_of_four_intervals(void **state)
{
    (void)state;
    struct made_run m;
    const long output = make(&m);
    for (size_t i = AT; i < ROWS; i++) {
        m.time_ns[i] += 3000000;
    }
    struct drawn d = draw(&m);
    assert_int_equal(d.breaks, 1);
    /* one interval less is none */
    for (size_t i = AT; i < ROWS; i++) {
        m.time_ns[i] -= 1000000;
    }
    d = draw(&m);
    assert_int_equal(d.breaks, 0);
    /* a missing cell is a break of its own */
    m.value[output][AT] = NAN;
    d = draw(&m);
    assert_int_equal(d.breaks, 1);
    made_finish(&m);
}

static void held_values_break_too(void **state)
{
    (void)state;
    const struct bl_segment segment[] = {
        {.first_ns = 0, .last_ns = 20},
        {.first_ns = 30, .last_ns = 40},               /* the next frame */
        {.first_ns = 71, .last_ns = 80},               /* 31 later */
        {.first_ns = 90, .last_ns = 100},              /* damage between */
        {.first_ns = 110, .last_ns = 120, .part = 1}}; /* the clock jumped */
    const struct bl_damage damage = {82, 88};
    const struct bl_steps steps = {.segment = segment,
                                   .count = COUNT_OF(segment),
                                   .interval_ns = 10,
                                   .damage = &damage,
                                   .damages = 1};
    const bool expected[] = {false, false, true, true, true};
    for (size_t i = 0; i < COUNT_OF(segment); i++) {
        assert_int_equal(bl_steps_break(&steps, i), expected[i]);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(keeps_every_extreme),
        cmocka_unit_test(breaks_at_damage_of_one_interval),
        cmocka_unit_test(breaks_at_a_gap_of_four_intervals),
        cmocka_unit_test(held_values_break_too),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
