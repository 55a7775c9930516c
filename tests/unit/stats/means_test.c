/* SPDX-License-Identifier: MIT */
/*
 * Differences of means, scatter within and between groups, Holm's adjustment,
 * against published figures and against numbers worked out on paper.
 */
#include "stats/stats_common.h"
#include "testing.h"

#include "brakelag/stats.h"

static const double drug_1[] = {.7, -1.6, -.2, -1.2, -.1, 3.4, 3.7, .8, 0, 2};
static const double drug_2[] = {1.9, .8, 1.1, .1, -.1, 4.4, 5.5, 1.6, 4.6, 3.4};

/* Sleep data of Student 1908, data from memory: Welch as every statistics
   program prints it for them, t -1.8608135, df 17.776474, p 0.07939414,
   interval -3.3654832 to 0.2054832. */
static void welch_of_the_sleep_data(void **state)
{
    (void)state;
    struct bl_mean_difference d;
    const struct bl_two_samples samples = {drug_2, 10, drug_1, 10};
    assert_int_equal(bl_welch(&d, &samples, 0.95, NULL), BL_OK);
    assert_near(d.t, -1.8608135, 5e-8);
    assert_near(d.dof, 17.776474, 5e-7);
    assert_near(d.p, 0.07939414, 5e-9);
    assert_near(d.low, -3.3654832, 5e-8);
    assert_near(d.high, 0.2054832, 5e-8);
    assert_near(d.difference, -1.58, 1e-12);
}

/* The same data in pairs: t 4.0621, p 0.002833, 0.7001142 to 2.4598858. */
static void pairs_of_the_sleep_data(void **state)
{
    (void)state;
    double difference[10];
    for (size_t i = 0; i < 10; i++) {
        difference[i] = drug_2[i] - drug_1[i];
    }
    struct bl_mean_difference d;
    assert_int_equal(bl_paired_t(&d, difference, 10, 0.95, NULL), BL_OK);
    assert_near(d.t, 4.0621, 5e-5);
    assert_near(d.p, 0.002833, 5e-7);
    assert_near(d.low, 0.7001142, 5e-8);
    assert_near(d.high, 2.4598858, 5e-8);
}

/* NIST Statistical Reference Datasets, AtmWtAg (one-way analysis of variance,
   average difficulty), data from memory: F 15.9467335677930, residual standard
   deviation 1.51048314446410e-5. Between: (3.63834187500000e-9 -
   2.28155932971014e-10) / 24 by the certified mean squares. */
static void atomic_weight_of_silver(void **state)
{
    (void)state;
    static const double last[] = {
        1568, 1465, 1572, 1785, 1446, 1903, 1526, 1494, 1616, 1587, 1519, 1486,
        1419, 1569, 1508, 1672, 1385, 1518, 1662, 1424, 1360, 1333, 1610, 1477,
        1079, 1344, 1513, 1197, 1604, 1385, 1642, 1365, 1151, 1082, 1517, 1448,
        1198, 1482, 1334, 1609, 1101, 1512, 1469, 1360, 1254, 1261, 1450, 1368};
    double value[48];
    for (size_t i = 0; i < 48; i++) {
        value[i] = 107.868 + last[i] * 1e-7;
    }
    const size_t size[] = {24, 24};
    struct bl_variance v;
    assert_int_equal(bl_variance_of(&v, value, size, 2, NULL), BL_OK);
    assert_near(v.f, 15.9467335677930, 1e-6);
    assert_near(v.within_sd, 1.51048314446410e-5, 1e-12);
    assert_near(v.dof_within, 46, 0);
    assert_near(v.mean_size, 24, 1e-12);
    assert_near(v.between_sd,
                sqrt((3.63834187500000e-9 - 2.28155932971014e-10) / 24), 1e-12);
}

/* Groups {1, 3}, {5}, {8, 10, 12}, on paper: means 2, 5, 10, of all 6.5.
   Within: 2 + 0 + 8 = 10 with 3 degrees of freedom. Between: 2 x 20.25 + 2.25 +
   3 x 12.25 = 79.5 with 2. Mean size (6 - 14/6) / 2 = 11/6. */
