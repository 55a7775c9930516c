/* SPDX-License-Identifier: MIT */
#include "small.h"

#include "base/alloc.h"

/* When the recorded column passes half of the true hold, taken back through
   the true errors of its sensor; from the command. */
static double passes_half(const struct bl_simulated_run *run, size_t a,
                          const struct bl_true_unit *t)
{
    char name[32];
    snprintf(name, sizeof(name), "output_%zu", t->unit);
    const struct bl_simulated_column *c = column_of(run, name);
    const double half = (t->rest_kpa + t->hold_kpa) / 2;
    const int64_t apply = run->application[a].apply_ns;
    for (size_t i = 0; i < run->rows; i++) {
        if (run->row_ns[i] > apply &&
            c->value[i] >= half * c->gain + c->zero_kpa) {
            return (double)(run->row_ns[i] - apply) * 1e-9 - c->delay_s;
        }
    }
    return (double)NAN;
}

/* Definitions of figures: a level further up is reached later, on release one
   further down. The two lines are fitted up to half of the rise, so that the
   foot comes before it (but may come after a level on a slow shelf). */
static void truth_is_in_order(void **state)
{
    (void)state;
    struct small s = small_run(SMALL, 0);
    for (size_t run = 0; run < 2; run++) {
        const struct bl_simulated_run *shown =
            bl_simulation_run(s.simulation, run);
        for (size_t a = 0; a < 2; a++) {
            for (size_t u = 0; u < 4; u++) {
                const struct bl_true_unit *t = truth_of(&s, run, a, u);
                assert_true(t->responded && t->settled);
                const double half_s = passes_half(shown, a, t);
                assert_true(t->figure[BL_FIGURE_RISE_START].s > 0);
                assert_true(t->figure[BL_FIGURE_RISE_START].s < half_s);
                assert_true(half_s < t->figure[BL_FIGURE_APPLY_75].s);
                assert_true(t->figure[BL_FIGURE_APPLY_10].s <
                            t->figure[BL_FIGURE_APPLY_75].s);
                assert_true(t->figure[BL_FIGURE_APPLY_75].s <
                            t->figure[BL_FIGURE_APPLY_90].s);
                assert_true(t->figure[BL_FIGURE_APPLY_90].s < 2);
                assert_true(t->figure[BL_FIGURE_RELEASE_START].s <
                            t->figure[BL_FIGURE_RELEASE_10].s);
                assert_true(t->level[0].known);
                assert_true(t->level[1].known == (a == 0));
                assert_near(t->hold_kpa, a == 0 ? 650 : 100, 8);
                assert_near(t->rest_kpa, 0, 0.2);
            }
        }
    }
    small_end(&s);
}

/* Air cannot be faster than L / c; a relay of 25 kPa behind a step opens soon
   after the front of the wave. Unpowered, so that only air tells the unit. */
static void a_longer_line_is_later_by_its_length(void **state)
{
    (void)state;
    static const char *const lines[] = {"line = 12 m\n", "line = 24 m\n"};
    double response_s[2];
    for (int i = 0; i < 2; i++) {
        char text[4096];
        snprintf(text, sizeof(text), "%s%s%s%s%s%s", SMALL_HEAD,
                 "[unit 0]\n[unit 1]\n", lines[i], SMALL_PARTS, SMALL_PRESSES,
                 "[run U]\npower = off\ndata = off\napplications = full\n");
        struct small s = small_run(text, 0);
        response_s[i] = truth_of(&s, 0, 0, 1)->figure[BL_FIGURE_RESPONSE].s;
        small_end(&s);
    }
    const double c = 290.1; /* isothermal, 20 degC */
    assert_true(response_s[0] > 12 / c);
    assert_true(response_s[1] > 24 / c);
    assert_true(response_s[1] - response_s[0] > 12 / c - 0.002);
    assert_true(response_s[1] - response_s[0] < 1.5 * 12 / c);
}

/* Each coupling adds at most one sending period, its jitter and what the unit
   needs to re-issue (10 ms period: ISO 11992-2, from memory). */
