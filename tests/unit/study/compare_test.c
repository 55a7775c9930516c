/* SPDX-License-Identifier: MIT */
/*
 * Comparison of conditions on values with known answers: the worked set of
 * eight pairs (median of Walsh averages 371.5 ms, interval [365.5, 378.5] at
 * 96.1 %, p = 2/256: exact enumeration, Hollander and Wolfe, "Nonparametric
 * statistical methods", 3.1 to 3.3) and facts of the trade.
 */
#include "study/compare/compare.h"
#include "testing.h"

#include "brakelag/compare.h"

enum { VALUES = 8, RUNS = 3, UNITS = 2 };

static const double unpowered_ms[VALUES] = {612, 598, 634, 607,
                                            621, 603, 640, 615};
static const double powered_ms[VALUES] = {241, 238, 252, 236,
                                          249, 240, 255, 243};

/* Three runs (unpowered, powered, reference) of one combination whose units 0
   and 1 respond as given. */
struct fixture {
    struct bl_trial trial;
    struct bl_trial_unit unit[UNITS];
    struct bl_trial_run run[RUNS];
    double speed[1];
    struct bl_run_lag lag[RUNS];
    struct bl_run_lag *list[RUNS];
    struct bl_application application[RUNS][VALUES];
    struct bl_unit_lag of[RUNS][VALUES][UNITS];
};

static void set(struct fixture *f, size_t run, size_t unit, size_t i,
                double value_s, double u_clock_s)
{
    struct bl_unit_lag *u = &f->of[run][i][unit];
    u->unit = unit;
    u->figure[BL_FIGURE_RESPONSE] =
        (struct bl_figure){.known = true, .s = value_s, .u_s = 0.001};
    u->figure[BL_FIGURE_RESPONSE].part.clock = u_clock_s;
}

static void start(struct fixture *f, bool blocks)
{
    memset(f, 0, sizeof(*f));
    static char *names[RUNS] = {(char *)"unpowered", (char *)"powered",
                                (char *)"tee"};
    f->speed[0] = 100;
    f->trial.path = (char *)"made.ini";
    f->trial.speed_kmh = f->speed;
    f->trial.speeds = 1;
    f->trial.unit = f->unit;
    f->trial.units = UNITS;
    f->trial.run = f->run;
    f->trial.runs = RUNS;
    for (size_t u = 0; u < UNITS; u++) {
        f->unit[u].combination = 'A';
        f->unit[u].number = (int)u;
        f->unit[u].outputs = 1;
    }
    f->unit[0].command.text = (char *)"treadle";
    f->unit[0].command.kind = BL_INPUT_CHANNEL;
    for (size_t r = 0; r < RUNS; r++) {
        f->run[r].name = names[r];
        f->run[r].condition = names[r];
        f->run[r].block = blocks ? (char *)"1" : NULL;
        f->lag[r] = (struct bl_run_lag){.run = r,
                                        .application = f->application[r],
                                        .applications = VALUES,
                                        .t0_ns = (int64_t)r};
        f->list[r] = &f->lag[r];
        for (size_t i = 0; i < VALUES; i++) {
            f->application[r][i] =
                (struct bl_application){.number = (int)i + 1,
                                        .combination = 'A',
                                        .kind = BL_KIND_FULL,
                                        .shape = BL_SHAPE_STEP,
                                        .unit = f->of[r][i],
                                        .units = UNITS};
            const double values[RUNS] = {unpowered_ms[i] / 1000,
                                         powered_ms[i] / 1000, 0.05};
            set(f, r, 0, i, 0.1, 0);
            set(f, r, 1, i, values[r], 0);
        }
    }
}

static struct bl_comparison *compared(struct fixture *f,
                                      struct bl_compare_options *options)
{
    struct bl_error error;
    struct bl_comparison *c = NULL;
    if (bl_compare(&c, &f->trial, f->list, options, &error) != BL_OK) {
        fail_msg("%s", error.message);
    }
    return c;
}

static const struct bl_comparison_row *response_of(struct bl_comparison *c,
                                                   size_t unit)
{
    for (size_t i = 0; i < c->rows; i++) {
        if (c->row[i].unit == unit && c->row[i].figure == BL_FIGURE_RESPONSE &&
            c->row[i].n_against > 0) {
            return &c->row[i];
        }
    }
    fail_msg("no row for unit %zu", unit);
    return NULL;
}

