/* SPDX-License-Identifier: MIT */
/* Each fault does what its line in the list says, and only there. */
#include "small.h"

#include "physics/air.h"

static struct small faulty(const char *fault)
{
    char text[8192];
    snprintf(text, sizeof(text), "%s[fault f]\n%s", SMALL, fault);
    return small_run(text, 0);
}

static void air_faults(void **state)
{
    (void)state;
    struct small fine = small_run(SMALL, 0);
    const struct bl_true_unit *was = truth_of(&fine, UNPOWERED, 0, 2);

    struct small s = faulty("code = late-apply\nunit = 2\namount = 0.25\n");
    const struct bl_true_unit *is = truth_of(&s, UNPOWERED, 0, 2);
    assert_near(is->figure[BL_FIGURE_RESPONSE].s -
                    was->figure[BL_FIGURE_RESPONSE].s,
                0.25, 0.001);
    assert_near(is->figure[BL_FIGURE_APPLY_75].s -
                    was->figure[BL_FIGURE_APPLY_75].s,
                0.25, 0.002);
    small_end(&s);

    /* A tenth of the conductance: the hose alone rules the fill then, and the
       time from 10 to 75 % is that of ISO 6358 into the stroked volume. */
    s = faulty("code = inlet\nunit = 2\namount = 0.1\n");
    is = truth_of(&s, UNPOWERED, 0, 2);
    assert_true(is->figure[BL_FIGURE_RESPONSE].s -
                    was->figure[BL_FIGURE_RESPONSE].s <
                0.06);
    const double atmosphere = 101.325;
    const struct bl_air_fill fill = {
        {2.5, 0.3, 0}, 800 + atmosphere, 0, 4000, 1.1};
    const double expected =
        bl_air_fill_time(&fill, atmosphere, is->hold_kpa * 0.1 + atmosphere,
                         is->hold_kpa * 0.75 + atmosphere);
    assert_near(is->figure[BL_FIGURE_APPLY_75].s -
                    is->figure[BL_FIGURE_APPLY_10].s,
                expected, 0.05 * expected);
    assert_near(truth_of(&s, UNPOWERED, 0, 1)->figure[BL_FIGURE_APPLY_75].s,
                truth_of(&fine, UNPOWERED, 0, 1)->figure[BL_FIGURE_APPLY_75].s,
                1e-9);
    small_end(&s);

    s = faulty("code = exhaust\nunit = 2\namount = 0.2\n");
    is = truth_of(&s, UNPOWERED, 0, 2);
    assert_near(is->figure[BL_FIGURE_RESPONSE].s,
                was->figure[BL_FIGURE_RESPONSE].s, 0.001);
    assert_true(is->figure[BL_FIGURE_RELEASE_10].s >
                2 * was->figure[BL_FIGURE_RELEASE_10].s);
    small_end(&s);

    s = faulty("code = late-release\nunit = 2\namount = 0.3\n");
    is = truth_of(&s, UNPOWERED, 0, 2);
    assert_near(is->figure[BL_FIGURE_RESPONSE].s,
                was->figure[BL_FIGURE_RESPONSE].s, 0.001);
    assert_near(is->figure[BL_FIGURE_RELEASE_10].s -
                    was->figure[BL_FIGURE_RELEASE_10].s,
                0.3, 0.02);
    small_end(&s);

    small_end(&fine);
}

