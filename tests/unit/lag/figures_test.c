/* SPDX-License-Identifier: MIT */
/* What the list of figures says of each is what measuring does with it. */
#include "made_run.h"

/* Command 0 to 600 kPa in 0.2 s from 2.0 s; back in 0.2 s from 6.0 s. The
   outputs follow from 2.1 s, in 0.3 s, and from 6.1 s, in 0.4 s. */
static const struct corner command_step[] = {
    {0, 0}, {2, 0}, {2.2, 600}, {6, 600}, {6.2, 0}};
static const struct corner output_step[] = {
    {0, 0}, {2.1, 0}, {2.4, 600}, {6.1, 600}, {6.5, 0}};
static const struct corner contact[] = {
    {0, 0}, {2.1495, 0}, {2.1505, 1}, {6.2995, 1}, {6.3005, 0}};

static void measure(struct bl_run_lag **lag, struct made_run *m, bool is_switch)
{
    struct bl_error error;
    made_start(m, 12, 1000);
    const long command = made_channel(m, BL_QUANTITY_PRESSURE, command_step, 5);
    const long output =
        is_switch ? made_channel(m, BL_QUANTITY_SWITCH, contact, 5)
                  : made_channel(m, BL_QUANTITY_PRESSURE, output_step, 5);
    for (size_t i = 0; is_switch && i < m->rows; i++) {
        m->value[output][i] = m->value[output][i] >= 0.5f ? 1.0f : 0.0f;
    }
    made_unit(m, -1, -1);
    made_unit(m, output, -1);
    made_command(m, command, 20);
    if (bl_measure_run(lag, &m->trial, &m->data, &m->clocks, &error) != BL_OK) {
        fail_msg("%s", error.message);
    }
}

static void a_switch_gives_what_the_list_says(void **state)
{
    (void)state;
    struct made_run m;
    struct bl_run_lag *lag = NULL;
    measure(&lag, &m, true);
    const struct bl_unit_lag *u = &lag->application[0].unit[1];
    for (enum bl_figure_name i = 0; i < BL_FIGURES; i++) {
        if (bl_figure_of_output(i)) {
            assert_int_equal(u->figure[i].known, bl_figure_entry(i)->by_switch);
        }
    }
    bl_run_lag_destroy(lag);
    made_finish(&m);
}

/* On a straight line a share of the hold is passed at that share of the way:
   0.3 s up, 0.4 s down. The command passes 20 kPa 20/3000 s after 2 s, and 90 %
   of its hold 60/3000 s after 6 s. */
static void a_share_is_passed_where_its_entry_says(void **state)
{
    (void)state;
    struct made_run m;
    struct bl_run_lag *lag = NULL;
    size_t shares = 0;
    measure(&lag, &m, false);
    const struct bl_unit_lag *u = &lag->application[0].unit[1];
    for (enum bl_figure_name i = 0; i < BL_FIGURES; i++) {
        const struct bl_figure_entry *is = bl_figure_entry(i);
        if (is->at != BL_AT_HOLD) {
            continue;
        }
        const double expected =
            is->since == BL_SINCE_COMMAND_APPLY
                ? 2.1 + 0.3 * is->share - (2 + 20.0 / 3000)
                : 6.1 + 0.4 * (1 - is->share) - (6 + 60.0 / 3000);
        assert_true(u->figure[i].known);
        assert_near(u->figure[i].s, expected, 1e-4);
        shares++;
    }
    assert_true(shares >= 4);
    bl_run_lag_destroy(lag);
    made_finish(&m);
}

/* An output that creeps: 300 kPa/s up to 60 kPa at 2.3 s, then 3 kPa/s up to
   66 kPa. Its transducer may read 1 kPa too high or low (standard). By the
   slope that is 1/300 s at 30 and at 59 kPa; but 61 kPa is passed at 2.3 + 1/3
   s, 0.3367 s after 59, and half of that is what 1 kPa makes. 67 kPa is never
   passed. */
static void near_its_hold_a_level_is_less_sure_or_none(void **state)
{
    (void)state;
    static const struct corner creeps[] = {{0, 0},    {2.1, 0},  {2.3, 60},
                                           {4.3, 66}, {6.1, 66}, {6.5, 0}};
    double levels[] = {30, 59, 65};
    struct made_run m;
    struct bl_run_lag *lag = NULL;
    struct bl_error error;
    made_start(&m, 12, 1000);
    const long command =
        made_channel(&m, BL_QUANTITY_PRESSURE, command_step, 5);
    const long output = made_channel(&m, BL_QUANTITY_PRESSURE, creeps, 6);
    m.channel[output].u_zero = 1;
    made_unit(&m, -1, -1);
    made_unit(&m, output, -1);
    made_command(&m, command, 20);
    m.trial.level_kpa = levels;
    m.trial.levels = 3;
    if (bl_measure_run(&lag, &m.trial, &m.data, &m.clocks, &error) != BL_OK) {
        fail_msg("%s", error.message);
    }
    const struct bl_unit_lag *u = &lag->application[0].unit[1];
    assert_true(u->level[0].known && u->level[1].known);
    assert_near(u->level[0].part.zero, 1.0 / 300, 1e-5);
    assert_near(u->level[1].part.zero, 0.5 * (1.0 / 3 + 0.2 / 60), 1e-3);
    assert_false(u->level[2].known);
    assert_string_equal(bl_reason_name(u->level[2].reason), "near-hold");
    bl_run_lag_destroy(lag);
    made_finish(&m);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_switch_gives_what_the_list_says),
        cmocka_unit_test(a_share_is_passed_where_its_entry_says),
        cmocka_unit_test(near_its_hold_a_level_is_less_sure_or_none),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
