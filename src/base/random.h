/* SPDX-License-Identifier: MIT */
/* Seeded random numbers: the same seed gives the same sequence everywhere. */
#ifndef BRAKELAG_SRC_BASE_RANDOM_H
#define BRAKELAG_SRC_BASE_RANDOM_H

#include <stdbool.h>
#include <stdint.h>

struct bl_random {
    uint64_t state[4];
    double spare;
    bool has_spare;
};

void bl_random_seed(struct bl_random *random, uint64_t seed);

/* Method: Blackman and Vigna, "Scrambled linear pseudorandom number
   generators", 2018 (xoshiro256**). */
static inline uint64_t bl_random_next(struct bl_random *random)
{
    uint64_t *s = random->state;
    const uint64_t five = s[1] * 5;
    const uint64_t result = (five << 7 | five >> 57) * 9;
    const uint64_t shifted = s[1] << 17;
    s[2] ^= s[0];
    s[3] ^= s[1];
    s[1] ^= s[2];
    s[0] ^= s[3];
    s[2] ^= shifted;
    s[3] = s[3] << 45 | s[3] >> 19;
    return result;
}
/* Uniform in [0, 1). */
double bl_random_uniform(struct bl_random *random);
/* Normal with mean 0 and standard deviation 1 (polar method). */
double bl_random_normal(struct bl_random *random);
/* Uniform integer in [0, below); below > 0. */
uint64_t bl_random_below(struct bl_random *random, uint64_t below);

#endif