static void groups_of_different_size(void **state)
{
    (void)state;
    static const double value[] = {1, 3, 5, 8, 10, 12};
    static const size_t size[] = {2, 1, 3};
    struct bl_variance v;
    assert_int_equal(bl_variance_of(&v, value, size, 3, NULL), BL_OK);
    assert_near(v.within_sd, sqrt(10.0 / 3), 1e-12);
    assert_near(v.mean_size, 11.0 / 6, 1e-12);
    assert_near(v.between_sd, sqrt((79.5 / 2 - 10.0 / 3) / (11.0 / 6)), 1e-12);
    static const size_t ones[] = {1, 1, 1, 1, 1, 1};
    assert_int_equal(bl_variance_of(&v, value, ones, 6, NULL), BL_OK);
    assert_nan(v.within_sd);
    assert_nan(v.between_sd);
    static const size_t one[] = {6};
    assert_int_equal(bl_variance_of(&v, value, one, 1, NULL), BL_OK);
    assert_near(v.within_sd, sqrt((6 * 343.0 - 39 * 39.0) / 30), 1e-12);
    assert_nan(v.between_sd);
}

/* Difference 1, u 0.5, 10 degrees of freedom, margin 2: t = 2, and
   P(t > 2) = 0.036694 (table of Student's t, from memory). The margin itself:
   one half; beyond it: more. */
static void same_within_a_margin(void **state)
{
    (void)state;
    const struct bl_mean_difference d = {
        .difference = -1, .u = 0.5, .dof = 10, .confidence = 0.95};
    assert_near(bl_same_within_p(&d, 2), 0.036694, 5e-7);
    assert_near(bl_same_within_p(&d, 1), 0.5, 1e-12);
    assert_near(bl_same_within_p(&d, 0), 1 - 0.036694, 5e-7);
    const struct bl_mean_difference one = {.u = (double)NAN, .dof = 0};
    assert_nan(bl_same_within_p(&one, 1));
}

/* On paper: 0.01, 0.02, 0.03, 0.04 times 4, 3, 2, 1, never falling: 0.04, 0.06,
   0.06, 0.06. Values that are not known take no part. */
static void holm_by_hand(void **state)
{
    (void)state;
    double p[] = {0.04, 0.01, (double)NAN, 0.03, 0.02};
    assert_int_equal(bl_holm(p, p, 5, NULL), BL_OK);
    assert_near(p[1], 0.04, 1e-12);
    assert_near(p[4], 0.06, 1e-12);
    assert_near(p[3], 0.06, 1e-12);
    assert_near(p[0], 0.06, 1e-12);
    assert_nan(p[2]);
}

/* One value has no scatter to go by; values without any have no width. */
static void too_few_say_nothing(void **state)
{
    (void)state;
    static const double one[] = {1};
    static const double two[] = {2, 2};
    struct bl_mean_difference d;
    assert_int_equal(bl_welch(&d,
                              &(const struct bl_two_samples){one, 1, two, 2},
                              0.95, NULL),
                     BL_OK);
    assert_near(d.difference, 1, 0);
    assert_nan(d.low);
    assert_nan(d.p);
    assert_int_equal(bl_paired_t(&d, one, 1, 0.95, NULL), BL_OK);
    assert_nan(d.high);
    assert_int_equal(bl_paired_t(&d, two, 2, 0.95, NULL), BL_OK);
    assert_near(d.low, 2, 0);
    assert_near(d.high, 2, 0);
    assert_int_equal(bl_paired_t(&d, two, 2, 1.5, NULL), BL_ARG);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(welch_of_the_sleep_data),
        cmocka_unit_test(pairs_of_the_sleep_data),
        cmocka_unit_test(atomic_weight_of_silver),
        cmocka_unit_test(groups_of_different_size),
        cmocka_unit_test(same_within_a_margin),
        cmocka_unit_test(holm_by_hand),
        cmocka_unit_test(too_few_say_nothing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