static void demand_travels_in_steps_of_one_period(void **state)
{
    (void)state;
    struct small s = small_run(SMALL, 0);
    for (size_t a = 0; a < 2; a++) {
        double before =
            truth_of(&s, POWERED, a, 1)->figure[BL_FIGURE_DEMAND_ARRIVAL].s;
        for (size_t u = 2; u < 4; u++) {
            const struct bl_true_unit *t = truth_of(&s, POWERED, a, u);
            const double step = t->figure[BL_FIGURE_DEMAND_ARRIVAL].s - before;
            assert_true(step >= 0.004 && step < 0.004 + 0.010 + 0.0023);
            before = t->figure[BL_FIGURE_DEMAND_ARRIVAL].s;
            /* 40 ms of modulator, then the valve and the chambers. */
            assert_true(t->figure[BL_FIGURE_RESPONSE].s >
                        t->figure[BL_FIGURE_DEMAND_ARRIVAL].s + 0.039);
            assert_true(t->figure[BL_FIGURE_RESPONSE].s <
                        t->figure[BL_FIGURE_DEMAND_ARRIVAL].s + 0.065);
        }
        assert_false(truth_of(&s, UNPOWERED, a, 2)
                         ->figure[BL_FIGURE_DEMAND_ARRIVAL]
                         .known);
    }
    small_end(&s);
}

/* Units behind a coupling without power say nothing on the link. */
static void unpowered_links_are_silent(void **state)
{
    (void)state;
    struct small s = small_run(SMALL, 0);
    assert_int_equal(bl_simulation_run(s.simulation, UNPOWERED)->frames, 0);
    assert_true(bl_simulation_run(s.simulation, POWERED)->frames > 3000);
    small_end(&s);
}

/* What the recorded column crosses, taken back through the errors that truth
   states for its sensor, is the true crossing. */
static void columns_agree_with_truth(void **state)
{
    (void)state;
    struct small s = small_run(SMALL, 0);
    const struct bl_simulated_run *run =
        bl_simulation_run(s.simulation, UNPOWERED);
    const struct bl_simulated_column *c = column_of(run, "output_3");
    const struct bl_true_application *a = &run->application[0];
    const double level = 414 * c->gain + c->zero_kpa;
    for (size_t i = 1; i < run->rows; i++) {
        if (run->row_ns[i] > a->apply_ns && c->value[i - 1] < level &&
            c->value[i] >= level) {
            const double part =
                (level - c->value[i - 1]) / (c->value[i] - c->value[i - 1]);
            const double at =
                (double)(run->row_ns[i - 1] - a->apply_ns) * 1e-9 +
                part * 1e-3 - c->delay_s;
            assert_near(at, truth_of(&s, UNPOWERED, 0, 3)->level[1].s, 0.0015);
            small_end(&s);
            return;
        }
    }
    fail();
}

/* The demand in the frames, read by the tables, crosses where truth says: the
   two clocks are tied as the run states. */
static void frames_agree_with_truth(void **state)
{
    (void)state;
    struct small s = small_run(SMALL, 0);
    const struct bl_simulated_run *run =
        bl_simulation_run(s.simulation, POWERED);
    const struct bl_true_application *a = &run->application[0];
    const int64_t first = run->frame[0].time_ns;
    for (size_t i = 0; i < run->frames; i++) {
        const struct bl_frame *f = &run->frame[i];
        const struct bl_id id = bl_id_split(f->id);
        /* Demand to unit 3: PGN 512 from 192 to 184; 5/256 kPa per bit, bytes
           3 and 4 (UN R13 Annex 17: 33280 is 650 kPa); above 0xFAFF it is no
           value. */
        const double kpa = (f->data[2] + 256 * f->data[3]) * 5.0 / 256;
        if (id.pgn != 512 || id.source != 192 || id.destination != 184 ||
            kpa < 20 || kpa > 1254.98) {
            continue;
        }
        assert_string_equal(run->bus[f->bus], "link3");
        const double since = (double)(f->time_ns - first) * 1e-9;
        const double on_log = (double)(f->time_ns - a->apply_ns) * 1e-9 +
                              run->offset_s + run->drift_ppm * 1e-6 * since;
        assert_near(
            on_log,
            truth_of(&s, POWERED, 0, 3)->figure[BL_FIGURE_DEMAND_ARRIVAL].s,
            3e-6);
        small_end(&s);
        return;
    }
    fail();
}

