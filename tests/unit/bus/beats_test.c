/* SPDX-License-Identifier: MIT */
/*
 * The pace of a capture. A bus of several units is made here, frame by frame:
 * senders have periods and a scatter of their own, the bus sends one frame at a
 * time, the lowest identifier first, 540 us each (135 bits at 250 kbit/s, CAN
 * arithmetic). What is expected is worked out from what was then done to the
 * stamps. Definition: docs/methods/time.md, "Captures".
 */
#include "testing.h"

#include "base/alloc.h"
#include "base/random.h"
#include "bus/beats.h"

#include <math.h>
#include <stdlib.h>

#define MS INT64_C(1000000)
#define FRAME_NS INT64_C(540000)
enum { SENDERS = 16, MOST = 60000 };
static const int64_t period_ms[SENDERS] = {
    10, 10, 20, 20, 50, 50, 100, 100, 20, 100, 100, 250, 250, 500, 1000, 10};
/* Which unit sends it. */
static const int unit_of[SENDERS] = {0, 1, 0, 1, 0, 1, 2, 2,
                                     2, 0, 1, 2, 0, 1, 2, 2};

/* What is not the recorder's doing. */
struct traffic {
    double jitter_ms;   /* standard deviation of every sender */
    int64_t blocked_ms; /* the bus is taken for so long, now and then */
    int64_t paused_ms;  /* unit 0 sends nothing for so long */
    int64_t off_ms;     /* nobody sends, and they come back as they like */
    int eager;          /* so many identifiers send on a change, too */
    int senders;        /* 0: all */
};

static struct bl_frame frame[MOST];
static size_t frames;

static int by_time(const void *left, const void *right)
{
    const struct bl_frame *a = left;
    const struct bl_frame *b = right;
    if (a->time_ns != b->time_ns) {
        return a->time_ns > b->time_ns ? 1 : -1;
    }
    return (a->id > b->id) - (a->id < b->id);
}

static void due(int64_t time_ns, int sender)
{
    assert_true(frames < MOST);
    frame[frames++] = (struct bl_frame){
        .time_ns = time_ns, .id = 0x100u + (uint32_t)sender, .length = 8};
}

/* One frame at a time. */
static void send_all(const struct traffic *t)
{
    int64_t free_ns = 0;
    qsort(frame, frames, sizeof(*frame), by_time);
    for (size_t i = 0; i < frames; i++) {
        int64_t start = frame[i].time_ns > free_ns ? frame[i].time_ns : free_ns;
        const int64_t in_period = start % (1700 * MS);
        if (in_period < t->blocked_ms * MS) {
            start += t->blocked_ms * MS - in_period;
        }
        free_ns = start + FRAME_NS;
        frame[i].time_ns = free_ns;
    }
}

static void make(const struct traffic *t, int64_t length_ms)
{
    struct bl_random random;
    bl_random_seed(&random, 15);
    frames = 0;
    const int senders = t->senders > 0 ? t->senders : SENDERS;
    for (int s = 0; s < senders; s++) {
        const int64_t period = period_ms[s] * MS;
        int64_t next = (int64_t)(bl_random_uniform(&random) * (double)period);
        bool was_off = false;
        for (; next < length_ms * MS; next += period) {
            const int64_t at = next % (5000 * MS);
            if (t->off_ms > 0 && at > 4000 * MS &&
                at < (4000 + t->off_ms) * MS) {
                was_off = true;
                continue;
            }
            if (was_off) {
                next += (int64_t)(bl_random_uniform(&random) * (double)period);
                was_off = false;
            }
            if (unit_of[s] == 0 && at > 2000 * MS &&
                at < (2000 + t->paused_ms) * MS) {
                continue;
            }
            due(next +
                    (int64_t)(bl_random_normal(&random) * t->jitter_ms * 1e6) +
                    5 * MS,
                s);
        }
        /* A change: all of them at once, three times in 5 s. */
        for (int64_t at = 1000 * MS; s < t->eager && at < length_ms * MS;
             at += 1667 * MS) {
            due(at, s);
        }
    }
    send_all(t);
}

