/* SPDX-License-Identifier: MIT */
/*
 * Uncertainties taken apart, and units that come after a unit behind them, from
 * figures made by hand. Rules: JCGM 100:2008 (GUM) 5.1.2 (root of the sum of
 * squares), 4.2.3 (u of a mean: s / root n), G.4.1 (Welch-Satterthwaite), table
 * G.2 (t at 95.45 %: not used; at 95 % with 2 degrees of freedom 4.303).
 */
#include "testing.h"

#include "brakelag/budget.h"
#include "lag/medians.h"

#include <math.h>

enum { APPLICATIONS = 3, UNITS = 2 };

struct plant {
    struct bl_trial_unit trial_unit[UNITS];
    struct bl_trial_run run[1];
    struct bl_trial trial;
    struct bl_unit_lag unit[APPLICATIONS][UNITS];
    struct bl_application application[APPLICATIONS];
    struct bl_run_lag lag;
    struct bl_run_lag *lags[1];
};

/* Responses of unit 1 at 0.1, 0.2 and 0.3 s with 3 ms of noise and 4 ms of
   delay; zero is not stated. */
static void make(struct plant *p)
{
    memset(p, 0, sizeof(*p));
    for (int i = 0; i < APPLICATIONS; i++) {
        for (size_t u = 0; u < UNITS; u++) {
            p->unit[i][u].unit = u;
        }
        struct bl_figure *f = &p->unit[i][1].figure[BL_FIGURE_RESPONSE];
        f->known = true;
        f->s = 0.1 * (i + 1);
        f->u_s = 0.005;
        f->part.crossing = 0.003;
        f->part.delay = 0.004;
        f->part.zero = NAN;
        p->application[i] = (struct bl_application){.number = i + 1,
                                                    .combination = 'A',
                                                    .kind = BL_KIND_FULL,
                                                    .shape = BL_SHAPE_STEP,
                                                    .unit = p->unit[i],
                                                    .units = UNITS};
    }
    p->trial_unit[0].combination = p->trial_unit[1].combination = 'A';
    p->trial_unit[1].number = 1;
    p->run[0].name = (char *)"P1";
    p->trial = (struct bl_trial){
        .unit = p->trial_unit, .units = UNITS, .run = p->run, .runs = 1};
    p->lag = (struct bl_run_lag){.application = p->application,
                                 .applications = APPLICATIONS};
    p->lags[0] = &p->lag;
}

static void splits_random_from_common(void **state)
{
    (void)state;
    struct plant p;
    struct bl_budget *budget = NULL;
    struct bl_error error;
    bl_error_clear(&error);
    make(&p);
    assert_int_equal(
        bl_budget_create(&budget, &p.trial, p.lags, "response@1@2", &error),
        BL_OK);
    assert_int_equal(budget->count, 1);
    const struct bl_budget_entry *is = &budget->item[0];
    assert_int_equal(is->application, 2);
    assert_near(is->random_s, 0.003, 1e-12);
    assert_near(is->common_s, 0.004, 1e-12);
    assert_near(is->expanded_s, 0.010, 1e-12);
    /* 0.1, 0.2, 0.3: s = 0.1, u of the mean 0.1 / root 3. */
    assert_int_equal(is->n, 3);
    assert_near(is->mean_s, 0.2, 1e-12);
    assert_near(is->scatter_s, 0.1, 1e-12);
    assert_near(is->u_scatter_s, 0.0577350269, 1e-9);
    assert_near(is->u_mean_s, hypot(0.0577350269, 0.004), 1e-9);
    /* 2 (1 + (0.004 / 0.0577)^2)^2 = 2.01925; k between t(2) = 4.303 and t(3).
     */
    assert_near(is->effective_dof, 2.01925, 1e-4);
    assert_true(is->mean_k < 4.3028 && is->mean_k > 4.1);
    bl_budget_destroy(budget);
    /* Without a number the first of its kind; an excluded one is none. */
    p.application[0].excluded = true;
    assert_int_equal(
        bl_budget_create(&budget, &p.trial, p.lags, "response", &error), BL_OK);
    assert_int_equal(budget->count, 1);
    assert_int_equal(budget->item[0].application, 2);
    assert_int_equal(budget->item[0].n, 2);
    bl_budget_destroy(budget);
    assert_int_equal(
        bl_budget_create(&budget, &p.trial, p.lags, "apply_75", &error),
        BL_NODATA);
    assert_int_equal(
        bl_budget_create(&budget, &p.trial, p.lags, "level", &error), BL_ARG);
}

static void takes_medians_of_what_is_stated(void **state)
{
    (void)state;
    struct plant p;
    struct bl_u_parts parts = {0};
    double u[BL_COMPONENTS + 1];
    bool any = false;
    make(&p);
    p.unit[2][1].figure[BL_FIGURE_RESPONSE].part.crossing = 0.009;
    p.unit[0][1].figure[BL_FIGURE_RESPONSE].part.delay = NAN;
    assert_true(bl_u_parts_add(&parts, &p.lag));
    assert_true(bl_u_parts_median(u, &any, &parts, 1, BL_FIGURE_RESPONSE));
    assert_true(any);
    /* The list begins with crossing; delay is the sixth, zero the fifth. */
    assert_string_equal(bl_component_name(0), "crossing");
    assert_near(u[0], 0.003, 1e-12);
    assert_string_equal(bl_component_name(5), "delay");
    assert_near(u[5], 0.004, 1e-12);
    assert_true(isnan(u[4]));
    assert_near(u[BL_COMPONENTS], 0.005, 1e-12);
    assert_true(bl_u_parts_median(u, &any, &parts, 0, BL_FIGURE_RESPONSE));
    assert_false(any);
    bl_u_parts_finish(&parts);
}

static void overtaken_beyond_both_uncertainties(void **state)
{
    (void)state;
    struct plant p;
    struct bl_overtaken found;
    make(&p);
    struct bl_figure *front = &p.unit[0][0].figure[BL_FIGURE_RESPONSE];
    *front =
        p.unit[0][1].figure[BL_FIGURE_RESPONSE]; /* unit 1 at 0.1 s, u 5 ms */
    /* 2 u of the difference: 2 root 2 times 5 ms = 14.1 ms. */
    front->s = 0.114;
    assert_false(
        bl_overtaken(&found, &p.application[0], 0, BL_FIGURE_RESPONSE));
    front->s = 0.115;
    assert_true(bl_overtaken(&found, &p.application[0], 0, BL_FIGURE_RESPONSE));
    assert_int_equal(found.unit, 0);
    assert_int_equal(found.behind, 1);
    assert_near(found.by_s, 0.015, 1e-12);
    /* The last unit has none behind it; what is not known is not compared. */
    assert_false(
        bl_overtaken(&found, &p.application[0], 1, BL_FIGURE_RESPONSE));
    p.unit[0][1].figure[BL_FIGURE_RESPONSE].known = false;
    assert_false(
        bl_overtaken(&found, &p.application[0], 0, BL_FIGURE_RESPONSE));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(splits_random_from_common),
        cmocka_unit_test(takes_medians_of_what_is_stated),
        cmocka_unit_test(overtaken_beyond_both_uncertainties),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
