/* SPDX-License-Identifier: MIT */
/* The life of a unit: each part against published numbers, worked values or a
   second way to the same number. */
#include "life_made.h"

#include "base/alloc.h"
#include "base/limits.h"
#include "study/life/frame.h"

/* JCGM 100, H.3: correction of a thermometer over its readings; published:
   slope 0.00218 per degree, u 0.00067. Degrees stand for years; the usual
   spread of visits is worth nothing. */
static void drift_as_published(void **state)
{
    (void)state;
    static const double T[] = {21.521, 22.012, 22.512, 23.003, 23.507, 23.999,
                               24.513, 25.002, 25.503, 26.010, 26.511};
    static const double B[] = {-0.171, -0.169, -0.166, -0.159, -0.164, -0.165,
                               -0.156, -0.157, -0.159, -0.161, -0.160};
    struct made m;
    make(&m, B, COUNT_OF(B));
    for (size_t i = 0; i < COUNT_OF(T); i++) {
        m.visit[i].day = 365.25 * T[i];
    }
    struct bl_life_options options = bl_life_options_default();
    options.spread_dof = 1e-9;
    struct bl_lives *lives = look(&m, &options);
    const struct bl_life_change *drift = &lives->row[0].drift;
    /* Of the median of slopes: sqrt(pi / 3) more (Sen 1968). */
    assert_near(drift->u / sqrt(acos(-1.0) / 3), 0.00067, 0.000005);
    assert_near(drift->size, 0.00218, 0.00067);
    assert_near(drift->dof, 9, 1e-6);
    /* t(0.975, 9) = 2.262, any table. */
    assert_near((drift->high - drift->size) / drift->u, 2.262, 0.0005);
    bl_life_destroy(lives);
}

/* Smyth 2004, equation for s~^2: (d0 s0^2 + d s^2) / (d0 + d). */
static void spread_is_moderated(void **state)
{
    (void)state;
    static const double Y[] = {0.50, 0.52, 0.49, 0.51, 0.53};
    /* Squares about 0.51: 0.001. */
    struct made m;
    make(&m, Y, COUNT_OF(Y));
    struct bl_lives *lives = look(&m, NULL);
    assert_int_equal(lives->row[0].verdict, BL_LIFE_NO_CHANGE_SHOWN);
    assert_near(lives->row[0].spread_dof, 8, 1e-9);
    assert_near(lives->row[0].spread, sqrt((4 * 0.000144 + 0.001) / 8), 1e-9);
    bl_life_destroy(lives);
}

/* Two visits: the usual spread alone, 2.776 = t(0.975, 4). */
static void two_visits_differ(void **state)
{
    (void)state;
    static const double Y[] = {0.40, 0.43};
    struct made m;
    make(&m, Y, COUNT_OF(Y));
    struct bl_lives *lives = look(&m, NULL);
    const struct bl_life_row *row = &lives->row[0];
    assert_near(row->before.size, 0.03, 1e-12);
    assert_near(row->before.u, 0.012 * sqrt(2.0), 1e-12);
    assert_near(row->before.high - row->before.size, 2.776 * row->before.u,
                1e-5);
    assert_int_equal(row->verdict, BL_LIFE_CANNOT_TELL);
    assert_int_equal(row->more_visits, 1);
    assert_int_equal(lives->looked_at, 0);
    assert_nan(row->p_life);
    assert_false(row->drift.known);
    assert_nan(row->control_low);
    bl_life_destroy(lives);
}

/* What all visits share drops out of a difference; another transducer comes in
   with its own. */
static void transducers_count_once(void **state)
{
    (void)state;
    static const double Y[] = {0.40, 0.40, 0.45, 0.45};
    struct bl_life_options options = bl_life_options_default();
    options.spread_s = 0.010;
    options.spread_dof = 1e9; /* known to be 10 ms */
    struct made m;
    make(&m, Y, COUNT_OF(Y));
    for (size_t i = 0; i < 4; i++) {
        m.value[i].u_systematic = 0.030;
    }
    struct bl_lives *lives = look(&m, &options);
    assert_int_equal(lives->row[0].step_at, 2);
    assert_near(lives->row[0].step.u, 0.010, 1e-9);
    bl_life_destroy(lives);
    m.value[2].transducer = m.value[3].transducer = "b";
    lives = look(&m, &options);
    assert_near(lives->row[0].step.u, sqrt(0.0001 + 2 * 0.030 * 0.030), 1e-9);
    assert_near(lives->row[0].before.u, 0.010 * sqrt(2.0), 1e-9);
    bl_life_destroy(lives);
    /* Names are not known: one set before the step and another after it would
       be the same as above, so the stated half-widths of both are allowed for:
       sqrt 3 of u (GUM 4.3.7). */
    for (size_t i = 0; i < 4; i++) {
        m.value[i].transducer = NULL;
    }
    lives = look(&m, &options);
    assert_near(lives->row[0].step.u, 0.010, 1e-9);
    assert_near(lives->row[0].step.allowance, 2 * sqrt(3.0) * 0.030, 1e-9);
    assert_int_equal(lives->row[0].needs, 1u << BL_LIFE_FACT_TRANSDUCER);
    bl_life_destroy(lives);
}