static struct bl_time_places places_now(int64_t resolution_ns)
{
    struct bl_beats beats = {.resolution_ns = resolution_ns};
    struct bl_beat_band band[SENDERS];
    int64_t last_ns[SENDERS];
    bool any[SENDERS] = {false};
    struct bl_time_places out = {0};
    for (size_t s = 0; s < SENDERS; s++) {
        size_t number;
        assert_int_equal(bl_beats_add(&beats, &number), BL_OK);
        assert_int_equal(number, s);
        band[s] = BL_BEAT_BAND_NONE;
    }
    for (size_t i = 0; i < frames; i += 333) {
        const size_t end = frames - i < 333 ? frames : i + 333;
        for (size_t k = i > 0 ? i : 1; k < end; k++) {
            const int64_t from_ns = frame[k - 1].time_ns;
            if (frame[k].time_ns - from_ns > bl_beats_silent(&beats)) {
                const struct bl_beat_silence is = {from_ns, frame[k].time_ns,
                                                   0};
                assert_int_equal(bl_beats_silence(&beats, &is), BL_OK);
            }
        }
        for (size_t k = i; k < end; k++) {
            const size_t s = frame[k].id - 0x100u;
            const struct bl_beat_odd odd = {s, last_ns[s], frame[k].time_ns, 0};
            if (any[s] &&
                !bl_beat_usual(&band[s], frame[k].time_ns - last_ns[s])) {
                assert_int_equal(bl_beats_odd(&beats, &band[s], &odd), BL_OK);
            }
            any[s] = true;
            last_ns[s] = frame[k].time_ns;
        }
    }
    for (size_t s = 0; s < SENDERS; s++) {
        if (any[s]) {
            bl_beats_until(&beats, s, last_ns[s]);
        }
    }
    assert_int_equal(bl_beats_finish(&beats, &out), BL_OK);
    return out;
}

static size_t first_from(int64_t time_ns)
{
    size_t i = 0;
    while (i < frames && frame[i].time_ns < time_ns) {
        i++;
    }
    return i;
}

static void step(int64_t at_ns, int64_t by_ns)
{
    for (size_t i = first_from(at_ns); i < frames; i++) {
        frame[i].time_ns += by_ns;
    }
}

/* Stamps stand for so long; `goes_on`: and the clock has lost that time. */
static void stand(int64_t at_ns, int64_t for_ns, bool goes_on)
{
    const size_t from = first_from(at_ns);
    const size_t until = first_from(at_ns + for_ns);
    const int64_t lost_ns = frame[until - 1].time_ns - frame[from].time_ns;
    for (size_t i = from + 1; i < frames; i++) {
        if (i < until) {
            frame[i].time_ns = frame[from].time_ns;
        } else if (goes_on) {
            frame[i].time_ns -= lost_ns;
        }
    }
}

/* The traffic of a sound recorder: everything here happens on real buses. */
static const struct traffic sound[] = {
    {.jitter_ms = 0.05},
    {.jitter_ms = 0.3},
    {.jitter_ms = 1.5},
    {.jitter_ms = 0.1, .blocked_ms = 8},
    {.jitter_ms = 0.1, .blocked_ms = 15},
    {.jitter_ms = 0.1, .blocked_ms = 60},
    {.jitter_ms = 0.1, .paused_ms = 40},
    {.jitter_ms = 0.1, .paused_ms = 400},
    {.jitter_ms = 0.1, .off_ms = 600},
    {.jitter_ms = 0.1, .eager = 4},
    {.jitter_ms = 0.1, .eager = SENDERS},
    {.jitter_ms = 0.1, .senders = 2},
    {.jitter_ms = 0.1, .senders = 2, .eager = 2},
    {.jitter_ms = 0.1, .senders = 3, .blocked_ms = 12},
};

static void sound_traffic_shows_no_place(void **state)
{
    (void)state;
    for (size_t i = 0; i < COUNT_OF(sound); i++) {
        make(&sound[i], 20000);
        struct bl_time_places p = places_now(1000);
        if (p.places != 0) {
            fail_msg("traffic %zu: %s at %.3f s by %.4f s", i,
                     bl_time_kind_name(p.place[0].kind),
                     (double)p.place[0].from_ns * 1e-9,
                     (double)p.place[0].off_ns * 1e-9);
        }
        bl_free(p.place);
    }
}

/* Recorders that stamp in whole milliseconds, or a batch at a time. */
static void coarse_stamps_show_no_place(void **state)
{
    (void)state;
    const int64_t tick_ns[] = {MS / 10, MS, 2 * MS, 4 * MS, 10 * MS, 16 * MS};
    for (size_t i = 0; i < COUNT_OF(tick_ns); i++) {
        for (int told = 0; told < 2; told++) {
            make(&sound[0], 20000);
            for (size_t k = 0; k < frames; k++) {
                frame[k].time_ns +=
                    tick_ns[i] - 1 -
                    (frame[k].time_ns + tick_ns[i] - 1) % tick_ns[i];
            }
            struct bl_time_places p = places_now(told ? tick_ns[i] : 1000);
            assert_int_equal(p.places, 0);
            bl_free(p.place);
        }
    }
}

/* Traffic that a step is to be seen in. */
static const size_t busy[] = {0, 1, 3, 6, 9, 11};

