/* SPDX-License-Identifier: MIT */
/* What visits share and what was not recorded, in lives that record some facts
   at some visits: the covariance is one, allowances are of groups, and nothing
   that comes out is infinite. */
#include "life_dice.h"
#include "life_made.h"

#include "base/alloc.h"
#include "study/life/frame.h"

/* Each fact there or not by chance. */
static void some_facts(struct made *m)
{
    static const char *const NAME[] = {NULL, "", "a", "b", "c"};
    static const char *const FRONT[] = {NULL, "", "prime mover", "dolly"};
    for (size_t i = 0; i < m->life.visits; i++) {
        struct bl_life_visit *visit = &m->visit[i];
        struct bl_life_value *value = &m->value[i];
        visit->supply_kpa =
            life_even() < 0.3 ? (double)NAN : life_between(600, 900);
        visit->temperature_c =
            life_even() < 0.3 ? (double)NAN : life_between(-20, 40);
        visit->units_in_front =
            life_even() < 0.3 ? (double)NAN : floor(life_between(0, 4));
        visit->kinds_in_front = FRONT[(size_t)life_between(0, 4)];
        value->u_systematic =
            life_even() < 0.4 ? (double)NAN : life_between(0, 0.02);
        value->command_rise_s =
            life_even() < 0.3 ? (double)NAN : life_between(0.1, 0.3);
        value->transducer = NAME[(size_t)life_between(0, 5)];
        value->u_random = life_between(0, 0.005);
    }
}

/* A covariance is the same both ways, and no sum has less than no variance. */
static void covariance_is_one(void **state)
{
    (void)state;
    struct bl_life_frame *f = bl_alloc(1, sizeof(*f));
    struct bl_life_left left[12];
    struct bl_life_row row = {.left = left};
    life_state = 29;
    for (int round = 0; round < 500; round++) {
        double y[12];
        for (size_t i = 0; i < 12; i++) {
            y[i] = 0.4 + 0.1 * life_normal();
        }
        struct made m;
        make(&m, y, 12);
        m.series.by_air = round % 2 == 0;
        some_facts(&m);
        bl_life_compare(f, &row, &m.life, &m.series);
        assert_int_equal(f->n, 12);
        double weight[12];
        for (size_t i = 0; i < 12; i++) {
            weight[i] = life_normal();
            for (size_t k = 0; k < 12; k++) {
                assert_true(f->shared[i][k] == f->shared[k][i]);
            }
        }
        assert_true(bl_life_variance(f, weight, 0) >= -1e-12);
    }
    bl_free(f);
}

/* A visit without units in front and one of which the kinds are not known have
   nothing in common. */
static void unknown_kinds_share_nothing(void **state)
{
    (void)state;
    static const double Y[] = {.40, .40, .40};
    struct bl_life_frame *f = bl_alloc(1, sizeof(*f));
    struct bl_life_left left[3];
    struct bl_life_row row = {.left = left};
    struct made m;
    make(&m, Y, 3);
    for (size_t i = 0; i < 3; i++) {
        m.visit[i].units_in_front = 0;
        m.visit[i].kinds_in_front = i == 1 ? "" : NULL;
    }
    bl_life_compare(f, &row, &m.life, &m.series);
    /* All stand first: what kinds make drops out. */
    assert_near(f->shared[0][1], 0.02 * 0.02 / 12, 1e-15);
    m.visit[2].units_in_front = (double)NAN;
    bl_life_compare(f, &row, &m.life, &m.series);
    assert_near(f->shared[0][2], 0, 1e-15);
    assert_near(f->shared[2][0], 0, 1e-15);
    assert_near(f->shared[2][2], 0, 1e-15);
    /* Number and kinds: two units and one more by data. */
    assert_near(f->any[BL_LIFE_FACT_IN_FRONT][2], 0.06, 1e-12);
    bl_free(f);
}

/* u of a difference of two visits by the rule of GUM 5.2: u1^2 + u2^2
   - 2 r u1 u2, r 1 with one transducer, 0 with two. */
