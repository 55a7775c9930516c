/* SPDX-License-Identifier: MIT */
/* Where a life must not assure, nor alarm: short lives, bad days, visits in
   clusters, facts recorded at some visits only. */
#include "life_dice.h"
#include "life_made.h"

#include "base/alloc.h"
#include "study/life/frame.h"

static void on_days(struct made *m, const double *day)
{
    for (size_t i = 0; i < m->life.visits; i++) {
        m->visit[i].day = day[i];
    }
}

static void verdict_is(const struct bl_life_row *row,
                       enum bl_life_verdict verdict, enum bl_life_reason reason)
{
    if (row->verdict != verdict || row->reason != reason) {
        print_error("expected %s, %s; found %s, %s\n",
                    bl_life_verdict_name(verdict), bl_life_reason_name(reason),
                    bl_life_verdict_name(row->verdict),
                    bl_life_reason_name(row->reason));
        fail();
    }
}

/* Within a month no line is fitted; so what looks like a step may be one, or
   not, and that there is none cannot be said either. */
static void no_step_where_no_line_was_tried(void **state)
{
    (void)state;
    static const double DAY[] = {0, 2, 4, 6, 8, 10};
    static const double Y[][6] = {{.40, .40, .40, .60, .60, .60},
                                  {.40, .40, .40, .40, .40, .60}};
    struct made m;
    for (size_t i = 0; i < COUNT_OF(Y); i++) {
        make(&m, Y[i], 6);
        on_days(&m, DAY);
        struct bl_lives *lives = look(&m, NULL);
        verdict_is(&lives->row[0], BL_LIFE_DRIFT_OR_STEP, BL_LIFE_REASON_NONE);
        assert_false(lives->row[0].drift.known);
        bl_life_destroy(lives);
    }
    static const double FLAT[] = {.40, .40, .40, .40, .40, .40};
    make(&m, FLAT, 6);
    on_days(&m, DAY);
    struct bl_lives *lives = look(&m, NULL);
    verdict_is(&lives->row[0], BL_LIFE_CANNOT_TELL, BL_LIFE_REASON_ONE_MONTH);
    assert_nan(lives->row[0].control_high);
    bl_life_destroy(lives);
}

/* One day shows how a figure repeats. The difference to the visit before is
   given all the same: before and after a repair. */
static void one_day_is_no_life(void **state)
{
    (void)state;
    static const double DAY[][6] = {{5, 5, 5, 5, 5, 5},
                                    {5, 5.1, 5.2, 5.3, 5.4, 5.5},
                                    {7305, 7305, 7305, 7306, 7306, 7306}};
    static const double Y[] = {.40, .40, .40, .60, .60, .60};
    for (size_t i = 0; i < COUNT_OF(DAY); i++) {
        struct made m;
        make(&m, Y, 6);
        on_days(&m, DAY[i]);
        struct bl_lives *lives = look(&m, NULL);
        const struct bl_life_row *row = &lives->row[0];
        verdict_is(row, BL_LIFE_CANNOT_TELL, BL_LIFE_REASON_ONE_DAY);
        assert_false(row->drift.known);
        assert_false(row->step.known);
        assert_true(row->before.known);
        assert_nan(row->p_life);
        assert_nan(row->noticeable);
        assert_nan(row->odds_drift);
        assert_int_equal(lives->looked_at, 0);
        bl_life_destroy(lives);
    }
}

/* Each reason where it belongs. */
static void reasons(void **state)
{
    (void)state;
    static const double TWO[] = {.40, .40};
    static const double WILD[] = {.40, .90, .35, .95};
    struct made m;
    make(&m, TWO, 2);
    struct bl_lives *lives = look(&m, NULL);
    verdict_is(&lives->row[0], BL_LIFE_CANNOT_TELL, BL_LIFE_REASON_FEW_VISITS);
    bl_life_destroy(lives);
    make(&m, WILD, 4);
    lives = look(&m, NULL);
    /* Could have hidden more than the figure itself. */
    verdict_is(&lives->row[0], BL_LIFE_CANNOT_TELL, BL_LIFE_REASON_NO_POWER);
    assert_true(lives->row[0].noticeable * 1.5 > 0.65);
    bl_life_destroy(lives);
    for (size_t i = 0; i < 4; i++) {
        m.visit[i].command = NULL;
    }
    lives = look(&m, NULL);
    verdict_is(&lives->row[0], BL_LIFE_CANNOT_TELL,
               BL_LIFE_REASON_NOT_RECORDED);
    assert_int_equal(lives->row[0].needs, 1u << BL_LIFE_FACT_COMMAND);
    assert_nan(lives->row[0].control_low);
    assert_nan(lives->row[0].middle_line);
    bl_life_destroy(lives);
}