static void pressure_faults(void **state)
{
    (void)state;
    struct small fine = small_run(SMALL, 0);
    const struct bl_true_unit *was = truth_of(&fine, UNPOWERED, 0, 2);
    struct small s = faulty("code = low-hold\nunit = 2\namount = 0.6\n");
    const struct bl_true_unit *is = truth_of(&s, UNPOWERED, 0, 2);
    assert_near(is->hold_kpa, 0.6 * was->hold_kpa, 3);
    small_end(&s);

    s = faulty("code = no-output\nunit = 2\n");
    assert_false(truth_of(&s, UNPOWERED, 0, 2)->responded);
    assert_true(truth_of(&s, UNPOWERED, 0, 3)->responded);
    small_end(&s);

    s = faulty("code = residual-pressure\nunit = 2\namount = 12\n");
    assert_near(truth_of(&s, UNPOWERED, 0, 2)->rest_kpa, 0, 0.1);
    assert_near(truth_of(&s, UNPOWERED, 1, 2)->rest_kpa, 12, 0.1);
    small_end(&s);

    /* 40 kPa more are needed of a light application of 100 kPa. */
    s = faulty("code = high-threshold\nunit = 2\namount = 40\n");
    assert_near(truth_of(&s, UNPOWERED, 1, 2)->hold_kpa,
                truth_of(&fine, UNPOWERED, 1, 2)->hold_kpa - 40, 1);
    small_end(&s);

    s = faulty("code = control-line-loss\nunit = 2\namount = 0.85\n");
    assert_near(truth_of(&s, UNPOWERED, 0, 3)->hold_kpa, 0.85 * 650, 8);
    assert_near(truth_of(&s, UNPOWERED, 0, 2)->hold_kpa, was->hold_kpa, 1);
    small_end(&s);

    /* Unit 1 hands the air on: a leak, not its valve, takes its part. */
    s = faulty("code = control-line-loss\nunit = 1\namount = 0.85\n");
    assert_near(truth_of(&s, UNPOWERED, 0, 2)->hold_kpa,
                0.85 * truth_of(&fine, UNPOWERED, 0, 2)->hold_kpa, 3);
    /* within the hysteresis of its valve, usually 4 kPa */
    assert_near(truth_of(&s, UNPOWERED, 0, 1)->hold_kpa,
                truth_of(&fine, UNPOWERED, 0, 1)->hold_kpa, 4);
    small_end(&s);
    small_end(&fine);
}

/* Demand frames on one link: how many, longest gap. */
struct link_count {
    size_t frames, errors;
    double longest_s;
};

static struct link_count count_link(const struct small *s, const char *bus)
{
    const struct bl_simulated_run *run =
        bl_simulation_run(s->simulation, POWERED);
    struct link_count c = {0, 0, 0};
    int64_t before = 0;
    for (size_t i = 0; i < run->frames; i++) {
        const struct bl_frame *f = &run->frame[i];
        if (strcmp(run->bus[f->bus], bus) != 0 ||
            bl_id_split(f->id).pgn != 512) {
            continue;
        }
        const double gap = (double)(f->time_ns - before) * 1e-9;
        c.longest_s = before != 0 && gap > c.longest_s ? gap : c.longest_s;
        before = f->time_ns;
        c.frames++;
        c.errors += f->data[3] == 0xFE; /* J1939-71: 0xFExx is error */
    }
    return c;
}

static void demand_faults(void **state)
{
    (void)state;
    struct small fine = small_run(SMALL, 0);
    const struct link_count was = count_link(&fine, "link2");
    assert_true(was.longest_s < 0.0105);

    struct small s = faulty("code = demand-missing\nunit = 2\n");
    assert_int_equal(count_link(&s, "link2").frames, 0);
    assert_int_equal(count_link(&s, "link1").frames,
                     count_link(&fine, "link1").frames);
    /* Units that hear nothing brake by their air. */
    assert_true(truth_of(&s, POWERED, 0, 2)->figure[BL_FIGURE_RESPONSE].s >
                truth_of(&fine, POWERED, 0, 2)->figure[BL_FIGURE_RESPONSE].s);
    assert_near(truth_of(&s, POWERED, 0, 2)->figure[BL_FIGURE_RESPONSE].s,
                truth_of(&fine, UNPOWERED, 0, 2)->figure[BL_FIGURE_RESPONSE].s,
                0.003);
    small_end(&s);

    s = faulty("code = frames-lost\nunit = 2\namount = 0.3\n");
    const double share =
        (double)count_link(&s, "link2").frames / (double)was.frames;
    assert_near(share, 0.7, 0.06); /* 4 standard deviations of a binomial */
    small_end(&s);

    s = faulty("code = demand-altered\nunit = 1\namount = 0.9\n");
    assert_near(truth_of(&s, POWERED, 0, 2)->hold_kpa, 585, 2);
    assert_near(truth_of(&s, POWERED, 0, 1)->hold_kpa, 650, 2);
    small_end(&s);

    s = faulty("code = demand-late\nunit = 1\namount = 0.08\n");
    assert_near(
        truth_of(&s, POWERED, 0, 2)->figure[BL_FIGURE_DEMAND_ARRIVAL].s -
            truth_of(&fine, POWERED, 0, 2)->figure[BL_FIGURE_DEMAND_ARRIVAL].s,
        0.08, 0.011);
    small_end(&s);

    s = faulty("code = error-values\nunit = 2\nat = 2 s\nfor = 0.5 s\n");
    assert_near((double)count_link(&s, "link2").errors, 50, 1);
    assert_int_equal(count_link(&s, "link1").errors, 0);
    small_end(&s);

    static const char *const gaps[] = {
        "code = recording-gap\nunit = 0\nat = 2 s\nfor = 0.5 s\n",
        "code = recording-gap\nunit = 2\nat = 2 s\nfor = 0.5 s\n"};
    for (size_t i = 0; i < COUNT_OF(gaps); i++) {
        s = faulty(gaps[i]);
        assert_near(count_link(&s, "link2").longest_s, 0.51, 0.012);
        small_end(&s);
    }

    s = faulty("code = demand-ignored\nunit = 2\n");
    assert_near(truth_of(&s, POWERED, 0, 2)->figure[BL_FIGURE_RESPONSE].s,
                truth_of(&fine, UNPOWERED, 0, 2)->figure[BL_FIGURE_RESPONSE].s,
                0.003);
    assert_int_equal(count_link(&s, "link2").frames, was.frames);
    small_end(&s);
    small_end(&fine);
}

