/* SPDX-License-Identifier: MIT */
/*
 * A stage by the control pressures at both of its ends: made by the method of
 * characteristics (chain_reference.h), which shares nothing with the model that
 * is fitted, with parts as an independent study of such chains had them: 150 ms
 * more of dead time read 164 against 14, a bore of 5.2 mm read a friction
 * of 10.5 against 2.7, 50 kPa more that are kept read 90 against 40.
 */
#include "chain_reference.h"

#include "study/predict/fit.h"

enum { STEPS = 1550, STAGES = 5 };
#define HOLD_KPA 600.0

struct part {
    double delay_s, bore_mm, friction, coupling_c, branch_cm3, keeps_kpa;
};
static const struct part usual = {0.02, 8, 1.4, 8, 300, 35};

static double front[STEPS], behind[STEPS];

/* Pressure in front: a chain's own rise, without corners, 0.1 s after the
   beginning of the window, or the fall from what is held. */
static void make(const struct part *part, bool release)
{
    struct bl_chain_unit unit = {.pipe_m = 15,
                                 .bore_mm = part->bore_mm,
                                 .friction = part->friction,
                                 .branch_cm3 = part->branch_cm3,
                                 .coupling_c = part->coupling_c};
    const struct bl_chain chain = {.wave_m_s = 290, .unit = &unit, .units = 1};
    const struct bl_relay relay = {fmax(part->keeps_kpa, 1), part->keeps_kpa, 8,
                                   1, 1e9};
    static struct ref_line line;
    const size_t settle = release ? 8000 : 0;
    ref_lay(&line, &chain, 0);
    for (size_t n = 0; n < settle + (size_t)STEPS * REF_PER_STEP; n++) {
        const double s =
            n < settle ? 0 : (double)(n - settle) * REF_DT - part->delay_s;
        const double x = fmin(fmax((s - 0.1) / 0.35, 0), 1);
        const double share = x * x * (3 - 2 * x);
        const double kpa = HOLD_KPA * (release ? 1 - share : share);
        const double ahead =
            ref_relay(&relay, &line.open, &line.held, 1e9, kpa);
        const double more = ahead - (line.p[0] - REF_ATM) / 1000;
        const double way = REF_DT / 0.015;
        const double wanted = fmin(fmax(more / 15, -1), 1);
        line.travel += fmin(fmax(wanted - line.travel, -way), way);
        ref_line_step(&line, ahead * 1000 + REF_ATM,
                      15 * fmax(line.travel * (more < 0 ? -1 : 1), 0));
        if (n >= settle && (n - settle) % REF_PER_STEP == 0) {
            const double now = (double)(n - settle) * REF_DT - 0.1;
            const double y = fmin(fmax(now / 0.35, 0), 1);
            const double rise = y * y * (3 - 2 * y);
            const size_t i = (n - settle) / REF_PER_STEP;
            /* 1 kPa of resolution, as loggers give it. */
            front[i] = round(HOLD_KPA * (release ? 1 - rise : rise));
            behind[i] = round(ref_past(&line, 0));
        }
    }
}

static struct bl_fit_result fit(const struct part *part, bool release)
{
    struct bl_fit_result out;
    make(part, release);
    const struct bl_fit_edge edge = {
        .front = front,
        .behind = behind,
        .steps = STEPS,
        .length_m = 15,
        .bore_mm = NAN,
        .volume_cm3 = NAN,
        .keeps_kpa = release ? front[0] - behind[0]
                             : front[STEPS - 1] - behind[STEPS - 1]};
    assert_int_equal(bl_fit_stage(&out, &edge, NULL), BL_OK);
    assert_near(edge.keeps_kpa, part->keeps_kpa, 6);
    return out;
}

static void reads_a_dead_time(void **state)
{
    (void)state;
    for (int release = 0; release < 2; release++) {
        struct part slow = usual;
        const struct bl_fit_result sound = fit(&usual, release);
        slow.delay_s += 0.15;
        const struct bl_fit_result late = fit(&slow, release);
        assert_near(sound.delay_s, 0.02, 0.02);
        assert_near(late.delay_s - sound.delay_s, 0.15, 0.01);
        assert_near(log(late.friction / sound.friction), 0, 0.2);
        assert_true(sound.misfit_kpa < 5);
    }
}

