/* SPDX-License-Identifier: MIT */
/*
 * Places where stamps leave a recorder's pace. Stamps are made here from the
 * definition in docs/methods/time.md (issue of the damage: a place is an
 * interval off its nominal by more than half an interval and five times the
 * recording's own jitter, repeated stamps, a run that had to be sorted in);
 * what is expected is worked out from how they were made.
 */
#include "testing.h"

#include "base/alloc.h"
#include "base/limits.h"
#include "base/pace.h"
#include "base/random.h"

#include <math.h>

enum { ROWS = 20000 };
static const int64_t ms = 1000000;

static struct bl_time_places places_of(const int64_t *time_ns, size_t rows,
                                       int64_t resolution_ns)
{
    struct bl_pace pace = {.resolution_ns = resolution_ns};
    struct bl_time_places out;
    /* In pieces, as a reader delivers them. */
    for (size_t i = 0; i < rows; i += 777) {
        bl_pace_feed(&pace, time_ns + i, rows - i < 777 ? rows - i : 777);
    }
    assert_int_equal(bl_pace_finish(&pace, &out), BL_OK);
    return out;
}

static void regular(int64_t *time_ns, int64_t interval_ns)
{
    for (int64_t i = 0; i < ROWS; i++) {
        time_ns[i] = i * interval_ns;
    }
}

static int64_t stamp[ROWS];

static void a_jump_forward_is_one_place(void **state)
{
    (void)state;
    const int64_t at[] = {5, 1000, 2047, 2048, 2049, 10000, ROWS - 2};
    for (size_t k = 0; k < COUNT_OF(at); k++) {
        regular(stamp, 2 * ms);
        for (int64_t i = at[k] + 1; i < ROWS; i++) {
            stamp[i] += 500 * ms;
        }
        struct bl_time_places p = places_of(stamp, ROWS, ms);
        assert_int_equal(p.places, 1);
        assert_int_equal(p.place[0].kind, BL_TIME_LONG);
        assert_int_equal(p.place[0].from_ns, at[k] * 2 * ms);
        assert_int_equal(p.place[0].until_ns, at[k] * 2 * ms + 502 * ms);
        assert_int_equal(p.place[0].off_ns, 500 * ms);
        assert_int_equal(p.interval_ns, 2 * ms);
        bl_free(p.place);
    }
}

static void missing_rows_are_a_place(void **state)
{
    (void)state;
    regular(stamp, 2 * ms);
    /* Two rows missing: an interval of three. */
    for (int64_t i = 3000; i < ROWS - 2; i++) {
        stamp[i] = (i + 2) * 2 * ms;
    }
    struct bl_time_places p = places_of(stamp, ROWS - 2, ms);
    assert_int_equal(p.places, 1);
    assert_int_equal(p.place[0].off_ns, 4 * ms);
    bl_free(p.place);
}

static void stamps_that_stand_still_are_one_place(void **state)
{
    (void)state;
    const int64_t rows[] = {3, 5, 250};
    for (size_t k = 0; k < COUNT_OF(rows); k++) {
        regular(stamp, 2 * ms);
        for (int64_t i = 8000; i < ROWS; i++) {
            stamp[i] -= (i < 8000 + rows[k] ? i - 8000 : rows[k] - 1) * 2 * ms;
        }
        struct bl_time_places p = places_of(stamp, ROWS, ms);
        assert_int_equal(p.places, 1);
        assert_int_equal(p.place[0].kind, BL_TIME_CLOSE);
        assert_int_equal(p.place[0].rows, rows[k]);
        assert_int_equal(p.place[0].off_ns, (rows[k] - 1) * 2 * ms);
        bl_free(p.place);
    }
}

static void a_step_back_spans_what_it_interleaves(void **state)
{
    (void)state;
    regular(stamp, 2 * ms);
    for (int64_t i = 8000; i < ROWS; i++) {
        stamp[i] -= 100 * ms;
    }
    struct bl_time_places p = places_of(stamp, ROWS, ms);
    assert_int_equal(p.places, 1);
    assert_int_equal(p.place[0].kind, BL_TIME_SORTED);
    assert_int_equal(p.place[0].from_ns, 15900 * ms);
    assert_int_equal(p.place[0].until_ns, 15998 * ms);
    assert_int_equal(p.place[0].off_ns, 100 * ms);
    bl_free(p.place);
}

