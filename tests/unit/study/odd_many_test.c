/* SPDX-License-Identifier: MIT */
/* First visits, the long form: a thousand faulty and a thousand sound trains
   of each plant, drawn anew by seed. */
#include "first_visit_a.h"
#include "first_visit_b.h"

/* Fifty-three of each of nineteen causes. */
static void plant_a(void **state)
{
    (void)state;
    visit_all(visit_plant_a, 53, 1000, 1000000);
}

static void plant_b(void **state)
{
    (void)state;
    visit_all(visit_plant_b, 53, 1000, 2000000);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(plant_a),
        cmocka_unit_test(plant_b),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
