/* SPDX-License-Identifier: MIT */
/*
 * Noise on the command: the search for applications ends, whatever the noise,
 * and what it finds is what was pressed. Traces and noise are made here.
 */
#include "made_run.h"

#include <unistd.h>

/* A search that does not end is stopped, which fails the test: nothing below
   takes a second, with sanitizers on a loaded machine some. */
enum { LONGEST_S = 60 };

/* splitmix64, a published public-domain generator. */
static double uniform(uint64_t *state)
{
    uint64_t z = (*state += 0x9e3779b97f4a7c15U);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9U;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebU;
    return ((double)((z ^ (z >> 31)) >> 11) + 0.5) / 9007199254740992.0;
}

static double normal(uint64_t *state)
{
    const double radius = sqrt(-2 * log(uniform(state)));
    return radius * cos(6.283185307179586 * uniform(state));
}

/* A slow ramp up and down, a step, a pedal that slips and is caught. */
static const struct corner pedal[] = {
    {0, 0},      {2, 0},      {8, 400},  {10, 400}, {18, 0},     {22, 0},
    {22.2, 600}, {25, 600},   {25.3, 0}, {29, 0},   {29.1, 300}, {30, 300},
    {30.1, 15},  {30.4, 280}, {32, 280}, {32.3, 0}, {36, 0}};
static const size_t corners = sizeof(pedal) / sizeof(pedal[0]);

static void add_noise(struct made_run *m, size_t channel, double sigma,
                      uint64_t seed)
{
    for (size_t i = 0; i < m->rows; i++) {
        m->value[channel][i] += (float)(sigma * normal(&seed));
    }
}

/* A trial with the pedal above, noise on command and output. */
static enum bl_status measure(struct bl_run_lag **lag, double sigma, double at,
                              double scale, uint64_t seed)
{
    struct made_run m;
    struct bl_error error;
    struct corner scaled[sizeof(pedal) / sizeof(pedal[0])];
    for (size_t i = 0; i < corners; i++) {
        scaled[i] = (struct corner){pedal[i].s, pedal[i].value * scale};
    }
    made_start(&m, 38, 500);
    const long command =
        made_channel(&m, BL_QUANTITY_PRESSURE, scaled, corners);
    const long output = made_channel(&m, BL_QUANTITY_PRESSURE, scaled, corners);
    add_noise(&m, (size_t)command, sigma * scale, seed);
    add_noise(&m, (size_t)output, sigma * scale, seed + 1);
    made_unit(&m, -1, -1);
    made_unit(&m, output, -1);
    made_command(&m, command, at);
    const enum bl_status status =
        bl_measure_run(lag, &m.trial, &m.data, &m.clocks, &error);
    made_finish(&m);
    return status;
}

static void every_search_ends(void **state)
{
    (void)state;
    static const double sigmas[] = {0, 0.4, 0.8, 1.5, 3, 7, 9, 20, 60, 200};
    alarm(LONGEST_S);
    for (size_t i = 0; i < sizeof(sigmas) / sizeof(sigmas[0]); i++) {
        for (uint64_t seed = 1; seed <= 3; seed++) {
            struct bl_run_lag *lag = NULL;
            assert_int_equal(measure(&lag, sigmas[i], 20, 1, 100 * seed),
                             BL_OK);
            bl_run_lag_destroy(lag);
        }
    }
    alarm(0);
}

/* A column in kPa that is declared to be in bar; a level within the noise. */
static void a_level_far_too_low_ends(void **state)
{
    (void)state;
    alarm(LONGEST_S);
    for (uint64_t seed = 1; seed <= 3; seed++) {
        struct bl_run_lag *lag = NULL;
        assert_int_equal(measure(&lag, 0.5, 20, 100, seed), BL_OK);
        bl_run_lag_destroy(lag);
        assert_int_equal(measure(&lag, 0.5, 0.1, 1, seed), BL_OK);
        bl_run_lag_destroy(lag);
    }
    alarm(0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_search_ends),
        cmocka_unit_test(a_level_far_too_low_ends),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
