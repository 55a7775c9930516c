/* SPDX-License-Identifier: MIT */
/*
 * [expect]: each key kept, not kept, and not to be shown. What is in the trains
 * is the scenario's word: 10 ms interval, 4 ms and up to one interval added per
 * hop, 0.2 s without demand where frames are dropped, 27 V less 4 V.
 */
#include "reach_trains.h"

static void check(struct train *t, const char *expect, const char *why_part)
{
    struct judged j;
    char why[BL_REACH_TEXT];
    char text[128];
    (void)snprintf(text, sizeof(text), "[expect]\n%s\n", expect);
    t->trial = text;
    judge_train(&j, t);
    const bool kept = bl_reach_expected(j.trial, j.reach, why);
    if (why_part == NULL) {
        assert_true(kept);
        assert_string_equal(why, "");
    } else {
        assert_false(kept);
        if (strstr(why, why_part) == NULL) {
            fail_msg("'%s' says: %s", expect, why);
        }
    }
    judged_finish(&j);
}

static void kept(void **state)
{
    (void)state;
    struct train t = {.units = 3,
                      .seed = 41,
                      .shared_clock = true,
                      .sensors = "[sensors]\nvoltage = yes\n"};
    check(&t,
          "reach = yes\ngap_max = 30 ms\ncoupling_delay_max = 20 ms\n"
          "lost_max = 0.1 %\nfirst_valid_max = 1 s\nvoltage_min = 20 V",
          NULL);
}

static void not_kept(void **state)
{
    (void)state;
    struct train t = {.units = 3,
                      .seed = 42,
                      .shared_clock = true,
                      .sensors = "[sensors]\nvoltage = yes\n",
                      .dropped_at = 2};
    check(&t, "reach = yes", "unit 2: reached with defects");
    check(&t, "gap_max = 100 ms", "unit 2: longest interval");
    /* some 20 of some 1400 frames */
    check(&t, "lost_max = 0.1 %", "unit 2: share of demand frames lost");
    t.dropped_at = 0;
    check(&t, "coupling_delay_max = 1 ms", "unit 2: delay added");
    check(&t, "voltage_min = 28 V", "unit 3: voltage while braking");
    (void)snprintf(t.fault, sizeof(t.fault),
                   "code = late-wake-up\nunit = 2\namount = 2\n");
    check(&t, "first_valid_max = 1 s", "unit 2: time to its first valid");
    (void)snprintf(t.fault, sizeof(t.fault),
                   "code = demand-missing\nunit = 3\n");
    check(&t, "reach = yes", "unit 3: not reached");
}

/* Untied recorders show no delay; no voltage is wired; a cut bus shows nothing
   of what is behind the cut. */
static void could_not_be_shown(void **state)
{
    (void)state;
    struct train t = {.units = 3, .layout = ONE_RECORDER_EACH, .seed = 43};
    check(&t, "reach = yes", NULL);
    check(&t, "coupling_delay_max = 1 s", "unit 2: could not be shown: delay");
    check(&t, "voltage_min = 1 V", "unit 3: could not be shown: voltage");
    t = (struct train){.units = 3,
                       .layout = SPLIT_BUS,
                       .seed = 44,
                       .shared_clock = true,
                       .sensors = "[sensors]\ncontrol = no\n",
                       .cut_at = 3};
    check(&t, "reach = yes", "unit 2: could not be shown");
    (void)snprintf(t.fault, sizeof(t.fault),
                   "code = demand-missing\nunit = 1\n");
    check(&t, "gap_max = 1 s", "unit 1: could not be shown: longest interval");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(kept),
        cmocka_unit_test(not_kept),
        cmocka_unit_test(could_not_be_shown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