static void differences_by_transducer(void **state)
{
    (void)state;
    static const double Y[] = {.40, .40};
    static const struct {
        const char *first, *second;
        double u_first, u_second, both;
    } CASE[] = {{"a", "a", 0.010, 0.010, 0},
                {"a", "a", 0.010, 0.004, 0.006 * 0.006},
                {"a", "a", 0.010, (double)NAN, 0},
                {"a", "a", (double)NAN, 0.010, 0},
                {"a", "b", 0.010, 0.004, 0.0001 + 0.000016}};
    struct bl_life_options options = bl_life_options_default();
    options.spread_s = 0.005;
    for (size_t i = 0; i < COUNT_OF(CASE); i++) {
        struct made m;
        make(&m, Y, 2);
        m.value[0].transducer = CASE[i].first;
        m.value[1].transducer = CASE[i].second;
        m.value[0].u_systematic = CASE[i].u_first;
        m.value[1].u_systematic = CASE[i].u_second;
        struct bl_lives *lives = look(&m, &options);
        assert_near(lives->row[0].before.u,
                    sqrt(2 * 0.005 * 0.005 + CASE[i].both), 1e-12);
        assert_near(lives->row[0].before.allowance, 0, 1e-12);
        bl_life_destroy(lives);
    }
}

/* Named at some visits, not at others: the named set is one group, of the
   others each may be any. With a stated error that is allowed for, too. */
static void transducers_named_at_some_visits(void **state)
{
    (void)state;
    static const double Y[] = {.40, .40, .40, .60, .60, .60};
    static const struct {
        double u, allowance;
    } CASE[] = {{(double)NAN, 0.020 + 0.020}, {0.010, 0.010 * 1.7320508}};
    for (size_t i = 0; i < COUNT_OF(CASE); i++) {
        struct made m;
        make(&m, Y, 6);
        for (size_t k = 0; k < 6; k++) {
            m.value[k].transducer = k < 3 ? "a" : NULL;
            m.value[k].u_systematic = CASE[i].u;
        }
        struct bl_lives *lives = look(&m, NULL);
        const struct bl_life_row *row = &lives->row[0];
        assert_int_equal(row->step_at, 3);
        assert_near(row->step.allowance, CASE[i].allowance, 1e-7);
        /* Both of the last two may be any. */
        assert_near(row->before.allowance,
                    isnan(CASE[i].u) ? 0.040 : 2 * CASE[i].allowance, 1e-7);
        bl_life_destroy(lives);
    }
}

/* Groups in a part of a life are counted from its own visits. */
static void groups_of_a_part(void **state)
{
    (void)state;
    enum { N = 8 };
    static const char *const NAME[N] = {"a", "a", "a", "a", "b", "c", "b", "c"};
    static const double Y[N] = {.40, .40, .40, .40, .80, .80, .80, .80};
    struct made m;
    make(&m, Y, N);
    for (size_t i = 0; i < N; i++) {
        m.value[i].transducer = NAME[i];
        m.value[i].u_systematic = (double)NAN;
    }
    struct bl_life_frame *f = bl_alloc(2, sizeof(*f));
    struct bl_life_left left[N];
    struct bl_life_row row = {.left = left};
    bl_life_compare(f, &row, &m.life, &m.series);
    bl_life_frame_part(&f[1], f, 4, N);
    /* b, c, b, c: 20 ms of each of the two sets. */
    const double weight[] = {-1, 1, 0, 0};
    const double within[] = {-1, 0, 1, 0};
    unsigned facts = 0;
    assert_near(bl_life_allowance(&f[1], weight, &facts), 0.040, 1e-12);
    assert_int_equal(facts, 1u << BL_LIFE_FACT_TRANSDUCER);
    assert_near(bl_life_allowance(&f[1], within, &facts), 0, 1e-12);
    bl_free(f);
    /* Limits for the next visit with set c: it is off by (1 - 1/2), b by 1/2.
       Spread and Student's factor from the same visits with named errors. */
    struct bl_lives *open = look(&m, NULL);
    for (size_t i = 0; i < N; i++) {
        m.value[i].u_systematic = 0;
    }
    struct bl_lives *stated = look(&m, NULL);
    assert_int_equal(open->row[0].verdict, BL_LIFE_STEP);
    assert_int_equal(stated->row[0].verdict, BL_LIFE_STEP);
    assert_near(open->row[0].control_high - stated->row[0].control_high, 0.020,
                1e-9);
    bl_life_destroy(open);
    bl_life_destroy(stated);
}