/* Errors that are not stated: 20 ms of each transducer may be in it. */
static void unstated_errors_are_allowed_for(void **state)
{
    (void)state;
    static const double Y[] = {0.40, 0.40, 0.40, 0.50, 0.50, 0.50};
    struct made m;
    make(&m, Y, COUNT_OF(Y));
    for (size_t i = 0; i < 6; i++) {
        m.value[i].u_systematic = (double)NAN;
    }
    struct bl_lives *lives = look(&m, NULL);
    assert_near(lives->row[0].step.allowance, 0, 1e-12);
    assert_int_equal(lives->row[0].needs, 0);
    assert_int_equal(lives->row[0].verdict, BL_LIFE_STEP);
    bl_life_destroy(lives);
    for (size_t i = 3; i < 6; i++) {
        m.value[i].transducer = "b";
    }
    lives = look(&m, NULL);
    assert_near(lives->row[0].step.allowance, 0.040, 1e-9);
    assert_int_equal(lives->row[0].needs, 1u << BL_LIFE_FACT_TRANSDUCER);
    bl_life_destroy(lives);
}

/* A step that supply and temperature could have made, were it not known what
   they were. */
static void facts_not_recorded_leave_it_open(void **state)
{
    (void)state;
    static const double Y[] = {0.400, 0.403, 0.398, 0.402,
                               0.520, 0.518, 0.523, 0.521};
    struct made m;
    make(&m, Y, COUNT_OF(Y));
    struct bl_lives *lives = look(&m, NULL);
    const struct bl_life_row *row = &lives->row[0];
    assert_int_equal(row->verdict, BL_LIFE_STEP);
    assert_int_equal(row->step_at, 4);
    assert_near(row->step.size, 0.11975, 0.001);
    /* From the step on: 0.5205. */
    assert_near(row->middle_line, 0.5205, 1e-9);
    bl_life_destroy(lives);
    for (size_t i = 0; i < 8; i++) {
        m.visit[i].supply_kpa = m.visit[i].temperature_c = (double)NAN;
    }
    lives = look(&m, NULL);
    row = &lives->row[0];
    assert_int_equal(row->verdict, BL_LIFE_CANNOT_TELL);
    assert_int_equal(row->needs, 1u << BL_LIFE_FACT_SUPPLY |
                                     1u << BL_LIFE_FACT_TEMPERATURE);
    assert_true(row->p_life > 0.02);
    /* 100 of 851 kPa and 20 of 288 K, on both sides of the step. */
    assert_near(row->step.allowance,
                2 * 0.460625 * hypot(100 / 851.325, 20 / 288.15), 1e-6);
    bl_life_destroy(lives);
    /* Recorded and the same: nothing is allowed for. */
    make(&m, Y, COUNT_OF(Y));
    m.visit[0].supply_kpa = (double)NAN;
    lives = look(&m, NULL);
    assert_near(lives->row[0].step.allowance, 0.25 * 0.460625 * 100 / 851.325,
                1e-6);
    bl_life_destroy(lives);
}

