/* SPDX-License-Identifier: MIT */
/* Events of single series, written here sample by sample: truth is ours. */
#include "testing.h"

#include "base/random.h"
#include "clock/events.h"

enum { SAMPLES = 20000 }; /* 20 s at 1 kHz */
static const int64_t MS = 1000000;

struct series {
    int64_t time[SAMPLES];
    float value[SAMPLES];
    size_t part_start[2];
    struct bl_samples samples;
};

static struct series *series_new(bool is_switch)
{
    struct series *s = calloc(1, sizeof(*s));
    assert_non_null(s);
    for (int i = 0; i < SAMPLES; i++) {
        s->time[i] = MS * i;
    }
    s->samples = (struct bl_samples){.time_ns = s->time,
                                     .value = s->value,
                                     .count = SAMPLES,
                                     .interval_ns = MS,
                                     .resolution = is_switch ? 1 : 0.25,
                                     .is_switch = is_switch,
                                     .part_start = s->part_start,
                                     .parts = 1};
    return s;
}

static void on(struct series *s, int from_ms, int to_ms)
{
    for (int i = from_ms; i < to_ms; i++) {
        s->value[i] = 1;
    }
}

static void a_chattering_switch_gives_its_first_edge(void **state)
{
    (void)state;
    struct series *s = series_new(true);
    on(s, 2000, 2003); /* bounces, then closes */
    on(s, 2008, 3000);
    on(s, 3004, 3006); /* bounces open */
    on(s, 7000, 7002); /* a spike: no event */
    on(s, 9000, 9400);
    on(s, 12000, 15000);
    struct bl_event_list list = {0};
    assert_int_equal(bl_events_switch(&list, &s->samples), BL_OK);
    assert_int_equal(list.count, 3);
    static const int64_t expected[] = {2000, 9000, 12000};
    for (size_t i = 0; i < 3; i++) {
        /* Midway between the samples. */
        assert_int_equal(list.time_ns[i], expected[i] * MS - MS / 2);
    }
    assert_near(list.u_s, 0.001 / sqrt(12), 1e-12);
    bl_events_finish(&list);

    /* A clock that jumps is another clock: only what was before counts. */
    s->part_start[1] = 10000;
    s->samples.parts = 2;
    assert_int_equal(bl_events_switch(&list, &s->samples), BL_OK);
    assert_int_equal(list.count, 2);
    bl_events_finish(&list);
    free(s);
}

/* Rises of 1000 kPa/s from a rest of 3 kPa with noise of 0.5 kPa: 20 kPa above
   rest is 20 ms after the foot; noise over slope is 0.5 ms. */
static void rises_are_found_in_noise(void **state)
{
    (void)state;
    static const int foot[] = {1500, 6000, 9200, 14100};
    struct series *s = series_new(false);
    struct bl_random random;
    bl_random_seed(&random, 4);
    for (int i = 0; i < SAMPLES; i++) {
        double p = 3;
        for (size_t k = 0; k < COUNT_OF(foot); k++) {
            const double since = 0.001 * (i - foot[k]);
            const double rise = fmin(1000 * since, 300);
            p = fmax(p, 3 + fmin(rise, 300 - 600 * (since - 1)));
        }
        s->value[i] = (float)(p + 0.5 * bl_random_normal(&random));
    }
    struct bl_event_list list = {0};
    assert_int_equal(bl_events_rising(&list, &s->samples, 20), BL_OK);
    assert_int_equal(list.count, COUNT_OF(foot));
    for (size_t i = 0; i < list.count; i++) {
        assert_near((double)(list.time_ns[i] - foot[i] * MS) * 1e-6, 20, 2);
    }
    bl_events_finish(&list);
    struct bl_samples none = s->samples;
    none.count = 0;
    assert_int_equal(bl_events_rising(&list, &none, 20), BL_OK);
    assert_int_equal(list.count, 0);
    for (int i = 0; i < SAMPLES; i++) {
        s->value[i] = NAN;
    }
    assert_int_equal(bl_events_rising(&list, &s->samples, 20), BL_OK);
    assert_int_equal(list.count, 0);
    bl_events_finish(&list);
    free(s);
}

/* Frames every 20 ms: half an interval comes off; an event behind a gap of
   0.5 s is left out and counted; values that are not valid are no event. */
static void frames_are_dated_half_an_interval_back(void **state)
{
    (void)state;
    const struct bl_segment segment[] = {
        {.first_ns = 0, .last_ns = 980 * MS, .value = 0},
        {.first_ns = 1000 * MS, .last_ns = 1980 * MS, .value = 1},
        {.first_ns = 2000 * MS, .last_ns = 2980 * MS, .value = 0},
        {.first_ns = 3000 * MS,
         .last_ns = 3500 * MS,
         .value = (double)NAN,
         .state = BL_VALUE_ERROR},
        {.first_ns = 3520 * MS, .last_ns = 3980 * MS, .value = 0},
        {.first_ns = 4480 * MS, .last_ns = 4980 * MS, .value = 1},
        {.first_ns = 5000 * MS, .last_ns = 5980 * MS, .value = 0},
        {.first_ns = 6000 * MS, .last_ns = 6980 * MS, .value = 1},
        {.first_ns = 7000 * MS, .last_ns = 7980 * MS, .value = 0, .part = 1},
        {.first_ns = 8000 * MS, .last_ns = 8980 * MS, .value = 1, .part = 1}};
    const struct bl_steps steps = {.segment = segment,
                                   .count = COUNT_OF(segment),
                                   .interval_ns = 20 * MS,
                                   .resolution = 1};
    struct bl_event_list list = {0};
    assert_int_equal(bl_events_steps(&list, &steps, 0.5), BL_OK);
    assert_int_equal(list.count, 2);
    assert_int_equal(list.time_ns[0], 990 * MS);
    assert_int_equal(list.time_ns[1], 5990 * MS);
    assert_int_equal(list.uncertain, 1);
    assert_near(list.u_s, 0.020 / sqrt(12), 1e-12);
    bl_events_finish(&list);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_chattering_switch_gives_its_first_edge),
        cmocka_unit_test(rises_are_found_in_noise),
        cmocka_unit_test(frames_are_dated_half_an_interval_back),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