/* Half of a light hold of 100 kPa lies above 20 kPa; the demand is never above
   what the pedal asked for. Every frame in order. */
static void frames_are_in_order(void **state)
{
    (void)state;
    struct small s = small_run(SMALL, 0);
    const struct bl_simulated_run *run =
        bl_simulation_run(s.simulation, POWERED);
    for (size_t i = 1; i < run->frames; i++) {
        assert_true(run->frame[i].time_ns >= run->frame[i - 1].time_ns);
        assert_int_equal(run->frame[i].length, 8);
        assert_true(run->frame[i].flags & BL_FRAME_EXTENDED);
    }
    for (size_t i = 1; i < run->rows; i++) {
        assert_int_equal(run->row_ns[i] - run->row_ns[i - 1], 1000000);
    }
    assert_true(run->t0_ns <= run->row_ns[0]);
    small_end(&s);
}

static bool same(const struct bl_simulated_run *a,
                 const struct bl_simulated_run *b)
{
    bool equal = a->frames == b->frames && a->rows == b->rows;
    for (size_t i = 0; equal && i < a->frames; i++) {
        equal = a->frame[i].time_ns == b->frame[i].time_ns &&
                memcmp(a->frame[i].data, b->frame[i].data, 8) == 0;
    }
    for (size_t c = 0; equal && c < a->columns; c++) {
        equal = memcmp(a->column[c].value, b->column[c].value,
                       a->rows * sizeof(double)) == 0;
    }
    return equal;
}

static void a_seed_is_a_trial(void **state)
{
    (void)state;
    struct small a = small_run(SMALL, 41);
    struct small b = small_run(SMALL, 41);
    struct small c = small_run(SMALL, 42);
    assert_true(same(bl_simulation_run(a.simulation, 0),
                     bl_simulation_run(b.simulation, 0)));
    assert_false(same(bl_simulation_run(a.simulation, 0),
                      bl_simulation_run(c.simulation, 0)));
    small_end(&a);
    small_end(&b);
    small_end(&c);
}

static void survives_lack_of_memory(void **state)
{
    (void)state;
    struct bl_scenario *scenario;
    struct bl_simulation *simulation = NULL;
    assert_int_equal(
        small_read(&scenario,
                   "[scenario]\nquiet_first = 0.2 s\nstep = 5 ms\n"
                   "[sensors]\nrate = 20 Hz\n[unit 0]\n[unit 1]\n"
                   "[application a]\npressure = 300 kPa\nhold = 0.5 s\n"
                   "pause = 0.5 s\n[run U]\npower = off\ndata = off\n"
                   "applications = a\n",
                   NULL, NULL),
        BL_OK);
    enum bl_status status = BL_NOMEM;
    for (uint64_t at = 1; status != BL_OK; at++) {
        bl_alloc_fail_at(at);
        status = bl_simulate(&simulation, scenario, NULL);
        bl_alloc_fail_at(0);
        assert_true(status == BL_OK || status == BL_NOMEM);
    }
    bl_simulation_destroy(simulation);
    bl_scenario_destroy(scenario);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(truth_is_in_order),
        cmocka_unit_test(a_longer_line_is_later_by_its_length),
        cmocka_unit_test(demand_travels_in_steps_of_one_period),
        cmocka_unit_test(unpowered_links_are_silent),
        cmocka_unit_test(columns_agree_with_truth),
        cmocka_unit_test(frames_agree_with_truth),
        cmocka_unit_test(frames_are_in_order),
        cmocka_unit_test(a_seed_is_a_trial),
        cmocka_unit_test(survives_lack_of_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