static double most(const struct small *s, const char *name)
{
    const struct bl_simulated_run *run =
        bl_simulation_run(s->simulation, UNPOWERED);
    const struct bl_simulated_column *c = column_of(run, name);
    double value = c->value[0];
    for (size_t i = 0; i < run->rows; i++) {
        value = c->value[i] > value ? c->value[i] : value;
    }
    return value;
}

static void measuring_faults(void **state)
{
    (void)state;
    struct small fine = small_run(SMALL, 0);
    const double was = most(&fine, "output_2");
    struct small s = faulty("code = channel-clipped\nunit = 2\namount = 300\n");
    assert_near(most(&s, "output_2"), 300, 0.01);
    assert_near(truth_of(&s, UNPOWERED, 0, 2)->peak_kpa,
                truth_of(&fine, UNPOWERED, 0, 2)->peak_kpa, 1e-9);
    small_end(&s);

    s = faulty("code = zero-offset\nunit = 2\namount = 15\n");
    assert_near(most(&s, "output_2"), was + 15, 0.3);
    small_end(&s);

    s = faulty("code = channel-dead\nunit = 2\n");
    assert_near(most(&s, "output_2"), 0, 0);
    small_end(&s);

    /* kPa written as psi. */
    s = faulty("code = wrong-pressure-unit\nunit = 2\n");
    assert_near(most(&s, "output_2"), was / 6.894757, 0.05);
    small_end(&s);

    s = faulty("code = stair-steps\nunit = 2\namount = 0.05\n");
    const struct bl_simulated_run *run =
        bl_simulation_run(s.simulation, UNPOWERED);
    const struct bl_simulated_column *c = column_of(run, "output_2");
    size_t changes = 0;
    for (size_t i = 1; i < run->rows; i++) {
        changes += c->value[i] != c->value[i - 1];
    }
    assert_true(changes > 10 && changes <= run->rows / 50 + 1);
    small_end(&s);

    s = faulty("code = channels-swapped\nunit = 2\nother = 1\n"
               "runs = U\n");
    run = bl_simulation_run(s.simulation, UNPOWERED);
    const int64_t early =
        run->application[0].apply_ns +
        (int64_t)(1e9 * (0.01 + truth_of(&s, UNPOWERED, 0, 1)->level[0].s));
    const size_t row = (size_t)((early - run->row_ns[0]) / 1000000);
    assert_true(column_of(run, "output_2")->value[row] > 60);
    assert_true(column_of(run, "output_1")->value[row] <
                column_of(run, "output_2")->value[row]);
    small_end(&s);
    small_end(&fine);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(air_faults),
        cmocka_unit_test(pressure_faults),
        cmocka_unit_test(demand_faults),
        cmocka_unit_test(measuring_faults),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
