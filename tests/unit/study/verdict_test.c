/* SPDX-License-Identifier: MIT */
/* Measured times against the band of a prediction: what counts as beyond it. */
#include "testing.h"

#include "study/predict/figures.h"

/* Definition: with U = 2u wholly in the band, beyond it, or neither. */
static void judges_by_the_expanded_uncertainty(void **state)
{
    (void)state;
    assert_int_equal(bl_predict_judge(0.30, 0.01, 0.279, 0.321),
                     BL_PREDICT_INSIDE);
    assert_int_equal(bl_predict_judge(0.30, 0.011, 0.28, 0.32),
                     BL_PREDICT_NOT_DECIDED);
    assert_int_equal(bl_predict_judge(0.35, 0.014, 0.28, 0.32),
                     BL_PREDICT_LATER);
    assert_int_equal(bl_predict_judge(0.25, 0.014, 0.28, 0.32),
                     BL_PREDICT_EARLIER);
    assert_int_equal(bl_predict_judge(0.33, 0.01, 0.28, 0.32),
                     BL_PREDICT_NOT_DECIDED);
    assert_int_equal(bl_predict_judge(NAN, 0.01, 0.28, 0.32),
                     BL_PREDICT_NOT_DECIDED);
    assert_int_equal(bl_predict_judge(0.30, 0.01, 0.28, NAN),
                     BL_PREDICT_NOT_DECIDED);
}

/* All is stated, and no wave of air is quicker than 0.05 s. */
static const struct bl_predict_context stated = {0.05, NAN, false};

/* Of three applications `bounds` were still rising at the release, so that the
   figure is only known to be later than 0.30 s; the others take 0.30 s. */
static void conclude_with(struct bl_predict_row *row, size_t bounds,
                          double high_s)
{
    static struct bl_predict_point p[3];
    for (size_t i = 0; i < 3; i++) {
        p[i] = (struct bl_predict_point){.s = 0.30,
                                         .u_s = 0.002,
                                         .low_s = 0.1,
                                         .middle_s = sqrt(0.1 * high_s),
                                         .high_s = high_s,
                                         .at_least = i < bounds};
    }
    *row = (struct bl_predict_row){
        .figure = BL_PREDICT_APPLY_75, .point = p, .points = 3};
    assert_true(bl_predict_conclude(row, &stated));
}

static void a_bound_shows_later_and_nothing_else(void **state)
{
    (void)state;
    struct bl_predict_row row;
    conclude_with(&row, 0, 0.4);
    assert_int_equal(row.verdict, BL_PREDICT_INSIDE);
    conclude_with(&row, 1, 0.4);
    assert_int_equal(row.verdict, BL_PREDICT_NOT_DECIDED);
    assert_int_equal(row.reason, BL_PREDICT_WHY_HOLD_LONGER);
    assert_int_equal(row.n, 2); /* it enters no median as a figure */
    assert_int_equal(row.bounds, 0);
    conclude_with(&row, 3, 0.4);
    assert_int_equal(row.reason, BL_PREDICT_WHY_HOLD_LONGER);
    assert_true(isnan(row.measured_s));
    conclude_with(&row, 1, 0.2);
    assert_int_equal(row.verdict, BL_PREDICT_LATER);
    assert_int_equal(row.bounds, 1); /* the median is marked as a bound */
}

static void expect_of(double s, const struct bl_predict_context *in,
                      enum bl_predict_verdict verdict,
                      enum bl_predict_reason reason)
{
    struct bl_predict_point p = {
        .s = s, .u_s = 0.001, .low_s = 0.2, .middle_s = 0.3, .high_s = 0.45};
    struct bl_predict_row row = {
        .figure = BL_PREDICT_FALL, .point = &p, .points = 1};
    assert_true(bl_predict_conclude(&row, in));
    if (row.verdict != verdict || row.reason != reason) {
        fail_msg("%g: %s %s, limits %g and %g", s,
                 bl_predict_verdict_name(row.verdict),
                 bl_predict_reason_name(row.reason), row.earliest_s,
                 row.latest_s);
    }
}

