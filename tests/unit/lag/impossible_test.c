/* SPDX-License-Identifier: MIT */
/*
 * What cannot be, and what can though it is bad: an application written by
 * hand, in the words of docs/methods/clocks.md. Distances: 14 m a unit; air
 * needs at least 28 m / (1.3 x 360 m/s) = 0.060 s to the second.
 */
#include "testing.h"

#include "lag/impossible.h"

#include <math.h>
#include <string.h>

enum { UNITS = 3 };

struct made {
    struct bl_trial trial;
    struct bl_trial_unit unit[UNITS];
    struct bl_trial_run run;
    struct bl_application application;
    struct bl_unit_lag lag[UNITS];
};

static struct bl_figure figure(double s)
{
    return (struct bl_figure){.known = isfinite(s), .s = s, .u_s = 0.003};
}

/* Response and demand of the second towed unit; the first is sound. NaN: not
   known. `lead`: its own air less its output. */
static void make(struct made *m, bool power, double response, double demand,
                 double lead)
{
    memset(m, 0, sizeof(*m));
    m->trial.unit = m->unit;
    m->trial.units = UNITS;
    m->trial.run = &m->run;
    m->trial.runs = 1;
    m->run.power = m->run.data = power ? BL_STATED_ON : BL_STATED_OFF;
    m->application.unit = m->lag;
    m->application.units = UNITS;
    m->application.kind = BL_KIND_FULL;
    m->application.shape = BL_SHAPE_STEP;
    for (size_t u = 0; u < UNITS; u++) {
        m->unit[u].number = (int)u;
        m->unit[u].pipe_m = 14;
        m->lag[u].unit = u;
        m->lag[u].follow.lead_s = NAN;
    }
    m->unit[0].command_kind = BL_COMMAND_TREADLE_PRESSURE;
    m->lag[1].figure[BL_FIGURE_RESPONSE] = figure(0.15);
    m->lag[1].figure[BL_FIGURE_DEMAND_ARRIVAL] = figure(power ? 0.02 : NAN);
    m->lag[2].figure[BL_FIGURE_RESPONSE] = figure(response);
    m->lag[2].figure[BL_FIGURE_DEMAND_ARRIVAL] = figure(demand);
    m->lag[2].follow.lead_s = lead;
    m->lag[2].follow.u_lead_s = 0.003;
}

static bool cannot_be(const struct made *m, bool as_one)
{
    const struct bl_impossible is =
        bl_impossible_output(&m->trial, 0, &m->application, &m->lag[2], as_one);
    return is.excess_s > 4 * is.u_s;
}

static void outputs(void **state)
{
    (void)state;
    static const struct {
        const char *what;
        bool power, as_one;
        double response, demand, lead;
        bool impossible;
    } rows[] = {
        {"sound, powered", true, false, 0.20, 0.04, 0.15, false},
        {"late demand, on its air", true, false, 0.45, 1.04, -0.05, false},
        {"late demand, air not seen", true, false, 0.45, 1.04, NAN, false},
        {"before demand and air", true, false, 0.20, 1.04, 0.15, true},
        {"before demand and sound", true, false, -0.20, 1.04, NAN, true},
        {"demand not seen", true, false, 0.20, NAN, 0.15, false},
        {"sound, by air", false, false, 0.50, NAN, -0.05, false},
        {"before its air", false, false, 0.30, NAN, 0.15, true},
        {"faster than sound", false, false, -0.05, NAN, NAN, true},
        {"the same at one tee", false, true, -0.05, NAN, NAN, false},
        {"within its u", false, false, 0.50, NAN, 0.035, false},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct made m;
        make(&m, rows[i].power, rows[i].response, rows[i].demand, rows[i].lead);
        if (cannot_be(&m, rows[i].as_one) != rows[i].impossible) {
            fail_msg("%s", rows[i].what);
        }
        m.application.kind = BL_KIND_LIGHT;
        assert_false(cannot_be(&m, rows[i].as_one));
        m.application.kind = BL_KIND_FULL;
        m.application.shape = BL_SHAPE_RAMP;
        assert_false(cannot_be(&m, rows[i].as_one));
    }
}

static void demands(void **state)
{
    (void)state;
    struct made m;
    /* All demands 1 s ahead of the treadle: a clock. One alone: not told. */
    make(&m, true, 0.2, -0.96, NAN);
    struct bl_impossible is = bl_impossible_demand(&m.trial, &m.application);
    assert_false(is.excess_s > 4 * is.u_s);
    m.lag[1].figure[BL_FIGURE_DEMAND_ARRIVAL] = figure(-0.98);
    is = bl_impossible_demand(&m.trial, &m.application);
    assert_true(is.excess_s > 4 * is.u_s);
    m.unit[0].command_kind = BL_COMMAND_ELECTRONIC_DEMAND;
    is = bl_impossible_demand(&m.trial, &m.application);
    assert_false(is.excess_s > 4 * is.u_s);
    /* A demand that is late at the rear only is a finding of its own. */
    make(&m, true, 0.45, 1.04, NAN);
    is = bl_doubtful_demand(&m.trial, &m.application);
    assert_false(is.excess_s > 4 * is.u_s);
    m.lag[1].figure[BL_FIGURE_DEMAND_ARRIVAL] = figure(1.02);
    is = bl_doubtful_demand(&m.trial, &m.application);
    assert_true(is.excess_s > 4 * is.u_s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(outputs),
        cmocka_unit_test(demands),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