/* One bad visit, wherever it is, makes neither drift nor step. */
static void one_bad_visit_is_no_trend(void **state)
{
    (void)state;
    static const double OFF[] = {-0.3, -0.06, 0.06, 0.15, 0.5};
    life_state = 11;
    for (size_t n = 4; n <= 12; n += 2) {
        for (size_t i = 0; i < n * COUNT_OF(OFF); i++) {
            double y[12];
            for (size_t k = 0; k < n; k++) {
                y[k] = 0.4 + 0.004 * life_normal();
            }
            y[i % n] += OFF[i / n];
            struct made m;
            make(&m, y, n);
            struct bl_lives *lives = look(&m, NULL);
            assert_false(life_is_trend(lives->row[0].verdict));
            if (fabs(OFF[i / n]) >= 0.3 && (i % n == 0 || i % n == n - 1)) {
                verdict_is(&lives->row[0],
                           i % n == 0 ? BL_LIFE_FIRST_APART
                                      : BL_LIFE_LAST_APART,
                           BL_LIFE_REASON_NONE);
                /* The others are steady, and the next should lie there. */
                assert_near(lives->row[0].middle_line, 0.4, 0.02);
            }
            bl_life_destroy(lives);
        }
    }
}

/* A slow drift whose best step is below 20 ms while the whole is above it. */
static void undecided_is_small_only_if_both_are(void **state)
{
    (void)state;
    static const double Y[] = {.400, .405, .410, .415, .420, .425};
    struct bl_life_options options = bl_life_options_default();
    options.spread_s = 0.001;
    options.odds = 1e30;
    struct made m;
    make(&m, Y, 6);
    struct bl_lives *lives = look(&m, &options);
    const struct bl_life_row *row = &lives->row[0];
    assert_true(fabs(row->step.size) < 0.020);
    verdict_is(row, BL_LIFE_DRIFT_OR_STEP, BL_LIFE_REASON_NONE);
    bl_life_destroy(lives);
}

/* The median minimises the sum of |residuals of pairs|; against all slopes of
   pairs, between which that sum is linear. */
static double off_pairs(const struct bl_life_frame *f, double slope)
{
    double sum = 0;
    for (size_t i = 0; i < f->n; i++) {
        for (size_t k = 0; k < i; k++) {
            sum += fabs(f->y[i] - f->y[k] - slope * (f->year[i] - f->year[k]));
        }
    }
    return sum;
}

static void slope_is_the_weighted_median(void **state)
{
    (void)state;
    struct bl_life_frame *f = bl_alloc(1, sizeof(*f));
    struct bl_error error;
    bl_error_clear(&error);
    life_state = 3;
    for (int round = 0; round < 200; round++) {
        f->n = 3 + (size_t)round % 8;
        for (size_t i = 0; i < f->n; i++) {
            f->year[i] =
                (i == 0 ? 0 : f->year[i - 1]) + (round % 3 == 0      ? 0.5
                                                 : life_even() < 0.5 ? 0.003
                                                                     : 1);
            f->y[i] = life_normal();
        }
        double slope = 0;
        assert_int_equal(bl_life_slope(&slope, f, f->y, &error), BL_OK);
        const double least = off_pairs(f, slope);
        for (size_t i = 0; i < f->n; i++) {
            for (size_t k = 0; k < i; k++) {
                const double other =
                    (f->y[i] - f->y[k]) / (f->year[i] - f->year[k]);
                assert_true(least <= off_pairs(f, other) + 1e-9);
            }
        }
    }
    bl_free(f);
}

/* Steady units seen several times in one week and once a year away: pairs of
   that week have slopes of seconds a year. Found with the plain median: 11 % of
   such lives with a trend, and two intervals of three with the truth in them.
 */