/* Another position or command: not compared, and said. */
static void other_positions_are_left_out(void **state)
{
    (void)state;
    static const double Y[] = {0.7, 0.4, 0.41, (double)NAN, 0.9, 0.4};
    struct made m;
    make(&m, Y, COUNT_OF(Y));
    m.value[0].position = "front";
    m.visit[4].command = "brake switch";
    struct bl_lives *lives = look(&m, NULL);
    const struct bl_life_row *row = &lives->row[0];
    assert_int_equal(row->points, 3);
    assert_int_equal(row->point[0].visit, 1);
    assert_int_equal(row->point[2].visit, 5);
    assert_int_equal(row->lefts, 2);
    assert_int_equal(row->left[0].visit, 0);
    assert_int_equal(row->left[0].why, BL_LIFE_FACT_POSITION);
    assert_int_equal(row->left[1].visit, 4);
    assert_int_equal(row->left[1].why, BL_LIFE_FACT_COMMAND);
    assert_int_equal(row->verdict, BL_LIFE_NO_CHANGE_SHOWN);
    bl_life_destroy(lives);
    /* Known at none of them: it may be anywhere. */
    for (size_t i = 0; i < 6; i++) {
        m.value[i].position = i % 2 == 0 ? NULL : "";
    }
    lives = look(&m, NULL);
    assert_int_equal(lives->row[0].verdict, BL_LIFE_CANNOT_TELL);
    assert_true(lives->row[0].needs & 1u << BL_LIFE_FACT_POSITION);
    assert_false(lives->row[0].before.known);
    bl_life_destroy(lives);
    for (size_t i = 0; i < 6; i++) {
        m.value[i].value = (double)NAN;
    }
    lives = look(&m, NULL);
    assert_int_equal(lives->row[0].points, 0);
    assert_int_equal(lives->row[0].more_visits, 3);
    bl_life_destroy(lives);
}

/* Recorded facts: half of what they may make is taken off. */
static void recorded_facts_are_taken_off(void **state)
{
    (void)state;
    static const double Y[] = {0.5, 0.5, 0.5, 0.5};
    struct made m;
    make(&m, Y, COUNT_OF(Y));
    struct bl_life_frame *f = bl_alloc(1, sizeof(*f));
    struct bl_life_left left[4];
    struct bl_life_row row = {.left = left};
    m.value[3].command_rise_s = 0.25;
    bl_life_compare(f, &row, &m.life, &m.series);
    assert_near(f->y[3] - f->y[0], -0.05, 1e-12);
    /* (0.1 * 3/4)^2 / 12 */
    assert_near(f->shared[3][3], 0.075 * 0.075 / 12 + 0.02 * 0.02 / 12, 1e-12);
    make(&m, Y, COUNT_OF(Y));
    m.visit[3].units_in_front = 3;
    m.series.by_air = true;
    bl_life_compare(f, &row, &m.life, &m.series);
    assert_near(f->y[3] - f->y[0], -0.3, 1e-12);
    m.series.by_air = false;
    bl_life_compare(f, &row, &m.life, &m.series);
    assert_near(f->y[3] - f->y[0], -0.02, 1e-12);
    /* Twice the supply: between nothing and half the time (of mean supply). */
    make(&m, Y, COUNT_OF(Y));
    m.visit[2].supply_kpa = m.visit[3].supply_kpa = 2 * 800 + 101.325;
    bl_life_compare(f, &row, &m.life, &m.series);
    assert_near(f->y[3] - f->y[0], 0.5 * 0.5 / 1.5, 1e-12);
    bl_free(f);
}

/* Control limits of a steady life by the textbook: mean and t of the next. */
static void control_limits(void **state)
{
    (void)state;
    static const double Y[] = {0.50, 0.52, 0.49, 0.51, 0.53};
    struct made m;
    make(&m, Y, COUNT_OF(Y));
    struct bl_life_options options = bl_life_options_default();
    options.spread_dof = 1e-9;
    struct bl_lives *lives = look(&m, &options);
    const struct bl_life_row *row = &lives->row[0];
    assert_near(row->middle_line, 0.51, 1e-12);
    /* s sqrt(1 + 1/5), t(0.99865, 4) = 6.620 (tables of prediction limits). */
    assert_near(row->control_high - 0.51, 6.620 * sqrt(0.001 / 4) * sqrt(1.2),
                2e-4);
    assert_near(row->control_low + row->control_high, 1.02, 1e-9);
    bl_life_destroy(lives);
}

