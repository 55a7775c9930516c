/* SPDX-License-Identifier: MIT */
/*
 * Sign-flip (Fisher's paired randomisation) test by enumeration, in Gray-code
 * order: each pattern differs from the one before by one sign.
 */
#include "stats/stats_common.h"

#include <math.h>

enum { MOST = 20 };

static unsigned lowest_bit(uint64_t x)
{
    unsigned bit = 0;
    while ((x >> bit & 1) == 0) {
        bit++;
    }
    return bit;
}

enum bl_status bl_sign_flip(struct bl_sign_flip *out, const double *difference,
                            size_t n, struct bl_error *error)
{
    const enum bl_status status =
        bl_stats_check(difference, n, 1, "sign-flip test", error);
    if (status != BL_OK) {
        return status;
    }
    if (n > MOST) {
        return bl_fail(error, BL_LIMIT, "",
                       "sign-flip test: %zu pairs, at most %d are enumerated",
                       n, MOST);
    }
    struct bl_sign_flip flip = {.patterns = UINT64_C(1) << n};
    double size = 0;
    for (size_t i = 0; i < n; i++) {
        flip.sum += difference[i];
        size += fabs(difference[i]);
    }
    /* Sums that are equal on paper differ by rounding: steps of the sum are
       far larger than this. */
    const double same = 1e-10 * size;
    double sum = flip.sum;
    uint64_t flipped = 0;
    for (uint64_t i = 0; i < flip.patterns; i++) {
        if (i > 0) {
            const unsigned bit = lowest_bit(i);
            flipped ^= UINT64_C(1) << bit;
            const bool negative = (flipped >> bit & 1) != 0;
            sum += (negative ? -2 : 2) * difference[bit];
        }
        flip.as_high += sum >= flip.sum - same;
        flip.as_low += sum <= flip.sum + same;
        flip.as_far += fabs(sum) >= fabs(flip.sum) - same;
    }
    const double patterns = (double)flip.patterns;
    flip.p_high = (double)flip.as_high / patterns;
    flip.p_low = (double)flip.as_low / patterns;
    flip.p = (double)flip.as_far / patterns;
    *out = flip;
    return BL_OK;
}
