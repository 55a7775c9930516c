/* SPDX-License-Identifier: MIT */
/*
 * The word that may have been meant, for "did you mean": of all that are
 * offered the one that is nearer than every other. Two that are as near as one
 * another give none: of P1, P2 and P4 nobody knows which P3 was to be.
 */
#ifndef BRAKELAG_WORDS_H
#define BRAKELAG_WORDS_H

#include "brakelag/status.h"

enum { BL_NEAREST_MAX = 256 };

/* Zero-initialise but for `wanted`, which is borrowed (NULL: nothing is near)
   and, for names of files, `letters`. */
struct bl_nearest {
    const char *wanted;
    size_t letters; /* of wanted that count, 0: all; "P1.csv" has 2 */
    size_t distance;
    bool alone;
    char best[BL_NEAREST_MAX];
};

BL_API void bl_nearest_offer(struct bl_nearest *nearest, const char *candidate);
/*
 * The word, inside `nearest`; NULL: no word is near, or it is right as written.
 * One slip in three letters is near (a letter changed, added or dropped, two
 * neighbours swapped; small and capital letters are alike), at least one, and
 * so is a word of three letters or more cut short.
 */
BL_API const char *bl_nearest_word(const struct bl_nearest *nearest);

#endif
