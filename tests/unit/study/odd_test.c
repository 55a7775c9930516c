/* SPDX-License-Identifier: MIT */
/* First visits, the quick form: a few of every cause by each plant, and sound
   trains. How often each is right over many is `study/odd_many`. */
#include "first_visit_a.h"
#include "first_visit_b.h"

static void plant_a(void **state)
{
    (void)state;
    visit_all(visit_plant_a, 1, 6, 100000);
}

static void plant_b(void **state)
{
    (void)state;
    visit_all(visit_plant_b, 1, 4, 200000);
}

/* The trials that golden cases work on. */
static void looked_for_and_not(void **state)
{
    (void)state;
    static const char *const trials[] = {"captures-demo/trial.ini",
                                         "tests/data/cli/trial.ini"};
    const struct bl_assess_options options = {.parts = BL_ASSESS_CAUSES};
    for (size_t i = 0; i < COUNT_OF(trials); i++) {
        char path[512];
        struct bl_error error;
        struct bl_trial *trial;
        struct bl_assessment *found = NULL;
        const char *root = getenv("BL_SOURCE_ROOT");
        assert_non_null(root);
        (void)snprintf(path, sizeof(path), "%s/%s", root, trials[i]);
        bl_error_clear(&error);
        assert_int_equal(bl_trial_read_file(&trial, path, NULL, &error), BL_OK);
        assert_int_equal(bl_assess(&found, trial, &options, NULL, &error),
                         BL_OK);
        assert_true(found->findings->places > 10);
        visit_apart(found->findings);
        bl_assessment_destroy(found);
        bl_trial_destroy(trial);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(looked_for_and_not),
        cmocka_unit_test(plant_a),
        cmocka_unit_test(plant_b),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