/* A drift, a step and a last visit apart are told from each other. */
static void kinds_of_change(void **state)
{
    (void)state;
    static const struct {
        double y[8];
        enum bl_life_verdict verdict;
    } CASE[] = {
        {{.40, .45, .50, .55, .60, .65, .70, .75}, BL_LIFE_DRIFT},
        {{.75, .70, .65, .60, .55, .50, .45, .40}, BL_LIFE_DRIFT},
        {{.40, .40, .40, .55, .55, .55, .55, .55}, BL_LIFE_STEP},
        {{.40, .41, .40, .39, .40, .40, .41, .70}, BL_LIFE_LAST_APART},
        {{.40, .41, .40, .39, .40, .40, .41, .40}, BL_LIFE_NO_CHANGE_SHOWN},
    };
    for (size_t i = 0; i < COUNT_OF(CASE); i++) {
        struct made m;
        make(&m, CASE[i].y, 8);
        struct bl_lives *lives = look(&m, NULL);
        if (lives->row[0].verdict != CASE[i].verdict) {
            print_error("case %zu: %s\n", i,
                        bl_life_verdict_name(lives->row[0].verdict));
            fail();
        }
        bl_life_destroy(lives);
    }
}

/* Surely there, but less than counts. */
static void small_changes_are_small(void **state)
{
    (void)state;
    static const double Y[] = {.400, .400, .400, .400, .415,
                               .415, .415, .415, .415, .415};
    struct bl_life_options options = bl_life_options_default();
    options.spread_s = 0.001;
    struct made m;
    make(&m, Y, COUNT_OF(Y));
    struct bl_lives *lives = look(&m, &options);
    assert_true(lives->row[0].p_life < 0.02);
    assert_int_equal(lives->row[0].verdict, BL_LIFE_SMALL);
    bl_life_destroy(lives);
    options.least_s = 0.010;
    lives = look(&m, &options);
    assert_int_equal(lives->row[0].verdict, BL_LIFE_STEP);
    bl_life_destroy(lives);
}

/* p of a life: both ways of changing, 28 looks' worth at eight visits, and
   Holm over the series. */
static void p_counts_what_was_tried(void **state)
{
    (void)state;
    static const double Y[] = {.40, .42, .41, .44, .46, .45, .48, .50};
    static const double FLAT[] = {.40, .40, .41, .40, .40, .41, .40, .40};
    struct made m;
    struct made other;
    make(&m, Y, 8);
    make(&other, FLAT, 8);
    struct bl_lives *alone = look(&m, NULL);
    const struct bl_life_row *row = &alone->row[0];
    const double single = fmin(row->drift.p, row->step.p);
    assert_near(row->p, 2 * single, 1e-12);
    assert_near(row->p_life, fmin(1, 2 * 28 * single), 1e-12);
    /* Two visits more, of another position: they were looked at, too. */
    static const double MOVED[] = {.70, .70, .40, .42, .41,
                                   .44, .46, .45, .48, .50};
    struct made moved;
    make(&moved, MOVED, 10);
    moved.value[0].position = moved.value[1].position = "front";
    struct bl_lives *after = look(&moved, NULL);
    assert_int_equal(after->row[0].lefts, 2);
    assert_near(after->row[0].p, row->p, 1e-9);
    assert_near(after->row[0].p_life, fmin(1, 45 * row->p), 1e-9);
    assert_true(after->row[0].noticeable > row->noticeable);
    bl_life_destroy(after);
    const struct bl_life_series both[] = {m.series, other.series};
    m.life.series = both;
    m.life.series_count = 2;
    struct bl_lives *two = look(&m, NULL);
    assert_int_equal(two->looked_at, 2);
    assert_near(two->row[0].p_life, fmin(1, 2 * row->p_life), 1e-12);
    /* What could have been noticed is what p_life would have allowed. */
    assert_true(two->row[0].noticeable > row->noticeable);
    bl_life_destroy(alone);
    bl_life_destroy(two);
}

static void old_visits_are_passed_over(void **state)
{
    (void)state;
    double y[MOST];
    for (size_t i = 0; i < MOST; i++) {
        y[i] = i < 20 ? 0.7 : 0.4 + 0.001 * (double)(i % 3);
    }
    struct made m;
    make(&m, y, MOST);
    struct bl_lives *lives = look(&m, NULL);
    assert_int_equal(lives->row[0].points, BL_LIMIT_LIFE_VISITS);
    assert_int_equal(lives->row[0].older, MOST - BL_LIMIT_LIFE_VISITS);
    assert_int_equal(lives->row[0].point[0].visit, MOST - BL_LIMIT_LIFE_VISITS);
    assert_int_equal(lives->row[0].verdict, BL_LIFE_NO_CHANGE_SHOWN);
    bl_life_destroy(lives);
}

/* The worked example of docs/methods/life.md, by hand: slope of least squares
   0.0994, squares of the residuals 0.001482, of the years 4.375. */