static void a_step_forward_is_one_place(void **state)
{
    (void)state;
    const int64_t by_us[] = {7000, 12300, 20000, 30000, 49000, 300000, 9000000};
    const int64_t at_ms[] = {300, 7000, 19500};
    for (size_t i = 0; i < COUNT_OF(busy) * COUNT_OF(by_us); i++) {
        const int64_t by_ns = by_us[i / COUNT_OF(busy)] * 1000;
        for (size_t k = 0; k < COUNT_OF(at_ms); k++) {
            make(&sound[busy[i % COUNT_OF(busy)]], 20000);
            const size_t at = first_from(at_ms[k] * MS);
            const int64_t from_ns = frame[at - 1].time_ns;
            step(at_ms[k] * MS, by_ns);
            struct bl_time_places p = places_now(1000);
            if (p.places != 1) {
                fail_msg("traffic %zu, %lld us at %lld ms: %zu places",
                         busy[i % COUNT_OF(busy)], (long long)(by_ns / 1000),
                         (long long)at_ms[k], p.places);
            }
            assert_int_equal(p.place[0].kind, BL_TIME_LONG);
            assert_int_equal(p.place[0].from_ns, from_ns);
            assert_int_equal(p.place[0].until_ns, frame[at].time_ns);
            /* Off by as much as a frame scatters and waits. */
            assert_near((double)p.place[0].off_ns, (double)by_ns, 2.2e6);
            bl_free(p.place);
        }
    }
}

/* Off by what was lost, up to an interval of the fastest at either end. */
static void stamps_that_stand_are_one_place(void **state)
{
    (void)state;
    const int64_t for_ms[] = {31, 50, 100, 333, 600};
    const int64_t at_ms[] = {200, 7000, 18000};
    for (size_t i = 0; i < COUNT_OF(busy) * COUNT_OF(for_ms); i++) {
        const int64_t for_ns = for_ms[i / COUNT_OF(busy)] * MS;
        for (size_t k = 0; k < 2 * COUNT_OF(at_ms); k++) {
            const int64_t at_ns = at_ms[k / 2] * MS;
            if (at_ms[k / 2] < 300 && for_ns > 100 * MS) {
                continue; /* most of what is learned from would be damage */
            }
            make(&sound[busy[i % COUNT_OF(busy)]], 20000);
            const int64_t stamp_ns = frame[first_from(at_ns)].time_ns;
            stand(at_ns, for_ns, k % 2 == 0);
            struct bl_time_places p = places_now(1000);
            bool seen = false;
            for (size_t n = 0; n < p.places; n++) {
                const struct bl_time_place *q = &p.place[n];
                seen = seen ||
                       (q->from_ns <= stamp_ns && q->until_ns >= stamp_ns &&
                        q->off_ns >= for_ns - 11 * MS &&
                        q->off_ns <= for_ns + 21 * MS);
                /* And none far from it. */
                assert_in_range(q->from_ns, at_ns - 110 * MS,
                                at_ns + for_ns + 10 * MS);
            }
            if (!seen) {
                fail_msg("traffic %zu, %lld ms at %lld ms: %zu places",
                         busy[i % COUNT_OF(busy)], (long long)(for_ns / MS),
                         (long long)(at_ns / MS), p.places);
            }
            bl_free(p.place);
        }
    }
}

/* The clock stands for little more than two intervals of what is sent every
   10 ms and goes on from there: two stamps of each are the same, and what was
   lost of the interval before passes as its scatter. */
static void a_stand_of_two_intervals_is_seen(void **state)
{
    (void)state;
    for (int64_t k = 0; k < 20; k++) {
        const int64_t at_ns = 7000 * MS + k * MS / 2;
        make(&sound[0], 20000);
        stand(at_ns, 21 * MS, true);
        struct bl_time_places p = places_now(1000);
        assert_true(p.places >= 1);
        assert_in_range(p.place[0].from_ns, at_ns - 110 * MS, at_ns + 30 * MS);
        assert_in_range(p.place[0].until_ns, at_ns, at_ns + 110 * MS);
        bl_free(p.place);
    }
}

/* The units of one side lose frames for as long: the clock is right. */
static void what_others_contradict_is_none(void **state)
{
    (void)state;
    make(&sound[0], 20000);
    const size_t from = first_from(7000 * MS);
    const size_t until = first_from(7030 * MS);
    size_t kept = from;
    for (size_t i = from; i < frames; i++) {
        if (i >= until || unit_of[frame[i].id - 0x100u] == 2) {
            frame[kept++] = frame[i];
        }
    }
    frames = kept;
    struct bl_time_places p = places_now(1000);
    assert_int_equal(p.places, 0);
    bl_free(p.place);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sound_traffic_shows_no_place),
        cmocka_unit_test(coarse_stamps_show_no_place),
        cmocka_unit_test(a_step_forward_is_one_place),
        cmocka_unit_test(stamps_that_stand_are_one_place),
        cmocka_unit_test(a_stand_of_two_intervals_is_seen),
        cmocka_unit_test(what_others_contradict_is_none),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