/* What was not recorded at the last visit may be otherwise at the next. */
static void limits_allow_for_the_next_visit(void **state)
{
    (void)state;
    static const double Y[] = {.50, .52, .49, .51, .53};
    struct made m;
    make(&m, Y, 5);
    struct bl_lives *said = look(&m, NULL);
    for (size_t i = 0; i < 5; i++) {
        m.value[i].command_rise_s = (double)NAN;
    }
    struct bl_lives *unsaid = look(&m, NULL);
    assert_int_equal(unsaid->row[0].verdict, BL_LIFE_NO_CHANGE_SHOWN);
    /* 50 ms of those so far, 50 ms of the next. */
    assert_near(unsaid->row[0].control_high - said->row[0].control_high, 0.100,
                1e-9);
    bl_life_destroy(said);
    bl_life_destroy(unsaid);
}

static void not_infinite(const struct bl_life_change *c)
{
    const double number[] = {c->size, c->u,    c->dof, c->allowance,
                             c->low,  c->high, c->p};
    for (size_t i = 0; i < COUNT_OF(number); i++) {
        assert_true(c->known ? isfinite(number[i]) : isnan(number[i]));
    }
}

/* Finite or NaN, by what the header says, whatever was recorded. */
static void nothing_is_infinite(void **state)
{
    (void)state;
    static const double GAP[] = {0, 0.1, 3, 180};
    int seen[BL_LIFE_VERDICTS] = {0};
    life_state = 31;
    for (int round = 0; round < 4000; round++) {
        double y[10];
        const size_t n = 1 + (size_t)life_between(0, 10);
        const double step = life_even() < 0.4 ? life_between(0, 3) : 0;
        for (size_t i = 0; i < n; i++) {
            y[i] = 0.5 + 0.01 * life_normal() + (i > n / 2 ? step : 0);
        }
        struct made m;
        make(&m, y, n);
        const double gap = GAP[round % 4];
        for (size_t i = 0; i < n; i++) {
            m.visit[i].day = gap * (double)i;
        }
        if (round % 3 != 0) {
            some_facts(&m);
        }
        if (round % 7 == 0) {
            for (size_t i = 0; i < n; i++) {
                m.value[i].position = NULL;
            }
        }
        struct bl_lives *lives = look(&m, NULL);
        const struct bl_life_row *row = &lives->row[0];
        seen[row->verdict]++;
        not_infinite(&row->before);
        not_infinite(&row->middle);
        not_infinite(&row->drift);
        not_infinite(&row->step);
        assert_false(isinf(row->odds_drift) || isinf(row->noticeable) ||
                     isinf(row->middle_line) || isinf(row->control_low) ||
                     isinf(row->control_high));
        assert_true(isnan(row->control_low) == isnan(row->control_high));
        if (row->verdict == BL_LIFE_CANNOT_TELL) {
            assert_nan(row->control_low);
            assert_nan(row->middle_line);
        }
        if (row->verdict == BL_LIFE_NO_CHANGE_SHOWN) {
            assert_true(isfinite(row->noticeable) &&
                        isfinite(row->control_low));
        }
        bl_life_destroy(lives);
    }
    assert_true(seen[BL_LIFE_CANNOT_TELL] > 100);
    assert_true(seen[BL_LIFE_NO_CHANGE_SHOWN] > 100);
    assert_true(seen[BL_LIFE_STEP] > 10);
    assert_true(seen[BL_LIFE_DRIFT_OR_STEP] > 10);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(covariance_is_one),
        cmocka_unit_test(unknown_kinds_share_nothing),
        cmocka_unit_test(differences_by_transducer),
        cmocka_unit_test(transducers_named_at_some_visits),
        cmocka_unit_test(groups_of_a_part),
        cmocka_unit_test(limits_allow_for_the_next_visit),
        cmocka_unit_test(nothing_is_infinite),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
