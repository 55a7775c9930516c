/* SPDX-License-Identifier: MIT */
/* Before and after: verdicts worked out by hand, then simulated visits. */
#include "life_made.h"
#include "life_plant.h"

static struct bl_life_pair judged(const struct made *m,
                                  const struct bl_life_options *options)
{
    struct bl_life_pair pair;
    struct bl_error error;
    struct bl_lives *lives = look(m, options);
    assert_int_equal(bl_life_pairs(&pair, lives, &m->life, options, &error),
                     BL_OK);
    bl_life_destroy(lives);
    return pair;
}

/* u is 12 ms sqrt 2 = 17.0 ms; t(0.975, 4) = 2.776 (any table): 47.1 ms. */
static void verdicts_by_hand(void **state)
{
    (void)state;
    static const struct {
        double then, now, within_s;
        enum bl_life_pair_verdict verdict;
    } cases[] = {
        {0.30, 0.348, 0.020, BL_LIFE_PAIR_SLOWER},
        {0.348, 0.30, 0.020, BL_LIFE_PAIR_FASTER},
        {0.30, 0.346, 0.020, BL_LIFE_PAIR_NONE_SHOWN},
        {0.30, 0.30, 0.020, BL_LIFE_PAIR_NONE_SHOWN},
        {0.30, 0.30, 0.048, BL_LIFE_PAIR_SAME},
        {0.30, 0.303, 0.048, BL_LIFE_PAIR_NONE_SHOWN},
        {0.30, 0.348, 0.060, BL_LIFE_PAIR_SMALL},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        const double y[] = {cases[i].then, cases[i].now};
        struct made m;
        struct bl_life_options options = bl_life_options_default();
        options.least_s = cases[i].within_s;
        make(&m, y, 2);
        const struct bl_life_pair pair = judged(&m, &options);
        assert_int_equal(pair.verdict, cases[i].verdict);
        assert_int_equal(pair.reason, BL_LIFE_PAIR_REASON_NONE);
    }
}

static void what_cannot_be_told(void **state)
{
    (void)state;
    static const double far[] = {0.30, 0.40};
    static const double tiny[] = {0.30, 0.31};
    struct made m;
    make(&m, far, 2);
    m.value[0].position = "front";
    assert_int_equal(judged(&m, NULL).reason,
                     BL_LIFE_PAIR_REASON_NOT_COMPARABLE);
    make(&m, far, 2);
    m.visit[0].command = "pedal";
    assert_int_equal(judged(&m, NULL).reason,
                     BL_LIFE_PAIR_REASON_NOT_COMPARABLE);
    /* Nobody wrote down where: two outputs of one unit may be 0.1 s apart. */
    make(&m, far, 2);
    m.value[0].position = m.value[1].position = NULL;
    struct bl_life_pair pair = judged(&m, NULL);
    assert_int_equal(pair.reason, BL_LIFE_PAIR_REASON_NOT_RECORDED);
    assert_true((pair.needs & 1u << BL_LIFE_FACT_POSITION) != 0);
    /* Two units more or fewer in front, by data 40 ms either way, of which 0.1
       s less 47 ms is all: 2 x 20 ms each visit. */
    make(&m, far, 2);
    m.visit[0].units_in_front = m.visit[1].units_in_front = (double)NAN;
    pair = judged(&m, NULL);
    assert_int_equal(pair.reason, BL_LIFE_PAIR_REASON_NOT_RECORDED);
    assert_true((pair.needs & 1u << BL_LIFE_FACT_IN_FRONT) != 0);
    make(&m, far, 2);
    m.value[1].value = (double)NAN;
    assert_int_equal(judged(&m, NULL).reason, BL_LIFE_PAIR_REASON_ONLY_THEN);
    make(&m, far, 2);
    m.value[0].value = (double)NAN;
    assert_int_equal(judged(&m, NULL).reason, BL_LIFE_PAIR_REASON_ONLY_NOW);
    make(&m, far, 2);
    m.series.values = 1;
    assert_int_equal(judged(&m, NULL).reason, BL_LIFE_PAIR_REASON_ONLY_THEN);
    /* Applications that scatter by more than the figure. */
    make(&m, tiny, 2);
    m.value[0].u_random = 0.3;
    assert_int_equal(judged(&m, NULL).reason, BL_LIFE_PAIR_REASON_NO_POWER);
}

/* t(0.975 / 8, 4): of eight figures one is off by 60 ms, others not at all. p
   of it alone is 0.024 and times eight 0.19. */
static void one_of_many_may_be_chance(void **state)
{
    (void)state;
    static const double y[] = {0.30, 0.36};
    struct made m;
    struct bl_life_series series[8];
    struct bl_life_value steady[2];
    struct bl_life_pair pair[8];
    struct bl_error error;
    make(&m, y, 2);
    memcpy(steady, m.value, sizeof(steady));
    steady[1].value = 0.30;
    for (size_t i = 0; i < 8; i++) {
        series[i] = m.series;
        series[i].key.figure = (enum bl_figure_name)(BL_FIGURE_RISE_START + i);
        series[i].value = i == 3 ? m.value : steady;
    }
    m.life.series = series;
    m.life.series_count = 8;
    struct bl_lives *lives = look(&m, NULL);
    assert_int_equal(bl_life_pairs(pair, lives, &m.life, NULL, &error), BL_OK);
    assert_int_equal(pair[3].verdict, BL_LIFE_PAIR_CANNOT_TELL);
    assert_int_equal(pair[3].reason, BL_LIFE_PAIR_REASON_BY_CHANCE);
    assert_near(pair[3].p_all, 0.19, 0.01);
    assert_int_equal(pair[2].verdict, BL_LIFE_PAIR_NONE_SHOWN);
    m.life.visits = 1;
    assert_int_equal(bl_life_pairs(pair, lives, &m.life, NULL, &error), BL_ARG);
    bl_life_destroy(lives);
}