static void clusters_make_no_drift(void **state)
{
    (void)state;
    static const struct {
        size_t n;
        double day[8];
    } LIFE[] = {{4, {0, 1, 2, 365}},
                {5, {0, .2, .4, .6, 365}},
                {6, {0, 365, 365.1, 365.2, 365.3, 365.4}},
                {6, {0, .2, 182, 182.2, 365, 365.2}},
                {8, {0, .2, .4, .6, .8, 1, 1.2, 365}}};
    enum { ROUNDS = 400 };
    life_state = 17;
    for (size_t i = 0; i < COUNT_OF(LIFE); i++) {
        int trends = 0;
        int covered = 0;
        for (int round = 0; round < ROUNDS; round++) {
            double y[8];
            for (size_t k = 0; k < LIFE[i].n; k++) {
                y[k] = 0.4 + 0.012 * life_normal();
            }
            struct made m;
            make(&m, y, LIFE[i].n);
            on_days(&m, LIFE[i].day);
            struct bl_lives *lives = look(&m, NULL);
            const struct bl_life_row *row = &lives->row[0];
            trends +=
                life_is_trend(row->verdict) || row->verdict == BL_LIFE_SMALL;
            covered += row->drift.low <= 0 && row->drift.high >= 0;
            bl_life_destroy(lives);
        }
        print_message("cluster %zu: %d changes, interval %.1f %%\n", i, trends,
                      100.0 * covered / ROUNDS);
        assert_true(trends <= ROUNDS / 50);
        /* 95 % less three standard deviations of the count. */
        assert_true(covered >= 0.917 * ROUNDS);
    }
}

/* Six trials on one day and six a year later are two days, not twelve: the day
   is off by 12 ms, the trials of it by 3 ms. */
static void trials_of_a_day_are_one_day(void **state)
{
    (void)state;
    enum { ROUNDS = 400, N = 12 };
    int changes = 0;
    life_state = 37;
    for (int round = 0; round < ROUNDS; round++) {
        double y[N];
        double day[N];
        double off = 0;
        for (size_t i = 0; i < N; i++) {
            off = i % 6 == 0 ? 0.012 * life_normal() : off;
            day[i] = (i < 6 ? 0 : 365) + 0.05 * (double)(i % 6);
            y[i] = 0.4 + off + 0.003 * life_normal();
        }
        struct made m;
        make(&m, y, N);
        on_days(&m, day);
        struct bl_lives *lives = look(&m, NULL);
        changes += life_is_trend(lives->row[0].verdict) ||
                   lives->row[0].verdict == BL_LIFE_SMALL;
        bl_life_destroy(lives);
    }
    print_message("%d of %d changes\n", changes, ROUNDS);
    assert_true(changes <= ROUNDS / 50);
}

/* A drift of the size that is called noticeable is called a change nine times
   in ten, where the spread is known. */
static void noticeable_is_noticed(void **state)
{
    (void)state;
    enum { ROUNDS = 400, N = 6 };
    struct bl_life_options options = bl_life_options_default();
    options.spread_dof = 1e6;
    int noticed = 0;
    life_state = 23;
    double flat[N];
    for (size_t i = 0; i < N; i++) {
        flat[i] = 0.4;
    }
    struct made m;
    make(&m, flat, N);
    struct bl_lives *lives = look(&m, &options);
    verdict_is(&lives->row[0], BL_LIFE_NO_CHANGE_SHOWN, BL_LIFE_REASON_NONE);
    const double noticeable = lives->row[0].noticeable;
    bl_life_destroy(lives);
    for (int round = 0; round < ROUNDS; round++) {
        double y[N];
        for (size_t i = 0; i < N; i++) {
            y[i] = 0.4 + noticeable * 0.5 * (double)i + 0.012 * life_normal();
        }
        make(&m, y, N);
        lives = look(&m, &options);
        noticed += life_is_trend(lives->row[0].verdict);
        bl_life_destroy(lives);
    }
    print_message("noticed %d of %d\n", noticed, ROUNDS);
    /* 90 % less three standard deviations of the count. */
    assert_true(noticed >= 0.855 * ROUNDS);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_step_where_no_line_was_tried),
        cmocka_unit_test(one_day_is_no_life),
        cmocka_unit_test(reasons),
        cmocka_unit_test(one_bad_visit_is_no_trend),
        cmocka_unit_test(undecided_is_small_only_if_both_are),
        cmocka_unit_test(slope_is_the_weighted_median),
        cmocka_unit_test(clusters_make_no_drift),
        cmocka_unit_test(trials_of_a_day_are_one_day),
        cmocka_unit_test(noticeable_is_noticed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