/* What recorders do all the time is no place: none of these has damage. */
static void habits_are_no_places(void **state)
{
    (void)state;
    struct bl_random dice;
    bl_random_seed(&dice, 11);
    for (int kind = 0; kind < 7; kind++) {
        int64_t t = INT64_C(1717200001) * 1000 * ms;
        for (int64_t i = 0; i < ROWS; i++) {
            const double dice_1 = bl_random_uniform(&dice);
            switch (kind) {
            case 0: /* 300 Hz, stamps in whole ms */
                stamp[i] = (i * 1000 / 300) * ms;
                break;
            case 1: /* 5 kHz, stamps in whole ms */
                stamp[i] = (i / 5) * ms;
                break;
            case 2: /* 500 Hz, jitter evenly within 0.4 ms */
                stamp[i] = i * 2 * ms + (int64_t)(dice_1 * 0.4e6);
                break;
            case 3: /* bursts of 16 rows 20 us apart */
                stamp[i] = (i / 16) * 32 * ms + (i % 16) * ms / 50;
                break;
            case 4: /* on change: intervals of any length, mean 10 ms */
                t += (int64_t)(-log(1 - dice_1) * 10e6);
                stamp[i] = t;
                break;
            case 5: /* a clock that ticks every 15.6 ms, 500 Hz */
                stamp[i] = (i * 2 * 10 / 156) * 156 * ms / 10;
                break;
            default: /* 1000.4 Hz, stamps in whole ms */
                stamp[i] = (i * 10000 / 10004) * ms;
                break;
            }
        }
        struct bl_time_places p =
            places_of(stamp, ROWS, kind < 2 || kind == 6 ? ms : ms / 1000);
        if (p.places > 0) {
            fail_msg("habit %d: %zu places, the first %s of %.3f ms", kind,
                     p.places, bl_time_kind_name(p.place[0].kind),
                     (double)p.place[0].off_ns * 1e-6);
        }
        bl_free(p.place);
    }
}

/* A habit does not hide what is far larger. */
static void a_jump_among_habits_is_seen(void **state)
{
    (void)state;
    for (int64_t i = 0; i < ROWS; i++) {
        stamp[i] =
            (i / 16) * 32 * ms + (i % 16) * ms / 50 + (i > 9000) * 500 * ms;
    }
    struct bl_time_places p = places_of(stamp, ROWS, ms / 1000);
    assert_int_equal(p.places, 1);
    assert_int_equal(p.place[0].kind, BL_TIME_LONG);
    bl_free(p.place);
}

/* A recorder that changes its rate has another pace from there on. */
static void another_rate_is_not_damage_to_the_end(void **state)
{
    (void)state;
    for (int64_t i = 0; i < ROWS; i++) {
        stamp[i] = i < 6000 ? i * 10 * ms : 60000 * ms + (i - 6000) * ms;
    }
    struct bl_time_places p = places_of(stamp, ROWS, ms / 1000);
    for (size_t i = 0; i < p.places; i++) {
        assert_true(p.place[i].until_ns < 60000 * ms + 5000 * ms);
    }
    bl_free(p.place);
}

static void the_list_is_bounded_and_says_so(void **state)
{
    (void)state;
    enum { MANY = 1000000 };
    int64_t *time_ns = bl_alloc(MANY, sizeof(*time_ns));
    assert_non_null(time_ns);
    /* Every 150th interval: fewer than one in a hundred, so no habit. */
    for (int64_t i = 0; i < MANY; i++) {
        time_ns[i] = i * 2 * ms + (i / 150) * 20 * ms;
    }
    struct bl_time_places p = places_of(time_ns, MANY, ms);
    assert_int_equal(p.places, BL_LIMIT_DAMAGES);
    assert_int_equal(p.places + p.more, (MANY - 1) / 150);
    assert_true(p.place[p.places - 1].until_ns == INT64_MAX);
    bl_free(p.place);
    bl_free(time_ns);
}

