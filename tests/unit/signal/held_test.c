/* SPDX-License-Identifier: MIT */
/* Held bus values and switches, against times counted by hand. */
#include "testing.h"

#include "signal/signal.h"

/* Frames every 10 ms: 0 until 90, 30 at 100, error at 110, 80 from 120 to
   190, then 40 at 200 and 0 from 210 on. */
static const struct bl_segment demand[] = {
    {INT64_MIN, 0, 90000000, 10000000, 10, 0, 0, BL_VALUE_VALID, 0},
    {90000000, 100000000, 100000000, 0, 1, 30, 30, BL_VALUE_VALID, 0},
    {100000000, 110000000, 110000000, 0, 1, 254, NAN, BL_VALUE_ERROR, 0},
    {110000000, 120000000, 190000000, 10000000, 8, 80, 80, BL_VALUE_VALID, 0},
    {190000000, 200000000, 200000000, 0, 1, 40, 40, BL_VALUE_VALID, 0},
    {200000000, 210000000, 300000000, 10000000, 10, 0, 0, BL_VALUE_VALID, 0},
};
static const struct bl_steps steps = {.segment = demand,
                                      .count = COUNT_OF(demand),
                                      .interval_ns = 10000000,
                                      .resolution = 1,
                                      .frames = 31,
                                      .not_valid = 1};

static void test_steps(void **state)
{
    (void)state;
    struct bl_crossing c =
        bl_steps_rising(&steps, 0, 300000000, 20, BL_HELD_COMMAND);
    assert_true(c.found);
    assert_int_equal(c.time_ns, 100000000);
    assert_near(c.u_sampling_s, 0, 0);
    assert_int_equal(c.flags, 0);
    c = bl_steps_rising(&steps, 0, 300000000, 20, BL_HELD_OUTPUT);
    assert_int_equal(c.time_ns, 95000000);
    assert_near(c.u_sampling_s, 0.010 / sqrt(12), 1e-12);
    assert_int_equal(c.flags, BL_FLAG_HELD_VALUE);
    /* Over the frame that says "error": between 100 and 120 ms. */
    c = bl_steps_rising(&steps, 0, 300000000, 50, BL_HELD_OUTPUT);
    assert_int_equal(c.time_ns, 110000000);
    assert_near(c.u_sampling_s, 0.020 / sqrt(12), 1e-12);
    c = bl_steps_falling(&steps, 0, 300000000, 50, BL_HELD_COMMAND);
    assert_int_equal(c.time_ns, 200000000);
    c = bl_steps_falling(&steps, 0, 300000000, 0, BL_HELD_COMMAND);
    assert_int_equal(c.time_ns, 210000000);
    assert_false(
        bl_steps_rising(&steps, 0, 300000000, 81, BL_HELD_COMMAND).found);
    assert_false(
        bl_steps_rising(&steps, 0, 100000000, 20, BL_HELD_COMMAND).found);
    assert_true(
        bl_steps_rising(&steps, 100000000, 100000001, 20, BL_HELD_COMMAND)
            .found);
    assert_false(
        bl_steps_rising(&steps, 130000000, 300000000, 20, BL_HELD_COMMAND)
            .found);
    assert_null(bl_steps_at(&steps, -1));
    assert_ptr_equal(bl_steps_at(&steps, 0), &demand[0]);
    assert_ptr_equal(bl_steps_at(&steps, 95000000), &demand[0]);
    assert_ptr_equal(bl_steps_at(&steps, 100000000), &demand[1]);
    assert_ptr_equal(bl_steps_at(&steps, 900000000), &demand[5]);
}

static void test_steps_gap_and_part(void **state)
{
    (void)state;
    struct bl_segment two[] = {
        {INT64_MIN, 0, 90000000, 10000000, 10, 0, 0, BL_VALUE_VALID, 0},
        {90000000, 150000000, 200000000, 10000000, 6, 80, 80, BL_VALUE_VALID,
         0},
    };
    const struct bl_steps gap = {.segment = two,
                                 .count = 2,
                                 .interval_ns = 10000000,
                                 .resolution = 1,
                                 .frames = 16};
    /* A command too: frames that were lost may have come before the first that
       says so. */
    static const enum bl_held both[] = {BL_HELD_OUTPUT, BL_HELD_COMMAND};
    for (size_t i = 0; i < COUNT_OF(both); i++) {
        const struct bl_crossing c =
            bl_steps_rising(&gap, 0, 300000000, 20, both[i]);
        assert_int_equal(c.flags, BL_FLAG_HELD_VALUE | BL_FLAG_IN_GAP);
        assert_int_equal(c.time_ns, 120000000);
        assert_near(c.u_sampling_s, 0.060 / sqrt(12), 1e-12);
    }
    two[1].part = 1;
    assert_false(bl_steps_rising(&gap, 0, 300000000, 20, BL_HELD_OUTPUT).found);
}

/* A switch at 1 kHz from text: each character is one sample. */
static struct bl_edge edge(const char *text, bool to_on)
{
    int64_t times[100];
    float values[100];
    const size_t count = strlen(text);
    assert_true(count <= COUNT_OF(times));
    for (size_t i = 0; i < count; i++) {
        times[i] = (int64_t)i * 1000000;
        values[i] = text[i] == '.' ? NAN : (float)(text[i] - '0');
    }
    const struct bl_samples samples = {.time_ns = times,
                                       .value = values,
                                       .count = count,
                                       .interval_ns = 1000000,
                                       .is_switch = true};
    return bl_switch_edge(&samples, 0, (int64_t)count * 1000000, to_on,
                          5000000);
}

static void test_switch(void **state)
{
    (void)state;
    struct bl_edge e = edge("000001111111111", true);
    assert_true(e.found);
    assert_int_equal(e.time_ns, 4500000);
    assert_near(e.u_sampling_s, 0.001 / sqrt(12), 1e-12);
    assert_int_equal(e.chatter, 0);
    /* Chatter: first flip after sample 4, then down, up, down, up. */
    e = edge("0000010110111111111", true);
    assert_true(e.found);
    assert_int_equal(e.time_ns, 4500000);
    assert_int_equal(e.chatter, 4);
    assert_int_equal(e.flags, BL_FLAG_CHATTER);
    /* A glitch that goes back for good is no edge; the later one is. */
    e = edge("00100000000000111111111", true);
    assert_true(e.found);
    assert_int_equal(e.time_ns, 13500000);
    assert_int_equal(e.chatter, 0);
    assert_false(edge("000000000011", true).found); /* does not last */
    assert_false(edge("111111111111", true).found); /* on from the start */
    e = edge("111111100000000", false);
    assert_true(e.found);
    assert_int_equal(e.time_ns, 6500000);
    /* Four missing cells: known to 5 ms only. */
    e = edge("0000....11111111", true);
    assert_true(e.found);
    assert_int_equal(e.flags, BL_FLAG_IN_GAP);
    assert_int_equal(e.time_ns, 5500000);
    assert_near(e.u_sampling_s, 0.005 / sqrt(12), 1e-12);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_steps),
        cmocka_unit_test(test_steps_gap_and_part),
        cmocka_unit_test(test_switch),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