/* Sound units at a second visit in another train, with other transducers and
   weather: how many have any figure called faster or slower; and of units whose
   valve was repaired meanwhile, how many are found. */
static void simulated_pairs(void **state)
{
    (void)state;
    static const struct {
        const char *name;
        struct life_plan plan;
        double false_most, found_least;
    } cases[] = {
        {"15 ms", {.spread_low_s = 0.015, .spread_high_s = 0.015}, 0.05, 0},
        {"15 ms, heavy tails",
         {.law = LIFE_HEAVY, .spread_low_s = 0.015, .spread_high_s = 0.015},
         0.05,
         0},
        {"15 ms, one in twelve three times as far",
         {.law = LIFE_WILD, .spread_low_s = 0.015, .spread_high_s = 0.015},
         0.05,
         0},
        {"15 ms, repaired: 0.3 s faster",
         {.spread_low_s = 0.015,
          .spread_high_s = 0.015,
          .step_s = -0.3,
          .step_at = 1},
         1,
         0.90},
    };
    enum { UNITS = 1000 };
    for (size_t c = 0; c < COUNT_OF(cases); c++) {
        int wrong = 0;
        int found = 0;
        for (uint64_t seed = 1; seed <= UNITS; seed++) {
            static struct life_unit unit;
            struct bl_life_pair pair[LIFE_SERIES];
            struct bl_error error;
            bool off = false;
            bool leading = false;
            life_make(&unit, &cases[c].plan, seed * 7919 + c);
            struct bl_lives *lives = life_look(&unit, 2);
            const struct bl_life life = {.visit = unit.visit,
                                         .visits = 2,
                                         .series = unit.series,
                                         .series_count = LIFE_SERIES};
            assert_int_equal(bl_life_pairs(pair, lives, &life, NULL, &error),
                             BL_OK);
            for (int i = 0; i < LIFE_SERIES; i++) {
                const bool says = pair[i].verdict == BL_LIFE_PAIR_FASTER ||
                                  pair[i].verdict == BL_LIFE_PAIR_SLOWER;
                off = off || (says && unit.planted[i] == 0);
                leading = leading || (says && life_leading(&unit, i) &&
                                      !unit.series[i].by_air);
            }
            wrong += off;
            found += leading;
            bl_life_destroy(lives);
        }
        print_message("%s: wrong in %.2f %%, found in %.1f %% of %d units\n",
                      cases[c].name, 100.0 * wrong / UNITS,
                      100.0 * found / UNITS, UNITS);
        assert_true(wrong <= cases[c].false_most * UNITS);
        assert_true(found >= cases[c].found_least * UNITS);
    }
}

/* The same of the last of several visits against the middle of those before, at
   the rate that causes are named by: 2 % of units. */
static void simulated_references(void **state)
{
    (void)state;
    static const struct life_plan sound = {.spread_low_s = 0.015,
                                           .spread_high_s = 0.015};
    static const size_t visits[] = {2, 3, 6, 12};
    struct bl_life_options options = bl_life_options_default();
    options.confidence = 1 - options.false_rate;
    enum { UNITS = 1000 };
    for (size_t v = 0; v < COUNT_OF(visits); v++) {
        int wrong = 0;
        for (uint64_t seed = 1; seed <= UNITS; seed++) {
            static struct life_unit unit;
            struct bl_life_pair pair[LIFE_SERIES];
            struct bl_error error;
            bool off = false;
            life_make(&unit, &sound, seed * 104729 + v);
            struct bl_lives *lives = life_look(&unit, visits[v]);
            const struct bl_life life = {.visit = unit.visit,
                                         .visits = visits[v],
                                         .series = unit.series,
                                         .series_count = LIFE_SERIES};
            assert_int_equal(
                bl_life_pairs(pair, lives, &life, &options, &error), BL_OK);
            for (int i = 0; i < LIFE_SERIES; i++) {
                off = off || pair[i].verdict == BL_LIFE_PAIR_FASTER ||
                      pair[i].verdict == BL_LIFE_PAIR_SLOWER;
            }
            wrong += off;
            bl_life_destroy(lives);
        }
        print_message("%zu visits: wrong in %.2f %% of %d sound units\n",
                      visits[v], 100.0 * wrong / UNITS, UNITS);
        assert_true(wrong <= 0.02 * UNITS);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(verdicts_by_hand),
        cmocka_unit_test(what_cannot_be_told),
        cmocka_unit_test(one_of_many_may_be_chance),
        cmocka_unit_test(simulated_pairs),
        cmocka_unit_test(simulated_references),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