/* A band of 0.2, 0.3, 0.45 s ends where one in twenty lies beyond; carried on
   to one in two hundred, by hand: 0.3 x 1.5^1.566 = 0.566 and 0.3 / 1.5^1.566 =
   0.159. With things not stated and no others 0.566 x 1.25 + 0.05 = 0.758;
   where the others take 1.6 times their middles 0.906, and 0.6 times 0.095. */
static void a_verdict_takes_more_than_the_end_of_a_band(void **state)
{
    const enum bl_predict_reason none = BL_PREDICT_WHY_NONE;
    const enum bl_predict_reason beyond = BL_PREDICT_WHY_BEYOND_BAND;
    const struct bl_predict_context alone = {0.05, NAN, true};
    const struct bl_predict_context slow = {0.05, 1.6, true};
    const struct bl_predict_context quick = {0.05, 0.6, true};
    (void)state;
    expect_of(0.44, &stated, BL_PREDICT_INSIDE, none);
    expect_of(0.449, &stated, BL_PREDICT_NOT_DECIDED,
              BL_PREDICT_WHY_WITHIN_UNCERTAINTY);
    expect_of(0.56, &stated, BL_PREDICT_NOT_DECIDED, beyond);
    expect_of(0.57, &stated, BL_PREDICT_LATER, none);
    expect_of(0.165, &stated, BL_PREDICT_NOT_DECIDED, beyond);
    expect_of(0.155, &stated, BL_PREDICT_EARLIER, none);
    expect_of(0.75, &alone, BL_PREDICT_NOT_DECIDED, beyond);
    expect_of(0.765, &alone, BL_PREDICT_LATER, none);
    expect_of(0.9, &slow, BL_PREDICT_NOT_DECIDED, beyond);
    expect_of(0.91, &slow, BL_PREDICT_LATER, none);
    expect_of(0.155, &slow, BL_PREDICT_EARLIER, none);
    expect_of(0.1, &quick, BL_PREDICT_NOT_DECIDED, beyond);
    expect_of(0.09, &quick, BL_PREDICT_EARLIER, none);
    expect_of(0.57, &quick, BL_PREDICT_LATER, none);
}

/* Where the clocks give no lags, that is the reason; the other half of the
   applications may have been tied otherwise. */
static void without_lags_the_clocks_are_the_reason(void **state)
{
    (void)state;
    static struct bl_figure none = {
        .reason = BL_REASON_DIFFERENCES_ONLY, .s = NAN, .u_s = NAN};
    struct bl_unit_lag unit = {0};
    struct bl_predict_point p[2];
    for (enum bl_figure_name i = 0; i < BL_FIGURES; i++) {
        unit.figure[i] = none;
    }
    bl_measured_figure(&p[0], &unit, BL_PREDICT_APPLY_75);
    bl_measured_figure(&p[1], &unit, BL_PREDICT_FILL);
    for (size_t i = 0; i < 2; i++) {
        assert_true(isnan(p[i].s) && p[i].differences_only);
        p[i].low_s = 0.1;
        p[i].high_s = 0.4;
    }
    struct bl_predict_row row = {
        .figure = BL_PREDICT_APPLY_75, .point = p, .points = 2};
    assert_true(bl_predict_conclude(&row, &stated));
    assert_int_equal(row.n, 0);
    assert_int_equal(row.verdict, BL_PREDICT_NOT_DECIDED);
    assert_int_equal(row.reason, BL_PREDICT_WHY_DIFFERENCES_ONLY);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(judges_by_the_expanded_uncertainty),
        cmocka_unit_test(a_bound_shows_later_and_nothing_else),
        cmocka_unit_test(a_verdict_takes_more_than_the_end_of_a_band),
        cmocka_unit_test(without_lags_the_clocks_are_the_reason),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
