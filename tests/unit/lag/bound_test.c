/* SPDX-License-Identifier: MIT */
/*
 * Shares of a hold that did not settle, against paper: traces are straight
 * lines between corners, and every expected value is worked out by hand.
 */
#include "made_run.h"

#define assert_missing(figure, expected_reason)                                \
    do {                                                                       \
        const struct bl_figure checked = (figure);                             \
        assert_false(checked.known);                                           \
        assert_string_equal(bl_reason_name(checked.reason), expected_reason);  \
    } while (0)

/* A slow output: from 2.1 s towards 600 kPa with 0.8 s. The command is let go
   1 s after its step, when it holds 600 (1 - exp(-1.08 / 0.8)) = 444 kPa: 75 %
   of that are passed long before 75 % of what it was going to hold. */
static void a_share_of_an_unsettled_hold_is_no_figure(void **state)
{
    (void)state;
    static const struct corner press[] = {
        {0, 0}, {2, 0}, {2.2, 600}, {3.2, 600}, {3.4, 0}};
    struct corner c[32] = {{0, 0}, {2.1, 0}};
    size_t n = 2;
    for (double s = 2.15; s < 3.31; s += 0.05) {
        c[n++] = (struct corner){s, 600 * (1 - exp(-(s - 2.1) / 0.8))};
    }
    c[n++] = (struct corner){4, 0};
    struct made_run m;
    made_start(&m, 9, 1000);
    const long command = made_channel(&m, BL_QUANTITY_PRESSURE, press, 5);
    const long output = made_channel(&m, BL_QUANTITY_PRESSURE, c, n);
    made_unit(&m, -1, -1);
    made_unit(&m, output, -1);
    made_command(&m, command, 20);
    struct bl_run_lag *lag = made_measured(&m);
    const struct bl_unit_lag *u = &lag->application[0].unit[1];
    assert_int_equal(u->responded, BL_YES);
    assert_true(u->figure[BL_FIGURE_RESPONSE].known);
    assert_true(u->figure[BL_FIGURE_RELEASE_END].known);
    assert_missing(u->figure[BL_FIGURE_APPLY_10], "hold-longer");
    assert_missing(u->figure[BL_FIGURE_APPLY_75], "hold-longer");
    assert_missing(u->figure[BL_FIGURE_RELEASE_START], "hold-longer");
    assert_missing(u->figure[BL_FIGURE_RELEASE_10], "hold-longer");
    /* 75 % of 600 kPa come 0.8 s ln 4 after 2.1 s. The bound is below. The
       command counts from 2 s + 20/600 of 0.2 s. */
    assert_true(u->figure[BL_FIGURE_APPLY_10].bounded &&
                u->figure[BL_FIGURE_APPLY_75].bounded);
    assert_false(u->figure[BL_FIGURE_RELEASE_START].bounded ||
                 u->figure[BL_FIGURE_RELEASE_10].bounded);
    assert_true(u->figure[BL_FIGURE_APPLY_75].later_than_s <
                2.1 + 0.8 * log(4) - 2.0067);
    assert_near(u->figure[BL_FIGURE_APPLY_75].later_than_s,
                2.1 - 0.8 * log(1 - 0.75 * u->hold.value / 600) - 2.0067,
                0.005);
    assert_true(isnan(u->figure[BL_FIGURE_APPLY_75].s));
    for (size_t i = 0; i < lag->summaries; i++) { /* and in no median */
        assert_true(lag->summary[i].unit != 1 ||
                    lag->summary[i].figure != BL_FIGURE_APPLY_75 ||
                    lag->summary[i].n == 0);
    }
    /* The last 200 ms before the command passes 540 kPa, at 3.22 s. */
    assert_near(u->hold.value, 600 * (1 - exp(-(3.12 - 2.1) / 0.8)), 2);
    assert_int_equal(u->hold_from, BL_HOLD_LAST);
    assert_true((u->flags & BL_FLAG_NOT_SETTLED) != 0);
    bl_run_lag_destroy(lag);
    made_finish(&m);
}

/* The pedal takes 0.6 s from 2 s and lets go at 4.2 s. One output climbs from
   2.1 s towards 600 kPa with 3 s: it has not settled, and its 75 % are a bound.
   A second goes from 0 to 600 kPa from 3.5 to 3.6 s: 75 % at 3.575 s, later
   than the bound. The unit's 75 % are later than both; the bound is flagged as
   a figure would be, `ramp`. The command counts from 2 s + 20/600 of 0.6 s. */
static void a_bound_keeps_flags_and_is_the_later_one(void **state)
{
    (void)state;
    static const struct corner press[] = {
        {0, 0}, {2, 0}, {2.6, 600}, {4.2, 600}, {4.4, 0}};
    static const struct corner quick[] = {
        {0, 0}, {3.5, 0}, {3.6, 600}, {4.3, 600}, {4.5, 0}};
    struct corner c[64] = {{0, 0}, {2.1, 0}};
    size_t n = 2;
    for (double s = 2.15; s < 4.31; s += 0.05) {
        c[n++] = (struct corner){s, 600 * (1 - exp(-(s - 2.1) / 3))};
    }
    c[n++] = (struct corner){5, 0};
    for (unsigned both = 0; both < 2; both++) {
        struct made_run m;
        made_start(&m, 9, 1000);
        const long command = made_channel(&m, BL_QUANTITY_PRESSURE, press, 5);
        const long slow = made_channel(&m, BL_QUANTITY_PRESSURE, c, n);
        const long other = made_channel(&m, BL_QUANTITY_PRESSURE, quick, 5);
        made_unit(&m, -1, -1);
        made_unit(&m, slow, both == 0 ? -1 : other);
        made_command(&m, command, 20);
        struct bl_run_lag *lag = made_measured(&m);
        const struct bl_unit_lag *u = &lag->application[0].unit[1];
        const struct bl_figure *f = &u->figure[BL_FIGURE_APPLY_75];
        assert_true((u->figure[BL_FIGURE_RESPONSE].flags & BL_FLAG_RAMP) != 0);
        assert_missing(*f, "hold-longer");
        assert_true(f->bounded);
        assert_true((f->flags & BL_FLAG_RAMP) != 0);
        /* The hold is that of the last 200 ms before the release at 4.22 s. */
        const double hold = 600 * (1 - exp(-(4.12 - 2.1) / 3));
        const double bound = 2.1 - 3 * log(1 - 0.75 * hold / 600);
        assert_near(f->later_than_s, (both == 0 ? bound : 3.575) - 2.02, 0.01);
        /* The last 200 ms climb 20 kPa, an even spread of 5.9; at 220 kPa the
           output climbs 127 kPa/s. The quick one has neither noise nor doubt.
         */
        assert_near(f->u_later_s, both == 0 ? 0.75 * 5.9 / 127 : 0, 0.002);
        bl_run_lag_destroy(lag);
        made_finish(&m);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_share_of_an_unsettled_hold_is_no_figure),
        cmocka_unit_test(a_bound_keeps_flags_and_is_the_later_one),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