/* A bore, a coupling and branches read as one thing: resistance. */
static void reads_a_resistance(void **state)
{
    static const struct part slow[] = {{0.02, 5.2, 1.4, 8, 300, 35},
                                       {0.02, 8, 1.4, 1.5, 300, 35},
                                       {0.02, 8, 1.4, 8, 1500, 35}};
    (void)state;
    for (int release = 0; release < 2; release++) {
        const struct bl_fit_result sound = fit(&usual, release);
        for (size_t i = 0; i < COUNT_OF(slow); i++) {
            const struct bl_fit_result late = fit(&slow[i], release);
            if (!(late.friction > 2 * sound.friction &&
                  late.delay_s < sound.delay_s + 0.04)) {
                fail_msg("part %zu, release %d: friction %g against %g, delay "
                         "%g against %g",
                         i, release, late.friction, sound.friction,
                         late.delay_s, sound.delay_s);
            }
        }
    }
}

/* Kept pressure comes from the holds and changes the others little. */
static void kept_pressure_is_no_resistance(void **state)
{
    (void)state;
    struct part keeps = usual;
    const struct bl_fit_result sound = fit(&usual, false);
    keeps.keeps_kpa = 85;
    const struct bl_fit_result late = fit(&keeps, false);
    assert_near(late.delay_s, sound.delay_s, 0.02);
    assert_near(log(late.friction / sound.friction), 0, 0.3);
}

/* Five stages of sound parts that differ a little, one of which is late. */
static void lay(struct bl_stage *stage)
{
    for (size_t i = 0; i < STAGES; i++) {
        const double some = (double)i - 2;
        stage[i] = (struct bl_stage){.known = true,
                                     .fit = {.known = true,
                                             .n = 3,
                                             .delay_s = 0.014 + 0.004 * some,
                                             .friction = 2.7 * exp(0.15 * some),
                                             .keeps_kpa = 36 + 2 * some,
                                             .cause = BL_STAGE_CANNOT_TELL}};
    }
    stage[3].late = true;
}

static void names_what_a_late_stage_has(void **state)
{
    struct bl_stage stage[STAGES];
    (void)state;
    lay(stage);
    bl_fit_judge(stage, STAGES); /* late by something else: its own valve */
    assert_int_equal(stage[3].fit.cause, BL_STAGE_CANNOT_TELL);
    lay(stage);
    stage[3].fit.delay_s += 0.15;
    bl_fit_judge(stage, STAGES);
    assert_int_equal(stage[3].fit.cause, BL_STAGE_DELAY);
    assert_near(stage[3].fit.others_delay_s, 0.013, 1e-9);
    lay(stage);
    stage[3].fit.friction = 10.5;
    stage[3].fit.delay_s = 0.005; /* the two are correlated: -0.58 */
    bl_fit_judge(stage, STAGES);
    assert_int_equal(stage[3].fit.cause, BL_STAGE_RESISTANCE);
    lay(stage);
    stage[3].fit.keeps_kpa = 90;
    bl_fit_judge(stage, STAGES);
    assert_int_equal(stage[3].fit.cause, BL_STAGE_KEEPS);
    /* One other is too few; a stage that is not late has no cause. */
    lay(stage);
    stage[3].fit.friction = 10.5;
    stage[0].fit.known = stage[1].fit.known = stage[2].fit.known = false;
    bl_fit_judge(stage, STAGES);
    assert_int_equal(stage[3].fit.cause, BL_STAGE_CANNOT_TELL);
    lay(stage);
    stage[2].fit.friction = 10.5;
    bl_fit_judge(stage, STAGES);
    assert_int_equal(stage[2].fit.cause, BL_STAGE_CANNOT_TELL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_a_dead_time),
        cmocka_unit_test(reads_a_resistance),
        cmocka_unit_test(kept_pressure_is_no_resistance),
        cmocka_unit_test(names_what_a_late_stage_has),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
