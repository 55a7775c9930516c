/* SPDX-License-Identifier: MIT */
/* A thousand lives of each law of scatter, drawn anew by seed: how many planted
   changes are found, and how many are seen where there is none. Bounds are of
   units over all looks: 2 % with a false trend is the goal; a spread beyond
   what visits are said to have is measured, and held to 5 %. */
#include "life_plant.h"

struct many {
    const char *name;
    struct life_plan plan;
    double drift_s, step_s;
    double found_least; /* share of drifting units, by the sixth visit */
    double false_most;  /* share of all units */
};

static const struct many MANY[] = {
    {"up to 15 ms", {.spread_high_s = 0.015}, 0.1, 0.1, 0.90, 0.02},
    {"up to 15 ms, heavy tails",
     {.law = LIFE_HEAVY, .spread_high_s = 0.015},
     0.1,
     0.1,
     0.90,
     0.02},
    {"up to 15 ms, one visit in twelve three times as far",
     {.law = LIFE_WILD, .spread_high_s = 0.015},
     0.1,
     0.1,
     0.90,
     0.02},
    {"5 ms",
     {.spread_low_s = 0.005, .spread_high_s = 0.005},
     0.1,
     0.1,
     0.90,
     0.02},
    {"15 ms",
     {.spread_low_s = 0.015, .spread_high_s = 0.015},
     0.1,
     0.1,
     0.90,
     0.02},
    {"20 ms",
     {.spread_low_s = 0.020, .spread_high_s = 0.020},
     0.1,
     0.1,
     0.90,
     0.05},
    {"up to 15 ms, half the change",
     {.spread_high_s = 0.015},
     0.05,
     0.05,
     0,
     0.02},
    {"up to 15 ms, facts move for good at the seventh visit, recorded",
     {.spread_high_s = 0.015, .moved = true},
     0.1,
     0.1,
     0.80,
     0.02},
    {"up to 15 ms, facts move for good at the seventh visit, not recorded",
     {.spread_high_s = 0.015, .moved = true, .unsaid = true},
     0.1,
     0.1,
     0,
     0.02},
};

/* Other seeds, or fewer lives while a rule is worked on. */
static unsigned long asked_for(const char *name, unsigned long otherwise)
{
    const char *said = getenv(name);
    return said == NULL ? otherwise : strtoul(said, NULL, 10);
}

static void lives(void **state)
{
    const struct many *many = *state;
    const int units = (int)asked_for("LIFE_UNITS", 1000);
    const uint64_t seed =
        asked_for("LIFE_SEED", 41000000) + 1000000 * (uint64_t)(many - MANY);
    struct life_count count;
    life_count_yard(&count, units, many->plan, many->drift_s, many->step_s,
                    seed);
    life_print(many->name, &count, seed);
    assert_true(count.drift_units >= many->found_least * count.drifts);
    assert_true(count.false_units <= many->false_most * units);
}

/* All laws, or the one whose number is given. */
int main(int count, char **said)
{
    struct CMUnitTest test[COUNT_OF(MANY)];
    size_t tests = 0;
    const unsigned long only = count > 1 ? strtoul(said[1], NULL, 10) : 0;
    for (size_t i = 0; i < COUNT_OF(MANY); i++) {
        if (only == 0 || only == i + 1) {
            test[tests++] = (struct CMUnitTest){
                .name = MANY[i].name,
                .test_func = lives,
                .initial_state = (void *)(uintptr_t)&MANY[i]};
        }
    }
    return _cmocka_run_group_tests("life", test, tests, NULL, NULL);
}
