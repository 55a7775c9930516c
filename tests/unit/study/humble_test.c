/* SPDX-License-Identifier: MIT */
/*
 * Trains of which little is known: switches at the brakes that close nobody
 * knows where, light applications by air of 85 kPa, and no run with the demand.
 * Sound ones are left alone; what is plain is still said. The trains are those
 * of plant A (first_visit_a.h).
 */
#include "first_visit_a.h"

/* Switches of different kinds in one train: a stop lamp's closes below 41 kPa,
   one that was set to where a brake bites may at 90 (common practice). */
static void put_switches(struct visit *v)
{
    v->wired = v->capture = false;
    for (size_t u = 0; u <= v->towed; u++) {
        v->closes_kpa[u] = visit_uniform(v, 20, 90);
    }
}

static void put_light(struct visit *v)
{
    v->light_kpa = 85;
}

static void put_air_only(struct visit *v)
{
    v->air_only = true;
}

static void put_switches_by_air(struct visit *v)
{
    put_switches(v);
    v->air_only = true;
}

/* How many of them have a warning or a fault; `unit`: the one that is named. */
static size_t judged(void (*put)(struct visit *v), enum visit_fault fault,
                     int trains, uint64_t seed, double size, bool named)
{
    size_t counted = 0;
    for (int i = 0; i < trains; i++) {
        struct visit v;
        struct bl_trial *trial;
        visit_start(&v, fault, seed++);
        /* Three other stages, at the least, and a unit in front. */
        while (fault != VISIT_SOUND && (v.towed < 5 || v.at < 2)) {
            visit_finish(&v);
            visit_start(&v, fault, seed++);
        }
        put(&v);
        v.size = size;
        struct bl_assessment *found = visit_assess(&v, visit_plant_a, &trial);
        const struct bl_finding *f = visit_first(found);
        counted += f != NULL && (!named || f->unit == (long)v.at);
        if ((f != NULL) != (fault != VISIT_SOUND)) {
            print_message("  seed %llu: %s %s\n", (unsigned long long)seed - 1,
                          f == NULL ? "nothing"
                                    : bl_finding_kind(f->code)->code,
                          f == NULL ? "" : f->text);
        }
        visit_apart(found->findings);
        bl_assessment_destroy(found);
        bl_trial_destroy(trial);
        visit_finish(&v);
    }
    return counted;
}

static void sound_ones_are_left_alone(void **state)
{
    (void)state;
    static const struct {
        const char *what;
        void (*put)(struct visit *v);
    } rows[] = {{"switches", put_switches},
                {"switches by air", put_switches_by_air},
                {"85 kPa", put_light},
                {"air only", put_air_only}};
    const char *said = getenv("VISIT_EACH");
    const int trains = said == NULL ? 3 : (int)strtoul(said, NULL, 10);
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        const size_t called = judged(rows[i].put, VISIT_SOUND, trains,
                                     41000000 + 1000 * i, 0, false);
        print_message("%s: %zu of %d sound trains\n", rows[i].what, called,
                      trains);
        assert_true(called <= 1 + (size_t)trains / 50);
    }
}

/* 0.8 s more in one stage are plain by whatever switch. */
static void what_is_plain_is_said(void **state)
{
    (void)state;
    assert_int_equal(
        judged(put_switches_by_air, VISIT_LINE, 3, 42000000, 8, true), 3);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sound_ones_are_left_alone),
        cmocka_unit_test(what_is_plain_is_said),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
