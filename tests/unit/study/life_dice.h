/* SPDX-License-Identifier: MIT */
/* Random numbers with a seed, and what counts as a trend, for tests of lives.
 */
#ifndef BRAKELAG_TESTS_LIFE_DICE_H
#define BRAKELAG_TESTS_LIFE_DICE_H

#include "testing.h"

#include "brakelag/life.h"

/* splitmix64: Steele, Lea and Flood 2014. */
static uint64_t life_state;

static inline double life_even(void)
{
    uint64_t z = life_state += UINT64_C(0x9e3779b97f4a7c15);
    z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
    return ((double)((z ^ (z >> 31)) >> 11) + 0.5) / 9007199254740992.0;
}

static inline double life_between(double low, double high)
{
    return low + (high - low) * life_even();
}

static inline double life_normal(void)
{
    return sqrt(-2 * log(life_even())) * cos(2 * acos(-1.0) * life_even());
}

static inline bool life_is_trend(enum bl_life_verdict verdict)
{
    return verdict == BL_LIFE_DRIFT || verdict == BL_LIFE_STEP ||
           verdict == BL_LIFE_DRIFT_OR_STEP;
}

#endif
