/* SPDX-License-Identifier: MIT */
/*
 * The word that may have been meant.
 */
#ifndef BRAKELAG_WORDS_H
#define BRAKELAG_WORDS_H

#include "brakelag/status.h"

/*
 * How far one word is from another, for "did you mean": letters to change, to
 * add or to drop, small and capital ones alike. SIZE_MAX where either is longer
 * than BL_WORD_MAX: that is no slip of a short word.
 */
enum { BL_WORD_MAX = 48 };
BL_API size_t bl_word_distance(const char *a, const char *b);

#endif