static void worked_example(void **state)
{
    (void)state;
    static const double Y[] = {.40, .47, .50, .52, .61, .66};
    struct made m;
    make(&m, Y, 6);
    struct bl_lives *lives = look(&m, NULL);
    const struct bl_life_row *row = &lives->row[0];
    assert_int_equal(row->verdict, BL_LIFE_DRIFT);
    /* Of 17.5 years between pairs, 8.5 have slopes below and 6.5 above. */
    assert_near(row->drift.size, 0.104, 1e-9);
    assert_near(row->drift.u, 0.0078472, 1e-6);
    assert_near(row->drift.high - row->drift.size, 2.306 * 0.0078472, 1e-5);
    print_message("p %.3g, of a life %.3g\n", row->drift.p, row->p_life);
    bl_life_destroy(lives);
}

/* Later values, another year or the other sign change nothing but that. */
static void same_life_otherwise_written(void **state)
{
    (void)state;
    static const double Y[] = {.40, .47, .50, .52, .61, .66};
    struct made m;
    make(&m, Y, 6);
    struct bl_lives *first = look(&m, NULL);
    for (size_t i = 0; i < 6; i++) {
        m.visit[i].day += 20000;
        m.value[i].value = 3 - Y[i];
        /* Shares of a time are of its mean. */
    }
    struct bl_lives *second = look(&m, NULL);
    const struct bl_life_row *a = &first->row[0];
    const struct bl_life_row *b = &second->row[0];
    assert_int_equal(a->verdict, b->verdict);
    assert_near(a->drift.size, -b->drift.size, 1e-9);
    assert_near(a->drift.u, b->drift.u, 1e-9);
    assert_near(a->before.size, -b->before.size, 1e-9);
    assert_near(a->middle.high, -b->middle.low, 1e-9);
    assert_near(a->p_life, b->p_life, 1e-9);
    bl_life_destroy(first);
    bl_life_destroy(second);
}

/* The message has the words, so that it names what is wrong. */
static void refused(const struct made *m, const struct bl_life_options *options,
                    enum bl_status status, const char *words)
{
    struct bl_error error;
    bl_error_clear(&error);
    assert_null(bl_life_create(&m->life, options, &error));
    assert_int_equal(error.status, status);
    if (strstr(error.message, words) == NULL) {
        print_error("expected \"%s\" in \"%s\"\n", words, error.message);
        fail();
    }
}

static void wrong_input_is_refused(void **state)
{
    (void)state;
    static const double Y[] = {.40, .41, .40};
    struct made good;
    make(&good, Y, 3);
    struct made m = good;
#define AGAIN()                                                                \
    (m = good, m.series.value = m.value, m.life.visit = m.visit,               \
     m.life.series = &m.series)
    AGAIN();
    m.visit[1].day = 1e6;
    refused(&m, NULL, BL_ARG, "found visit 3 before visit 2");
    AGAIN();
    m.visit[1].day = (double)NAN;
    refused(&m, NULL, BL_ARG, "visit 2: expected day from -10000000 to");
    AGAIN();
    m.visit[2].temperature_c = -280;
    refused(&m, NULL, BL_ARG,
            "visit 3: expected temperature_c from -200 to 200, found -280");
    AGAIN();
    m.value[2].visit = 1;
    refused(&m, NULL, BL_ARG, "found visit 2 after 2");
    AGAIN();
    m.value[2].visit = 3;
    refused(&m, NULL, BL_ARG, "expected one of 3 visits, found visit 4");
    AGAIN();
    m.value[0].u_random = (double)NAN;
    refused(&m, NULL, BL_ARG, "series 1, visit 1: expected u_random from 0");
    AGAIN();
    m.value[0].u_systematic = -1;
    refused(&m, NULL, BL_ARG, "u_systematic from 0 to 10000, found -1");
    AGAIN();
    m.value[0].value = (double)INFINITY;
    refused(&m, NULL, BL_ARG, "expected value from -10000 to 10000");
    AGAIN();
    m.life.series_count = BL_LIMIT_LIFE_SERIES + 1;
    refused(&m, NULL, BL_LIMIT, "at most");
    AGAIN();
    m.life.visits = BL_LIMIT_LIFE_KNOWN + 1;
    refused(&m, NULL, BL_LIMIT, "at most");
    AGAIN();
    struct bl_life_options options = bl_life_options_default();
    options.spread_s = 0;
    refused(&m, &options, BL_ARG,
            "option spread_s: expected a number above 0, found 0");
    options = bl_life_options_default();
    options.false_rate = 1;
    refused(&m, &options, BL_ARG,
            "option false_rate: expected a number between");
    options = bl_life_options_default();
    options.odds = 0.5;
    refused(&m, &options, BL_ARG, "option odds: expected 1 or more, found 0.5");
    options = bl_life_options_default();
    options.least_s = -1;
    refused(&m, &options, BL_ARG, "option least_s: expected 0 or more");
    bl_life_destroy(NULL);
}