static void no_stamps_and_odd_stamps_end(void **state)
{
    (void)state;
    struct bl_time_places p = places_of(stamp, 0, 0);
    assert_int_equal(p.places, 0);
    for (size_t i = 0; i < ROWS; i++) {
        stamp[i] = i % 2 == 0 ? INT64_MAX : INT64_MIN;
    }
    p = places_of(stamp, ROWS, 0);
    bl_free(p.place);
    for (size_t i = 0; i < ROWS; i++) {
        stamp[i] = 7;
    }
    p = places_of(stamp, ROWS, 0);
    assert_int_equal(p.places, 0);
    bl_free(p.place);
}

/* How far all places of the stamps may have moved the clock for good; `cut`
   rows from the 3000th on could not be read. */
static int64_t moved(const int64_t *time_ns, size_t rows, size_t cut)
{
    struct bl_pace pace = {.resolution_ns = ms};
    struct bl_time_places out;
    int64_t moved_ns = 0;
    bl_pace_feed(&pace, time_ns, 3000);
    bl_pace_skip(&pace, cut);
    bl_pace_feed(&pace, time_ns + 3000, rows - 3000);
    assert_int_equal(bl_pace_finish(&pace, &out), BL_OK);
    bl_time_places_sort(&out);
    for (size_t i = 0; i < out.places; i++) {
        moved_ns += out.place[i].moved_ns;
    }
    assert_true(out.places > 0);
    bl_free(out.place);
    return moved_ns;
}

/* The clock of the rows behind is that of the rows before: blocks that changed
   places, stamps that lost digits, or stood and were right again. */
static void what_is_undone_moved_no_clock(void **state)
{
    (void)state;
    for (int64_t n = 1; n <= 8; n++) {
        regular(stamp, 5 * ms);
        for (int64_t i = 0; i < n; i++) {
            stamp[3000 + i] += n * 5 * ms;
            stamp[3000 + n + i] -= n * 5 * ms;
        }
        assert_int_equal(moved(stamp, ROWS, 0), 0);
        regular(stamp, 5 * ms);
        for (int64_t i = 0; i < n; i++) {
            stamp[5000 + i] -= 60 * ms + 7 * i * ms;
        }
        assert_int_equal(moved(stamp, ROWS, 0), 0);
        regular(stamp, 5 * ms);
        for (int64_t i = 1; i < 10 * n; i++) {
            stamp[100 + i] = stamp[100];
        }
        assert_int_equal(moved(stamp, ROWS, 0), 0);
    }
}

/* A step in either direction, a clock that stood and went on from there, rows
   that nobody counted: all of it may have moved the clock. */
static void what_stays_may_have_moved_it(void **state)
{
    (void)state;
    const int64_t by[] = {10 * ms,  50 * ms,  150 * ms,
                          -10 * ms, -50 * ms, -150 * ms};
    for (size_t k = 0; k < COUNT_OF(by); k++) {
        regular(stamp, 5 * ms);
        for (size_t i = 5000; i < ROWS; i++) {
            stamp[i] += by[k];
        }
        assert_int_equal(moved(stamp, ROWS, 0), by[k] < 0 ? -by[k] : by[k]);
    }
    regular(stamp, 5 * ms);
    for (size_t i = 5000; i < ROWS; i++) {
        stamp[i] -= i < 5040 ? (int64_t)(i - 4999) * 5 * ms : 40 * 5 * ms;
    }
    assert_int_equal(moved(stamp, ROWS, 0), 200 * ms);
}

/* Three rows that could not be read took three intervals; with a lost line end
   two of them are one line. Ten take no second. */
