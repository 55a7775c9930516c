/* SPDX-License-Identifier: MIT */
/* First visits, the long form: of each plant more than five hundred faulty
   trains and two hundred sound ones, drawn anew by seed. */
#include "first_visit_a.h"
#include "first_visit_b.h"

/* Other seeds, or fewer trains while a rule is worked on. */
static unsigned long asked_for(const char *name, unsigned long otherwise)
{
    const char *said = getenv(name);
    return said == NULL ? otherwise : strtoul(said, NULL, 10);
}

/* VISIT_EACH=40 and VISIT_SOUND=500 are the whole of docs/testing.md. */
static void run(visit_plant plant, unsigned long first_seed)
{
    visit_all(plant, (int)asked_for("VISIT_EACH", 20),
              (int)asked_for("VISIT_SOUND", 200),
              asked_for("VISIT_SEED", first_seed));
}

static void plant_a(void **state)
{
    (void)state;
    run(visit_plant_a, 31000000);
}

static void plant_b(void **state)
{
    (void)state;
    run(visit_plant_b, 32000000);
}

/* Both plants, or the one that is named: "a", "b". */
int main(int count, char **said)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(plant_a),
        cmocka_unit_test(plant_b),
    };
    cmocka_set_test_filter(count < 2           ? NULL
                           : said[1][0] == 'a' ? "plant_a"
                                               : "plant_b");
    return cmocka_run_group_tests(tests, NULL, NULL);
}
