/* SPDX-License-Identifier: MIT */
/*
 * A xoshiro256** generator, seeded through splitmix64. Method: Blackman and
 * Vigna, "Scrambled linear pseudorandom number generators", 2018.
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

static uint64_t rotate_left(uint64_t x, unsigned by)
{
    return (x << by) | (x >> (64 - by));
}

void bl_random_seed(struct bl_random *random, uint64_t seed)
{
    *random = (struct bl_random){0};
    for (int i = 0; i < 4; i++) {
        random->state[i] = split_mix(&seed);
    }
}

uint64_t bl_random_next(struct bl_random *random)
{
    uint64_t *s = random->state;
    const uint64_t result = rotate_left(s[1] * 5, 7) * 9;
    const uint64_t shifted = s[1] << 17;
    s[2] ^= s[0];
    s[3] ^= s[1];
    s[1] ^= s[2];
    s[0] ^= s[3];
    s[2] ^= shifted;
    s[3] = rotate_left(s[3], 45);
    return result;
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
    /* Numbers from the uneven rest at the top are drawn again. */
    const uint64_t uneven = (UINT64_MAX - below + 1) % below;
    uint64_t x;
    do {
        x = bl_random_next(random);
    } while (x < uneven);
    return x % below;
}