static void rows_left_out_took_their_time(void **state)
{
    (void)state;
    for (size_t cut = 2; cut <= 3; cut++) {
        regular(stamp, 5 * ms);
        for (size_t i = 3000; i < ROWS; i++) {
            stamp[i] += 15 * ms;
        }
        assert_int_equal(moved(stamp, ROWS, cut), 0);
    }
    assert_int_equal(moved(stamp, ROWS, 0), 15 * ms);
    regular(stamp, 5 * ms);
    for (size_t i = 3000; i < ROWS; i++) {
        stamp[i] += 1000 * ms;
    }
    assert_int_equal(moved(stamp, ROWS, 10), 950 * ms);
}

/* Stamps in steps that are coarser than the interval: two and three rows share
   one, none is missing. Twenty steps of the stamps are seen. */
static void coarse_stamps_have_a_pace(void **state)
{
    (void)state;
    const int64_t interval_ns[] = {1000000, 3333333, 4000000, 7000000};
    const int64_t step_ns[] = {10 * ms, 15 * ms, 20 * ms};
    for (size_t k = 0; k < COUNT_OF(interval_ns); k++) {
        for (size_t c = 0; c < COUNT_OF(step_ns); c++) {
            for (int64_t i = 0; i < ROWS; i++) {
                stamp[i] = i * interval_ns[k] / step_ns[c] * step_ns[c];
            }
            struct bl_time_places p = places_of(stamp, ROWS, step_ns[c]);
            assert_int_equal(p.places, 0);
            /* Of spans of 64 rows, known to a step of the stamps. */
            assert_near((double)p.interval_ns, (double)interval_ns[k],
                        (double)step_ns[c] / 64 + 1);
            bl_free(p.place);
            for (int64_t i = 7000; i < ROWS; i++) {
                stamp[i] += 20 * step_ns[c];
            }
            p = places_of(stamp, ROWS, step_ns[c]);
            assert_int_equal(p.places, 1);
            assert_near((double)p.place[0].off_ns, 20.0 * (double)step_ns[c],
                        (double)step_ns[c]);
            bl_free(p.place);
        }
    }
}

/* Stamps that scatter and are written in whole ms: two that are rounded apart
   stand an interval off now and then, which is no damage. A clock that lost, or
   won, four intervals is. */
static void rounded_scatter_is_no_place(void **state)
{
    (void)state;
    const int64_t interval_ns[] = {2 * ms, 5 * ms};
    const double share[] = {0.05, 0.1};
    struct bl_random dice;
    bl_random_seed(&dice, 21);
    for (size_t k = 0; k < 40; k++) {
        const int64_t nominal = interval_ns[k % 2];
        for (int64_t i = 0; i < ROWS; i++) {
            const double off =
                share[k / 2 % 2] * (double)nominal * bl_random_normal(&dice);
            stamp[i] =
                (i * nominal + llround(off) + 10 * ms + ms / 2) / ms * ms;
        }
        struct bl_time_places p = places_of(stamp, ROWS, ms);
        assert_int_equal(p.places, 0);
        bl_free(p.place);
        for (int64_t i = 7000; i < ROWS; i++) {
            stamp[i] += (k < 20 ? 4 : -4) * nominal;
        }
        p = places_of(stamp, ROWS, ms);
        assert_true(p.places >= 1);
        bl_free(p.place);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_jump_forward_is_one_place),
        cmocka_unit_test(missing_rows_are_a_place),
        cmocka_unit_test(stamps_that_stand_still_are_one_place),
        cmocka_unit_test(a_step_back_spans_what_it_interleaves),
        cmocka_unit_test(habits_are_no_places),
        cmocka_unit_test(a_jump_among_habits_is_seen),
        cmocka_unit_test(another_rate_is_not_damage_to_the_end),
        cmocka_unit_test(the_list_is_bounded_and_says_so),
        cmocka_unit_test(no_stamps_and_odd_stamps_end),
        cmocka_unit_test(what_is_undone_moved_no_clock),
        cmocka_unit_test(what_stays_may_have_moved_it),
        cmocka_unit_test(rows_left_out_took_their_time),
        cmocka_unit_test(coarse_stamps_have_a_pace),
        cmocka_unit_test(rounded_scatter_is_no_place),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