static double any_number(void)
{
    static const double ODD[] = {0, 1e-300, 1e-12, 0.4, 0.4, 0.41, 1, 90, 1e4};
    static uint32_t state = 1;
    state = state * 1664525 + 1013904223; /* Knuth; Numerical Recipes */
    return ODD[state / 65536 % COUNT_OF(ODD)];
}

/* Whatever numbers stand there: an answer, and no change that is not one. */
static void odd_numbers_end(void **state)
{
    (void)state;
    static const double Y[12];
    struct made m;
    for (int round = 0; round < 3000; round++) {
        make(&m, Y, COUNT_OF(Y));
        double day = 0;
        for (size_t i = 0; i < COUNT_OF(Y); i++) {
            day += any_number();
            m.visit[i].day = day;
            m.visit[i].supply_kpa = any_number();
            m.visit[i].temperature_c = fmin(any_number(), 100);
            m.visit[i].units_in_front = fmin(any_number(), 100);
            m.value[i].value = any_number() > 80 ? (double)NAN : any_number();
            m.value[i].u_random = any_number();
            m.value[i].u_systematic =
                any_number() > 80 ? (double)NAN : any_number();
            m.value[i].transducer = any_number() > 0.4 ? "a" : NULL;
            m.value[i].command_rise_s = any_number();
        }
        struct bl_lives *lives = look(&m, NULL);
        const struct bl_life_row *row = &lives->row[0];
        const bool looked = lives->looked_at == 1;
        const double days =
            row->points == 0 ? 0
                             : m.visit[row->point[row->points - 1].visit].day -
                                   m.visit[row->point[0].visit].day;
        assert_int_equal(looked, row->points >= 3 && days > 1);
        assert_true(!looked || (row->p_life >= 0 && row->p_life <= 1));
        assert_true((row->verdict == BL_LIFE_CANNOT_TELL) ==
                    (row->reason != BL_LIFE_REASON_NONE));
        assert_true(row->verdict != BL_LIFE_NO_CHANGE_SHOWN ||
                    isfinite(row->noticeable));
        assert_false(isinf(row->odds_drift));
        assert_true(!row->before.known || row->before.u > 0);
        bl_life_destroy(lives);
    }
}

static void memory_ends(void **state)
{
    (void)state;
    static const double Y[] = {.40, .41, .40, .5};
    struct made m;
    make(&m, Y, 4);
    bl_alloc_fail_at(0); /* counts from here */
    struct bl_lives *lives = look(&m, NULL);
    const uint64_t needed = bl_alloc_count();
    bl_life_destroy(lives);
    assert_true(needed > 5);
    for (uint64_t i = 1; i <= needed; i++) {
        struct bl_error error;
        bl_error_clear(&error);
        bl_alloc_fail_at(i);
        lives = bl_life_create(&m.life, NULL, &error);
        bl_alloc_fail_at(0);
        assert_null(lives);
        assert_int_equal(error.status, BL_NOMEM);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(drift_as_published),
        cmocka_unit_test(spread_is_moderated),
        cmocka_unit_test(two_visits_differ),
        cmocka_unit_test(transducers_count_once),
        cmocka_unit_test(unstated_errors_are_allowed_for),
        cmocka_unit_test(facts_not_recorded_leave_it_open),
        cmocka_unit_test(other_positions_are_left_out),
        cmocka_unit_test(recorded_facts_are_taken_off),
        cmocka_unit_test(control_limits),
        cmocka_unit_test(kinds_of_change),
        cmocka_unit_test(small_changes_are_small),
        cmocka_unit_test(p_counts_what_was_tried),
        cmocka_unit_test(old_visits_are_passed_over),
        cmocka_unit_test(worked_example),
        cmocka_unit_test(same_life_otherwise_written),
        cmocka_unit_test(wrong_input_is_refused),
        cmocka_unit_test(odd_numbers_end),
        cmocka_unit_test(memory_ends),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