static void eight_pairs_give_the_worked_answer(void **state)
{
    (void)state;
    struct fixture f;
    start(&f, true);
    struct bl_compare_options o = bl_compare_options_default();
    struct bl_comparison *c = compared(&f, &o);
    const struct bl_comparison_row *row = response_of(c, 1);
    assert_true(row->paired);
    assert_int_equal(row->shift.n_base, 8);
    assert_near(row->difference_s, -0.3715, 1e-12);
    assert_near(row->low_s, -0.3785, 1e-12);
    assert_near(row->high_s, -0.3655, 1e-12);
    assert_near(row->shift.confidence, 1 - 10.0 / 256, 1e-12);
    assert_near(row->shift.p, 2.0 / 256, 1e-12);
    /* Of one run a side: what it says is of these runs. */
    assert_int_equal(row->scope, BL_SCOPE_THESE_RUNS);
    assert_int_equal(row->verdict, BL_VERDICT_RUN_MORE);
    assert_int_equal(row->of_runs.more_base, 2);
    assert_int_equal(row->of_runs.more_against, 2);
    assert_near(row->of_runs.least_s, -0.385, 1e-12);
    assert_near(row->of_runs.most_s, -0.360, 1e-12);
    /* v t: 100 km/h is 27.778 m/s */
    assert_near(row->travel[0].m, -0.3715 * 100 / 3.6, 1e-9);
    bl_comparison_destroy(c);
}

static void swapping_the_conditions_turns_the_sign_only(void **state)
{
    (void)state;
    struct fixture f;
    start(&f, false);
    struct bl_compare_options o = bl_compare_options_default();
    struct bl_comparison *one = compared(&f, &o);
    o.base = "powered";
    o.against = "unpowered";
    struct bl_comparison *other = compared(&f, &o);
    const struct bl_comparison_row *a = response_of(one, 1);
    const struct bl_comparison_row *b = response_of(other, 1);
    assert_false(a->paired);
    assert_near(a->difference_s, -b->difference_s, 1e-12);
    assert_near(a->low_s, -b->high_s, 1e-12);
    assert_near(a->shift.p, b->shift.p, 1e-12);
    bl_comparison_destroy(one);
    bl_comparison_destroy(other);
}

static void few_values_ask_for_more_runs(void **state)
{
    (void)state;
    struct fixture f;
    start(&f, true);
    for (size_t r = 0; r < RUNS; r++) {
        f.lag[r].applications = 5; /* 2/2^5 = 0.0625 is above 5 % */
    }
    struct bl_compare_options o = bl_compare_options_default();
    struct bl_comparison *c = compared(&f, &o);
    const struct bl_comparison_row *row = response_of(c, 1);
    assert_near(row->shift.p_smallest, 0.0625, 1e-12);
    assert_int_equal(row->verdict, BL_VERDICT_RUN_MORE);
    bl_comparison_destroy(c);
}

static void the_clock_of_each_run_widens_the_interval(void **state)
{
    (void)state;
    struct fixture f;
    start(&f, true);
    for (size_t i = 0; i < VALUES; i++) {
        f.of[0][i][1].figure[BL_FIGURE_RESPONSE].part.clock = 0.003;
        f.of[1][i][1].figure[BL_FIGURE_RESPONSE].part.clock = 0.004;
    }
    struct bl_compare_options o = bl_compare_options_default();
    struct bl_comparison *c = compared(&f, &o);
    const struct bl_comparison_row *row = response_of(c, 1);
    assert_near(row->u_systematic_s, 0.005, 1e-12);
    /* 7 ms of the rank interval, 2 x 5 ms of the clocks */
    assert_near(row->low_s, -0.3715 - hypot(0.007, 0.010), 1e-12);
    bl_comparison_destroy(c);
}

/* Common practice: 0.734 s less 0.081 s of the measuring chains is 0.653 s,
   18.14 m at 100 km/h; 1.495 s against 0.209 s is 1.286 s, 35.72 m. */
static void facts_of_the_trade_come_out(void **state)
{
    (void)state;
    struct fixture f;
    start(&f, false);
    for (size_t i = 0; i < VALUES; i++) {
        set(&f, 1, 0, i, 0.209, 0);
        set(&f, 1, 1, i, 0.209 + 0.734, 0);
        set(&f, 2, 0, i, 0.300, 0);
        set(&f, 2, 1, i, 0.381, 0);
        set(&f, 0, 1, i, 0.209, 0);
        set(&f, 0, 0, i, 1.495, 0);
    }
    struct bl_compare_options o = {.mode = BL_COMPARE_UNITS,
                                   .base = "powered",
                                   .unit_base = 0,
                                   .unit_against = 1,
                                   .reference = "tee"};
    struct bl_comparison *c = compared(&f, &o);
    const struct bl_comparison_row *row = response_of(c, 1);
    assert_near(row->reference_s, 0.081, 1e-9);
    assert_near(row->difference_s, 0.653, 1e-9);
    assert_near(row->travel[0].m, 18.14, 0.005);
    bl_comparison_destroy(c);
    o.reference = "81 ms +- 5 ms";
    c = compared(&f, &o);
    row = response_of(c, 1);
    assert_near(row->difference_s, 0.653, 1e-9);
    assert_near(row->u_reference_s, 0.005 / sqrt(3), 1e-12);
    bl_comparison_destroy(c);
    o = (struct bl_compare_options){.mode = BL_COMPARE_UNITS,
                                    .base = "unpowered",
                                    .unit_base = 1,
                                    .unit_against = 0};
    c = compared(&f, &o);
    row = response_of(c, 0);
    assert_near(row->difference_s, 1.286, 1e-9);
    assert_near(row->travel[0].m, 35.72, 0.005);
    bl_comparison_destroy(c);
}

