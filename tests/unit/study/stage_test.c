/* SPDX-License-Identifier: MIT */
/*
 * Stage against stage on trains of this test's own: no model of air, but what a
 * yard sees of a chain (common practice: 0.1 to 0.3 s from output to output).
 * A train has one delay per unit of 11 m; a part of it grows with the length,
 * units differ by 9 % and are read with 3 ms of noise. Seeds stand in
 * docs/testing.md.
 */
#include "testing.h"

#include "base/random.h"
#include "study/predict/predicting.h"

#include <stdlib.h>

enum { UNITS = 6, STAGES = UNITS - 1, TRAINS = 1000 };

struct chain {
    struct bl_stage apply[STAGES], release[STAGES];
};

static void lay(struct bl_stage *stage, struct bl_random *random,
                const double *length_m, double delay_s)
{
    const double fixed = 0.15 + 0.25 * bl_random_uniform(random);
    for (size_t i = 0; i < STAGES; i++) {
        const double more = fixed + (1 - fixed) * length_m[i] / 11;
        const double part = 1 + 0.09 * bl_random_normal(random);
        stage[i] = (struct bl_stage){.known = true,
                                     .s = delay_s * more * part +
                                          0.003 * bl_random_normal(random),
                                     .u_s = 0.003,
                                     .length_m = 1.3 * length_m[i]};
    }
}

static void make(struct chain *t, struct bl_random *random)
{
    double length_m[STAGES];
    for (size_t i = 0; i < STAGES; i++) {
        length_m[i] = 8 + 6 * bl_random_uniform(random);
    }
    const double delay_s = 0.1 + 0.2 * bl_random_uniform(random);
    lay(t->apply, random, length_m, delay_s);
    lay(t->release, random, length_m,
        delay_s * (0.7 + 0.6 * bl_random_uniform(random)));
}

static size_t late(const struct bl_stage *stage, size_t at)
{
    return stage[at].late;
}

/* At most 1.5 % of sound units are called late, on apply or on release. */
static void sound_trains_are_left_alone(void **state)
{
    const int trains = TRAINS;
    (void)state;
    size_t called = 0;
    struct bl_random random;
    bl_random_seed(&random, 1901);
    for (int i = 0; i < trains; i++) {
        struct chain t;
        make(&t, &random);
        bl_stage_judge(t.apply, STAGES);
        bl_stage_judge(t.release, STAGES);
        for (size_t k = 0; k < STAGES; k++) {
            called += late(t.apply, k) || late(t.release, k);
        }
    }
    const double share = (double)called / (double)(trains * UNITS);
    print_message("%d sound trains: %.2f %% of units called late\n", trains,
                  100 * share);
    assert_true(share <= 0.015);
}

/* One restriction adds 0.15 to 0.3 s on apply, or 0.3 to 0.6 s on release, with
   four other stages there: seen at its own stage. */
static void one_restriction_is_seen(void **state)
{
    const int trains = TRAINS;
    (void)state;
    size_t seen = 0;
    size_t elsewhere = 0;
    struct bl_random random;
    bl_random_seed(&random, 1902);
    for (int i = 0; i < trains; i++) {
        struct chain t;
        make(&t, &random);
        const size_t at = (size_t)bl_random_below(&random, STAGES);
        const double more = 0.15 + 0.15 * bl_random_uniform(&random);
        struct bl_stage *stage = i % 2 == 0 ? t.apply : t.release;
        stage[at].s += i % 2 == 0 ? more : 2 * more;
        bl_stage_judge(stage, STAGES);
        seen += late(stage, at);
        for (size_t k = 0; k < STAGES; k++) {
            elsewhere += k != at && late(stage, k);
        }
    }
    print_message("%d trains with a restriction: %.1f %% seen, %zu elsewhere\n",
                  trains, 100.0 * (double)seen / trains, elsewhere);
    assert_true((double)seen >= 0.9 * trains);
    assert_true((double)elsewhere <= 0.015 * trains * STAGES);
}

/* Two others are too few, and what is not known is not judged. */
static void three_others_are_needed(void **state)
{
    (void)state;
    struct bl_stage stage[4] = {{.known = true, .s = 0.2, .length_m = 14},
                                {.known = true, .s = 0.2, .length_m = 14},
                                {.known = true, .s = 0.9, .length_m = 14},
                                {.known = false, .s = 9}};
    bl_stage_judge(stage, 4);
    assert_int_equal(stage[2].others, 2);
    assert_false(stage[2].late);
    assert_true(isnan(stage[2].limit_s));
    stage[3] = (struct bl_stage){.known = true, .s = 0.2, .length_m = 14};
    bl_stage_judge(stage, 4);
    assert_true(stage[2].late);
    assert_false(stage[0].late || stage[1].late || stage[3].late);
    assert_near(stage[2].expected_s, 0.2, 1e-9);
}

/* A stage of twice the pipe takes longer and is not late; without lengths it
   would be. */
static void a_longer_pipe_is_no_fault(void **state)
{
    (void)state;
    struct bl_stage stage[5];
    for (size_t i = 0; i < 5; i++) {
        const double length = i == 2 ? 30 : 14;
        stage[i] = (struct bl_stage){
            .known = true, .s = 0.06 + 0.012 * length, .length_m = length};
    }
    bl_stage_judge(stage, 5);
    assert_false(stage[2].late);
    for (size_t i = 0; i < 5; i++) {
        stage[i].length_m = NAN;
    }
    bl_stage_judge(stage, 5);
    assert_true(stage[2].late);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sound_trains_are_left_alone),
        cmocka_unit_test(one_restriction_is_seen),
        cmocka_unit_test(three_others_are_needed),
        cmocka_unit_test(a_longer_pipe_is_no_fault),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
