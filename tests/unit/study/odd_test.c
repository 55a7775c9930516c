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

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(plant_a),
        cmocka_unit_test(plant_b),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