static void what_cannot_be_compared_is_refused_by_name(void **state)
{
    (void)state;
    struct fixture f;
    start(&f, false);
    struct bl_error error;
    struct bl_comparison *c;
    struct bl_compare_options o = {.base = "wet"};
    assert_int_equal(bl_compare(&c, &f.trial, f.list, &o, &error), BL_TRIAL);
    assert_non_null(strstr(error.message, "'wet'"));
    assert_non_null(strstr(error.message, "'powered'"));
    o.base = NULL;
    o.reference = "some time";
    assert_int_equal(bl_compare(&c, &f.trial, f.list, &o, &error), BL_ARG);
    /* a second combination with another command */
    f.unit[1].combination = 'B';
    f.unit[1].number = 0;
    f.unit[1].command.text = (char *)"pedal";
    f.unit[1].command.kind = BL_INPUT_CHANNEL;
    o = (struct bl_compare_options){
        .mode = BL_COMPARE_UNITS, .unit_base = 0, .unit_against = 1};
    assert_int_equal(bl_compare(&c, &f.trial, f.list, &o, &error), BL_ARG);
    assert_non_null(strstr(error.message, "not comparable"));
}

/* Options that are all zero are the two conditions, and never one unit beside
   itself; nor is that done where it is asked for. */
static void no_unit_is_compared_with_itself(void **state)
{
    (void)state;
    struct fixture f;
    start(&f, true);
    struct bl_compare_options o = {0};
    struct bl_comparison *zero = compared(&f, &o);
    assert_false(zero->two_units);
    assert_near(response_of(zero, 1)->difference_s, -0.3715, 1e-12);
    assert_near(zero->confidence, 0.95, 1e-12);
    bl_comparison_destroy(zero);
    struct bl_comparison *none = compared(&f, NULL);
    assert_near(response_of(none, 1)->difference_s, -0.3715, 1e-12);
    bl_comparison_destroy(none);
    struct bl_error error;
    struct bl_comparison *c;
    o.mode = BL_COMPARE_UNITS;
    assert_int_equal(bl_compare(&c, &f.trial, f.list, &o, &error), BL_ARG);
    assert_non_null(strstr(error.message, "two different"));
    o.unit_against = f.trial.units;
    assert_int_equal(bl_compare(&c, &f.trial, f.list, &o, &error), BL_ARG);
}

/* Unit 0 answers after 0.1 s always, unit 1 later in all but one. */
static void counts_how_often_the_order_repeats(void **state)
{
    (void)state;
    struct fixture f;
    start(&f, true);
    set(&f, 1, 1, 3, 0.05, 0);
    f.application[1][6].excluded = true;
    f.of[1][7][1].figure[BL_FIGURE_RESPONSE].known = false;
    f.of[1][7][1].figure[BL_FIGURE_RESPONSE].reason = BL_REASON_DID_NOT_RESPOND;
    for (size_t i = 0; i < VALUES; i++) {
        f.of[1][i][0].figure[BL_FIGURE_APPLY_75].reason = BL_REASON_NO_CHANNEL;
        f.of[1][i][1].figure[BL_FIGURE_APPLY_75].reason = BL_REASON_NO_CHANNEL;
    }
    const struct bl_run_lag *one = f.list[1];
    struct bl_order *order;
    size_t count;
    assert_int_equal(bl_orders_find(&order, &count, &f.trial, &one, 1, NULL),
                     BL_OK);
    assert_int_equal(count, 1);
    assert_int_equal(order->figure, BL_FIGURE_RESPONSE);
    assert_int_equal(order->n, 6);
    assert_int_equal(order->without, 1);
    assert_int_equal(order->repeats, 5);
    assert_int_equal(order->units, 2);
    assert_int_equal(order->unit[0], 0);
    assert_int_equal(order->unit[1], 1);
    assert_int_equal(order->close, 0);
    bl_orders_destroy(order, count);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(eight_pairs_give_the_worked_answer),
        cmocka_unit_test(swapping_the_conditions_turns_the_sign_only),
        cmocka_unit_test(few_values_ask_for_more_runs),
        cmocka_unit_test(the_clock_of_each_run_widens_the_interval),
        cmocka_unit_test(facts_of_the_trade_come_out),
        cmocka_unit_test(no_unit_is_compared_with_itself),
        cmocka_unit_test(counts_how_often_the_order_repeats),
        cmocka_unit_test(what_cannot_be_compared_is_refused_by_name),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
