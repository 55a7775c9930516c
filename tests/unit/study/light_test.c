/* SPDX-License-Identifier: MIT */
/*
 * What is left at the rear, on the plant of tests/support/plant.h: holds 10 kPa
 * apart; a sound unit gives nothing up to 20 kPa and 5 kPa less than its
 * control pressure from there on. Published differential: 49 CFR 571.121
 * S5.3.5, 1 psi from 5 to 20 psi, 2 psi from 20 to 40, 5 % above that (the last
 * from memory). Brakes begin at 35 kPa of output: common practice.
 */
#include "plant.h"
#include "study/limits/judge.h"

static void study(struct plant *p, const struct plant_fault *fault,
                  enum bl_control_line line, struct bl_characteristics **out)
{
    static const struct plant_course stairs = {.stairs = true, .period_s = 10};
    static const struct plant_fault sound[PLANT_UNITS];
    struct bl_error error;
    bl_error_clear(&error);
    plant_start(p, 11);
    p->trial.control_line = line;
    plant_run(p, 0, sound, &stairs);
    plant_run(p, 1, fault, &stairs);
    plant_measure(p);
    assert_int_equal(bl_characteristic_run(out, &p->trial, &p->data[1],
                                           &p->clocks[1], p->lag[1], &error),
                     BL_OK);
}

static void light_demands_show_who_brakes(void **state)
{
    (void)state;
    static const struct plant_fault sound[PLANT_UNITS];
    struct plant p;
    struct bl_characteristics *all;
    size_t seen = 0;
    study(&p, sound, BL_CONTROL_LINE_THROUGH, &all);
    assert_true(all->light_known);
    for (size_t i = 0; i < all->lights; i++) {
        const struct bl_light_row *row = &all->light[i];
        const double demand = 10 * round(row->demand.value / 10);
        assert_near(row->demand.value, demand, 0.5);
        for (size_t u = 0; u < row->units; u++) {
            /* At 20 kPa it opens or not by which side it comes from. */
            if (row->unit[u].unit == 0 || demand == 20) {
                continue;
            }
            const double left = demand > 20 ? demand - 5 : 0;
            assert_near(row->unit[u].output.value, left, 1);
            /* 40 kPa leave 35: just there it may be told or not. */
            if (demand != 40) {
                assert_int_equal(row->unit[u].braked,
                                 left > 35 ? BL_YES : BL_NO);
            }
            seen++;
        }
    }
    /* 10 to 140 kPa, up and down, two units. */
    assert_true(seen >= 2 * 2 * 12);
    bl_characteristics_destroy(all);
    plant_finish(&p);
}

static void published_losses(void **state)
{
    /* psi in front, psi lost; the last by 5 %. 5, 20 and 40 belong to the range
       below: "5 to 20", "above 20 to 40". */
    static const double row[][2] = {{5, 1},        {14.5, 1}, {20, 1},
                                    {20.1, 2},     {29, 2},   {40, 2},
                                    {40.1, 2.005}, {100, 5}};
    const double psi = 6.894757293168361;
    (void)state;
    for (size_t i = 0; i < COUNT_OF(row); i++) {
        const double front = row[i][0] * psi;
        const struct bl_published_limit *is = bl_limit_of_loss(front);
        assert_non_null(is);
        assert_string_equal(is->clause, "S5.3.5");
        assert_near(bl_limit_loss_kpa(is, front), row[i][1] * psi, 1e-6);
        assert_int_equal(is->confidence == BL_FROM_MEMORY, row[i][0] > 40);
    }
    assert_null(bl_limit_of_loss(4.9 * psi));
    assert_null(bl_limit_of_loss(NAN));
    assert_nan(bl_limit_loss_kpa(NULL, 20));
}

static void loss_is_laid_beside_the_rule(void **state)
{
    (void)state;
    for (int lossy = 0; lossy < 2; lossy++) {
        struct plant_fault fault[PLANT_UNITS];
        struct plant p;
        struct bl_characteristics *all;
        size_t judged = 0;
        memset(fault, 0, sizeof(fault));
        fault[2].line_loss_kpa = lossy ? 30 : 0; /* above 100 kPa */
        study(&p, fault, BL_CONTROL_LINE_THROUGH, &all);
        for (size_t i = 0; i < all->losses; i++) {
            const struct bl_line_loss *is = &all->loss[i];
            if (is->unit != 1 || is->front.value < 138) {
                continue;
            }
            assert_true(is->next_stands_in);
            assert_near(is->loss.value, lossy ? 30 : 0, 2);
            assert_int_equal(is->inside, lossy ? BL_FIT_NO : BL_FIT_YES);
            judged++;
        }
        assert_true(judged > 0);
        bl_characteristics_destroy(all);
        plant_finish(&p);
    }
}

/* Unit 2 begins at 50 kPa of its own; a through line adds nothing up, and a
   relayed one is read against the front demand. */
static void cracks_add_up_for_relayed_lines_only(void **state)
{
    (void)state;
    struct plant_fault fault[PLANT_UNITS];
    memset(fault, 0, sizeof(fault));
    fault[2].shelf_kpa = 30;
    for (int relayed = 0; relayed < 2; relayed++) {
        struct plant p;
        struct bl_characteristics *all;
        study(&p, fault,
              relayed ? BL_CONTROL_LINE_RELAYED : BL_CONTROL_LINE_THROUGH,
              &all);
        size_t read = 0;
        for (size_t i = 0; i < all->count; i++) {
            const struct bl_characteristic *is = &all->item[i];
            const double own = is->unit == 2 ? 50 : 20;
            const struct bl_branch *rising =
                &is->curve[BL_CURVE_OF_CONTROL].rising;
            assert_int_equal(rising->reason, BL_CURVE_FITTED);
            /* Holds are 10 kPa apart: it lies between two of them. */
            assert_true(rising->on.value > own - 2 &&
                        rising->on.value < own + 12);
            assert_int_equal(is->cumulative_applies, relayed);
            if (relayed) {
                assert_true(is->cumulative.on.value > own - 2 &&
                            is->cumulative.on.value < own + 12);
            }
            read++;
        }
        assert_int_equal(read, 2);
        bl_characteristics_destroy(all);
        plant_finish(&p);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(light_demands_show_who_brakes),
        cmocka_unit_test(published_losses),
        cmocka_unit_test(loss_is_laid_beside_the_rule),
        cmocka_unit_test(cracks_add_up_for_relayed_lines_only),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
