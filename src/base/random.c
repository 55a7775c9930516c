/* SPDX-License-Identifier: MIT */
/*
 * A xoshiro256** generator, seeded through splitmix64.
 */
#include "base/random.h"

#include <math.h>

static uint64_t split_mix(uint64_t *state)
{
    *state += UINT64_C(0x9E3779B97F4A7C15);
    uint64_t z = *state;
    z = (z ^ (z >> 30)) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94D049BB133111EB);
    return z ^ (z >> 31);
}

void bl_random_seed(struct bl_random *random, uint64_t seed)
{
    *random = (struct bl_random){0};
    for (int i = 0; i < 4; i++) {
        random->state[i] = split_mix(&seed);
    }
}

double bl_random_uniform(struct bl_random *random)
{
    return (double)(bl_random_next(random) >> 11) * 0x1.0p-53;
}

double bl_random_normal(struct bl_random *random)
{
    if (random->has_spare) {
        random->has_spare = false;
        return random->spare;
    }
    double x;
    double y;
    double r;
    do {
        x = 2 * bl_random_uniform(random) - 1;
        y = 2 * bl_random_uniform(random) - 1;
        r = x * x + y * y;
    } while (r >= 1 || r == 0);
    const double scale = sqrt(-2 * log(r) / r);
    random->spare = y * scale;
    random->has_spare = true;
    return x * scale;
}

uint64_t bl_random_below(struct bl_random *random, uint64_t below)
{
    /* As many numbers as there are too many for equal shares are drawn again;
       that is fewer than `below`, so that most need no such division. */
    uint64_t x;
    do {
        x = bl_random_next(random);
    } while (x < below && x < (UINT64_MAX - below + 1) % below);
    return x % below;
}
